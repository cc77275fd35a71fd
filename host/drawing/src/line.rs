//! Texts that a person or a file gave, made fit to be drawn.

/// One line that steers nothing: control characters become spaces, the marks that reorder or hide
/// text go.
pub fn line(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{61c}'
            | '\u{200b}'..='\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}' => {}
            // Not characters at all, or not in every XML.
            '\u{fdd0}'..='\u{fdef}' | '\u{2028}' | '\u{2029}' => out.push(' '),
            c if c.is_control() || u32::from(c) & 0xfffe == 0xfffe => out.push(' '),
            c => out.push(c),
        }
    }
    out.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_text_is_one_line_that_steers_nothing() {
        assert_eq!(line("a\u{202e}b\u{1b}[31m\n  c"), "ab [31m c");
        assert_eq!(line("\u{fdd0}x\u{2028}"), "x");
        assert_eq!(line("a\u{e0000}b\u{206a}c\u{fff9}"), "abc");
    }

    proptest! {
        #[test]
        fn no_text_steers(text in "(?s).*") {
            prop_assert!(!line(&text).chars().any(skimgauge_quantity::steers));
        }
    }
}
