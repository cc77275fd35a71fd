//! A conversation kept byte by byte, and heard again.
//!
//! A recording begins with [`MAGIC`]. Then, for each piece that came: microseconds since the piece
//! before and its length, both as little-endian `u32`, and its bytes. Length 0 marks a lost link.

use std::io::{self, ErrorKind, Read, Write};
use std::time::Duration;

/// First bytes of every recording.
pub const MAGIC: &[u8; 8] = b"skimrec1";
/// The longest piece.
const LONGEST: usize = 64 * 1024;

/// Writes a recording.
pub struct Recorder<W> {
    out: W,
    last: Duration,
}

impl<W: Write> Recorder<W> {
    /// Begins one.
    ///
    /// # Errors
    /// The system's.
    pub fn new(mut out: W) -> io::Result<Self> {
        out.write_all(MAGIC)?;
        Ok(Self { out, last: Duration::ZERO })
    }

    /// Bytes that came at a time; none: the link was lost.
    ///
    /// # Errors
    /// The system's.
    pub fn piece(&mut self, at: Duration, bytes: &[u8]) -> io::Result<()> {
        let since = u32::try_from(at.saturating_sub(self.last).as_micros()).unwrap_or(u32::MAX);
        self.last += Duration::from_micros(u64::from(since));
        for piece in bytes.chunks(LONGEST).chain(bytes.is_empty().then_some(bytes)) {
            self.out.write_all(&since.to_le_bytes())?;
            self.out.write_all(&(piece.len() as u32).to_le_bytes())?;
            self.out.write_all(piece)?;
        }
        self.out.flush()
    }
}

/// Reads a recording.
pub struct Player<R> {
    from: R,
    at: Duration,
    buffer: Vec<u8>,
}

impl<R: Read> Player<R> {
    /// Checks that it is one.
    ///
    /// # Errors
    /// The system's, or [`ErrorKind::InvalidData`] for another kind of file.
    pub fn new(mut from: R) -> io::Result<Self> {
        let mut magic = [0; MAGIC.len()];
        from.read_exact(&mut magic)?;
        if &magic != MAGIC {
            return Err(io::Error::new(ErrorKind::InvalidData, "not a recording of a head"));
        }
        Ok(Self { from, at: Duration::ZERO, buffer: Vec::new() })
    }

    /// The next piece and its time; `None` at the end. A piece that is cut off at the end is let
    /// go.
    ///
    /// # Errors
    /// The system's, or [`ErrorKind::InvalidData`] for a length that no piece has.
    pub fn piece(&mut self) -> io::Result<Option<(Duration, &[u8])>> {
        let mut head = [0; 8];
        match self.from.read_exact(&mut head) {
            Ok(()) => (),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => return Ok(None),
            Err(error) => return Err(error),
        }
        let [a, b, c, d, length @ ..] = head;
        self.at += Duration::from_micros(u64::from(u32::from_le_bytes([a, b, c, d])));
        let length = u32::from_le_bytes(length) as usize;
        if length > LONGEST {
            return Err(io::Error::new(ErrorKind::InvalidData, "the recording is damaged"));
        }
        self.buffer.resize(length, 0);
        match self.from.read_exact(&mut self.buffer) {
            Ok(()) => Ok(Some((self.at, &self.buffer))),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(None),
            Err(error) => Err(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_kept_is_heard_again() {
        let mut kept = Vec::new();
        let mut recorder = Recorder::new(&mut kept).unwrap();
        recorder.piece(Duration::from_millis(3), b"abc").unwrap();
        recorder.piece(Duration::from_millis(5), b"").unwrap();
        recorder.piece(Duration::from_millis(9), b"d").unwrap();
        let mut player = Player::new(&kept[..]).unwrap();
        assert_eq!(player.piece().unwrap(), Some((Duration::from_millis(3), &b"abc"[..])));
        assert_eq!(player.piece().unwrap(), Some((Duration::from_millis(5), &b""[..])));
        assert_eq!(player.piece().unwrap(), Some((Duration::from_millis(9), &b"d"[..])));
        assert_eq!(player.piece().unwrap(), None);
    }

    #[test]
    fn another_file_or_a_cut_one_does_no_harm() {
        assert!(Player::new(&b"station,x_mm"[..]).is_err());
        let mut cut = MAGIC.to_vec();
        cut.extend([0, 0, 0, 0, 9, 0, 0, 0, 1, 2]);
        assert_eq!(Player::new(&cut[..]).unwrap().piece().unwrap(), None);
        cut[12..16].copy_from_slice(&u32::MAX.to_le_bytes());
        assert!(Player::new(&cut[..]).unwrap().piece().is_err());
    }
}
