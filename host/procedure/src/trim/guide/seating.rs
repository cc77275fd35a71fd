//! The head at the station where a turn is watched: the live gap there, and whether it can be.

use super::back::Step;
use super::{Advice, Guide, Stage, Told};
use skimgauge_metrology::trim::response::LIVE_U_MM;
use skimgauge_quantity::{Mm, Name, say};
use std::time::Duration;

/// A newly clipped head that reads off by so many standard uncertainties is looked at again.
const SURPRISING: f64 = 4.0;

impl Guide {
    /// The live gap: a good one with the time, or `None`. `knocked`: the head itself was moved.
    pub(crate) fn live(&mut self, now: Duration, gap_mm: Option<f64>, knocked: bool) {
        let before = self.steady.last();
        self.steady.push(now, gap_mm);
        if let (Some(before), Some(gap_mm)) = (before, gap_mm)
            && (gap_mm - before).abs() > LIVE_U_MM
        {
            self.changed = now;
        }
        match &self.work.stage {
            Stage::Clip { ready: true, .. } => {
                if let Some(gap_mm) = self.steady.at_rest(now) {
                    self.seated(now, gap_mm);
                } else if self.waits_in_vain(now) {
                    self.sees_nothing(now);
                }
            }
            Stage::Turn(turning) if knocked && turning.seen().is_some() => self.knocked(),
            Stage::Turn(_) => self.watch_turn(now),
            Stage::Take | Stage::Clip { .. } | Stage::Over => (),
        }
    }

    /// The head was moved while a turn was watched: it is seated again, and the turn goes on to
    /// the same gap; one that is counted goes on without it.
    fn knocked(&mut self) {
        self.work.seat = None;
        self.steady.clear();
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        turning.held = true;
        let Some(station) = turning.aim_mm().and(turning.seen()).map(|seen| seen.station) else {
            turning.end = crate::trim::turning::End::Count { seen: None };
            return;
        };
        let back_to = Some(turning.clone());
        self.work.stage = Stage::Clip { station, ready: false, doubted: false, back_to };
        self.advice = Advice::Clip { station };
        let says = say!("the head was moved: seat it again at the same station, then say so");
        self.say(says, true);
    }

    /// The user pressed the head's button or the key for it: the head is clipped on, or the turn is
    /// made.
    pub(crate) fn press(&mut self, now: Duration) {
        match &mut self.work.stage {
            // Said again, it is waited for as before.
            Stage::Clip { ready: true, .. } => (),
            Stage::Clip { ready, .. } => {
                *ready = true;
                self.steady.clear();
                (self.changed, self.sight.waits_since) = (now, now);
            }
            Stage::Turn(_) => self.said_made(now),
            Stage::Take | Stage::Over => (),
        }
    }

    /// The head is clipped on and at rest.
    fn seated(&mut self, now: Duration, gap_mm: f64) {
        let Stage::Clip { station, doubted, back_to, .. } = &self.work.stage else { return };
        let (station, doubted, back_to) = (*station, *doubted, back_to.clone());
        if let Some(turning) = back_to {
            self.work.stage = Stage::Turn(turning);
            self.work.seat = Some(station);
            return self.advise_turn();
        }
        let Some(at) = self.of.stations.get(station).cloned() else { return };
        let Some(tracker) = self.work.learner.tracker() else { return };
        let expected = tracker.unseated(at.at.x.0, at.at.y.0);
        let off_mm = gap_mm - expected.gap_mm;
        let u_mm = expected.u_mm.hypot(self.of.seat_u_mm);
        if off_mm.abs() > SURPRISING * u_mm + 2.0 * LIVE_U_MM {
            let name = Name(&at.name);
            if doubted {
                let says = say!(
                    "{name} reads {} other than expected: the emitter moved, or a turn was another than was told. \
                     The stations are taken again",
                    Mm(off_mm).gap().signed()
                );
                self.say(says, true);
                // What was learnt stays: the next takes tell whether a turn went the other way.
                self.forget_steps();
                self.told.push(Told::ReadsOtherwise);
                return self.new_round();
            }
            let expected = Mm(expected.gap_mm).gap();
            let says = say!(
                "{name} reads {} where {expected} was expected: is the head at {name}, its feet flat on \
                 the board? If it is, say so again",
                Mm(gap_mm).gap()
            );
            self.work.stage = Stage::Clip { station, ready: false, doubted: true, back_to: None };
            return self.say(says, true);
        }
        // Taken back, it waits for the word that the head is there.
        self.work.stage = Stage::Clip { station, ready: false, doubted: false, back_to: None };
        self.stepping(Step::Clipped);
        let seat_u_mm = self.of.seat_u_mm;
        if let Some(tracker) = self.work.learner.tracker_mut() {
            tracker.seat(seat_u_mm);
            tracker.read(at.at.x.0, at.at.y.0, gap_mm, LIVE_U_MM);
        }
        self.work.seat = Some(station);
        self.stands = Some(station);
        self.next_turn(now);
    }
}
