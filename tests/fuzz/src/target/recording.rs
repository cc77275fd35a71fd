//! Recordings of a head: what is played is played the same when it is recorded anew; no piece is
//! longer than its limit, whatever a damaged file says; a session hears any of it without a panic,
//! tells no reading before it knows the head, and counts no more readings than it was told.

use crate::Target;
use skimgauge_session::recording::{MAGIC, Player, Recorder};
use skimgauge_session::{Event, Session};
use std::time::Duration;

/// Recordings.
pub const TARGET: Target =
    Target { name: "recording", check, each_run: 400_000, words: &["skimrec1", "\0\0\0\0", "\0"] };

/// As documented: a longer piece is parted when it is written, and refused when it is read.
const LONGEST: usize = 64 * 1024;

fn check(input: &[u8]) {
    let Ok(pieces) = played(input) else { return };
    assert!(input.starts_with(MAGIC));
    let total: usize = pieces.iter().map(|(_, bytes)| bytes.len() + 8).sum();
    assert!(total + MAGIC.len() <= input.len(), "no more is played than there is");
    let mut again = Vec::new();
    let mut recorder = Recorder::new(&mut again).expect("memory takes it");
    for (at, bytes) in &pieces {
        recorder.piece(*at, bytes).expect("memory takes it");
    }
    assert_eq!(played(&again).expect("plays"), pieces, "recorded anew it plays the same");
    assert_eq!(again, input[..again.len()], "and is the same, byte for byte");
    listen(&pieces);
}

type Pieces = Vec<(Duration, Vec<u8>)>;

/// Everything up to where it breaks.
fn played(bytes: &[u8]) -> std::io::Result<Pieces> {
    let mut player = Player::new(bytes)?;
    let mut pieces = Vec::new();
    let mut last = Duration::ZERO;
    while let Ok(Some((at, bytes))) = player.piece() {
        assert!(bytes.len() <= LONGEST);
        assert!(at >= last, "time goes on");
        last = at;
        pieces.push((at, bytes.to_vec()));
    }
    Ok(pieces)
}

fn listen(pieces: &Pieces) {
    let mut session = Session::new(None, Duration::ZERO);
    let (mut up, mut told) = (false, 0_u64);
    for (at, bytes) in pieces {
        if bytes.is_empty() {
            session.begin_again(*at);
            up = false;
        }
        session.poll(*at, bytes, &mut |event| match event {
            Event::Up(_) => up = true,
            Event::Reading(arrived) => {
                assert!(up, "a reading of a head that nobody knows");
                assert_eq!(arrived.arrival, *at);
                told += 1;
            }
            Event::ClockJumped | Event::Refused(_) => up = false,
            _ => (),
        });
        assert!(session.take_out().len() <= 4 * 1024, "little is asked at once");
    }
    assert!(session.counts().received >= told, "no reading is told that is not counted");
}
