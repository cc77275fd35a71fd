//! How wide letters are, and which there are.

use std::sync::{Arc, OnceLock};

use ttf_parser::Face;
use usvg::fontdb::{Database, Source};

/// Of the letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Weight {
    /// The font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => dejavu::sans_condensed::regular(),
            Self::Bold => dejavu::sans_condensed::bold(),
        }
    }
}

/// The fonts, for measuring and for the drawings.
pub(super) struct Faces {
    regular: Face<'static>,
    bold: Face<'static>,
    /// What drawings are read with.
    pub(super) drawing: usvg::Options<'static>,
}

impl Faces {
    /// Read once: they are built in.
    pub(super) fn shared() -> Option<&'static Self> {
        static FACES: OnceLock<Option<Faces>> = OnceLock::new();
        FACES.get_or_init(Self::load).as_ref()
    }

    fn load() -> Option<Self> {
        let mut fonts = Database::new();
        for weight in [Weight::Regular, Weight::Bold] {
            fonts.load_font_source(Source::Binary(Arc::new(weight.bytes())));
        }
        let family = fonts
            .faces()
            .next()
            .and_then(|face| face.families.first())
            .map(|(name, _)| name.clone())?;
        let drawing = usvg::Options {
            font_family: family,
            fontdb: Arc::new(fonts),
            // A drawing out of a record fetches nothing.
            image_href_resolver: usvg::ImageHrefResolver {
                resolve_data: Box::new(|_, _, _| None),
                resolve_string: Box::new(|_, _| None),
            },
            ..usvg::Options::default()
        };
        Some(Self {
            regular: Face::parse(Weight::Regular.bytes(), 0).ok()?,
            bold: Face::parse(Weight::Bold.bytes(), 0).ok()?,
            drawing,
        })
    }

    fn face(&self, weight: Weight) -> &Face<'static> {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    /// Width of a line, points.
    pub(super) fn width(&self, text: &str, weight: Weight, size: f32) -> f32 {
        let face = self.face(weight);
        let units: u32 = text
            .chars()
            .map(|c| {
                face.glyph_index(c)
                    .and_then(|glyph| face.glyph_hor_advance(glyph))
                    .map_or(1200, u32::from)
            })
            .sum();
        units as f32 * size / f32::from(face.units_per_em())
    }

    /// The text with a mark for each letter that the font does not have, and whether there was one.
    pub(super) fn known(&self, text: &str) -> (String, bool) {
        let mut unknown = false;
        let text = text
            .chars()
            .map(|c| {
                if self.regular.glyph_index(c).is_some() {
                    c
                } else {
                    unknown = true;
                    '\u{25a1}'
                }
            })
            .collect();
        (text, unknown)
    }

    /// The text in lines no wider than `room` points. A word that is wider alone is cut.
    pub(super) fn lines(&self, text: &str, weight: Weight, size: f32, room: f32) -> Vec<String> {
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            for word in paragraph.split(' ') {
                let longer =
                    if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                if self.width(&longer, weight, size) <= room {
                    line = longer;
                    continue;
                }
                if !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                for c in word.chars() {
                    line.push(c);
                    if line.chars().count() > 1 && self.width(&line, weight, size) > room {
                        line.pop();
                        lines.push(std::mem::replace(&mut line, c.to_string()));
                    }
                }
            }
            lines.push(line);
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_the_font_lacks_is_marked() {
        let faces = Faces::load().unwrap();
        assert!(!faces.known("Ελ \u{2212}2 \u{25a1}").1);
        assert_eq!(faces.known("\u{56f3}"), ("\u{25a1}".to_owned(), true));
    }

    proptest! {
        #[test]
        fn lines_fit_and_lose_nothing(text in "[a-zA-Z0-9 ]{0,200}", room in 20.0..400.0_f32) {
            let faces = Faces::load().unwrap();
            let lines = faces.lines(&text, Weight::Regular, 9.0, room);
            prop_assert!(lines.iter().all(|line| faces.width(line, Weight::Regular, 9.0) <= room || line.chars().count() == 1));
            let letters = |text: &str| text.chars().filter(|c| *c != ' ').collect::<String>();
            prop_assert_eq!(letters(&lines.concat()), letters(&text));
        }
    }
}
