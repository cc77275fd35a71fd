//! The sections of a job file, one file each. How to add one is told at the top of the crate.

pub mod about;
pub mod adjuster;
pub mod band;
pub mod board;
pub mod emitter;
pub mod fixings;
pub mod head;
pub mod image;
pub mod limits;
pub mod mount;
pub mod room;
pub mod station;
pub mod survey;
pub mod tape;
pub mod touch;

/// What a section is called and which keys it has. The reader refuses keys that are not here, and
/// the template is made from here, so neither can know more than the other.
#[derive(Debug)]
pub struct Spec {
    /// The section's name; `outer.inner` for a section inside another.
    pub name: &'static str,
    /// Whether it may be given several times, as `[[name]]`.
    pub many: bool,
    /// Whether the template sets it, or shows it commented out as a whole.
    pub set: bool,
    /// What it is for: the comment above it in the template. Lines of up to 100 characters.
    pub about: &'static str,
    /// Its keys, in the template's order.
    pub keys: &'static [Key],
    /// Sections inside this one, each named `this.inner`.
    pub inside: &'static [&'static Spec],
    /// For `many`: in the template, one section for each of these, with these values in place of
    /// the keys' samples.
    pub samples: &'static [&'static [(&'static str, &'static str)]],
}

/// One key of a section.
#[derive(Debug)]
pub struct Key {
    /// As written in the file.
    pub name: &'static str,
    /// A value as it would be written, in TOML.
    pub sample: &'static str,
    /// What it means: the comment beside it in the template.
    pub about: &'static str,
    /// Whether the template sets it, or shows it commented out.
    pub set: bool,
    /// Whether the template leaves it open, with nothing between the quotes: a name, or something
    /// that only whoever was there can know. A sample of it would be read as a fact of the job.
    pub open: bool,
}

impl Key {
    /// The same, left open in the template, and refused until it is filled in.
    pub(crate) const fn left_open(self) -> Self {
        Self { open: true, ..self }
    }
}

/// A key that the template sets.
pub(crate) const fn key(name: &'static str, sample: &'static str, about: &'static str) -> Key {
    Key { name, sample, about, set: true, open: false }
}

/// A key that the template shows commented out: it has a default, or is another way to say the
/// same.
pub(crate) const fn spare_key(
    name: &'static str,
    sample: &'static str,
    about: &'static str,
) -> Key {
    Key { set: false, ..key(name, sample, about) }
}

/// The sections, in the template's order; those inside others are in [`Spec::inside`].
pub static SPECS: &[&Spec] = &[
    &about::SPEC,
    &image::SPEC,
    &emitter::SPEC,
    &adjuster::SPEC,
    &band::SPEC,
    &station::SPEC,
    &limits::SPEC,
    &board::SPEC,
    &survey::SPEC,
    &head::SPEC,
    &room::SPEC,
    &mount::SPEC,
    &fixings::SPEC,
    &tape::SPEC,
    &tape::CORNERS_SPEC,
    &touch::SPEC,
];

impl Spec {
    /// The line that begins the section.
    pub fn header(&self) -> String {
        if self.many { format!("[[{}]]", self.name) } else { format!("[{}]", self.name) }
    }

    /// The part of the name after the last dot.
    pub(crate) fn last_name(&self) -> &'static str {
        self.name.rsplit('.').next().unwrap_or(self.name)
    }

    /// The section of this name inside this one.
    pub(crate) fn child(&self, last_name: &str) -> Option<&'static Spec> {
        self.inside.iter().copied().find(|inner| inner.last_name() == last_name)
    }
}

/// Every section, those inside others too, each after the one it is in.
pub fn every_section() -> Vec<&'static Spec> {
    let mut every = Vec::new();
    let mut next: Vec<&'static Spec> = SPECS.iter().rev().copied().collect();
    while let Some(spec) = next.pop() {
        every.push(spec);
        next.extend(spec.inside.iter().rev());
    }
    every
}
