//! Who gets in, and to what: looked at before a body is read. Pure.

use crate::key::{Keys, Role};
use crate::refusal::Refusal;
use hyper::Method;
use hyper::header::{AUTHORIZATION, HOST, HeaderMap, HeaderName, ORIGIN};
use hyper::http::request::Parts;
use skimgauge_quantity::Units;

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Route {
    /// A page, or a file of one, by its place in the table of files.
    File(usize),
    /// Nothing, on purpose: browsers ask for an icon by themselves.
    Icon,
    Hello,
    State,
    Steps,
    Word,
    Note,
    Frame,
    Taped,
    Strokes,
    Photo,
}

/// On which page somebody is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Watching {
    /// The phone's.
    Phone,
    /// The board's.
    Board,
}

/// Who asks for what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Asked {
    pub(crate) route: Route,
    pub(crate) page: Watching,
    pub(crate) units: Units,
    /// Where no key is wanted: looks.
    pub(crate) role: Role,
}

impl Route {
    fn of(method: &Method, path: &str) -> Result<Self, Refusal> {
        let (route, wanted) = match path {
            "/hello" => (Self::Hello, Method::GET),
            "/state" => (Self::State, Method::GET),
            "/steps" => (Self::Steps, Method::GET),
            "/word" => (Self::Word, Method::POST),
            "/note" => (Self::Note, Method::POST),
            "/frame" => (Self::Frame, Method::POST),
            "/taped" => (Self::Taped, Method::POST),
            "/strokes" => (Self::Strokes, Method::POST),
            "/photo" => (Self::Photo, Method::POST),
            "/favicon.ico" => (Self::Icon, Method::GET),
            _ => match crate::files::at(path) {
                Some(file) => (Self::File(file), Method::GET),
                None => return Err(Refusal::nothing_there()),
            },
        };
        if *method == wanted { Ok(route) } else { Err(Refusal::other_method()) }
    }

    /// What somebody must be allowed to do for it.
    fn wants(self) -> Option<Role> {
        match self {
            Self::File(_) | Self::Icon => None,
            Self::Hello | Self::State | Self::Steps => Some(Role::Looks),
            Self::Word | Self::Note | Self::Frame | Self::Taped | Self::Strokes | Self::Photo => {
                Some(Role::Acts)
            }
        }
    }
}

/// `page=board&units=inch`, each or none.
fn query(query: Option<&str>) -> Result<(Watching, Units), Refusal> {
    let (mut page, mut units) = (Watching::Phone, Units::Mm);
    for part in query.into_iter().flat_map(|query| query.split('&')) {
        match part {
            "page=phone" => page = Watching::Phone,
            "page=board" => page = Watching::Board,
            "units=mm" => units = Units::Mm,
            "units=inch" => units = Units::Inch,
            _ => return Err(Refusal::nothing_there()),
        }
    }
    Ok((page, units))
}

/// A header that stands there once; a second one is a trick.
fn only<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?;
    if all.next().is_some() { None } else { first.to_str().ok() }
}

/// Whether the request is for an address that is served: a name that somebody made point here
/// (DNS rebinding) is not.
fn served(parts: &Parts, hosts: &[String]) -> bool {
    let known = |host: &str| hosts.iter().any(|served| served.eq_ignore_ascii_case(host));
    let target = parts.uri.authority().is_none_or(|authority| known(authority.as_str()));
    target && only(&parts.headers, &HOST).is_some_and(known)
}

/// Whether a page of ours sent it. What changes something must say so; what only looks may leave it
/// out, as browsers do.
fn ours(parts: &Parts, hosts: &[String]) -> bool {
    let known = |origin: &str| {
        origin.strip_prefix("http://").is_some_and(|host| hosts.iter().any(|h| h == host))
    };
    match (parts.headers.contains_key(ORIGIN), parts.method == Method::GET) {
        (false, true) => true,
        (false, false) => false,
        (true, _) => only(&parts.headers, &ORIGIN).is_some_and(known),
    }
}

/// Lets a request in, or says why not. `hosts` are the `address:port` that are served.
pub(crate) fn admit(parts: &Parts, hosts: &[String], keys: &Keys) -> Result<Asked, Refusal> {
    if !served(parts, hosts) {
        return Err(Refusal::not_served_here());
    }
    if !ours(parts, hosts) {
        return Err(Refusal::foreign_page());
    }
    let route = Route::of(&parts.method, parts.uri.path())?;
    let (page, units) = query(parts.uri.query())?;
    let Some(wanted) = route.wants() else {
        return Ok(Asked { route, page, units, role: Role::Looks });
    };
    if !parts.headers.contains_key(AUTHORIZATION) {
        return Err(Refusal::no_key());
    }
    let role = only(&parts.headers, &AUTHORIZATION)
        .and_then(|given| given.strip_prefix("Bearer "))
        .and_then(|key| keys.role(key))
        .ok_or_else(Refusal::wrong_key)?;
    if role < wanted {
        return Err(Refusal::looks_only());
    }
    Ok(Asked { route, page, units, role })
}

#[cfg(test)]
mod tests {
    use super::*;
    use hyper::Request;

    fn hosts() -> Vec<String> {
        ["127.0.0.1:4711", "localhost:4711", "192.168.1.7:4711"].map(str::to_owned).to_vec()
    }

    /// A request with these headers, answered.
    fn asked(
        method: &str,
        target: &str,
        headers: &[(&str, &str)],
        keys: &Keys,
    ) -> Result<Asked, Refusal> {
        let mut request = Request::builder().method(method).uri(target);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        admit(&request.body(()).unwrap().into_parts().0, &hosts(), keys)
    }

    fn status(result: Result<Asked, Refusal>) -> u16 {
        result.map_or_else(|refusal| refusal.status, |_| 200)
    }

    const HOST_OK: (&str, &str) = ("host", "192.168.1.7:4711");
    const ORIGIN_OK: (&str, &str) = ("origin", "http://192.168.1.7:4711");

    #[test]
    fn pages_are_for_everybody_who_asks_for_the_right_address() {
        let keys = Keys::new().unwrap();
        for path in ["/phone", "/board", "/files/page.css", "/favicon.ico"] {
            assert_eq!(status(asked("GET", path, &[HOST_OK], &keys)), 200, "{path}");
        }
        for path in [
            "/files/",
            "/files/../key.rs",
            "/phone/",
            "//phone",
            "/files/page.css%00",
            "/state/x",
            "/phone?x=1",
        ] {
            assert_eq!(status(asked("GET", path, &[HOST_OK], &keys)), 404, "{path}");
        }
    }

    #[test]
    fn a_name_that_was_made_to_point_here_is_not_served() {
        let keys = Keys::new().unwrap();
        for host in [
            "rebound.example:4711",
            "192.168.1.7",
            "192.168.1.7:80",
            "127.0.0.1:4711.evil.example",
            "",
            "localhost:4711@evil.example",
            "[::1]:4711",
        ] {
            assert_eq!(status(asked("GET", "/phone", &[("host", host)], &keys)), 421, "{host}");
        }
        assert_eq!(status(asked("GET", "/phone", &[], &keys)), 421);
        assert_eq!(
            status(asked("GET", "/phone", &[HOST_OK, ("host", "evil.example")], &keys)),
            421
        );
        assert_eq!(status(asked("GET", "http://evil.example/phone", &[HOST_OK], &keys)), 421);
    }

    #[test]
    fn another_page_gets_nothing_done() {
        let keys = Keys::new().unwrap();
        let acts = format!("Bearer {}", keys.acts.text());
        let key = ("authorization", acts.as_str());
        for origin in [
            "null",
            "https://192.168.1.7:4711",
            "http://192.168.1.7:4712",
            "http://evil.example",
            "http://192.168.1.7:4711.evil.example",
            "",
        ] {
            for (method, path) in [("POST", "/word"), ("GET", "/state"), ("POST", "/photo")] {
                let headers = [HOST_OK, key, ("origin", origin)];
                assert_eq!(status(asked(method, path, &headers, &keys)), 403, "{origin} {path}");
            }
        }
        assert_eq!(status(asked("POST", "/word", &[HOST_OK, key], &keys)), 403, "no origin");
        let twice = [HOST_OK, key, ORIGIN_OK, ORIGIN_OK];
        assert_eq!(status(asked("POST", "/word", &twice, &keys)), 403);
        assert_eq!(status(asked("POST", "/word", &[HOST_OK, key, ORIGIN_OK], &keys)), 200);
    }

    #[test]
    fn without_the_right_key_nothing_is_shown_and_nothing_done() {
        let keys = Keys::new().unwrap();
        let with = |text: String| ("authorization".to_owned(), text);
        for (name, value) in [
            with(format!("Basic {}", keys.acts.text())),
            with(format!("bearer{}", keys.acts.text())),
            with("Bearer ".to_owned()),
            with("Bearer AAAAAAAAAAAAAAAAAAAAAA".to_owned()),
        ] {
            let headers = [HOST_OK, ORIGIN_OK, (name.as_str(), value.as_str())];
            for (method, path) in [("GET", "/state"), ("GET", "/hello"), ("POST", "/word")] {
                assert_eq!(status(asked(method, path, &headers, &keys)), 401, "{path} {value}");
            }
        }
        assert_eq!(status(asked("GET", "/state", &[HOST_OK], &keys)), 401);
        let looks = format!("Bearer {}", keys.looks.text());
        let headers = [HOST_OK, ORIGIN_OK, ("authorization", looks.as_str())];
        assert_eq!(status(asked("GET", "/state?page=board&units=inch", &headers, &keys)), 200);
        for path in ["/word", "/note", "/frame", "/taped", "/photo"] {
            assert_eq!(status(asked("POST", path, &headers, &keys)), 403, "{path}");
        }
    }

    #[test]
    fn other_methods_are_refused() {
        let keys = Keys::new().unwrap();
        let acts = format!("Bearer {}", keys.acts.text());
        let headers = [HOST_OK, ORIGIN_OK, ("authorization", acts.as_str())];
        for (method, path) in [
            ("OPTIONS", "/word"),
            ("GET", "/word"),
            ("PUT", "/photo"),
            ("POST", "/state"),
            ("DELETE", "/phone"),
            ("CONNECT", "/phone"),
        ] {
            assert_eq!(status(asked(method, path, &headers, &keys)), 405, "{method} {path}");
        }
    }
}
