//! Connections, as they come.

use super::answer::answer;
use super::patience::Patient;
use super::seats::{Seat, Seats};
use super::{Heard, Limits, Shared};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::{IpAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::oneshot;

/// What a connection holds back for a browser that does not read. The least that hyper takes; more
/// would be states that are long over when they are read.
const HELD_BACK: usize = 16 << 10;
const HEADERS: usize = 48;

/// Serves until the page is dropped.
pub(super) async fn listen(
    listeners: Vec<TcpListener>,
    shared: Arc<Shared>,
    ended: oneshot::Receiver<()>,
) {
    let limits = &shared.limits;
    let room = Room {
        seats: Seats::new(limits.connections, limits.from_one),
        waiting: Seats::new(limits.waiting, limits.waiting_from_one),
    };
    for listener in listeners {
        if let Ok(listener) = tokio::net::TcpListener::from_std(listener) {
            tokio::spawn(accept(listener, Arc::clone(&shared), room.clone()));
        }
    }
    let _ = ended.await;
}

/// Places for connections, and for those that wait for one: a browser opens six at once, and a page
/// whose connection is closed unanswered stays empty.
#[derive(Debug, Clone)]
pub(super) struct Room {
    pub(super) seats: Arc<Seats>,
    pub(super) waiting: Arc<Seats>,
}

impl Room {
    /// A place for a connection from there, as soon as there is one; `None` where too many wait
    /// already, or none came free in time.
    pub(super) async fn seat(&self, peer: IpAddr, limits: &Limits) -> Option<Seat> {
        let kept = if peer.is_loopback() { 0 } else { limits.kept_home };
        if let Some(seat) = self.seats.take_but(kept, peer) {
            return Some(seat);
        }
        let _waits = self.waiting.take_but(kept, peer)?;
        self.seats.wait_but(kept, peer, limits.wait).await
    }
}

async fn accept(listener: tokio::net::TcpListener, shared: Arc<Shared>, room: Room) {
    loop {
        match listener.accept().await {
            Ok((stream, peer)) => {
                let _ = stream.set_nodelay(true);
                let (shared, room) = (Arc::clone(&shared), room.clone());
                tokio::spawn(async move {
                    // Without a place the connection is closed by being dropped.
                    let Some(_seat) = room.seat(peer.ip(), &shared.limits).await else { return };
                    serve(stream, peer.ip(), shared).await;
                });
            }
            // Out of file handles, most likely: others are given back meanwhile.
            Err(_) => tokio::time::sleep(Duration::from_millis(100)).await,
        }
    }
}

/// Serves one connection to its end.
pub(super) async fn serve<I>(stream: I, peer: IpAddr, shared: Arc<Shared>)
where
    I: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let io = TokioIo::new(Patient::new(stream, shared.limits.patience));
    let head = shared.limits.head;
    let service = service_fn(move |request| {
        let shared = Arc::clone(&shared);
        async move { Ok::<_, Infallible>(answer(request, peer, &shared).await) }
    });
    // An error here is of the other end: it went away, or was too slow, or spoke nonsense.
    let _ = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(head)
        .max_headers(HEADERS)
        .max_buf_size(HELD_BACK)
        .serve_connection(io, service)
        .await;
}

impl Shared {
    /// Hands something over; `false` where too much waits already. Never waits itself.
    pub(super) fn hand_over(&self, heard: Heard) -> bool {
        self.heard.try_send(heard).is_ok()
    }
}
