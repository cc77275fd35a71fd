//! What the system says of a port that cannot be opened, as the trouble that it is.

use super::rule;
use skimgauge_session::Trouble;
use skimgauge_system::access::group_of;
use skimgauge_system::port::{Refusal, refusal};
use std::io;

/// What `serialport` says of a device that takes no settings (ENOTTY, by its old name).
const NOT_A_TERMINAL: &str = "Not a typewriter";

/// From what opening the port said.
pub(super) fn opening(port: &str, error: &serialport::Error) -> Trouble {
    use serialport::ErrorKind;
    use std::io::ErrorKind as Io;
    let port = port.to_owned();
    match refusal(&port) {
        Some(Refusal::Busy) => return Trouble::Busy { port },
        Some(Refusal::NotAPort) => return Trouble::NotAPort { port },
        Some(Refusal::Gone) => return Trouble::Gone { port },
        None => (),
    }
    match error.kind() {
        ErrorKind::Io(Io::PermissionDenied) => {
            Trouble::NotAllowed { group: group_of(port.as_ref()), ruled: rule::is_there(), port }
        }
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice if busy(error) => Trouble::Busy { port },
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice
            if std::fs::exists(&port).unwrap_or(false) =>
        {
            Trouble::NotAPort { port }
        }
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice => match leads_nowhere(&port) {
            Some(what) => Trouble::Other { port, what },
            None => Trouble::Gone { port },
        },
        _ if busy(error) => Trouble::Busy { port },
        _ if is_file(&port) || error.to_string() == NOT_A_TERMINAL => Trouble::NotAPort { port },
        _ => Trouble::Other { port, what: error.to_string() },
    }
}

/// From what calling a line within this computer said.
pub(super) fn calling(port: &str, error: &io::Error) -> Trouble {
    let port = port.to_owned();
    match error.kind() {
        io::ErrorKind::ResourceBusy => Trouble::Busy { port },
        io::ErrorKind::NotFound => {
            Trouble::Other { port, what: format!("nobody is at its other end. {BY_A_DEMO}") }
        }
        _ => Trouble::Other { port, what: error.to_string() },
    }
}

const BY_A_DEMO: &str = "If a demonstration that was killed left it, remove it and start that again; else plug the head in";

/// What is to be done about a name that is there and leads to nothing: a demonstration that was
/// killed leaves one.
fn leads_nowhere(port: &str) -> Option<String> {
    let target = std::fs::read_link(port).ok()?;
    Some(format!("it only leads to {}, which is gone. {BY_A_DEMO}", target.display()))
}

fn is_file(port: &str) -> bool {
    std::fs::metadata(port).is_ok_and(|about| about.is_file() || about.is_dir())
}

fn busy(error: &serialport::Error) -> bool {
    let text = error.to_string().to_lowercase();
    text.contains("busy") || text.contains("lock")
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_leads_to_nothing_is_told_from_one_that_is_not_there() {
        let folder = tempfile::tempdir().unwrap();
        let gone = serialport::Error::new(
            serialport::ErrorKind::Io(std::io::ErrorKind::NotFound),
            "No such file or directory",
        );
        let port = folder.path().join("head").to_str().unwrap().to_owned();
        assert!(matches!(opening(&port, &gone), Trouble::Gone { .. }));
        std::os::unix::fs::symlink("/nowhere/pts/7", &port).unwrap();
        let says = opening(&port, &gone).to_string();
        assert!(says.contains("it only leads to /nowhere/pts/7, which is gone"), "{says}");
        assert!(says.contains("remove it"), "{says}");
    }
}
