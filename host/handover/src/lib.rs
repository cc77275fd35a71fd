//! The handover that the client keeps: a job's record as one page, its charts, and the same as PDF.
//!
//! ```text
//! JobHistory -> content -> Document -> html -> String
//!                              \----> pdf  -> Vec<u8>   (feature `pdf`)
//! ```
//!
//! [`page`] gives one HTML file that needs nothing beside it: style and pictures are inside.
//! Nothing here reads a clock, a file or a port, so the same record always gives the same page.
//! Lengths, angles and turns are shown as everywhere in the host, by `skimgauge-quantity`; charts
//! are `skimgauge-drawing`'s.
//!
//! Every section of the record has a form of its own and a file of its own in `content/section`;
//! only what a newer program wrote is shown by the names of its keys.

pub mod document;

mod content;
mod html;
#[cfg(feature = "pdf")]
mod pdf;
mod plain;

#[cfg(feature = "pdf")]
pub use pdf::{Paper, PdfError};
use skimgauge_quantity::Style;
pub use skimgauge_quantity::Units;
use skimgauge_record::JobHistory;
use skimgauge_record::chain::Hash;

/// Sheets for the client, before the appendix.
#[cfg(feature = "pdf")]
const CLIENTS_SHEETS: usize = 2;

/// How the handover is to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    /// What lengths are shown in.
    pub units: Units,
}

/// What the handover says, for a layout of one's own.
pub fn document(history: &JobHistory, options: &Options) -> document::Document {
    content::document(history, Style::printed(options.units), &[], content::Brief::ALL)
}

/// The handover as one HTML file.
pub fn page(history: &JobHistory, options: &Options) -> String {
    page_with_photos(history, options, &[])
}

/// The same with attached photos inside it, by their hashes; those left out, and files that are no
/// photos, are only named. The files go in as they are, with whatever a camera wrote into them.
pub fn page_with_photos(
    history: &JobHistory,
    options: &Options,
    photos: &[(Hash, Vec<u8>)],
) -> String {
    html::page(&content::document(
        history,
        Style::printed(options.units),
        photos,
        content::Brief::ALL,
    ))
}

/// Any document of this house as one HTML file: a head's birth certificate looks as the handover does.
pub fn html(document: &document::Document) -> String {
    html::page(document)
}

/// The handover as PDF, on A4 for millimetres and on Letter for inches.
///
/// # Errors
/// [`PdfError`] when the document library can't write it.
#[cfg(feature = "pdf")]
pub fn pdf(history: &JobHistory, options: &Options) -> Result<Vec<u8>, PdfError> {
    let paper = match options.units {
        Units::Mm => Paper::A4,
        Units::Inch => Paper::Letter,
    };
    pdf_on(history, options, paper)
}

/// The same on a paper of one's choice. The client has two sheets; what has no room there stands in the
/// appendix.
///
/// # Errors
/// As [`pdf`].
#[cfg(feature = "pdf")]
pub fn pdf_on(history: &JobHistory, options: &Options, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let style = Style::printed(options.units);
    let as_brief = |brief| content::document(history, style, &[], brief);
    let mut document = as_brief(content::Brief::ALL);
    for brief in content::BRIEFS.into_iter().skip(1) {
        if pdf::client_sheets(&document, paper)? <= CLIENTS_SHEETS {
            break;
        }
        document = as_brief(brief);
    }
    pdf::write(&document, paper)
}

/// Drawings (SVG, their size in mm) as PDF, a page each, at actual size.
///
/// # Errors
/// As [`pdf`].
#[cfg(feature = "pdf")]
pub fn drawings_pdf(title: &str, drawings: &[&str]) -> Result<Vec<u8>, PdfError> {
    pdf::drawings(title, drawings)
}
