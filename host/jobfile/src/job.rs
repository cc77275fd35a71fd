//! The job as plain data, and its reading.

use skimgauge_model::{Adjuster, Bands, Image, Station};
use skimgauge_quantity::{Band, Mm};
use std::ops::Range;

use serde::{Deserialize, Serialize};
use skimgauge_site::fixings::FixingsInput;
use skimgauge_site::setout::mount::MountSheet;
use skimgauge_site::square::Measured;
use toml::de::DeTable;

use crate::bracket;
use crate::need::{Missing, Unready};
use crate::problem::{Findings, JobErrors};
use crate::section::about::About;
use crate::section::board::BoardSaid;
use crate::section::emitter::Emitter;
use crate::section::head::HeadChoice;
use crate::section::limits::Limits;
use crate::section::room::RoomPlan;
use crate::section::survey::SurveyFile;
use crate::section::tape::Taped;
use crate::section::{
    about, adjuster, band, board, emitter, fixings, head, image, limits, mount, room, station,
    survey, tape, touch,
};
use crate::table;

/// Longest job file, bytes. A person writes some thousands; a larger file is another file, and is
/// refused unread.
pub const LARGEST_FILE_BYTES: usize = 256 * 1024;

/// A job file as it is read: what comes before the touch plane may be worked out before anything is
/// known of that plane, so the band may be missing. [`Job::touch_plane`] asks for it.
pub type JobFile = Job<Option<Bands>>;

/// What a job file says, checked. Places are in the image's frame: origin in the middle of the
/// image's top edge, x right as the viewer sees it, y up.
///
/// `B` tells whether `[band]` is known to be there: a [`Job`] has one, a [`JobFile`] may.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Job<B = Bands> {
    /// `[job]`: whose board it is, where and by whom.
    pub about: About,
    /// `[image]`: its size, each side from 100 mm to 20 m (by diagonal: the diagonal).
    pub image: Image,
    /// `[emitter]`; all unsaid if the file has none.
    pub emitter: Emitter,
    /// `[[adjuster]]`: exactly three, not in a line, names unlike, in the order of the file; or
    /// none, where the file has none yet. [`Job::three_adjusters`] asks for them.
    pub adjusters: Vec<Adjuster>,
    /// `[band]`: what gap, level and lean may be.
    pub bands: B,
    /// `[[station]]`, or the image's own: three or more, on the image, not in a line, names
    /// unlike, in walking order.
    pub stations: Vec<Station>,
    /// `[limits]`, with defaults for what is unsaid.
    pub limits: Limits,
    /// `[board]`: what the board may do where nobody reads it, with defaults for what is unsaid.
    pub board: BoardSaid,
    /// `[survey]`: where the board's own shape is kept.
    pub survey: Option<SurveyFile>,
    /// `[head]`: the head to use, if it must be one in particular.
    pub head: Option<HeadChoice>,
    /// `[room]`: the wall and the image's place on it.
    pub room: Option<RoomPlan>,
    /// `[mount]`: its plates, and where they go for each image size.
    pub mount: Option<MountSheet>,
    /// `[fixings]`: loads, anchors and what they may carry; or what keeps them from being worked
    /// out, which is no reason not to read the rest. [`Job::fixings`] asks for it.
    pub fixings: Option<Result<FixingsInput, JobErrors>>,
    /// `[tape]`: the image's corners by lengths between them.
    pub tape: Option<Taped>,
    /// `[corners]`: the image's corners against their marks.
    pub corners: Option<Measured>,
    /// `[touch]`: what touch may miss by; defaults where there is none.
    pub touch: Option<skimgauge_proof::limits::Limits>,
}

impl Job {
    /// Reads a job file's text, `[band]` included. `file` is its name for messages; nothing is
    /// opened.
    ///
    /// # Errors
    /// Every problem found, each with its place. Where the text is not TOML, only that is told:
    /// what lies behind a missing quote cannot be judged.
    pub fn parse(file: &str, text: &str) -> Result<Self, JobErrors> {
        // The band has been asked for, so that a missing one is told with the rest and never here.
        read(file, text, true)?.touch_plane().map_err(|missing| missing.as_problem(file, text))
    }

    /// Reads a job file's bytes, which must be UTF-8, as [`Job::parse`] does.
    ///
    /// # Errors
    /// As [`Job::parse`]; and where the bytes stop being text.
    pub fn parse_bytes(file: &str, bytes: &[u8]) -> Result<Self, JobErrors> {
        Self::parse(file, utf8(file, bytes)?)
    }
}

impl JobFile {
    /// Reads a job file's text as far as it goes, as [`Job::parse`] does.
    ///
    /// # Errors
    /// As [`Job::parse`], but a missing `[band]` is none.
    pub fn read(file: &str, text: &str) -> Result<Self, JobErrors> {
        read(file, text, false)
    }

    /// Reads a job file's bytes, which must be UTF-8, as [`JobFile::read`] does.
    ///
    /// # Errors
    /// As [`JobFile::read`]; and where the bytes stop being text.
    pub fn read_bytes(file: &str, bytes: &[u8]) -> Result<Self, JobErrors> {
        Self::read(file, utf8(file, bytes)?)
    }

    /// The job, if it says what a touch plane is judged by.
    ///
    /// # Errors
    /// [`Missing`] without `[band]`.
    pub fn touch_plane(self) -> Result<Job, Missing> {
        let bands = self.bands.ok_or(Missing::BAND)?;
        Ok(Job {
            bands,
            about: self.about,
            image: self.image,
            emitter: self.emitter,
            adjusters: self.adjusters,
            stations: self.stations,
            limits: self.limits,
            board: self.board,
            survey: self.survey,
            head: self.head,
            room: self.room,
            mount: self.mount,
            fixings: self.fixings,
            tape: self.tape,
            corners: self.corners,
            touch: self.touch,
        })
    }
}

impl<B> Job<B> {
    /// The emitter's three adjusters, for whoever says how to turn them.
    ///
    /// # Errors
    /// [`Missing`] without `[[adjuster]]`.
    pub fn three_adjusters(&self) -> Result<&[Adjuster; 3], Missing> {
        self.adjusters.as_slice().try_into().map_err(|_| Missing::ADJUSTERS)
    }

    /// Loads, anchors and what they may carry.
    ///
    /// # Errors
    /// [`Unready`] without `[fixings]`, or where it says something by which no anchor could be
    /// judged.
    pub fn fixings(&self) -> Result<&FixingsInput, Unready> {
        match &self.fixings {
            None => Err(Missing::FIXINGS.into()),
            Some(Err(problems)) => Err(Unready::Wrong(problems.clone())),
            Some(Ok(fixings)) => Ok(fixings),
        }
    }

    /// The wall and the image's place on it.
    ///
    /// # Errors
    /// [`Missing`] without `[room]`.
    pub fn room(&self) -> Result<&RoomPlan, Missing> {
        self.room.as_ref().ok_or(Missing::ROOM)
    }
}

impl<B: Copy + Into<Option<Bands>>> Job<B> {
    /// What the gap may be, if the file says it.
    pub fn gap_band(&self) -> Option<Band<Mm>> {
        self.bands.into().map(|bands| bands.gap)
    }
}

fn utf8<'a>(file: &str, bytes: &'a [u8]) -> Result<&'a str, JobErrors> {
    std::str::from_utf8(bytes).map_err(|error| {
        let valid = &bytes[..error.valid_up_to().min(LARGEST_FILE_BYTES)];
        let text = String::from_utf8_lossy(valid);
        let findings = Findings::new(&text);
        findings.note(
            text.len()..text.len(),
            "from here on the file is not UTF-8 text",
            "a text file; if it was written by an editor, save it as UTF-8",
        );
        findings.into_errors(file, true)
    })
}

fn read(file: &str, text: &str, with_band: bool) -> Result<JobFile, JobErrors> {
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
    let job = sections(root.get_ref(), &findings, with_band);
    match job {
        Some(mut job) if findings.is_empty() => {
            if let (Some(fixings), Some(problems)) = (&mut job.fixings, findings.held_back(file)) {
                *fixings = Err(problems);
            }
            Ok(job)
        }
        _ => {
            // A section that gives up has said why; should one ever not, the file is still refused.
            if findings.is_empty() {
                findings.note(
                    findings.end(),
                    "the file cannot be read as a job",
                    "a complete job file",
                );
            }
            Err(findings.into_errors(file, false))
        }
    }
}

/// Every section is read even when an earlier one is wrong, so that one look at the file tells all.
fn sections<'a>(
    root: &'a DeTable<'a>,
    findings: &'a Findings<'a>,
    with_band: bool,
) -> Option<JobFile> {
    let root = table::open_root(root, findings);
    let about = root.table(&about::SPEC).and_then(|table| about::read(&table));
    let image = root.table(&image::SPEC).and_then(|table| image::read(&table));
    let emitter = root.table_if(&emitter::SPEC).and_then(|table| emitter::read(&table));
    let adjusters = adjuster::read(&root.tables(&adjuster::SPEC));
    let bands = root.table_if(&band::SPEC).map(|table| band::read(&table));
    if with_band && !root.has_section(&band::SPEC) {
        root.missing_section_because(&band::SPEC, Missing::BAND.why);
    }
    let stations =
        station::read(&root.tables(&station::SPEC), image, root.has_section(&survey::SPEC));
    let limits = root.table_if(&limits::SPEC).and_then(|table| limits::read(&table));
    let board = root.table_if(&board::SPEC).and_then(|table| board::read(&table));
    let survey = root.table_if(&survey::SPEC).and_then(|table| survey::read(&table));
    let head = root.table_if(&head::SPEC).and_then(|table| head::read(&table));
    let room = root.table_if(&room::SPEC).and_then(|table| room::read(&table));
    let mount = root.table_if(&mount::SPEC).and_then(|table| mount::read(&table));
    let fixings =
        root.table_if(&fixings::SPEC).and_then(|table| fixings::read(&table, mount.as_ref()));
    let tape = root.table_if(&tape::SPEC).and_then(|table| tape::read(&table));
    let touch = root.table_if(&touch::SPEC).and_then(|table| touch::read(&table));
    let corners = root.table_if(&tape::CORNERS_SPEC).and_then(|table| tape::read_corners(&table));
    Some(Job {
        about: about?,
        image: image?,
        emitter: emitter.unwrap_or_default(),
        adjusters: adjusters?,
        // A section that is there has to be right.
        bands: match bands {
            Some(bands) => Some(bands?),
            None => None,
        },
        stations: stations?,
        limits: limits.unwrap_or_default(),
        board: board.unwrap_or_default(),
        survey,
        head,
        room,
        mount,
        fixings: fixings.map(Ok),
        tape,
        corners,
        touch,
    })
}

/// Whether the reader's recovery from a syntax error is sure to have understood what was meant, so
/// that the sections can be checked all the same.
fn leaves_the_rest_intact(error: &toml::de::Error) -> bool {
    let message = error.message();
    message.contains("duplicate key")
        || message.contains("must be quoted") && !is_empty_place(error)
}

/// Whether something is missing at a place, rather than wrong there.
fn is_empty_place(error: &toml::de::Error) -> bool {
    error.span().is_none_or(|span| span.is_empty())
}

/// Place, what is wrong and what is expected, for each line's first syntax error: those after it
/// follow from it.
fn first_of_each_line(
    text: &str,
    mut errors: Vec<toml::de::Error>,
    findings: &Findings<'_>,
) -> Vec<(Range<usize>, String, String)> {
    let start = |error: &toml::de::Error| {
        error.span().map_or(text.len(), |span| span.start.min(text.len()))
    };
    errors.sort_by_key(start);
    let mut told_up_to = None;
    let mut told = Vec::new();
    // What lies behind a bracket that is missing follows from that; where a quote swallowed it, that
    // is told.
    let open = bracket::unclosed(text).filter(|open| errors.iter().any(|e| start(e) > open.start));
    if let Some(open) = &open {
        let before = errors.iter().take_while(|error| start(error) < open.start).count();
        let says_why =
            |error: &toml::de::Error| is_of_quote(error) || error.message().contains("recursion");
        let told_already = errors.get(before).is_some_and(says_why);
        errors.truncate(before + usize::from(told_already));
        if !told_already {
            told.push((open.clone(), NO_BRACKET.0.to_owned(), NO_BRACKET.1.to_owned()));
        }
    }
    for error in &errors {
        let start = start(error);
        let same_line =
            told_up_to.is_some_and(|last: usize| !text.as_bytes()[last..start].contains(&b'\n'));
        told_up_to = Some(start);
        if !same_line {
            let (wrong, expected) = syntax_in_words(error);
            told.push((error.span().unwrap_or_else(|| findings.end()), wrong, expected));
        }
    }
    told
}

/// Of a list.
const NO_BRACKET: (&str, &str) = ("this list has no closing bracket", "] at its end");

/// Whether a text is not closed.
fn is_of_quote(error: &toml::de::Error) -> bool {
    let message = error.message();
    message.contains("invalid basic string") || message.contains("invalid literal string")
}

/// What the TOML reader says, in the words of someone who never heard of TOML. What it may say that
/// is not here is passed on as it is.
fn syntax_in_words(error: &toml::de::Error) -> (String, String) {
    let message = error.message();
    let says = |part: &str| message.contains(part);
    let (wrong, expected) = if says("duplicate key") {
        (
            "this key or section is here a second time",
            "each key once in its section, each [section] once in the file",
        )
    } else if says("recursion") {
        ("this is nested too deeply", "sections, keys, and lists of lists at most")
    } else if says("must be quoted") && is_empty_place(error) {
        ("nothing is written after the =", "a value; or leave the line out")
    } else if says("must be quoted") {
        ("this text has no quotes", "texts and quantities in double quotes, such as \"94 in\"")
    } else if is_of_quote(error) {
        (
            "the quote that begins this text is not closed",
            "the same quote at the end of the text, on the same line",
        )
    } else if says("unclosed table") {
        ("this section's line has no closing bracket", "such as [image] or [[station]]")
    } else if says("unclosed array") {
        NO_BRACKET
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
