//! A check on one block: still good, or not.

use super::gather::Doing;
use super::{Ended, Zero};
use skimgauge_metrology::measure::NotTaken;
use skimgauge_metrology::zero::Check;
use skimgauge_quantity::say;
use std::time::Duration;

/// A take is waited for so long.
const TAKE_FOR: Duration = Duration::from_secs(10);

impl Zero {
    /// A reading came: perhaps it makes a take.
    pub(super) fn try_to_take(&mut self, now: Duration) {
        let (Doing::Checking { last, .. }, Some((block, light))) =
            (&mut self.doing, &self.begin.check)
        else {
            return;
        };
        match self.observer.take(now.as_secs_f64()) {
            Ok(take) => {
                let known_mm = light.height_mm - block.mm;
                let check = Check::of(&take, known_mm, light.u_mm.hypot(block.u_mm));
                self.doing = Doing::Nothing;
                self.end(now, Ended::Checked(check.checked), check.sentence());
            }
            Err(why) => *last = Some(why),
        }
    }

    /// It is not waited for for ever.
    pub(super) fn check_waits(&mut self, now: Duration) {
        let Doing::Checking { since, last } = &self.doing else { return };
        if now.saturating_sub(*since) < TAKE_FOR {
            return;
        }
        let says = match last {
            Some(NotTaken::Fault { fault }) => say!("{} {}", fault.sentence(), fault.remedy()),
            Some(why) => say!("{}", why.to_string()),
            None => say!("No reading came."),
        };
        self.doing = Doing::Nothing;
        self.say(now, true, says);
        self.prompt();
    }
}
