//! The two forms of an address: a URL, and keywords.

use std::collections::BTreeMap;

use crate::FirmError;

/// Keywords that are known.
pub(super) const KEYWORDS: [&str; 15] = [
    "host",
    "hostaddr",
    "port",
    "dbname",
    "user",
    "password",
    "passfile",
    "service",
    "sslmode",
    "sslrootcert",
    "sslcert",
    "sslkey",
    "connect_timeout",
    "application_name",
    "channel_binding",
];

/// An address's keywords.
pub(super) fn words_of(text: &str) -> Result<BTreeMap<String, String>, FirmError> {
    let url = ["postgresql://", "postgres://"].into_iter().find_map(|mark| text.strip_prefix(mark));
    let words = match url {
        Some(rest) => of_url(rest)?,
        None if text.contains('=') => of_keywords(text)?,
        None => {
            let why = "it is no URL and has no keywords".to_owned();
            return Err(FirmError::Address(why));
        }
    };
    for key in words.keys() {
        if !KEYWORDS.contains(&key.as_str()) {
            return Err(FirmError::Address(format!("\"{key}\" is not known here")));
        }
    }
    Ok(words)
}

fn plain(text: &str) -> Result<String, FirmError> {
    percent_encoding::percent_decode_str(text)
        .decode_utf8()
        .map(std::borrow::Cow::into_owned)
        .map_err(|_| FirmError::Address("it is no UTF-8".to_owned()))
}

/// What stands behind the `//` of a URL: `[user[:password]@][host][:port][,...][/dbname][?key=value&...]`.
fn of_url(rest: &str) -> Result<BTreeMap<String, String>, FirmError> {
    let mut words = BTreeMap::new();
    let (rest, query) = rest.split_once('?').map_or((rest, ""), |(rest, query)| (rest, query));
    let (authority, database) =
        rest.split_once('/').map_or((rest, ""), |(authority, database)| (authority, database));
    let (who, places) =
        authority.rsplit_once('@').map_or(("", authority), |(who, places)| (who, places));
    if let Some((user, password)) = who.split_once(':') {
        put(&mut words, "user", plain(user)?);
        put(&mut words, "password", plain(password)?);
    } else {
        put(&mut words, "user", plain(who)?);
    }
    let (mut hosts, mut ports) = (Vec::new(), Vec::new());
    for place in places.split(',') {
        let (host, port) = match place.strip_prefix('[') {
            Some(rest) => {
                let (host, after) = rest
                    .split_once(']')
                    .ok_or_else(|| FirmError::Address("a [ in it has no ]".to_owned()))?;
                (host.to_owned(), after.strip_prefix(':').unwrap_or(after).to_owned())
            }
            None => {
                let (host, port) = place.rsplit_once(':').unwrap_or((place, ""));
                (plain(host)?, port.to_owned())
            }
        };
        hosts.push(host);
        ports.push(port);
    }
    if hosts.iter().any(|host| !host.is_empty()) {
        put(&mut words, "host", hosts.join(","));
    }
    if ports.iter().any(|port| !port.is_empty()) {
        put(&mut words, "port", ports.join(","));
    }
    put(&mut words, "dbname", plain(database)?);
    for pair in query.split('&').filter(|pair| !pair.is_empty()) {
        let (key, value) = pair
            .split_once('=')
            .ok_or_else(|| FirmError::Address(format!("\"{pair}\" has no =")))?;
        words.insert(plain(key)?, plain(value)?);
    }
    Ok(words)
}

fn put(words: &mut BTreeMap<String, String>, key: &str, value: String) {
    if !value.is_empty() {
        words.insert(key.to_owned(), value);
    }
}

/// `key = value key='a value'`, with `\'` and `\\`.
fn of_keywords(text: &str) -> Result<BTreeMap<String, String>, FirmError> {
    let mut words = BTreeMap::new();
    let mut rest = text.trim_start();
    while !rest.is_empty() {
        let (key, after) = rest.split_once('=').ok_or_else(|| {
            FirmError::Address(format!("\"{}\" has no =", rest.split(' ').next().unwrap_or(rest)))
        })?;
        let after = after.trim_start();
        let quoted = after.starts_with('\'');
        let (mut value, mut escaped, mut end) = (String::new(), false, None);
        for (at, c) in after.char_indices().skip(usize::from(quoted)) {
            match c {
                _ if escaped => {
                    value.push(c);
                    escaped = false;
                }
                '\\' => escaped = true,
                '\'' if quoted => {
                    end = Some(at + 1);
                    break;
                }
                c if c.is_whitespace() && !quoted => {
                    end = Some(at);
                    break;
                }
                c => value.push(c),
            }
        }
        if quoted && end.is_none() {
            return Err(FirmError::Address("a ' in it has no other".to_owned()));
        }
        words.insert(key.trim().to_owned(), value);
        rest = after[end.unwrap_or(after.len())..].trim_start();
    }
    Ok(words)
}
