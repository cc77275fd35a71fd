//! A connection to a server, and why there is none.

use std::time::Duration;

use postgres::config::SslMode;
use postgres::{Client, Config, NoTls};

use crate::address::{CERTIFICATES, Tls};
use crate::error::behind;
use crate::secure::{self, Apart};
use crate::{Address, FirmError};

/// What was sent and not acknowledged for so long is lost.
const UNANSWERED: Duration = Duration::from_secs(20);

/// Connects, by TLS where the address asks for it.
///
/// # Errors
/// Nobody answers, or whoever answers is not to be trusted, or lets nobody in.
pub(crate) fn connect(address: &Address) -> Result<Client, FirmError> {
    let mut config = Config::new();
    for host in &address.hosts {
        config.host(&host.name).port(host.port);
        if let Some(number) = host.number {
            config.hostaddr(number);
        }
    }
    config
        .user(&address.user)
        .dbname(&address.database)
        .application_name("skimgauge")
        .connect_timeout(address.connect_timeout)
        .tcp_user_timeout(UNANSWERED)
        .keepalives_idle(UNANSWERED / 2)
        .keepalives_interval(Duration::from_secs(5))
        .keepalives_retries(3);
    if let Some(password) = &address.password {
        config.password(password);
    }
    let connected = match &address.tls {
        Tls::None => config.ssl_mode(SslMode::Disable).connect(NoTls),
        Tls::Verified { roots, own } => {
            let own = own.as_ref().map(|(certificate, key)| (certificate.as_path(), key.as_path()));
            let connector = secure::connector(roots.as_deref(), own)?;
            config.ssl_mode(SslMode::Require).connect(connector)
        }
    };
    connected.map_err(|error| not_connected(address, &error))
}

fn not_connected(address: &Address, error: &postgres::Error) -> FirmError {
    let place = address.to_string();
    if error.as_db_error().is_some() {
        return FirmError::of(&place, error);
    }
    let why = behind(error);
    let sentence = match secure::apart(error) {
        Some(Apart::Server(why, what_to_do)) => format!(
            "Who answers at {place} does not show that it is the server of that name: {why}. Nothing was sent. {what_to_do}"
        ),
        Some(Apart::Own(why)) => format!(
            "The server at {place} does not take this computer's own certificate: {why}. Nothing was sent. Look at sslcert and \
             sslkey in the address, else at postgresql.crt and postgresql.key in {CERTIFICATES}."
        ),
        Some(Apart::Other(why)) => {
            format!("No connection by TLS came about with {place} ({why}). Nothing was sent.")
        }
        None if why.contains("TLS") => format!(
            "Who answers at {place} does not speak TLS ({why}), and nothing goes to another computer without. Nothing was sent."
        ),
        None => String::new(),
    };
    if !sentence.is_empty() {
        return FirmError::Tls(sentence);
    }
    if why.contains("password") {
        return FirmError::Stranger { place, why };
    }
    FirmError::Unreachable { place, why }
}
