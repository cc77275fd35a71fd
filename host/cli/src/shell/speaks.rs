//! Who said the word that something for the record follows from. Pure.

use skimgauge_procedure::{Entry, Input, Speaker};
use skimgauge_record::event::Sayer;
use skimgauge_session::{Event, Told};

/// Who spoke last.
#[derive(Debug, Default)]
pub(super) struct Speaks {
    /// In what is being heard just now.
    now: Option<Sayer>,
    /// Of the take that is on its way, or was made last: the head is asked who it is first, so that
    /// the take comes later than the word.
    take: Option<Sayer>,
}

impl Speaks {
    /// Something comes; a word on a page with that page's name. `is_saving`: something is on its
    /// way into the record, so that what is said meanwhile is let go. What was being heard before:
    /// for [`Self::goes_back`].
    #[must_use]
    pub(super) fn hears(
        &mut self,
        input: &Input,
        page: Option<String>,
        is_saving: impl FnOnce() -> bool,
    ) -> Option<Sayer> {
        let before = self.now.take();
        self.now = match input {
            Input::Said(said) => Some(match (page, said.by) {
                (Some(name), _) => Sayer::Page(name),
                (None, Speaker::Phone) => Sayer::Page("phone".to_owned()),
                (None, Speaker::Button) => Sayer::Button,
                (None, Speaker::Practice) => Sayer::Practice,
                (None, Speaker::Keyboard | Speaker::Typed) => Sayer::Terminal,
            }),
            Input::Head(Told::Head(Event::Button(..))) => Some(Sayer::Button),
            _ => None,
        };
        if self.now.is_some() && !is_saving() {
            self.take.clone_from(&self.now);
        }
        before
    }

    /// What came is dealt with: on with what was being heard before.
    pub(super) fn goes_back(&mut self, before: Option<Sayer>) {
        self.now = before;
    }

    /// Who said the word that this follows from, where it follows from one.
    pub(super) fn of(&self, entry: &Entry) -> Option<Sayer> {
        match entry {
            entry if entry.is_take() => self.take.clone(),
            Entry::Observed { .. } => self.now.clone(),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_procedure::trial::{SEATED, Trial};
    use skimgauge_procedure::{Output, Said, Word};

    /// What of a trial's answer goes to the record, and by whom.
    fn kept(
        trial: &mut Trial,
        speaks: &mut Speaks,
        input: Input,
        page: Option<&str>,
    ) -> Vec<Option<Sayer>> {
        let is_saving = trial.view().saving.is_some();
        let _ = speaks.hears(&input, page.map(str::to_owned), || is_saving);
        let outputs = trial.on(input);
        outputs
            .iter()
            .filter_map(|output| if let Output::Keep(entry) = output { Some(entry) } else { None })
            .map(|entry| speaks.of(entry))
            .collect()
    }

    fn said(by: Speaker, word: Word) -> Input {
        Input::Said(Said::by(by, word))
    }

    /// The take waits for the head to say who it is; what others say meanwhile is let go, and the
    /// take stays with whoever spoke.
    #[test]
    fn a_take_is_of_whoever_spoke_before_it_waited() {
        let (mut trial, mut speaks) = (Trial::new(), Speaks::default());
        trial.read(SEATED, 3_000);
        let phone = Some("phone at 192.168.1.20");
        let first = said(Speaker::Phone, Word::Take);
        assert_eq!(kept(&mut trial, &mut speaks, first, phone), []);
        let second = said(Speaker::Keyboard, Word::Take);
        assert_eq!(kept(&mut trial, &mut speaks, second, None), []);
        let same = Input::Head(Told::Head(Event::Same));
        let page = Sayer::Page("phone at 192.168.1.20".to_owned());
        assert_eq!(kept(&mut trial, &mut speaks, same, None), [Some(page)]);
    }

    #[test]
    fn each_way_in_has_its_own_name() {
        let mut speaks = Speaks::default();
        let pressed = skimgauge_shared::message::Press::Short;
        let button = Event::Button(pressed, skimgauge_shared::units::Microseconds(0));
        for (input, page, sayer) in [
            (said(Speaker::Typed, Word::Take), None, Sayer::Terminal),
            (said(Speaker::Keyboard, Word::Take), None, Sayer::Terminal),
            (Input::Head(Told::Head(button)), None, Sayer::Button),
            (said(Speaker::Practice, Word::Take), None, Sayer::Practice),
            (
                said(Speaker::Keyboard, Word::Take),
                Some("board page on this computer"),
                Sayer::Page("board page on this computer".to_owned()),
            ),
        ] {
            let _ = speaks.hears(&input, page.map(str::to_owned), || false);
            assert_eq!(speaks.now, Some(sayer.clone()));
            assert_eq!(speaks.take, Some(sayer));
        }
        // What comes while a word is carried out is nobody's.
        let before = speaks.hears(&Input::Tick, None, || false);
        assert_eq!(speaks.now, None, "nobody said anything");
        assert!(speaks.take.is_some());
        speaks.goes_back(before);
        assert_eq!(speaks.now, speaks.take);
    }
}
