//! What the handover says, before it is laid out: the page and the PDF are two layouts of one of
//! these.

use skimgauge_model::Verdict;

/// What stands where a number should be and is none.
pub const NONE: &str = "\u{2013}";

/// The whole handover.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What it is: `Handover`.
    pub kind: &'static str,
    /// What the program knows it by again, in the page's head.
    pub made_by: &'static str,
    /// The job's name.
    pub title: String,
    /// Whose, where: under the title.
    pub under: Vec<String>,
    /// How the installation is left, if it was judged.
    pub verdict: Option<Verdict>,
    /// The verdict's word, where it is not its own.
    pub word: Option<&'static str>,
    /// The state of things in a sentence or two.
    pub lead: String,
    /// What must be read before anything else.
    pub warnings: Vec<String>,
    /// The rest.
    pub sections: Vec<Section>,
    /// At the foot: which record this was made from.
    pub foot: String,
}

/// A titled part.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// For links: letters and hyphens, unlike any other in the document.
    pub id: &'static str,
    /// Its title.
    pub title: String,
    /// What it says.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A paragraph.
    Text(String),
    /// A paragraph that steps back: how to read something.
    Small(String),
    /// A title within a section.
    Heading(String),
    /// Names with their values.
    Facts(Vec<(String, Cell)>),
    /// A table.
    Table(Table),
    /// Pictures side by side where there is room.
    Figures(Vec<Figure>),
    /// A verdict, told in full.
    Verdict(VerdictCard),
    /// Points, one under the other.
    List(Vec<String>),
    /// What stands how, in two columns: a word, and of what.
    Columns(Vec<(String, String)>),
    /// Points with a box to tick.
    ToDo(Vec<String>),
    /// Something to be careful about.
    Caution(Caution),
    /// What is typed or compared letter by letter.
    Code(String),
    /// Places to sign.
    Sign(Vec<SignPlace>),
}

/// A verdict, told in full.
#[derive(Debug, Clone, PartialEq)]
pub struct VerdictCard {
    /// Of what, when.
    pub heading: String,
    /// The verdict.
    pub verdict: Verdict,
    /// In plain words.
    pub says: String,
    /// The numbers behind it.
    pub facts: Vec<(String, Cell)>,
}

/// Something to be careful about.
#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    /// About what, in a word or two.
    pub about: String,
    /// What to do.
    pub says: String,
}

/// Where someone signs on paper.
#[derive(Debug, Clone, PartialEq)]
pub struct SignPlace {
    /// In which part.
    pub role: String,
    /// What the signature says.
    pub says: String,
    /// The name, if it is known.
    pub name: Option<String>,
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it holds.
    pub caption: String,
    /// Titles of its columns, and whether they hold numbers.
    pub columns: Vec<Column>,
    /// As many cells as there are columns.
    pub rows: Vec<Vec<Cell>>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its title.
    pub title: String,
    /// Whether its cells are numbers, which stand right.
    pub number: bool,
}

impl Column {
    /// A column of texts.
    pub fn text(title: impl Into<String>) -> Self {
        Self { title: title.into(), number: false }
    }

    /// A column of numbers.
    pub fn number(title: impl Into<String>) -> Self {
        Self { title: title.into(), number: true }
    }
}

/// What stands in one place of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A text.
    Text(String),
    /// A number as it is shown, with the very value that the record holds (mm, degrees, turns).
    Number {
        /// As shown.
        shown: String,
        /// As recorded.
        value: f64,
    },
    /// A verdict: shown as shape and word.
    Verdict(Verdict),
    /// The same in a word of its own.
    Word(Verdict, &'static str),
    /// Nothing: not measured, not judged.
    None,
}

impl Cell {
    /// A number as it is shown; nothing where it is no number.
    pub fn number(value: f64, shown: impl FnOnce(f64) -> String) -> Self {
        if value.is_finite() { Self::Number { shown: shown(value), value } } else { Self::None }
    }

    /// A text; nothing where it is blank.
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.trim().is_empty() { Self::None } else { Self::Text(text) }
    }

    /// What a person reads.
    pub fn shown(&self) -> &str {
        match self {
            Self::Text(text) => text,
            Self::Number { shown, .. } => shown,
            Self::Verdict(verdict) => verdict.shown(),
            Self::Word(_, word) => word,
            Self::None => NONE,
        }
    }
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The picture itself.
    pub picture: Picture,
    /// What it shows, beneath it.
    pub caption: String,
    /// What it says, for who cannot see it.
    pub alt: String,
    /// Whether it needs the whole width.
    pub wide: bool,
}

/// Where a picture comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Picture {
    /// Drawn here: an `svg` element that takes the page's colours.
    Chart(String),
    /// A drawing out of the record, as SVG text that nobody vouches for: shown only where it can
    /// run nothing.
    Drawing(String),
    /// A photo out of the record, as the image file that was attached.
    Photo {
        /// Its kind, as in `image/jpeg`.
        media_type: &'static str,
        /// The file.
        bytes: Vec<u8>,
    },
}
