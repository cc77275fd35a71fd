//! What the system says of a port that cannot be opened, as the trouble that it is.

use skimgauge_session::Trouble;
use skimgauge_system::access::group_of;

/// What `serialport` says of a device that takes no settings (ENOTTY, by its old name).
const NOT_A_TERMINAL: &str = "Not a typewriter";

/// From what opening the port said.
pub(super) fn opening(port: &str, error: &serialport::Error) -> Trouble {
    use serialport::ErrorKind;
    use std::io::ErrorKind as Io;
    let port = port.to_owned();
    match error.kind() {
        ErrorKind::Io(Io::PermissionDenied) => {
            Trouble::NotAllowed { group: group_of(port.as_ref()), port }
        }
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice if busy(error) => Trouble::Busy { port },
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice
            if std::fs::exists(&port).unwrap_or(false) =>
        {
            Trouble::NotAPort { port }
        }
        ErrorKind::Io(Io::NotFound) | ErrorKind::NoDevice => Trouble::Gone { port },
        _ if busy(error) => Trouble::Busy { port },
        _ if is_file(&port) || error.to_string() == NOT_A_TERMINAL => Trouble::NotAPort { port },
        _ => Trouble::Other { port, what: error.to_string() },
    }
}

fn is_file(port: &str) -> bool {
    std::fs::metadata(port).is_ok_and(|about| about.is_file() || about.is_dir())
}

fn busy(error: &serialport::Error) -> bool {
    let text = error.to_string().to_lowercase();
    text.contains("busy") || text.contains("lock") || text.contains("access is denied")
}
