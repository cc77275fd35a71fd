//! The job file: one installation at one board, in TOML, written by hand.
//!
//! [`Job::parse`] takes a file's name (for messages) and its text, and gives the job as plain data or [`JobErrors`]:
//! everything that is wrong, each with line, column, the source line with the culprit marked, and
//! what is expected. [`JobFile::read`] does the same for work that comes before the touch plane.
//! What only some of the work needs is asked for by it ([`Job::touch_plane`],
//! [`Job::three_adjusters`], [`Job::fixings`], [`Job::room`]). [`template`] is the file a person
//! starts from; [`demo_job`] is an invented one. Nothing here opens a file.
//!
//! ```
//! use skimgauge_jobfile::{Job, Known, template};
//!
//! let known = Known { name: Some("room 2"), client: Some("A. Client"), place: Some("north wall"), by: Some("R. Oakes") };
//! let job = Job::parse("board.toml", &template(&known)).unwrap();
//! assert_eq!(job.stations.len(), 9);
//!
//! let errors = Job::parse("board.toml", "[image]\ndiagnal = \"94 in\"\n").unwrap_err();
//! assert!(errors.to_string().contains("did you mean `diagonal`?"));
//! ```
//!
//! # What the file may say
//! Each file in `section/` owns one section: its keys with their meaning ([`section::Spec`]), the
//! plain data that it becomes, and its checks. A quantity is a text with a unit
//! ([`skimgauge_quantity::read`]); a bare number is refused.
//!
//! # How to add a section
//! For `[tape]`, say:
//!
//! 1. Write `section/tape.rs` with a `pub static SPEC: Spec` (`name: "tape"`, its keys through
//!    `key` and `spare_key`, each with a sample that is valid TOML), a documented `pub struct
//!    Tape`, and `pub(crate) fn read(table: &Table<'_>) -> Option<Tape>`. Read every key before
//!    giving up with `?`, so that every problem is told. `Table` has getters for texts, quantities,
//!    lists of them, places, bands, counts, flags and words; those that end in `_if` are for keys
//!    that may be left out. A name, or what only whoever was there can know, is `left_open()`: the
//!    template holds no sample of it that could pass for a fact of somebody's job. For a check of your own, `table.wrong(key, what_is_wrong,
//!    what_is_expected)`.
//! 2. In `section/mod.rs`: `pub mod tape;` and `&tape::SPEC` in `SPECS`. The template now shows it.
//! 3. In `job.rs`: a field `pub tape: Option<Tape>` (the compiler then asks for it in
//!    `touch_plane`), and in `sections` the line `let tape =
//!    root.table_if(&tape::SPEC).and_then(|table| tape::read(&table));`.
//! 4. If a command cannot do without it: what is missing and why, in `need.rs`, and a method of
//!    `Job` that asks for it.
//!
//! A section inside a section (`[[mount.size]]`) has a spec of its own, named `mount.size` and
//! listed in its parent's `inside`; the parent reads it with `table.tables(&SIZE)` or
//! `table.table_if(&SIZE)`. The tests in `tests/template.rs` then hold without a change: they go
//! through every section.

pub mod section;
pub mod thread;

mod bracket;
mod geometry;
mod job;
mod need;
mod objection;
mod problem;
mod suggest;
mod table;
mod template;
mod untouched;

pub use job::{Job, JobFile, LARGEST_FILE_BYTES};
pub use need::{Missing, Unready};
pub use objection::objection;
pub use problem::{JobErrors, Problem};
pub use template::{Known, filled_in, template};
pub use untouched::untouched;

/// The job that the demonstration plays: library, people and numbers are invented. It parses.
pub fn demo_job() -> &'static str {
    include_str!("demo.toml")
}

/// The same job with every section that [`template`] shows for set-out, fixings, square and proof, so
/// that each command can be tried on it.
pub fn sample_job() -> String {
    let filled_in = filled_in(&Known::default());
    let site = filled_in.find("[room]").map_or("", |from| &filled_in[from..]);
    format!("{}\n{site}", demo_job())
}
