//! What is said to who is refused.

use serde::Serialize;

/// Why a request was refused: the status, and a sentence for the person at the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The HTTP status.
    pub status: u16,
    /// What is wrong, and what to do.
    pub says: String,
    /// Try again after so many seconds, where waiting helps.
    pub after_s: Option<u64>,
}

#[derive(Serialize)]
struct Sent<'a> {
    refused: &'a str,
}

impl Refusal {
    pub(crate) fn new(status: u16, says: impl Into<String>) -> Self {
        Self { status, says: says.into(), after_s: None }
    }

    /// As it is sent.
    pub(crate) fn json(&self) -> String {
        serde_json::to_string(&Sent { refused: &self.says }).unwrap_or_default()
    }

    pub(crate) fn not_served_here() -> Self {
        Self::new(
            421,
            "This address is not served here: open the address that the terminal shows, as it stands.",
        )
    }

    pub(crate) fn foreign_page() -> Self {
        Self::new(403, "This came from another page: nothing was done.")
    }

    pub(crate) fn no_key() -> Self {
        Self::new(
            401,
            "The key is missing: scan the code in the terminal, or open its address again.",
        )
    }

    pub(crate) fn wrong_key() -> Self {
        Self::new(
            401,
            "This key is of another run: scan the code in the terminal, or open its address again.",
        )
    }

    pub(crate) fn looks_only() -> Self {
        Self::new(
            403,
            "This page only looks. To act, scan the code that stands in the terminal itself.",
        )
    }

    pub(crate) fn nothing_there() -> Self {
        Self::new(404, "There is nothing at this address.")
    }

    pub(crate) fn other_method() -> Self {
        Self::new(405, "This address is not asked like that.")
    }

    pub(crate) fn too_large(most: &str) -> Self {
        Self::new(413, format!("This is too large: at most {most}."))
    }

    pub(crate) fn not_read(why: &str) -> Self {
        Self::new(400, format!("This could not be read: {why}. Nothing was done."))
    }

    pub(crate) fn too_slow() -> Self {
        Self::new(
            408,
            "Nothing came for too long: the connection is weak. Nothing was done; try again.",
        )
    }

    pub(crate) fn too_often(after_s: u64) -> Self {
        Self {
            after_s: Some(after_s.max(1)),
            ..Self::new(429, "Too many at once: wait a moment, then press again.")
        }
    }

    pub(crate) fn state_is_gone() -> Self {
        Self::new(
            409,
            "Things have changed since you saw this: nothing was done. Look at the page, then press again.",
        )
    }

    pub(crate) fn busy() -> Self {
        Self {
            after_s: Some(1),
            ..Self::new(503, "Too much at once: nothing was done; try again.")
        }
    }
}
