//! The server under attack, on streams in memory and a clock that is moved by hand.

mod crowd;

use super::listen::{Room, serve};
use super::{Heard, Limits, Links, Page, PageError, Seats, Settings, Shared, State};
use crate::asked::Act;
use crate::steps::{Step, Steps, StepsShown};
use skimgauge_procedure::Word;
use std::fmt::Write;
use std::io::Read;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, sync_channel};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream, duplex};
use tokio::sync::watch;
use tokio::time::{Instant, advance, sleep, timeout};

const PHONE: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 168, 1, 20));
const OTHER: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 168, 1, 66));

struct Served {
    shared: Arc<Shared>,
    links: Links,
    states: watch::Sender<State>,
    shown: StepsShown,
    heard: Receiver<Heard>,
}

fn state(number: u64) -> State {
    let json = |units| format!(r#"{{"number":{number},"units":"{units}"}}"#).into_bytes().into();
    State { number, mm: json("mm"), inch: json("in") }
}

impl Served {
    fn new() -> Self {
        let (states, newest) = watch::channel(state(1));
        let (shown, steps) = StepsShown::new();
        let (says, heard) = sync_channel(super::WAITING);
        let served: [SocketAddr; 1] = [(Ipv4Addr::new(192, 168, 1, 7), 4711).into()];
        let (shared, links) =
            Shared::new(&served, Limits::default(), (newest, steps), says).unwrap();
        Self { shared, links, states, shown, heard }
    }

    /// A connection from there that holds so many bytes on their way.
    fn connect(&self, peer: IpAddr, holds: usize) -> DuplexStream {
        let (here, there) = duplex(holds);
        tokio::spawn(serve(there, peer, Arc::clone(&self.shared)));
        here
    }

    fn key(&self) -> String {
        self.links.phone.split_once("#k=").unwrap().1.to_owned()
    }

    /// A request of the page that acts, without its body.
    fn head(&self, line: &str, more: &str) -> String {
        format!(
            "{line} HTTP/1.1\r\nHost: 192.168.1.7:4711\r\nOrigin: http://192.168.1.7:4711\r\n\
             Authorization: Bearer {}\r\nContent-Type: application/json\r\n{more}\r\n",
            self.key()
        )
    }

    fn posted(&self, path: &str, body: &str) -> String {
        let length = format!("Content-Length: {}\r\nConnection: close\r\n", body.len());
        self.head(&format!("POST {path}"), &length) + body
    }

    fn word(&self, word: &str, seen: u64) -> String {
        self.posted("/word", &format!(r#"{{"word":"{word}","seen":{seen}}}"#))
    }

    /// Sends this from there and reads the answer to its end.
    async fn asks(&self, peer: IpAddr, request: &str) -> String {
        let mut stream = self.connect(peer, 1 << 16);
        stream.write_all(request.as_bytes()).await.unwrap();
        rest(&mut stream).await
    }

    fn acts(&self) -> Vec<Act> {
        let heard = std::iter::from_fn(|| self.heard.try_recv().ok());
        heard
            .filter_map(|heard| if let Heard::Act { act, .. } = heard { Some(act) } else { None })
            .collect()
    }
}

async fn rest(stream: &mut DuplexStream) -> String {
    let mut bytes = Vec::new();
    // A connection that breaks is over, too.
    let _ = stream.read_to_end(&mut bytes).await;
    String::from_utf8_lossy(&bytes).into_owned()
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0)
}

#[tokio::test(start_paused = true)]
async fn a_word_is_heard_with_who_said_it_and_what_they_saw() {
    let served = Served::new();
    served.states.send_replace(state(41));
    assert_eq!(status(&served.asks(PHONE, &served.word("take", 41)).await), 202);
    let Ok(Heard::Act { by, seen: Some(41), act: Act::Say(Word::Take) }) = served.heard.try_recv()
    else {
        panic!("not heard")
    };
    assert_eq!(by.to_string(), "phone at 192.168.1.20");
}

/// A slow network, a double tap: what the speaker saw is gone.
#[tokio::test(start_paused = true)]
async fn a_word_on_a_state_that_is_gone_is_refused_in_words() {
    let served = Served::new();
    served.states.send_replace(state(42));
    for seen in [0, 41, 43, u64::MAX] {
        let answer = served.asks(PHONE, &served.word("take", seen)).await;
        assert_eq!(status(&answer), 409, "{answer}");
        assert!(
            answer.contains("Things have changed since you saw this: nothing was done."),
            "{answer}"
        );
    }
    assert!(served.acts().is_empty());
}

#[tokio::test(start_paused = true)]
async fn every_answer_has_the_headers_that_keep_others_out() {
    let served = Served::new();
    let page = "GET /phone HTTP/1.1\r\nHost: 192.168.1.7:4711\r\nConnection: close\r\n\r\n";
    let wrong = "GET /phone HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n";
    for (asked, wanted) in [(page, 200), (wrong, 421)] {
        let answer = served.asks(PHONE, asked).await.to_lowercase();
        assert_eq!(status(&answer), wanted);
        for header in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self';",
            "frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cache-control: no-store",
        ] {
            assert!(answer.contains(header), "{header}\n{answer}");
        }
        assert!(!answer.contains("access-control-") && !answer.contains("set-cookie"), "{answer}");
    }
}

#[tokio::test(start_paused = true)]
async fn oversized_and_endless_bodies_are_refused() {
    let served = Served::new();
    for path in ["/word", "/note", "/frame", "/taped"] {
        let answer = served.asks(PHONE, &served.posted(path, &"x".repeat(5000))).await;
        assert_eq!(status(&answer), 413, "{path} {answer}");
    }
    // A body whose length is not said.
    let mut chunked = served.head("POST /note", "Transfer-Encoding: chunked\r\n");
    for _ in 0..20 {
        write!(chunked, "400\r\n{}\r\n", "x".repeat(1024)).unwrap();
    }
    assert_eq!(status(&served.asks(PHONE, &chunked).await), 413);
    // One that never comes.
    let began = Instant::now();
    let answer = served.asks(PHONE, &served.head("POST /word", "Content-Length: 30\r\n")).await;
    assert_eq!((status(&answer), began.elapsed()), (408, Duration::from_secs(10)), "{answer}");
    // Two lengths, and a length beside chunks: no second request hides in the first.
    let word = served.head("POST /word", "Content-Length: 30\r\nContent-Length: 3\r\n");
    assert_eq!(status(&served.asks(PHONE, &word).await), 400);
    assert!(served.acts().is_empty());
}

/// A line being drawn: messages of up to 64 KB, several a second, and no pace of words for them.
#[tokio::test(start_paused = true)]
async fn what_touched_is_heard_up_to_64_kb_and_only_from_who_acts() {
    let served = Served::new();
    let event = "[1700000000000.1,1,7,1234.25,567.125,8,0.5,0],".repeat(1000);
    let body = format!(r#"{{"sent_ms":1,"events":[{}]}}"#, event.trim_end_matches(','));
    assert!(body.len() > 40_000);
    for _ in 0..20 {
        assert_eq!(status(&served.asks(PHONE, &served.posted("/strokes", &body)).await), 202);
    }
    let acts = served.acts();
    assert_eq!(acts.len(), 20);
    assert!(matches!(&acts[0], Act::Proof(told) if told.events.len() == 1000));
    let long = served.head("POST /strokes", "Content-Length: 65537\r\nConnection: close\r\n");
    let answer = served.asks(PHONE, &long).await;
    assert!(status(&answer) == 413 && answer.contains("64 KB"), "{answer}");
    let looks = served.links.looks.split_once("#k=").unwrap().1;
    let only_looks = served.posted("/strokes", &body).replace(&served.key(), looks);
    assert_eq!(status(&served.asks(PHONE, &only_looks).await), 403);
    let foreign = served
        .posted("/strokes", &body)
        .replace("Origin: http://192.168.1.7:4711", "Origin: http://evil.example");
    assert_eq!(status(&served.asks(PHONE, &foreign).await), 403);
    assert!(served.acts().is_empty());
}

#[tokio::test(start_paused = true)]
async fn what_is_malformed_is_refused_in_words() {
    let served = Served::new();
    for body in [r#"{"word":"take"}"#, "{", r#"{"word":"take","seen":1,"as":"root"}"#, "\u{0}"] {
        let answer = served.asks(PHONE, &served.posted("/word", body)).await;
        assert_eq!(status(&answer), 400, "{body}");
        assert!(answer.contains("Nothing was done"), "{answer}");
    }
    let form = served.word("take", 1).replace("application/json", "text/plain");
    assert_eq!(status(&served.asks(PHONE, &form).await), 415);
    let headers = "X: y\r\n".repeat(60);
    assert_eq!(status(&served.asks(PHONE, &served.head("GET /hello", &headers)).await), 431);
    assert!(served.acts().is_empty());
}

/// Nobody reads, a thousand states come: who begins to read then gets the newest, not a thousand.
#[tokio::test(start_paused = true)]
async fn who_reads_late_gets_the_newest_state_and_no_queue() {
    let served = Served::new();
    let mut stream = served.connect(PHONE, 1 << 10);
    let head = served.head("GET /state?page=board&units=inch", "");
    stream.write_all(head.as_bytes()).await.unwrap();
    for number in 1..=1000 {
        served.states.send_replace(state(number));
        sleep(Duration::from_millis(5)).await;
    }
    let mut got = String::new();
    let mut piece = [0; 512];
    while !got.contains(r#""number":1000,"#) {
        let count = stream.read(&mut piece).await.unwrap();
        got.push_str(&String::from_utf8_lossy(&piece[..count]));
    }
    let events = got.matches("data: ").count();
    assert!(events < 500, "the rest was never queued: {events}");
    assert!(got.contains(r#""units":"in""#) && got.contains("text/event-stream"), "{got}");
}

#[tokio::test(start_paused = true)]
async fn a_line_comes_at_least_twice_a_second_and_tells_the_time() {
    let served = Served::new();
    let mut stream = served.connect(PHONE, 1 << 16);
    stream.write_all(served.head("GET /state", "").as_bytes()).await.unwrap();
    sleep(Duration::from_millis(3100)).await;
    let mut got = vec![0; 1 << 14];
    let count = stream.read(&mut got).await.unwrap();
    let got = String::from_utf8_lossy(&got[..count]).into_owned();
    let ids: Vec<u64> = got
        .lines()
        .filter_map(|line| line.strip_prefix("id: ").and_then(|id| id.trim().parse().ok()))
        .collect();
    assert_eq!(ids, [0, 500, 1000, 1500, 2000, 2500, 3000], "{got}");
    assert_eq!(got.matches("data: ").count(), 1);
}

#[tokio::test(start_paused = true)]
async fn the_jobs_steps_are_shown_to_whoever_looks() {
    let served = Served::new();
    let asked = served.head("GET /steps", "Connection: close\r\n");
    let none = served.asks(PHONE, &asked).await;
    assert!(none.ends_with(r#"{"steps":[],"next":null,"trouble":null}"#), "{none}");
    let step = Step {
        word: "trim",
        says: "the touch plane in its band",
        state: "open",
        shape: '○',
        behind: String::new(),
        now: true,
    };
    served.shown.show(&Steps { steps: vec![step], ..Steps::default() });
    let looks = served.links.looks.split_once("#k=").unwrap().1;
    let answer = served.asks(PHONE, &asked.replace(&served.key(), looks)).await;
    assert!(answer.contains(r#""word":"trim""#) && answer.contains(r#""now":true"#), "{answer}");
    let without = "GET /steps HTTP/1.1\r\nHost: 192.168.1.7:4711\r\nConnection: close\r\n\r\n";
    assert_eq!(status(&served.asks(PHONE, without).await), 401);
}

/// A picture: a scan of this many bytes.
fn picture(bytes: usize) -> Vec<u8> {
    let mut picture = b"\xff\xd8\xff\xfe\0\x07PLACE\xff\xda\0\x04\0\0".to_vec();
    picture.resize(picture.len() + bytes, 7);
    picture.extend_from_slice(b"\xff\xd9");
    picture
}

#[tokio::test(start_paused = true)]
async fn a_picture_arrives_without_the_place_in_it() {
    let served = Served::new();
    let picture = picture(3 << 20);
    let mut stream = served.connect(PHONE, 1 << 16);
    let length = format!("Content-Length: {}\r\nConnection: close\r\n", picture.len());
    stream.write_all(served.head("POST /photo", &length).as_bytes()).await.unwrap();
    stream.write_all(&picture).await.unwrap();
    assert_eq!(status(&rest(&mut stream).await), 202);
    let Some(Act::Photo(mut arrived)) = served.acts().pop() else { panic!("nothing arrived") };
    let mut bytes = Vec::new();
    arrived.file.read_to_end(&mut bytes).unwrap();
    assert_eq!((bytes.len() as u64, bytes.len()), (arrived.bytes, picture.len() - 9));
    assert!(!bytes.windows(5).any(|window| window == b"PLACE"));
}

#[tokio::test(start_paused = true)]
async fn a_picture_that_is_too_large_or_does_not_come_is_refused() {
    let served = Served::new();
    let says = served.head("POST /photo", "Content-Length: 17000000\r\n");
    let answer = served.asks(PHONE, &says).await;
    assert!(status(&answer) == 413 && answer.contains("16 MB"), "{answer}");
    // Its length is not said, and it goes on and on.
    let mut stream = served.connect(PHONE, 1 << 16);
    let head = served.head("POST /photo", "Transfer-Encoding: chunked\r\n");
    stream.write_all(head.as_bytes()).await.unwrap();
    let (mut reads, mut writes) = tokio::io::split(stream);
    tokio::spawn(async move {
        let start =
            [&b"c\r\n\xff\xd8\xff\xda\0\x04\0\0AAAA\r\n100000\r\n"[..], &[7; 1 << 20], b"\r\n"]
                .concat();
        let _ = writes.write_all(&start).await;
        let more = [&b"100000\r\n"[..], &[7; 1 << 20], b"\r\n"].concat();
        while writes.write_all(&more).await.is_ok() {}
    });
    let mut answer = vec![0; 400];
    let count = reads.read(&mut answer).await.unwrap();
    let answer = String::from_utf8_lossy(&answer[..count]).into_owned();
    assert_eq!(status(&answer), 413, "{answer}");
    // It stops in its midst: refused after the patience is over.
    let began = Instant::now();
    let half = served.head("POST /photo", "Content-Length: 1000\r\n") + "no more";
    let answer = served.asks(PHONE, &half).await;
    assert_eq!(status(&answer), 415, "not a picture: {answer}");
    let mut stream = served.connect(PHONE, 1 << 16);
    let head = served.head("POST /photo", "Content-Length: 1000\r\n");
    stream.write_all(&[head.as_bytes(), b"\xff\xd8"].concat()).await.unwrap();
    assert_eq!(status(&rest(&mut stream).await), 408);
    assert_eq!(began.elapsed(), Duration::from_secs(10));
    assert!(served.acts().is_empty());
}

/// The whole over real sockets: opened, asked, over with the page.
#[test]
fn it_is_served_on_this_computer_alone_and_ends_with_the_page() {
    let page = Page::open(Settings::default()).unwrap();
    let [served] = page.served() else { panic!("{:?}", page.served()) };
    assert_eq!(served.ip(), IpAddr::V4(Ipv4Addr::LOCALHOST));
    assert!(page.links().board.starts_with(&format!("http://{served}/board#k=")));
    let ask = |host: &str| {
        let mut stream = std::net::TcpStream::connect(served)?;
        std::io::Write::write_all(
            &mut stream,
            format!("GET /phone HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n").as_bytes(),
        )?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        Ok::<_, std::io::Error>(status(&answer))
    };
    assert_eq!(ask(&served.to_string()).unwrap(), 200);
    assert_eq!(ask(&format!("localhost:{}", served.port())).unwrap(), 200);
    assert_eq!(ask("skimgauge.example").unwrap(), 421);
    let served = *served;
    drop(page);
    assert!(std::net::TcpStream::connect(served).is_err());
}

#[test]
fn it_never_listens_on_every_address_and_says_what_is_in_the_way() {
    let everywhere = Settings { lan: Some(Ipv4Addr::UNSPECIFIED.into()), ..Settings::default() };
    assert!(matches!(Page::open(everywhere), Err(PageError::NoNetwork)));
    let foreign = Settings { lan: Some(Ipv4Addr::new(192, 0, 2, 1).into()), ..Settings::default() };
    let says = Page::open(foreign).unwrap_err().to_string();
    assert!(says.contains("is it an address of this computer?"), "{says}");
    let first = Page::open(Settings::default()).unwrap();
    let taken = Settings { port: first.served()[0].port(), ..Settings::default() };
    let says = Page::open(taken).unwrap_err().to_string();
    assert!(says.contains("another program is there; choose another --port"), "{says}");
}
