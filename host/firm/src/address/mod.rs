//! Where a firm's jobs are, and how they are reached: in the forms that PostgreSQL's own programs
//! read (PostgreSQL 15 documentation, 34.1.1, 34.15 to 34.17), so that what is set up for those
//! holds here.
//!
//! An address is a URL (`postgresql://north@db.example.com/jobs`) or keywords (`host=... dbname=...`).
//! What it leaves open is looked for in the service that it names, then in the environment
//! (`PGHOST` and its like), then taken as usual: this computer's own server, the account's name. The
//! password comes from the service file, `PGPASSWORD` or the password file, never from the address.
//!
//! What is stricter than there: beyond this computer nothing goes without TLS, with the server's
//! certificate and name verified, whatever `sslmode` says.

mod files;
mod text;

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::FirmError;
use files::{open_to_others, password_of, read_short, service_of};
use text::words_of;

/// The environment's variable that holds the address of the firm's jobs.
pub const VARIABLE: &str = "SKIMGAUGE_FIRM";

/// The word that stands for the address that is set up, where one could be given.
pub const SET_UP: &str = "firm";

/// The key of the settings file that holds it.
const SETTING: &str = "firm";

/// What stands in the environment's place of a keyword.
const FROM_ENVIRONMENT: [(&str, &str); 12] = [
    ("host", "PGHOST"),
    ("hostaddr", "PGHOSTADDR"),
    ("port", "PGPORT"),
    ("dbname", "PGDATABASE"),
    ("user", "PGUSER"),
    ("password", "PGPASSWORD"),
    ("passfile", "PGPASSFILE"),
    ("sslmode", "PGSSLMODE"),
    ("sslrootcert", "PGSSLROOTCERT"),
    ("sslcert", "PGSSLCERT"),
    ("sslkey", "PGSSLKEY"),
    ("connect_timeout", "PGCONNECT_TIMEOUT"),
];

/// One place where a server may answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Host {
    /// A name or an address; a folder, where its socket is.
    pub name: String,
    /// The number to connect to, where it is not to be looked up by the name.
    pub number: Option<IpAddr>,
    /// The port.
    pub port: u16,
}

/// How a connection is kept to itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tls {
    /// Within this computer: not at all.
    None,
    /// TLS, the server's certificate and name verified.
    Verified {
        /// The certificates that are trusted; without it those that this computer trusts.
        roots: Option<PathBuf>,
        /// The client's own certificate and its key.
        own: Option<(PathBuf, PathBuf)>,
    },
}

/// Where a firm's jobs are.
#[derive(Clone, PartialEq, Eq)]
pub struct Address {
    /// The servers that are tried, one after the other.
    pub hosts: Vec<Host>,
    /// Who.
    pub user: String,
    /// The database's name.
    pub database: String,
    /// Its password, where one is known.
    pub(crate) password: Option<String>,
    /// How the connection is kept to itself.
    pub tls: Tls,
    /// How long an answer is waited for.
    pub connect_timeout: Duration,
}

impl std::fmt::Debug for Address {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{self}")
    }
}

impl std::fmt::Display for Address {
    /// Without the password.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let hosts: Vec<String> = self
            .hosts
            .iter()
            .map(|host| match host.port {
                5432 => host.name.clone(),
                port => format!("{}:{port}", host.name),
            })
            .collect();
        write!(f, "{}@{}/{}", self.user, hosts.join(","), self.database)
    }
}

/// Where passwords are kept, for people.
pub(crate) const PASSWORD_FILE: &str = match cfg!(windows) {
    true => r"%APPDATA%\postgresql\pgpass.conf",
    false => "~/.pgpass, mode 600",
};
/// Where certificates are kept, for people.
pub(crate) const CERTIFICATES: &str = match cfg!(windows) {
    true => r"%APPDATA%\postgresql",
    false => "~/.postgresql",
};

/// What an address is completed from. The process's own, but for tests.
pub struct Around<'a> {
    /// A variable of the environment.
    pub variable: &'a dyn Fn(&str) -> Option<String>,
    /// A file's text; `None` where it is not there.
    pub file: &'a dyn Fn(&Path) -> Option<String>,
    /// Whether others than its owner may read a file.
    pub open_to_others: &'a dyn Fn(&Path) -> bool,
    /// The account's folder.
    pub home: Option<PathBuf>,
    /// The folder of the program's settings.
    pub settings: Option<PathBuf>,
    /// The account's name.
    pub account: Option<String>,
}

impl Around<'_> {
    fn said(&self, name: &str) -> Option<String> {
        (self.variable)(name).filter(|text| !text.is_empty())
    }

    /// A file of this account's that PostgreSQL's own programs read, too: in the account's folder,
    /// on Windows under another name in `%APPDATA%\postgresql` (PostgreSQL's manual, 34.16 to 34.19).
    fn kept(&self, in_home: &str, on_windows: &str) -> Option<PathBuf> {
        match cfg!(windows) {
            true => Some(PathBuf::from(self.said("APPDATA")?).join("postgresql").join(on_windows)),
            false => Some(self.home.as_ref()?.join(in_home)),
        }
    }
}

/// Where the settings file is, for people.
pub(crate) fn settings_shown() -> String {
    settings_file(config_folder()).map_or_else(
        || "the settings file".to_owned(),
        |path| format!("{} (a line {SETTING} = \"...\")", path.display()),
    )
}

fn config_folder() -> Option<PathBuf> {
    use etcetera::BaseStrategy;
    etcetera::base_strategy::choose_native_strategy().ok().map(|base| base.config_dir())
}

fn settings_file(folder: Option<PathBuf>) -> Option<PathBuf> {
    folder.map(|folder| folder.join("skimgauge").join("settings.toml"))
}

impl Address {
    /// The address that was given, or the one that is set up, completed from the process's
    /// environment and the account's files.
    ///
    /// # Errors
    /// [`FirmError::NoAddress`], [`FirmError::PasswordGiven`], [`FirmError::Address`],
    /// [`FirmError::Tls`].
    pub fn find(given: Option<&str>) -> Result<Self, FirmError> {
        let home = etcetera::home_dir().ok();
        Self::find_in(
            given,
            &Around {
                variable: &|name| std::env::var(name).ok(),
                file: &read_short,
                open_to_others: &open_to_others,
                home,
                settings: config_folder(),
                account: whoami::username().ok(),
            },
        )
    }

    /// The same, completed from what is around.
    ///
    /// # Errors
    /// As [`Address::find`].
    pub fn find_in(given: Option<&str>, around: &Around<'_>) -> Result<Self, FirmError> {
        let given = given.map(str::trim).filter(|text| !text.is_empty() && *text != SET_UP);
        let text = match given {
            Some(text) => text.to_owned(),
            None => set_up(around)?,
        };
        let mut words = words_of(&text)?;
        if words.contains_key("password") {
            return Err(FirmError::PasswordGiven);
        }
        let service = words.get("service").cloned().or_else(|| around.said("PGSERVICE"));
        if let Some(service) = service {
            for (key, value) in service_of(&service, around)? {
                words.entry(key).or_insert(value);
            }
        }
        for (key, variable) in FROM_ENVIRONMENT {
            if let Some(value) = around.said(variable) {
                words.entry(key.to_owned()).or_insert(value);
            }
        }
        Self::of_words(words, around)
    }

    fn of_words(words: BTreeMap<String, String>, around: &Around<'_>) -> Result<Self, FirmError> {
        let word = |key: &str| words.get(key).filter(|text| !text.is_empty()).cloned();
        let account = || {
            around
                .account
                .clone()
                .ok_or_else(|| FirmError::Address("it does not say the user".to_owned()))
        };
        let user = word("user").map_or_else(account, Ok)?;
        let database = word("dbname").unwrap_or_else(|| user.clone());
        let hosts = hosts_of(&words, around)?;
        let seconds = word("connect_timeout").map_or(Ok(10), |text| {
            text.parse::<u64>()
                .map_err(|_| FirmError::Address(format!("connect_timeout=\"{text}\" is no number")))
        })?;
        let tls = tls_of(&words, &hosts, around)?;
        let password = match word("password") {
            Some(password) => Some(password),
            None => password_of(&words, &hosts, &user, &database, around)?,
        };
        let connect_timeout = Duration::from_secs(seconds.clamp(2, 600));
        Ok(Self { hosts, user, database, password, tls, connect_timeout })
    }

    /// What a person should know of how the connection is kept to itself, where it is not by TLS.
    pub fn without_tls(&self) -> Option<&'static str> {
        (self.tls == Tls::None).then_some("within this computer, without TLS")
    }
}

/// The address that is set up.
fn set_up(around: &Around<'_>) -> Result<String, FirmError> {
    if let Some(text) = around.said(VARIABLE) {
        return Ok(text);
    }
    let path = settings_file(around.settings.clone()).ok_or(FirmError::NoAddress)?;
    let text = (around.file)(&path).ok_or(FirmError::NoAddress)?;
    let wrong = |what: String| FirmError::Address(format!("{}: {what}", path.display()));
    let table: toml::Table =
        toml::from_str(&text).map_err(|error| wrong(error.message().to_owned()))?;
    match table.get(SETTING) {
        None => Err(FirmError::NoAddress),
        Some(toml::Value::String(text)) if !text.trim().is_empty() => Ok(text.trim().to_owned()),
        Some(_) => Err(wrong(format!("{SETTING} is no text"))),
    }
}

fn hosts_of(words: &BTreeMap<String, String>, around: &Around<'_>) -> Result<Vec<Host>, FirmError> {
    let list = |key: &str| -> Vec<String> {
        words.get(key).map_or_else(Vec::new, |text| {
            text.split(',').map(|part| part.trim().to_owned()).collect()
        })
    };
    let (names, numbers, ports) = (list("host"), list("hostaddr"), list("port"));
    let many = names.len().max(numbers.len()).max(1);
    let usual = || {
        let folder = "/var/run/postgresql";
        if cfg!(unix) && (around.file)(Path::new(folder)).is_none() && Path::new(folder).is_dir() {
            folder.to_owned()
        } else {
            "localhost".to_owned()
        }
    };
    (0..many)
        .map(|at| {
            let number = match numbers.get(at).filter(|text| !text.is_empty()) {
                None => None,
                Some(text) => Some(text.parse::<IpAddr>().map_err(|_| {
                    FirmError::Address(format!("hostaddr=\"{text}\" is no number of a computer"))
                })?),
            };
            let name = names.get(at).filter(|text| !text.is_empty()).cloned();
            let name = name.or_else(|| number.map(|n| n.to_string())).unwrap_or_else(usual);
            let text = ports.get(at).or(ports.first()).filter(|text| !text.is_empty());
            let port = text.map_or(Ok(5432), |text| {
                text.parse::<u16>()
                    .map_err(|_| FirmError::Address(format!("\"{text}\" is no port")))
            })?;
            Ok(Host { name, number, port })
        })
        .collect()
}

impl Host {
    /// Whether it is a socket in a folder.
    pub fn is_socket(&self) -> bool {
        self.name.starts_with('/') || self.name.starts_with('@')
    }

    /// Whether what goes there stays within this computer.
    fn is_here(&self) -> bool {
        let number = self.number.or_else(|| self.name.parse().ok());
        self.is_socket()
            || number.is_some_and(|number| number.is_loopback())
            || (self.number.is_none() && self.name == "localhost")
    }
}

fn tls_of(
    words: &BTreeMap<String, String>,
    hosts: &[Host],
    around: &Around<'_>,
) -> Result<Tls, FirmError> {
    let word = |key: &str| words.get(key).filter(|text| !text.is_empty());
    let mode = word("sslmode").map_or("", String::as_str);
    let away = hosts.iter().find(|host| !host.is_here());
    let asked = match mode {
        "" | "allow" | "prefer" => false,
        "require" | "verify-ca" | "verify-full" => true,
        "disable" => match away {
            None => false,
            Some(host) => {
                return Err(FirmError::Tls(format!(
                    "sslmode=disable would send the firm's jobs to {} so that others in the network could read and change them. \
                     Nothing was sent. Leave it out; a server's own certificate is trusted with sslrootcert=FILE.",
                    host.name
                )));
            }
        },
        other => return Err(FirmError::Address(format!("sslmode=\"{other}\" is not known"))),
    };
    if !asked && away.is_none() || hosts.iter().all(Host::is_socket) {
        return Ok(Tls::None);
    }
    let usual = |name: &str| {
        let path = around.kept(&format!(".postgresql/{name}"), name)?;
        (around.file)(&path).map(|_| path)
    };
    let roots = match word("sslrootcert").map(String::as_str) {
        Some("system") => None,
        Some(path) => Some(PathBuf::from(path)),
        None => usual("root.crt"),
    };
    let own = word("sslcert").map(PathBuf::from).or_else(|| usual("postgresql.crt"));
    let own = own.map(|certificate| {
        let key = word("sslkey").map(PathBuf::from).or_else(|| usual("postgresql.key"));
        own_of(certificate, key, around)
    });
    Ok(Tls::Verified { roots, own: own.transpose()? })
}

/// This computer's own certificate with its key, which is for its owner's eyes alone.
fn own_of(
    certificate: PathBuf,
    key: Option<PathBuf>,
    around: &Around<'_>,
) -> Result<(PathBuf, PathBuf), FirmError> {
    let Some(key) = key else {
        return Err(FirmError::Tls(format!(
            "There is no key to the certificate {}: say where it is with sslkey=FILE.",
            certificate.display()
        )));
    };
    if (around.open_to_others)(&key) {
        return Err(FirmError::Tls(format!(
            "The key {} may be read by others, and was not used: close it with `chmod 600`.",
            key.display()
        )));
    }
    Ok((certificate, key))
}

#[cfg(test)]
mod tests;
