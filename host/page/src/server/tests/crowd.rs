//! Many at once: slow ones, floods, pages that look on, connections that find no place.

use super::*;

/// Silent, half said, dripping: each is closed when the time for a header is over, whoever else is
/// served meanwhile.
#[tokio::test(start_paused = true)]
async fn sixty_four_slow_connections_are_closed_and_hinder_nobody() {
    let served = Served::new();
    let limits = Limits::default();
    let room = room(&limits);
    let began = Instant::now();
    let mut slow = Vec::new();
    for at in 0..64 {
        let Some(seat) = room.seats.take(OTHER) else { continue };
        let mut stream = served.connect(OTHER, 1 << 12);
        slow.push(tokio::spawn(async move {
            let _seat = seat;
            match at % 3 {
                0 => (),
                1 => stream.write_all(b"GET /phone HTTP/1.1\r\nHost: 192").await.unwrap(),
                _ => {
                    let drip = b"GET /phone HTTP/1.1\r\nHost: 192.168.1.7:4711\r\n";
                    for byte in drip {
                        if stream.write_all(&[*byte]).await.is_err() {
                            break;
                        }
                        sleep(Duration::from_millis(400)).await;
                    }
                }
            }
            rest(&mut stream).await;
        }));
    }
    assert_eq!(slow.len(), 20, "of one address");
    let place = room.seat(PHONE, &limits).await.expect("a place is left for the phone");
    assert_eq!(status(&served.asks(PHONE, &served.word("take", 1)).await), 202);
    assert_eq!(began.elapsed(), Duration::ZERO, "at once");
    drop(place);
    for stream in slow {
        stream.await.unwrap();
    }
    assert!(began.elapsed() < Duration::from_secs(6), "{:?}", began.elapsed());
    assert!(room.seats.take(OTHER).is_some(), "the places are given back");
}

/// A million words a minute for a second and a fifth: what the pace lets through is heard, the rest
/// refused; a phone that is used as people use it notices nothing.
#[tokio::test(start_paused = true)]
async fn a_flood_of_words_is_refused_and_another_phone_is_heard() {
    let served = Served::new();
    let body = r#"{"word":"take","seen":1}"#;
    let one = served.head("POST /word", &format!("Content-Length: {}\r\n", body.len())) + body;
    let flood = served.connect(OTHER, 1 << 16);
    let (mut reads, mut writes) = tokio::io::split(flood);
    let reader = tokio::spawn(async move {
        let mut bytes = Vec::new();
        let _ = reads.read_to_end(&mut bytes).await;
        let text = String::from_utf8_lossy(&bytes).into_owned();
        (text.matches("HTTP/1.1 202").count(), text.matches("HTTP/1.1 429").count())
    });
    let (mut heard, mut other) = (0, 0);
    for at in 0..20_000 {
        if writes.write_all(one.as_bytes()).await.is_err() {
            break;
        }
        if at % 100 == 0 {
            advance(Duration::from_millis(6)).await;
        }
        if at % 5_000 == 2_500 {
            let answer = served.asks(PHONE, &served.word("next", 1)).await;
            assert_eq!(status(&answer), 202, "{answer}");
        }
        for act in served.acts() {
            match act {
                Act::Say(Word::Take) => heard += 1,
                Act::Say(Word::Next) => other += 1,
                other => panic!("{other:?}"),
            }
        }
    }
    drop(writes);
    // The other half closes with the connection's own end.
    let (through, refused) = timeout(Duration::from_secs(60), reader).await.unwrap().unwrap();
    heard += served.acts().len();
    assert_eq!((through, other), (heard, 4));
    assert!((10..=17).contains(&heard), "ten at once and five a second: {heard}");
    assert!(through + refused > 19_000, "{through} {refused}");
}

#[tokio::test(start_paused = true)]
async fn keys_cannot_be_tried_for_long() {
    let served = Served::new();
    let right = served.head("GET /hello", "Connection: close\r\n");
    let wrong = right.replace(&served.key(), "AAAAAAAAAAAAAAAAAAAAAA");
    let none = "GET /state HTTP/1.1\r\nHost: 192.168.1.7:4711\r\nConnection: close\r\n\r\n";
    for at in 0..30 {
        let answer = served.asks(OTHER, if at % 2 == 0 { &wrong } else { none }).await;
        assert_eq!(status(&answer), if at < 10 { 401 } else { 429 }, "{at}");
    }
    assert_eq!(status(&served.asks(OTHER, &right).await), 200, "the right key still opens");
    assert_eq!(status(&served.asks(PHONE, &wrong).await), 401, "another address has its own count");
}

/// A phone that went out of reach without a word reads nothing more; its place is given back.
#[tokio::test(start_paused = true)]
async fn a_page_that_went_away_without_a_word_gives_its_place_back() {
    let served = Served::new();
    let mut gone = Vec::new();
    for _ in 0..8 {
        let mut stream = served.connect(OTHER, 256);
        stream.write_all(served.head("GET /state", "").as_bytes()).await.unwrap();
        gone.push(stream);
    }
    sleep(Duration::from_millis(100)).await;
    let ninth = served.asks(PHONE, &served.head("GET /state", "")).await;
    assert_eq!(status(&ninth), 503, "{ninth}");
    assert!(ninth.contains("8 pages look on already"), "{ninth}");
    for number in 0..200 {
        served.states.send_replace(state(number));
        sleep(Duration::from_millis(100)).await;
    }
    let came_and_left =
        std::iter::from_fn(|| served.heard.try_recv().ok()).fold((0, 0), |(came, left), heard| {
            match heard {
                Heard::Came(_) => (came + 1, left),
                Heard::Left(_) => (came, left + 1),
                Heard::Act { .. } => (came, left),
            }
        });
    assert_eq!(came_and_left, (8, 8));
    let mut stream = served.connect(PHONE, 1 << 16);
    stream.write_all(served.head("GET /state", "").as_bytes()).await.unwrap();
    let mut first = [0; 15];
    stream.read_exact(&mut first).await.unwrap();
    assert_eq!(&first, b"HTTP/1.1 200 OK");
}

/// Others take what they can get, from as many addresses as they like.
#[tokio::test(start_paused = true)]
async fn this_computer_keeps_its_places_whatever_others_do() {
    let limits = Limits::default();
    let room = room(&limits);
    // As many as there are places, and then as many as may wait.
    let all = limits.connections + limits.waiting - 2 * limits.kept_home;
    let (mut held, mut waiting) = (Vec::new(), Vec::new());
    for at in 0..200_u8 {
        let (room, limits, peer) = (room.clone(), limits.clone(), [192, 168, 1, at].into());
        waiting.push(tokio::spawn(async move { room.seat(peer, &limits).await }));
        sleep(Duration::from_millis(1)).await;
    }
    let mut own = Vec::new();
    for _ in 0..limits.kept_home {
        own.push(room.seat(Ipv4Addr::LOCALHOST.into(), &limits).await.expect("kept for it"));
    }
    let refused = waiting.iter().filter(|seat| seat.is_finished()).count();
    assert_eq!(200 - refused + limits.connections - limits.kept_home, all);
    for seat in waiting {
        held.extend(seat.await.unwrap());
    }
    assert_eq!(held.len(), limits.connections - limits.kept_home, "nobody gave one back");
}

/// A browser opens six connections at once and keeps them: four pages at the same moment are more
/// than one address may have. Each is answered all the same, in its turn.
#[tokio::test(start_paused = true)]
async fn pages_that_are_opened_at_the_same_moment_all_come() {
    let served = Served::new();
    let room = room(&served.shared.limits);
    let file = "GET /files/link.js HTTP/1.1\r\nHost: 192.168.1.7:4711\r\n\r\n";
    let mut browsers = Vec::new();
    for _ in 0..8 * 6 {
        let (room, shared) = (room.clone(), Arc::clone(&served.shared));
        let (mut here, there) = duplex(1 << 16);
        tokio::spawn(async move {
            let Some(_seat) = room.seat(PHONE, &shared.limits).await else { return };
            serve(there, PHONE, shared).await;
        });
        browsers.push(tokio::spawn(async move {
            here.write_all(file.as_bytes()).await.unwrap();
            // It keeps the connection for what it may want next.
            rest(&mut here).await
        }));
    }
    let began = Instant::now();
    for browser in browsers {
        assert_eq!(status(&browser.await.unwrap()), 200);
    }
    assert!(began.elapsed() < Duration::from_secs(1), "none waits for another's patience");
}

fn room(limits: &Limits) -> Room {
    Room {
        seats: Seats::new(limits.connections, limits.from_one),
        waiting: Seats::new(limits.waiting, limits.waiting_from_one),
    }
}

/// Bystanders who scanned the code on the board take no place away from a phone that works.
#[tokio::test(start_paused = true)]
async fn bystanders_leave_room_for_a_phone_that_acts() {
    let served = Served::new();
    let looks = served.links.looks.split_once("#k=").unwrap().1.to_owned();
    let watch = served.head("GET /state", "");
    let bystands = watch.replace(&served.key(), &looks);
    let mut open = Vec::new();
    for at in 0..12 {
        let mut stream = served.connect(OTHER, 1 << 16);
        stream.write_all(bystands.as_bytes()).await.unwrap();
        let mut first = [0; 12];
        stream.read_exact(&mut first).await.unwrap();
        let wanted = if at < 6 { b"HTTP/1.1 200" } else { b"HTTP/1.1 503" };
        assert_eq!(&first, wanted, "{at}");
        open.push(stream);
    }
    let mut phone = served.connect(PHONE, 1 << 16);
    phone.write_all(watch.as_bytes()).await.unwrap();
    let mut first = [0; 12];
    phone.read_exact(&mut first).await.unwrap();
    assert_eq!(&first, b"HTTP/1.1 200");
}
