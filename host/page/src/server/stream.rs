//! The event stream: always the newest state, and a line at least every second.

use super::{From, Heard, Shared, State};
use crate::server::seats::Seat;
use bytes::Bytes;
use hyper::body::{Body, Frame};
use skimgauge_quantity::Units;
use std::convert::Infallible;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::timeout;

/// A line comes at least so often; after twice that without one a page says that it is stale.
const ALIVE: Duration = Duration::from_millis(500);

type Next = Pin<Box<dyn Future<Output = (watch::Receiver<State>, Option<Bytes>)> + Send>>;

/// What one page is sent.
pub(super) struct Events {
    next: Next,
    units: Units,
    visit: Visit,
}

/// Somebody looks on, until this is dropped.
struct Visit {
    who: From,
    shared: Arc<Shared>,
    _seat: Seat,
}

impl Drop for Visit {
    fn drop(&mut self) {
        self.shared.hand_over(Heard::Left(self.who));
    }
}

impl Events {
    pub(super) fn new(shared: &Arc<Shared>, who: From, units: Units, seat: Seat) -> Self {
        shared.hand_over(Heard::Came(who));
        let mut states = shared.states.clone();
        states.mark_changed();
        let next = next(states, Arc::clone(shared), units);
        Self { next, units, visit: Visit { who, shared: Arc::clone(shared), _seat: seat } }
    }
}

/// Waits for the next state, or for the time when silence would be long.
fn next(mut states: watch::Receiver<State>, shared: Arc<Shared>, units: Units) -> Next {
    Box::pin(async move {
        let changed = timeout(ALIVE, states.changed()).await;
        let at_ms = shared.now().as_millis();
        let event = match changed {
            // The page is closed.
            Ok(Err(_)) => None,
            Err(_) => Some(format!("id: {at_ms}\n\n").into()),
            Ok(Ok(())) => Some(event(at_ms, &states.borrow_and_update(), units)),
        };
        (states, event)
    })
}

/// A state as an event, with the server's time as its id.
fn event(at_ms: u128, state: &State, units: Units) -> Bytes {
    let json = match units {
        Units::Mm => &state.mm,
        Units::Inch => &state.inch,
    };
    if json.is_empty() {
        return format!("id: {at_ms}\n\n").into();
    }
    let mut event = format!("id: {at_ms}\ndata: ").into_bytes();
    event.extend_from_slice(json);
    event.extend_from_slice(b"\n\n");
    event.into()
}

impl Body for Events {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        let (states, event) = ready!(self.next.as_mut().poll(context));
        let (shared, units) = (Arc::clone(&self.visit.shared), self.units);
        self.next = next(states, shared, units);
        Poll::Ready(event.map(|event| Ok(Frame::data(event))))
    }
}
