//! One request, answered.

use super::stream::Events;
use super::{Arrived, BODY, From, Heard, STROKES, Shared, locked};
use crate::admit::{Asked, Route, admit};
use crate::asked::{self, Act};
use crate::files::FILES;
use crate::key::Role;
use crate::photo::{Cleared, LARGEST, PhotoError};
use crate::qr;
use crate::refusal::Refusal;
use bytes::Bytes;
use http_body_util::combinators::UnsyncBoxBody;
use http_body_util::{BodyExt, Full};
use hyper::body::{Body, Incoming};
use hyper::header::{
    CACHE_CONTROL, CONNECTION, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderName,
    HeaderValue, REFERRER_POLICY, RETRY_AFTER, X_CONTENT_TYPE_OPTIONS,
};
use hyper::http::request::Parts;
use hyper::{Request, Response, StatusCode};
use serde::Serialize;
use std::convert::Infallible;
use std::io::{Seek, Write};
use std::net::IpAddr;
use std::sync::Arc;
use tokio::time::timeout;

type Answer = Response<UnsyncBoxBody<Bytes, Infallible>>;

/// Everything comes from here, nothing is framed, no form is sent anywhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                      connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

const JSON: &str = "application/json";

/// What a key may do, and the code for whoever wants to look on.
#[derive(Serialize)]
struct Hello<'a> {
    may: &'static str,
    /// Phones reach it.
    on_lan: bool,
    looks: &'a str,
    /// The code's rows, `1` dark.
    code: Vec<String>,
}

/// Answers it. What is refused says why, in words.
pub(super) async fn answer(
    request: Request<Incoming>,
    peer: IpAddr,
    shared: &Arc<Shared>,
) -> Answer {
    let (parts, body) = request.into_parts();
    match admitted(&parts, peer, shared) {
        Err(refusal) => refused(&refusal),
        Ok(asked) => {
            let answered = match asked.route {
                Route::File(at) => return file(at),
                Route::Icon => return whole(204, "text/plain", Bytes::new()),
                Route::Hello => return hello(asked, shared),
                Route::State => events(asked, peer, shared),
                Route::Steps => return whole(200, JSON, shared.steps.borrow().clone()),
                Route::Strokes => strokes(asked, &parts, body, peer, shared).await,
                Route::Word | Route::Note | Route::Frame | Route::Taped => {
                    said(asked, &parts, body, peer, shared).await
                }
                Route::Photo => photo(asked, &parts, body, peer, shared).await,
            };
            answered.unwrap_or_else(|refusal| refused(&refusal))
        }
    }
}

fn admitted(parts: &Parts, peer: IpAddr, shared: &Shared) -> Result<Asked, Refusal> {
    let now = shared.now();
    locked(&shared.requests).take(now, peer).map_err(Refusal::too_often)?;
    let admitted = admit(parts, &shared.hosts, &shared.keys);
    if admitted.as_ref().is_err_and(|refusal| refusal.status == 401) {
        locked(&shared.wrong_keys).take(now, peer).map_err(Refusal::too_often)?;
    }
    admitted
}

fn who(asked: Asked, peer: IpAddr) -> From {
    From { page: asked.page, address: peer, role: asked.role }
}

fn hello(asked: Asked, shared: &Shared) -> Answer {
    let hello = Hello {
        may: asked.role.word(),
        on_lan: shared.on_lan,
        looks: &shared.looks,
        code: qr::rows(&shared.looks).unwrap_or_default(),
    };
    json(200, serde_json::to_string(&hello).unwrap_or_default())
}

fn events(asked: Asked, peer: IpAddr, shared: &Arc<Shared>) -> Result<Answer, Refusal> {
    let kept = if asked.role == Role::Acts { 0 } else { shared.limits.kept_acting };
    let seat = shared.listeners.take_but(kept, peer).ok_or_else(|| {
        let pages = shared.limits.listeners - kept;
        Refusal::new(
            503,
            format!("{pages} pages look on already: close one of them, then open this one again."),
        )
    })?;
    let events = Events::new(shared, who(asked, peer), asked.units, seat);
    let body = UnsyncBoxBody::new(events);
    Ok(with_headers(200, "text/event-stream", Response::new(body)))
}

/// A word, a note, the frame's answers.
async fn said(
    asked: Asked,
    parts: &Parts,
    body: Incoming,
    peer: IpAddr,
    shared: &Arc<Shared>,
) -> Result<Answer, Refusal> {
    locked(&shared.words).take(shared.now(), peer).map_err(Refusal::too_often)?;
    is_json(parts)?;
    let body = small(body, (BODY, "4 KB"), shared).await?;
    let (seen, act) = match asked.route {
        Route::Word => {
            let (word, seen) = asked::word(&body)?;
            // Whoever acts on it looks once more: this only answers at once what is surely gone.
            if seen != shared.states.borrow().number {
                return Err(Refusal::state_is_gone());
            }
            (Some(seen), Act::Say(word))
        }
        Route::Note => (None, Act::Note(asked::note(&body)?)),
        Route::Taped => (None, Act::Taped(asked::taped(&body)?)),
        _ => (None, Act::Frame(asked::frame(&body)?)),
    };
    hand_over(Heard::Act { by: who(asked, peer), seen, act }, shared)
}

fn hand_over(heard: Heard, shared: &Shared) -> Result<Answer, Refusal> {
    if shared.hand_over(heard) { Ok(json(202, "{}".to_owned())) } else { Err(Refusal::busy()) }
}

/// What touched the proof's page: several messages a second while a line is drawn, so that only the
/// pace of all requests holds for them.
async fn strokes(
    asked: Asked,
    parts: &Parts,
    body: Incoming,
    peer: IpAddr,
    shared: &Arc<Shared>,
) -> Result<Answer, Refusal> {
    is_json(parts)?;
    let body = small(body, (STROKES, "64 KB"), shared).await?;
    let act = Act::Proof(asked::strokes(&body)?);
    hand_over(Heard::Act { by: who(asked, peer), seen: None, act }, shared)
}

fn is_json(parts: &Parts) -> Result<(), Refusal> {
    if parts.headers.get(CONTENT_TYPE).is_none_or(|kind| kind != "application/json") {
        return Err(Refusal::new(415, "This is not what the page sends: nothing was done."));
    }
    Ok(())
}

/// A body of at most so many bytes, and that in words.
async fn small(
    body: Incoming,
    (most, says): (usize, &str),
    shared: &Shared,
) -> Result<Bytes, Refusal> {
    if body.size_hint().lower() > most as u64 {
        return Err(Refusal::too_large(says));
    }
    let whole = http_body_util::Limited::new(body, most).collect();
    match timeout(shared.limits.body, whole).await {
        Err(_) => Err(Refusal::too_slow()),
        Ok(Err(error)) if error.is::<http_body_util::LengthLimitError>() => {
            Err(Refusal::too_large(says))
        }
        Ok(Err(_)) => Err(Refusal::not_read("the connection broke")),
        Ok(Ok(whole)) => Ok(whole.to_bytes()),
    }
}

/// A picture: piece by piece into a file without a name, without the places in its data.
async fn photo(
    asked: Asked,
    parts: &Parts,
    mut body: Incoming,
    peer: IpAddr,
    shared: &Arc<Shared>,
) -> Result<Answer, Refusal> {
    let too_large = || Refusal::too_large("16 MB; choose a smaller size in the camera");
    let says =
        parts.headers.get(CONTENT_LENGTH).and_then(|length| length.to_str().ok()?.parse().ok());
    if says.is_some_and(|length: u64| length > LARGEST) {
        return Err(too_large());
    }
    let _seat = shared.photos.take(peer).ok_or_else(Refusal::busy)?;
    let disk = |error: std::io::Error| {
        Refusal::new(507, format!("The picture could not be kept: {error}. Nothing was done."))
    };
    let arrives = async {
        let mut file = tempfile::tempfile().map_err(disk)?;
        let (mut cleared, mut out, mut bytes) = (Cleared::default(), Vec::new(), 0);
        while let Some(frame) =
            timeout(shared.limits.patience, body.frame()).await.map_err(|_| Refusal::too_slow())?
        {
            let frame = frame.map_err(|_| Refusal::not_read("the connection broke"))?;
            let Some(piece) = frame.data_ref() else { continue };
            cleared.piece(piece, &mut out).map_err(not_kept)?;
            file.write_all(&out).map_err(disk)?;
            bytes += out.len() as u64;
            out.clear();
        }
        let kind = cleared.end().map_err(not_kept)?;
        file.rewind().map_err(disk)?;
        Ok(Arrived { file, bytes, kind })
    };
    let arrived =
        timeout(shared.limits.photo, arrives).await.map_err(|_| Refusal::too_slow())??;
    hand_over(Heard::Act { by: who(asked, peer), seen: None, act: Act::Photo(arrived) }, shared)
}

fn not_kept(error: PhotoError) -> Refusal {
    let status = if error == PhotoError::TooLarge { 413 } else { 415 };
    Refusal::new(status, format!("Not kept: {error}."))
}

fn refused(refusal: &Refusal) -> Answer {
    let mut answer = json(refusal.status, refusal.json());
    if let Some(after_s) = refusal.after_s {
        answer.headers_mut().insert(RETRY_AFTER, after_s.into());
    }
    // Who asks for what is not theirs has to call anew; a person who was only too quick has not.
    if !matches!(refusal.status, 409 | 429 | 404) {
        answer.headers_mut().insert(CONNECTION, HeaderValue::from_static("close"));
    }
    answer
}

/// A file is asked for once. Its connection is closed then, so that what a browser opened for the
/// files of one page keeps no place from the next.
fn file(at: usize) -> Answer {
    let mut answer = whole(200, FILES[at].kind, FILES[at].text.into());
    answer.headers_mut().insert(CONNECTION, HeaderValue::from_static("close"));
    answer
}

fn json(status: u16, text: String) -> Answer {
    whole(status, JSON, text.into())
}

fn whole(status: u16, kind: &'static str, bytes: Bytes) -> Answer {
    with_headers(status, kind, Response::new(UnsyncBoxBody::new(Full::new(bytes))))
}

fn with_headers(status: u16, kind: &'static str, mut answer: Answer) -> Answer {
    *answer.status_mut() =
        StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let headers = answer.headers_mut();
    for (name, value) in [
        (CONTENT_TYPE, kind),
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (CACHE_CONTROL, "no-store"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}
