//! Time passes: hands let go, readings are gathered, a tilt is held, and what came is judged.

use super::certificate::Found;
use super::evidence::Line;
use super::step::Step;
use super::{Birth, Doing, Link, judge};
use crate::output::Output;
use skimgauge_shared::message::Request;
use std::time::Duration;

/// The finger or the hand lets go for so long; the eye finds its exposure meanwhile.
const LET_GO: Duration = Duration::from_millis(700);
/// Gathered for at least so long, and so many readings.
const GATHERED: Duration = Duration::from_millis(1_200);
const READINGS: usize = 40;
/// So many scans belong to it, where the eye is looked at.
const SCANS: usize = 3;
/// What does not come by then does not come.
const GIVE_UP: Duration = Duration::from_millis(6_000);
/// The head gives a profile at most so often.
const SCAN_EVERY: Duration = Duration::from_millis(230);
/// A tilt is held for so long, within so much either way, once it has moved by so much, degrees.
const HELD: Duration = Duration::from_millis(700);
const HELD_DEG: f64 = 1.0;
const TILTED_DEG: f64 = 4.0;

impl Birth {
    /// A tilt that is held is judged without a word: no hand is free.
    fn watches_tilt(&mut self, now: Duration) {
        let Some(step @ (Step::Left | Step::Back)) = self.step() else { return };
        let (Some(rest), Some((_, last))) = (self.rest, self.tilts.last().copied()) else { return };
        self.tilts.retain(|(at, _)| now.saturating_sub(*at) <= HELD);
        let spans =
            self.tilts.first().is_some_and(|(at, _)| now.saturating_sub(*at) * 5 >= HELD * 4);
        let near = |tilt: [f64; 2], to: [f64; 2], deg: f64| {
            (tilt[0] - to[0]).abs() <= deg && (tilt[1] - to[1]).abs() <= deg
        };
        let held = self.tilts.iter().all(|(_, tilt)| near(*tilt, last, HELD_DEG));
        if spans && held && self.tilts.len() >= READINGS / 2 && !near(last, rest, TILTED_DEG) {
            // What moved both ways is said once, not ten times a second.
            self.tilts.clear();
            self.tilted(now, step, last);
        }
    }

    pub(super) fn ticks(&mut self, now: Duration) {
        if self.message.as_ref().is_some_and(|(_, until)| now > *until) {
            self.message = None;
        }
        if let Link::Lost(trouble) = &self.link
            && self.unattended
            && !std::mem::replace(&mut self.ended, true)
        {
            // Nobody is there to plug it in again.
            self.out.push(Output::End(Some(trouble.clone())));
        }
        if self.ended || !matches!(self.link, Link::Up(_)) {
            return;
        }
        if self.unattended
            && matches!(self.doing, Doing::Waiting)
            && self.step().is_some_and(|step| step != Step::Parts)
        {
            return self.goes_to(now, self.at);
        }
        self.shows(now);
        self.watches_tilt(now);
        let Some(step) = self.step() else { return };
        match &self.doing {
            Doing::Waiting => (),
            Doing::LettingGo { since } => {
                if now.saturating_sub(*since) >= LET_GO {
                    self.doing = Doing::Gathering { since: now, evidence: Box::default() };
                }
            }
            Doing::Gathering { since, evidence } => {
                let took = now.saturating_sub(*since);
                let scans = !step.scans() || evidence.scans() >= SCANS;
                let enough = took >= GATHERED && evidence.readings >= READINGS && scans;
                // Without any reading it is the link that is waited for.
                if enough || (took >= GIVE_UP && evidence.readings > 0) {
                    self.gathered(now, step);
                } else if step.scans() {
                    self.wants_scan(now);
                }
            }
        }
    }

    fn wants_scan(&mut self, now: Duration) {
        if self.scan_asked.is_none_or(|asked| now.saturating_sub(asked) >= SCAN_EVERY) {
            self.scan_asked = Some(now);
            self.out.push(Output::Ask(Request::ProfileWanted));
        }
    }

    /// Enough was gathered for a step.
    fn gathered(&mut self, now: Duration, step: Step) {
        let Doing::Gathering { evidence, .. } = std::mem::replace(&mut self.doing, Doing::Waiting)
        else {
            return;
        };
        let line = evidence.line();
        let dark = self.dark_codes.unwrap_or_default();
        let checks = match (step, &self.head) {
            (Step::Parts, Some(head)) => judge::parts(head, &evidence),
            (Step::Rest, _) => {
                let (rest, check) = judge::rest(&evidence);
                self.rest = rest;
                vec![check]
            }
            (Step::Paper, _) => {
                let (mm, checks) = judge::paper(&evidence);
                self.paper_mm = mm;
                checks
            }
            (Step::Lift, Some(head)) => {
                let zeroed = judge::zero(head).verdict == Found::AsItShouldBe;
                vec![judge::lift(self.paper_mm.unwrap_or(f64::NAN), &evidence, zeroed)]
            }
            (Step::Dark, _) => {
                self.dark_codes = line.as_ref().map(Line::mean);
                vec![judge::dark(line.as_ref())]
            }
            (Step::Light, _) => judge::light(line.as_ref(), dark),
            (Step::Card, _) => match judge::card(line.as_ref(), dark) {
                Ok(check) => vec![check],
                Err(why) => return self.say(now, true, why),
            },
            _ => return,
        };
        self.found(now, checks);
    }
}
