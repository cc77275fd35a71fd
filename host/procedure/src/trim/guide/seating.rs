//! The head at the station where a turn is watched: the live gap there, and whether it can be.

use super::{Advice, Guide, Stage};
use crate::trim::turning::LIVE_U_MM;
use skimgauge_model::TurnNoticed;
use skimgauge_quantity::{Mm, Name, say};
use std::time::Duration;

/// Seating error of a head newly clipped on, standard uncertainty, mm. Common practice, no source.
const SEAT_U_MM: f64 = 0.05;
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
        match &self.stage {
            Stage::Take | Stage::Over => (),
            Stage::Clip { station, ready: true, doubted } => {
                if let Some(gap_mm) = self.steady.at_rest(now) {
                    let (station, doubted) = (*station, *doubted);
                    self.seated(now, station, gap_mm, doubted);
                }
            }
            Stage::Clip { .. } => (),
            Stage::Turn(turning) if knocked => {
                let station = turning.station;
                self.say(
                    say!("the head was moved: seat it again at the same station, then say so"),
                    true,
                );
                // How far the screw had come by then is not known well; the next reading tells.
                if let (Some(tracker), Some(before_mm)) = (&mut self.tracker, before)
                    && let Stage::Turn(turning) = &self.stage
                {
                    let adjuster = turning.instruction.adjuster;
                    let share =
                        ((before_mm - turning.before_mm) / turning.predicted_mm()).clamp(-1.5, 1.5);
                    tracker.turn(adjuster, share * turning.instruction.turns);
                    self.made[adjuster] += share * turning.instruction.turns;
                }
                self.replan();
                self.seat = None;
                self.stage = Stage::Clip { station, ready: false, doubted: false };
                self.advice = Advice::Clip { station };
            }
            Stage::Turn(_) => self.watch_turn(now),
        }
    }

    /// The user pressed the head's button or the key for it: the head is clipped on, or the turn is
    /// made.
    pub(crate) fn press(&mut self, now: Duration) {
        match &mut self.stage {
            Stage::Clip { ready, .. } => {
                *ready = true;
                self.steady.clear();
            }
            Stage::Turn(turning) => {
                if let Some(gap_mm) = self.steady.last() {
                    if !turning.is_there(gap_mm) {
                        turning.noticed.push(TurnNoticed::StoppedBefore);
                    }
                    self.turned(now, gap_mm, None, 1.0);
                }
            }
            Stage::Take | Stage::Over => (),
        }
    }

    /// The head is clipped on and at rest.
    fn seated(&mut self, now: Duration, station: usize, gap_mm: f64, doubted: bool) {
        let Some((tracker, at)) = self.tracker.as_mut().zip(self.stations.get(station)) else {
            return;
        };
        let expected = tracker.unseated(at.at.x.0, at.at.y.0);
        let off_mm = gap_mm - expected.gap_mm;
        if off_mm.abs() > SURPRISING * expected.u_mm.hypot(SEAT_U_MM) + 2.0 * LIVE_U_MM {
            let name = say!("{}", Name(&at.name));
            if doubted {
                self.say(
                    say!(
                        "{name} reads {} other than expected: the emitter moved. The stations are taken again",
                        Mm(off_mm).gap().signed()
                    ),
                    true,
                );
                if let Some(tracker) = &mut self.tracker {
                    tracker.lose_plane();
                }
                return self.new_round();
            }
            let expected = Mm(expected.gap_mm).gap();
            self.stage = Stage::Clip { station, ready: false, doubted: true };
            return self.say(
                say!(
                    "{name} reads {} where {expected} was expected: is the head at {name}, its feet flat on \
                     the board? If it is, say so again",
                    Mm(gap_mm).gap()
                ),
                true,
            );
        }
        tracker.seat(SEAT_U_MM);
        tracker.read(at.at.x.0, at.at.y.0, gap_mm, LIVE_U_MM);
        self.seat = Some(station);
        self.instruct(now, station);
    }
}
