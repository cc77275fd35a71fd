//! What goes wrong with a port, for the person on the ladder: what, and what to do.

use super::session::Refused;
use skimgauge_shared::message::PROTOCOL;
use skimgauge_system::access::group_of;
use std::fmt;

/// What `serialport` says of a device that takes no settings (ENOTTY, by its old name).
const NOT_A_TERMINAL: &str = "Not a typewriter";

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

impl Trouble {
    /// From what opening the port said.
    pub fn opening(port: &str, error: &serialport::Error) -> Self {
        use serialport::ErrorKind;
        use std::io::ErrorKind as Io;
        let port = port.to_owned();
        match error.kind() {
            ErrorKind::Io(Io::PermissionDenied) => {
                Self::NotAllowed { group: group_of(port.as_ref()), port }
            }
            ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice if busy(error) => Self::Busy { port },
            ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice
                if std::fs::exists(&port).unwrap_or(false) =>
            {
                Self::NotAPort { port }
            }
            ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice => Self::Gone { port },
            _ if busy(error) => Self::Busy { port },
            _ if is_file(&port) || error.to_string() == NOT_A_TERMINAL => Self::NotAPort { port },
            _ => Self::Other { port, what: error.to_string() },
        }
    }
}

fn is_file(port: &str) -> bool {
    std::fs::metadata(port).is_ok_and(|about| about.is_file() || about.is_dir())
}

fn busy(error: &serialport::Error) -> bool {
    let text = error.to_string().to_lowercase();
    text.contains("busy") || text.contains("lock") || text.contains("access is denied")
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Gone { port } => {
                write!(
                    f,
                    "There is no port {port}. Plug the head in; `skimgauge ports` shows where heads are."
                )
            }
            Self::Unplugged { port } => write!(
                f,
                "The head on {port} is gone. Plug it back in: it is looked for, and every take so far is kept."
            ),
            Self::NotAPort { port } => {
                write!(f, "{port} is not a serial port. `skimgauge ports` shows where heads are.")
            }
            Self::Busy { port } => write!(
                f,
                "Port {port} is in use by another program. Close that program (another skimgauge, a terminal), then try again."
            ),
            Self::NotAllowed { port, group: Some(group) } => write!(
                f,
                "You may not open {port}. Join the group `{group}`: run `sudo usermod -a -G {group} $USER`, then log out and in."
            ),
            Self::NotAllowed { port, group: None } => {
                write!(
                    f,
                    "You may not open {port}. Ask whoever looks after this computer for access to serial ports."
                )
            }
            Self::Refused { port, why } => match why {
                Refused::Protocol { theirs } => write!(
                    f,
                    "The head on {port} speaks protocol {theirs}, this program speaks {PROTOCOL}. {}",
                    if *theirs > PROTOCOL {
                        "Install a newer skimgauge."
                    } else {
                        "Flash newer firmware onto the head."
                    }
                ),
                Refused::NotAHead { bytes } => write!(
                    f,
                    "What answers on {port} is no skimgauge head ({bytes} bytes of something else). Choose another port; `skimgauge ports` lists heads."
                ),
                Refused::Silent => write!(
                    f,
                    "Nothing answers on {port}. Unplug the head, plug it in again, and check that its lamp blinks."
                ),
                Refused::OtherHead { found: Some(found), wanted } => {
                    write!(
                        f,
                        "The head on {port} is {found}, not {wanted}. Plug {wanted} in, or name the other head."
                    )
                }
                Refused::OtherHead { found: None, wanted } => write!(
                    f,
                    "The head on {port} cannot say its serial number, so it may not be {wanted}. Its memory does not answer: have it looked at."
                ),
            },
            Self::NotTheJobs { port, found: Some(found), wanted } => write!(
                f,
                "The head on {port} is {found}, and the job's file asks for {wanted} ([head] serial). Nothing is taken with \
                 {found}: plug {wanted} in, or change the job's file."
            ),
            Self::NotTheJobs { port, found: None, wanted } => write!(
                f,
                "The head on {port} cannot say its serial number, and the job's file asks for {wanted} ([head] serial). \
                 Nothing is taken with it. Its memory does not answer: have it looked at."
            ),
            Self::Other { port, what } => write!(f, "Port {port} cannot be used: {what}."),
        }
    }
}

impl std::error::Error for Trouble {}
