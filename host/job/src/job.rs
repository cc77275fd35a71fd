//! The job as plain data, and its reading.

use std::ops::Range;

use serde::{Deserialize, Serialize};
use toml::de::DeTable;

use skimgauge_metrology::adjuster::Adjuster;
use skimgauge_metrology::station::Station;
use skimgauge_site::fixings::FixingsInput;
use skimgauge_site::image::Image;
use skimgauge_site::setout::mount::MountSheet;
use skimgauge_site::square::Measured;

use crate::problem::{Findings, JobErrors};
use crate::section::about::About;
use crate::section::band::Bands;
use crate::section::emitter::Emitter;
use crate::section::head::HeadChoice;
use crate::section::limits::Limits;
use crate::section::room::RoomPlan;
use crate::section::survey::SurveyFile;
use crate::section::tape::Taped;
use crate::section::{
    about, adjuster, band, emitter, fixings, head, image, limits, mount, room, station, survey, tape,
};
use crate::table;

/// Longest job file, bytes. A person writes some thousands; a larger file is another file, and is refused unread.
pub const LARGEST_FILE_BYTES: usize = 256 * 1024;

/// What a job file says, checked. Places are in the image's frame: origin in the middle of the image's top edge, x
/// right as the viewer sees it, y up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// `[job]`: whose board it is, where and by whom.
    pub about: About,
    /// `[image]`: its size, each side from 100 mm to 20 m (by diagonal: the diagonal).
    pub image: Image,
    /// `[emitter]`; all unsaid if the file has none.
    pub emitter: Emitter,
    /// `[[adjuster]]`: exactly three, not in a line, names unlike, in the order of the file.
    pub adjusters: Vec<Adjuster>,
    /// `[band]`: what gap, level and lean may be.
    pub bands: Bands,
    /// `[[station]]`, or the image's eight: three or more, on the image, not in a line, names unlike, in walking order.
    pub stations: Vec<Station>,
    /// `[limits]`, with defaults for what is unsaid.
    pub limits: Limits,
    /// `[survey]`: where the board's own shape is kept.
    pub survey: Option<SurveyFile>,
    /// `[head]`: the head to use, if it must be one in particular.
    pub head: Option<HeadChoice>,
    /// `[room]`: the wall and the image's place on it.
    pub room: Option<RoomPlan>,
    /// `[mount]`: its plates, and where they go for each image size.
    pub mount: Option<MountSheet>,
    /// `[fixings]`: loads, anchors and what they may carry.
    pub fixings: Option<FixingsInput>,
    /// `[tape]`: the image's corners by lengths between them.
    pub tape: Option<Taped>,
    /// `[corners]`: the image's corners against their marks.
    pub corners: Option<Measured>,
}

impl Job {
    /// Reads a job file's text. `file` is its name for messages; nothing is opened.
    ///
    /// # Errors
    /// Every problem found, each with its place. Where the text is not TOML, only that is told: what lies behind a
    /// missing quote cannot be judged.
    pub fn parse(file: &str, text: &str) -> Result<Self, JobErrors> {
        let findings = Findings::new(text);
        if text.len() > LARGEST_FILE_BYTES {
            findings.note(
                0..0,
                format!("this file is {} KiB long; it cannot be a job file", text.len() / 1024),
                format!("a text of at most {} KiB", LARGEST_FILE_BYTES / 1024),
            );
            return Err(findings.into_errors(file, true));
        }
        let (root, errors) = DeTable::parse_recoverable(text);
        let intact = errors.iter().all(leaves_the_rest_intact);
        for error in first_of_each_line(text, errors, &findings) {
            findings.note(error.0, error.1, error.2);
        }
        if !intact {
            return Err(findings.into_errors(file, true));
        }
        if root.get_ref().is_empty() {
            findings.note(
                findings.end(),
                "the file says nothing",
                "a job; `skimgauge jobs new FILE` writes one to fill in",
            );
            return Err(findings.into_errors(file, false));
        }
        let job = Self::read(root.get_ref(), &findings);
        match job {
            Some(job) if findings.is_empty() => Ok(job),
            _ => {
                // A section that gives up has said why; should one ever not, the file is still refused.
                if findings.is_empty() {
                    findings.note(findings.end(), "the file cannot be read as a job", "a complete job file");
                }
                Err(findings.into_errors(file, false))
            }
        }
    }

    /// Reads a job file's bytes, which must be UTF-8, as [`Job::parse`] does.
    ///
    /// # Errors
    /// As [`Job::parse`]; and where the bytes stop being text.
    pub fn parse_bytes(file: &str, bytes: &[u8]) -> Result<Self, JobErrors> {
        match std::str::from_utf8(bytes) {
            Ok(text) => Self::parse(file, text),
            Err(error) => {
                let valid = &bytes[..error.valid_up_to().min(LARGEST_FILE_BYTES)];
                let text = String::from_utf8_lossy(valid);
                let findings = Findings::new(&text);
                findings.note(
                    text.len()..text.len(),
                    "from here on the file is not UTF-8 text",
                    "a text file; if it was written by an editor, save it as UTF-8",
                );
                Err(findings.into_errors(file, true))
            }
        }
    }

    /// Every section is read even when an earlier one is wrong, so that one look at the file tells all.
    fn read<'a>(root: &'a DeTable<'a>, findings: &'a Findings<'a>) -> Option<Self> {
        let root = table::open_root(root, findings);
        let about = root.table(&about::SPEC).and_then(|table| about::read(&table));
        let image = root.table(&image::SPEC).and_then(|table| image::read(&table));
        let emitter = root.table_if(&emitter::SPEC).and_then(|table| emitter::read(&table));
        let adjusters = adjuster::read(&root.tables(&adjuster::SPEC), &root);
        let bands = root.table(&band::SPEC).and_then(|table| band::read(&table));
        let stations = station::read(&root.tables(&station::SPEC), image);
        let limits = root.table_if(&limits::SPEC).and_then(|table| limits::read(&table));
        let survey = root.table_if(&survey::SPEC).and_then(|table| survey::read(&table));
        let head = root.table_if(&head::SPEC).and_then(|table| head::read(&table));
        let room = root.table_if(&room::SPEC).and_then(|table| room::read(&table));
        let mount = root.table_if(&mount::SPEC).and_then(|table| mount::read(&table));
        let fixings = root.table_if(&fixings::SPEC).and_then(|table| fixings::read(&table, mount.as_ref()));
        let tape = root.table_if(&tape::SPEC).and_then(|table| tape::read(&table));
        let corners = root.table_if(&tape::CORNERS_SPEC).and_then(|table| tape::read_corners(&table));
        Some(Self {
            about: about?,
            image: image?,
            emitter: emitter.unwrap_or_default(),
            adjusters: adjusters?,
            bands: bands?,
            stations: stations?,
            limits: limits.unwrap_or_default(),
            survey,
            head,
            room,
            mount,
            fixings,
            tape,
            corners,
        })
    }
}

/// Whether the reader's recovery from a syntax error is sure to have understood what was meant, so that the sections
/// can be checked all the same.
fn leaves_the_rest_intact(error: &toml::de::Error) -> bool {
    let message = error.message();
    message.contains("duplicate key") || message.contains("must be quoted") && !is_empty_place(error)
}

/// Whether something is missing at a place, rather than wrong there.
fn is_empty_place(error: &toml::de::Error) -> bool {
    error.span().is_none_or(|span| span.is_empty())
}

/// Place, what is wrong and what is expected, for each line's first syntax error: those after it follow from it.
fn first_of_each_line(
    text: &str,
    mut errors: Vec<toml::de::Error>,
    findings: &Findings<'_>,
) -> Vec<(Range<usize>, String, String)> {
    let start = |error: &toml::de::Error| error.span().map_or(text.len(), |span| span.start.min(text.len()));
    errors.sort_by_key(start);
    let mut told_up_to = None;
    let mut told = Vec::new();
    for error in &errors {
        let start = start(error);
        let same_line = told_up_to.is_some_and(|last: usize| !text.as_bytes()[last..start].contains(&b'\n'));
        told_up_to = Some(start);
        if !same_line {
            let (wrong, expected) = syntax_in_words(error);
            told.push((error.span().unwrap_or_else(|| findings.end()), wrong, expected));
        }
    }
    told
}

/// What the TOML reader says, in the words of someone who never heard of TOML. What it may say that is not here is
/// passed on as it is.
fn syntax_in_words(error: &toml::de::Error) -> (String, String) {
    let message = error.message();
    let says = |part: &str| message.contains(part);
    let (wrong, expected) = if says("duplicate key") {
        ("this key or section is here a second time", "each key once in its section, each [section] once in the file")
    } else if says("recursion") {
        ("this is nested too deeply", "sections, keys, and lists of lists at most")
    } else if says("must be quoted") && is_empty_place(error) {
        ("nothing is written after the =", "a value; or leave the line out")
    } else if says("must be quoted") {
        ("this text has no quotes", "texts and quantities in double quotes, such as \"94 in\"")
    } else if says("invalid basic string") || says("invalid literal string") {
        ("the quote that begins this text is not closed", "the same quote at the end of the text, on the same line")
    } else if says("unclosed table") {
        ("this section's line has no closing bracket", "such as [image] or [[station]]")
    } else if says("unclosed array") {
        ("this list has no closing bracket", "] at its end")
    } else if says("key with no value") {
        ("this line has no = after its key", "key = value")
    } else if says("unexpected key or value") {
        ("this does not belong on this line", "one key = value to a line; # begins a comment")
    } else if says("escape") {
        (
            "a backslash in double quotes begins a special character",
            "single quotes round a text with backslashes, such as 'rooms\\survey.csv'",
        )
    } else {
        match message.split_once(", expected ") {
            Some(parts) => parts,
            None => (message, "key = value lines under [section] lines; # begins a comment"),
        }
    };
    (wrong.to_owned(), expected.to_owned())
}
