//! What can go wrong with a firm's database, said to the person at the laptop.

use postgres::error::SqlState;
use skimgauge_record::RecordError;

/// A refusal or a failure: what is wrong, where, and what to do.
#[derive(Debug, thiserror::Error)]
pub enum FirmError {
    /// Nobody said where it is.
    #[error(
        "Where the firm's jobs are is not said. Give its address, as in {EXAMPLE}; or put it into the environment as {}, or into {}.",
        crate::address::VARIABLE,
        crate::address::settings_shown()
    )]
    NoAddress,
    /// A password where others can read it.
    #[error(
        "An address holds no password: others on this computer could read it. Nothing was done. Put the password into the \
         password file ({}: HOST:PORT:DATABASE:USER:PASSWORD) or into a service file, and leave it out here.",
        crate::address::PASSWORD_FILE
    )]
    PasswordGiven,
    /// An address that is none.
    #[error("The address of the firm's jobs cannot be used: {0}. It looks like {EXAMPLE}.")]
    Address(String),
    /// What was to keep the connection to itself cannot.
    #[error("{0}")]
    Tls(String),
    /// No answer.
    #[error(
        "The firm's jobs at {place} cannot be reached ({why}). Nothing was changed there. Try again where there is a network."
    )]
    Unreachable {
        /// Where.
        place: String,
        /// The system's own words.
        why: String,
    },
    /// Others have all connections.
    #[error(
        "The firm's jobs at {place} take no more connections just now ({why}). Nothing was changed there. Try again in a minute."
    )]
    Busy {
        /// Where.
        place: String,
        /// PostgreSQL's own words.
        why: String,
    },
    /// The connection went away in the middle.
    #[error(
        "The connection to the firm's jobs at {place} was cut ({why}). What was told as sent is kept there; of the job on its way \
         all is there or nothing. Do it again: nothing is sent twice."
    )]
    Cut {
        /// Where.
        place: String,
        /// The system's own words.
        why: String,
    },
    /// The account may not come in.
    #[error(
        "The firm's jobs at {place} let nobody in under that name ({why}). Check the user in the address, and its password in \
         the password file ({}) or its certificate (sslcert and sslkey).",
        crate::address::PASSWORD_FILE
    )]
    Stranger {
        /// Where.
        place: String,
        /// PostgreSQL's own words.
        why: String,
    },
    /// No database of that name.
    #[error(
        "There is no such database at {place} ({why}). Check the address; `createdb` makes one."
    )]
    NoDatabase {
        /// Where.
        place: String,
        /// PostgreSQL's own words.
        why: String,
    },
    /// A database that cannot hold jobs.
    #[error("The database {place} cannot hold jobs: {why}.")]
    Unfit {
        /// Where.
        place: String,
        /// What of it.
        why: String,
    },
    /// No tables yet.
    #[error(
        "The database {place} has no tables for jobs yet. Whoever owns it makes them with `skimgauge jobs prepare --to URL`."
    )]
    NotPrepared {
        /// Where.
        place: String,
    },
    /// Tables of an earlier program.
    #[error(
        "The tables at {place} are those of an earlier version of skimgauge (step {found}; this one needs {known}). Whoever owns \
         the database brings them up to date with `skimgauge jobs prepare --to URL`."
    )]
    Older {
        /// Where.
        place: String,
        /// The step that it is at.
        found: i32,
        /// The one that this program needs.
        known: i32,
    },
    /// Tables of a later program.
    #[error(
        "The tables at {place} are those of a newer version of skimgauge (step {found}; this one knows up to {known}). It reads and \
         verifies what is there, and sends nothing. Nothing was changed. Update skimgauge, then send again."
    )]
    Newer {
        /// Where.
        place: String,
        /// The step that it is at.
        found: i32,
        /// The newest that this program knows.
        known: i32,
    },
    /// The account may not do that.
    #[error(
        "The user of this address may not do that at {place} ({why}). Nothing was changed. A crew adds and reads its own jobs \
         (role skimgauge_crew), the office reads all (skimgauge_office)."
    )]
    NotAllowed {
        /// Where.
        place: String,
        /// PostgreSQL's own words.
        why: String,
    },
    /// No room left.
    #[error(
        "No room is left where {place} keeps the firm's jobs: this job was not sent, those told as sent are kept. Whoever \
         looks after the database has to make room; then send again."
    )]
    Full {
        /// Where.
        place: String,
    },
    /// The database holds the job otherwise.
    #[error("{place} did not take the job: {why}. Nothing of it was changed there.")]
    Refused {
        /// Where.
        place: String,
        /// What does not fit.
        why: String,
    },
    /// What is there makes no sense.
    #[error(
        "What {place} holds is damaged: {what}. `skimgauge jobs verify --from URL` tells more."
    )]
    Damaged {
        /// Where.
        place: String,
        /// What of it.
        what: String,
    },
    /// Anything that has no sentence of its own.
    #[error("The firm's jobs at {place} could not be used: {why}.")]
    Other {
        /// Where.
        place: String,
        /// PostgreSQL's own words.
        why: String,
    },
}

/// An address for examples.
pub(crate) const EXAMPLE: &str = "postgresql://north@db.example.com/jobs";

impl From<FirmError> for RecordError {
    fn from(error: FirmError) -> Self {
        Self::Elsewhere(Box::new(error))
    }
}

impl FirmError {
    /// The sentence for what the client reported about the database at `place`.
    pub(crate) fn of(place: &str, error: &postgres::Error) -> Self {
        let place = place.to_owned();
        let Some(told) = error.as_db_error() else {
            let why = behind(error);
            return if error.is_closed() || is_io(error) {
                Self::Cut { place, why }
            } else {
                Self::Other { place, why }
            };
        };
        let why = told.message().to_owned();
        let code = told.code();
        match code.code() {
            _ if *code == SqlState::TOO_MANY_CONNECTIONS => Self::Busy { place, why },
            // Administrator's end, crash, start.
            "57P01" | "57P02" | "57P03" => Self::Cut { place, why },
            // Two at once, of which one has to begin again, or waited for the other in vain.
            "40001" | "40P01" | "55P03" => Self::Busy { place, why },
            "53100" => Self::Full { place },
            "53300" | "53200" | "53400" => Self::Busy { place, why },
            "28P01" | "28000" => Self::Stranger { place, why },
            "3D000" => Self::NoDatabase { place, why },
            "42501" => Self::NotAllowed { place, why },
            "SKG01" | "SKG02" | "SKG03" | "23505" | "23514" => Self::Refused { place, why },
            code if code.starts_with("08") => Self::Cut { place, why },
            // The disk itself.
            code if code.starts_with("58") => Self::Other { place, why },
            _ => Self::Other { place, why },
        }
    }

    /// Whether it may be another in a moment, without anybody doing anything.
    pub fn passes(&self) -> bool {
        matches!(self, Self::Unreachable { .. } | Self::Busy { .. } | Self::Cut { .. })
    }

    /// What of an error is a firm's database's, if it is.
    pub fn within(error: &RecordError) -> Option<&Self> {
        match error {
            RecordError::Elsewhere(error) => error.downcast_ref(),
            _ => None,
        }
    }
}

/// What lies behind the client's own words.
pub(crate) fn behind(error: &postgres::Error) -> String {
    let mut last: &dyn std::error::Error = error;
    while let Some(source) = last.source() {
        last = source;
    }
    // The system's number of the error says nothing to a person.
    let text = last.to_string();
    text.split(" (os error ").next().unwrap_or_default().to_owned()
}

fn is_io(error: &postgres::Error) -> bool {
    let mut next: Option<&dyn std::error::Error> = Some(error);
    while let Some(error) = next {
        if error.is::<std::io::Error>() {
            return true;
        }
        next = error.source();
    }
    false
}
