//! What goes wrong with a port, for the person on the ladder: what, and what to do.

use crate::Refused;
use skimgauge_quantity::{Name, Sentence, Tell, say, told_in_mm};
use skimgauge_shared::message::PROTOCOL;

/// Why a port cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// No such port.
    Gone {
        /// The port.
        port: String,
    },
    /// It was there, and is not any more.
    Unplugged {
        /// The port.
        port: String,
    },
    /// It was lost when what is heard now was recorded.
    LostWhenRecorded,
    /// There is something of that name, and it is no serial port.
    NotAPort {
        /// As named.
        port: String,
    },
    /// Somebody else has it.
    Busy {
        /// The port.
        port: String,
    },
    /// Not allowed.
    NotAllowed {
        /// The port.
        port: String,
        /// The group that may, if known.
        group: Option<String>,
        /// This computer has the rule that gives a head's port to whoever sits at it.
        ruled: bool,
    },
    /// Opened, and no head answered as asked.
    Refused {
        /// The port.
        port: String,
        /// Why.
        why: Refused,
    },
    /// The job file asks for another head.
    NotTheJobs {
        /// The port.
        port: String,
        /// The head found there, if it says who it is.
        found: Option<String>,
        /// The one that the job asks for.
        wanted: String,
    },
    /// Anything else.
    Other {
        /// The port.
        port: String,
        /// The system's words.
        what: String,
    },
}

impl Tell for Trouble {
    fn tell(&self) -> Sentence {
        match self {
            Self::Gone { port } => say!(
                "There is no port {}. Plug the head in; `skimgauge ports` shows where heads are.",
                Name(port)
            ),
            Self::Unplugged { port } => say!(
                "The head on {} is gone. Plug it back in: it is looked for, and every take so far is kept.",
                Name(port)
            ),
            Self::LostWhenRecorded => say!("When this was recorded, the head was lost here."),
            Self::NotAPort { port } => say!(
                "{} is not a serial port. `skimgauge ports` shows where heads are.",
                Name(port)
            ),
            Self::Busy { port } => say!(
                "Port {} is in use by another program. Close that program (another skimgauge, a terminal), then try again.",
                Name(port)
            ),
            Self::NotAllowed { port, group: Some(group), ruled: true } => say!(
                "You may not open {}. If a head is there, unplug it and plug it in again: then whoever sits at this computer \
                 may. If that is not enough, or you work from elsewhere, join the group `{}`: run \
                 `sudo usermod -a -G {} $USER`, then log out and in.",
                Name(port),
                Name(group),
                Name(group)
            ),
            Self::NotAllowed { port, group: Some(group), ruled: false } => say!(
                "You may not open {}. Join the group `{}`: run `sudo usermod -a -G {} $USER`, then log out and in.",
                Name(port),
                Name(group),
                Name(group)
            ),
            Self::NotAllowed { port, group: None, ruled: true } => say!(
                "You may not open {}. If a head is there, unplug it and plug it in again: then whoever sits at this computer \
                 may. If that is not enough, ask whoever looks after this computer for access to serial ports.",
                Name(port)
            ),
            Self::NotAllowed { port, group: None, ruled: false } => say!(
                "You may not open {}. Ask whoever looks after this computer for access to serial ports.",
                Name(port)
            ),
            Self::Refused { port, why } => why.on(port),
            Self::NotTheJobs { port, found: Some(found), wanted } => say!(
                "The head on {} is {found}, and the job's file asks for {} ([head] serial). Nothing is taken with \
                 {found}: plug {} in, or change the job's file.",
                Name(port),
                Name(wanted),
                Name(wanted)
            ),
            Self::NotTheJobs { port, found: None, wanted } => say!(
                "The head on {} cannot say its serial number, and the job's file asks for {} ([head] serial). \
                 Nothing is taken with it. Its memory does not answer: have it looked at.",
                Name(port),
                Name(wanted)
            ),
            Self::Other { port, what } => {
                say!("Port {} cannot be used: {}.", Name(port), Name(what))
            }
        }
    }
}

told_in_mm!(Trouble);

impl Refused {
    fn on(&self, port: &str) -> Sentence {
        let port = Name(port);
        match self {
            Self::Protocol { theirs } => {
                let remedy = if *theirs > PROTOCOL {
                    "Install a newer skimgauge."
                } else {
                    "Flash newer firmware onto the head."
                };
                say!(
                    "The head on {port} speaks protocol {theirs}, this program speaks {}. {remedy}",
                    PROTOCOL
                )
            }
            Self::Schema => say!(
                "The firmware of the head on {port} and this program do not belong together. Flash the firmware that came with this program onto the head."
            ),
            Self::NotAHead { bytes } => say!(
                "What answers on {port} is no skimgauge head ({bytes} bytes of something else). Choose another port; `skimgauge ports` lists heads."
            ),
            Self::Silent => say!(
                "Nothing answers on {port}. Unplug the head, plug it in again, and check that its lamp blinks."
            ),
            Self::OtherHead { found: Some(found), wanted } => {
                let (found, wanted) = (found.to_string(), wanted.to_string());
                say!(
                    "The head on {port} is {found}, not {wanted}. Plug {wanted} in, or name the other head."
                )
            }
            Self::OtherHead { found: None, wanted } => say!(
                "The head on {port} cannot say its serial number, so it may not be {}. Its memory does not answer: have it looked at.",
                wanted.to_string()
            ),
        }
    }
}
