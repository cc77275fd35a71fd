//! What a person said.

use super::Takes;
use super::cue::CUE_EVERY;
use crate::output::Output;
use crate::word::{Stop, Word};
use skimgauge_quantity::say;
use skimgauge_shared::message::Cue;
use std::time::Duration;

impl Takes {
    pub(super) fn said(&mut self, now: Duration, word: Word) {
        if self.asks_as_left().is_some() && !matches!(word, Word::Quit | Word::Sound) {
            self.as_left(now, word == Word::Yes);
            if matches!(word, Word::Yes | Word::No) {
                return;
            }
        }
        if matches!(word, Word::Take | Word::Redo | Word::More) {
            return self.press(now, word, None);
        }
        if self.is_on_emitter(now, word) || word == Word::Yes && self.answered_yes(now, None) {
            return;
        }
        self.answered_no(now);
        match word {
            Word::Next | Word::Back | Word::Go(_) if self.lets_go_while_saving(now) => (),
            Word::Next => self.stations.step(true),
            Word::Back => self.stations.step(false),
            // A station that is not there is nobody's wish.
            Word::Go(to) if self.stations.go(to) || to != Stop::Emitter => (),
            Word::Go(_) => {
                let says = say!(
                    "This job asks for no tilt of the emitter: its file has no band for level or lean."
                );
                self.say(now, true, says);
            }
            Word::Sound => {
                self.sound = !self.sound;
                self.cue_at = now + CUE_EVERY;
                self.out.push(Output::Cue(Cue::Silent));
            }
            Word::Quit => self.out.push(Output::End(None)),
            _ => (),
        }
    }
}
