//! A template as it stands in the source, cut into words and holes.

/// A piece of a template.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// Words, as a literal of their own in source form.
    Words(String),
    /// Where something is filled in.
    Hole(Hole),
}

/// What a hole asks for.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Hole {
    /// The next value without a name.
    Next,
    /// The value of this name.
    Named(String),
}

/// Cuts a string literal in source form, plain or raw. Words stay in source form, so that what is
/// escaped stays escaped.
pub(crate) fn split(literal: &str) -> Result<Vec<Part>, String> {
    let open = literal.find('"').ok_or("say! wants a text in quotes first")?;
    let (opening, rest) = literal.split_at(open + 1);
    let is_raw = opening.starts_with('r');
    if !(opening == "\"" || is_raw) {
        return Err("say! wants a plain text, not bytes".to_owned());
    }
    let closing = format!("\"{}", &opening[usize::from(is_raw)..open]);
    let inside = rest.strip_suffix(closing.as_str()).ok_or("say! cannot read this text")?;
    let mut cutter = Cutter { opening, closing: &closing, words: String::new(), parts: Vec::new() };
    let mut chars = inside.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '\\' if !is_raw => {
                cutter.words.push(c);
                let escaped = chars.next();
                cutter.words.extend(escaped);
                // The braces of `\u{…}` are no hole's.
                if escaped == Some('u') {
                    for inside in chars.by_ref() {
                        cutter.words.push(inside);
                        if inside == '}' {
                            break;
                        }
                    }
                }
            }
            '{' if chars.next_if_eq(&'{').is_some() => cutter.words.push('{'),
            '}' if chars.next_if_eq(&'}').is_some() => cutter.words.push('}'),
            '{' => {
                let hole: String = chars.by_ref().take_while(|c| *c != '}').collect();
                cutter.cut();
                cutter.parts.push(Part::Hole(hole_of(hole.trim())?));
            }
            '}' => return Err("a } stands alone; write }} for a brace".to_owned()),
            c => cutter.words.push(c),
        }
    }
    cutter.cut();
    Ok(cutter.parts)
}

struct Cutter<'a> {
    opening: &'a str,
    closing: &'a str,
    words: String,
    parts: Vec<Part>,
}

impl Cutter<'_> {
    fn cut(&mut self) {
        if !self.words.is_empty() {
            self.parts.push(Part::Words(format!("{}{}{}", self.opening, self.words, self.closing)));
            self.words.clear();
        }
    }
}

fn hole_of(name: &str) -> Result<Hole, String> {
    let is_name = |name: &str| {
        name.starts_with(|c: char| c.is_alphabetic() || c == '_')
            && name.chars().all(|c| c.is_alphanumeric() || c == '_')
    };
    match name {
        "" => Ok(Hole::Next),
        name if is_name(name) => Ok(Hole::Named(name.to_owned())),
        name if name.contains(':') => Err(format!(
            "`{{{name}}}`: no format here, a quantity knows its own digits (.gap(), .wall(), plain(x, 1))"
        )),
        name => Err(format!(
            "`{{{name}}}` is no variable; write {{}} and give the value behind the text"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(source: &str) -> Part {
        Part::Words(source.to_owned())
    }

    #[test]
    fn words_stay_as_they_stand_in_the_source() {
        let named = Part::Hole(Hole::Named("gap".to_owned()));
        assert_eq!(
            split(r#""{gap} at \u{b1} \"x\" {}""#).unwrap(),
            [named, words(r#"" at \u{b1} \"x\" ""#), Part::Hole(Hole::Next)]
        );
        assert_eq!(
            split(r##"r#"a "{}" b"#"##).unwrap(),
            [words(r##"r#"a ""#"##), Part::Hole(Hole::Next), words(r##"r#"" b"#"##)]
        );
        assert_eq!(split(r#""{{x}}""#).unwrap(), [words(r#""{x}""#)]);
        assert_eq!(split(r#""""#).unwrap(), []);
    }

    #[test]
    fn what_is_no_hole_is_refused() {
        for (text, says) in [
            (r#""{gap:.2}""#, "knows its own digits"),
            (r#""{gap.x}""#, "is no variable"),
            (r#""{0}""#, "is no variable"),
            (r#""a } b""#, "stands alone"),
            (r#"b"a""#, "not bytes"),
            ("'a'", "in quotes"),
        ] {
            let said = split(text).unwrap_err();
            assert!(said.contains(says), "{text}: {said}");
        }
    }
}
