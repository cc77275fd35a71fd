//! Who may look, who may act: two keys of 128 bits, new with each start.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use std::fmt;
use subtle::{Choice, ConstantTimeEq};

/// What somebody may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Look on.
    Looks,
    /// Take, answer, write notes: whatever can be said.
    Acts,
}

impl Role {
    /// As the page is told.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Looks => "looks",
            Self::Acts => "acts",
        }
    }
}

/// A key. Never printed but by [`Key::text`].
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) struct Key([u8; 16]);

impl Key {
    /// The 22 characters that stand behind the `#`.
    pub(crate) fn text(self) -> String {
        URL_SAFE_NO_PAD.encode(self.0)
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(not shown)")
    }
}

/// The keys of one run.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Keys {
    pub(crate) looks: Key,
    pub(crate) acts: Key,
}

impl Keys {
    /// New ones.
    pub(crate) fn new() -> Result<Self, getrandom::Error> {
        let mut bytes = [[0; 16]; 2];
        for key in &mut bytes {
            getrandom::fill(key)?;
        }
        Ok(Self { looks: Key(bytes[0]), acts: Key(bytes[1]) })
    }

    /// What this key lets somebody do. How long it takes does not tell how much of it is right.
    pub(crate) fn role(&self, text: &str) -> Option<Role> {
        let mut given = [0; 16];
        let length = URL_SAFE_NO_PAD.decode_slice(text, &mut given);
        let whole = Choice::from(u8::from(length == Ok(16)));
        let acts = given.ct_eq(&self.acts.0) & whole;
        let looks = given.ct_eq(&self.looks.0) & whole;
        if acts.into() {
            Some(Role::Acts)
        } else if looks.into() {
            Some(Role::Looks)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_key_opens_its_own_and_nothing_else_opens() {
        let keys = Keys::new().unwrap();
        assert_eq!(keys.role(&keys.acts.text()), Some(Role::Acts));
        assert_eq!(keys.role(&keys.looks.text()), Some(Role::Looks));
        let acts = keys.acts.text();
        for wrong in [
            "",
            "AAAAAAAAAAAAAAAAAAAAAA",
            &acts[..21],
            &format!("{acts}A"),
            &format!("{acts}{acts}"),
            &acts.to_ascii_lowercase().replace('a', "b"),
            "ä",
        ] {
            assert_eq!(keys.role(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_key_has_128_bits_differs_from_every_other_and_is_not_printed() {
        let (one, two) = (Keys::new().unwrap(), Keys::new().unwrap());
        assert_eq!(one.acts.text().len(), 22);
        assert!(one.acts != two.acts && one.acts != one.looks && two.looks != one.looks);
        assert!(!format!("{one:?}").contains(&one.acts.text()));
    }
}
