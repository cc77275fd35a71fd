//! How the user says things here: with keys where there is a screen, with typed words where there
//! is none. Either way the head's own button does.

/// Keys or words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ways {
    /// Lines typed.
    #[default]
    Words,
    /// Keys on a screen.
    Keys,
}

impl Ways {
    fn say(self, keys: &'static str, words: &'static str) -> &'static str {
        match self {
            Self::Keys => keys,
            Self::Words => words,
        }
    }

    /// To answer a question with yes, which is never the word for a take; everything else is no.
    pub fn yes(self) -> &'static str {
        self.say(
            "yes: press y, or hold the head's button; no: any other key",
            "yes: type yes, or hold the head's button; no: any other word",
        )
    }

    /// To answer whether the head is on the emitter with yes; everything else is no, the press for
    /// a take among it.
    pub fn on_emitter(self) -> &'static str {
        self.say("if it is, press e", "if it is, type emitter")
    }

    /// That the head is clipped on, or the turn made.
    pub fn ready(self) -> &'static str {
        self.say("press space or the head's button", "type ready or press the head's button")
    }

    /// That the turning may begin.
    pub fn begin(self) -> &'static str {
        self.say("press g", "type begin")
    }

    /// That an adjuster was turned as told.
    pub fn told(self) -> &'static str {
        self.say("press x", "type told")
    }

    /// To end.
    pub fn quit(self) -> &'static str {
        self.say("press q", "type quit")
    }
}
