//! New constants: worked out, shown, written to the head in the protocol's two steps, recorded.

use super::gather::{Doing, answered_by};
use super::{Zero, Zeroed, said};
use crate::output::{Entry, News, Output};
use skimgauge_metrology::zero::Lamp;
use skimgauge_quantity::{Name, say};
use skimgauge_shared::exchange::{Next, NotWritten, WriteConstants};
use skimgauge_shared::message::{Answer, Ask, Refusal, Request};
use std::time::Duration;

impl Zero {
    /// All that was wanted is read.
    pub(super) fn finish(&mut self, now: Duration) {
        let before = &self.begin.head.calibration.calibration;
        match self.session.finish(before, self.begin.today, &self.begin.by) {
            Ok(outcome) => {
                let outcome = Box::new(outcome);
                self.out.push(Output::Tell(News::Constants(outcome.clone())));
                self.outcome = Some(outcome);
                self.prompt();
            }
            Err(why) => {
                let says = say!(
                    "Nothing was written to the head; what was read stays in {} (--anew begins again). ({})",
                    Name(&self.begin.put_aside),
                    why.to_string()
                );
                self.fail(now, says);
            }
        }
    }

    /// The user wants them in the head.
    pub(super) fn write(&mut self, now: Duration) {
        let Some(outcome) = &self.outcome else { return };
        let table = outcome.pixels.as_deref().cloned();
        let (write, request) = WriteConstants::begin(outcome.calibration.clone(), table);
        self.doing = Doing::writing(now, write);
        self.out.push(Output::Ask(request));
    }

    /// The head answered while constants are written: whether that was it.
    pub(super) fn writes(&mut self, now: Duration, ask: Ask, answer: &Answer) -> bool {
        const FORMER: &str = "the head keeps its former constants";
        let Doing::Writing { until, tries, write } = &mut self.doing else { return false };
        let failed = match write.hear(ask, answer) {
            Next::Wait => return true,
            Next::Ask(request) => {
                (*until, *tries) = (answered_by(now), 1);
                self.out.push(Output::Ask(request));
                return true;
            }
            Next::Press(seconds) => {
                *until = answered_by(now) + Duration::from_secs(seconds.into());
                if self.begin.nobody_at_head {
                    self.out.push(Output::Ask(Request::Unattended));
                } else {
                    self.say(
                        now,
                        false,
                        say!("Press the head's button within {seconds} s: then it is written."),
                    );
                }
                return true;
            }
            Next::Written(_) => {
                self.written(now);
                return true;
            }
            // Nobody pressed: nothing is lost, it is asked again.
            Next::NotWritten(NotWritten::Refused(Refusal::NotPressed)) => {
                self.doing = Doing::Nothing;
                let says = say!("Not written: its button was not pressed; {FORMER}.");
                self.say(now, true, says);
                self.prompt();
                return true;
            }
            Next::NotWritten(NotWritten::Refused(why)) => {
                say!("Not written: {}; {FORMER}.", said::refusal(why))
            }
            Next::NotWritten(NotWritten::Unknown) => {
                say!("Not written: the head's firmware does not know how; {FORMER}.")
            }
            Next::NotWritten(NotWritten::Garbled) => {
                say!("Not written: the head holds something else than was sent; {FORMER}.")
            }
            Next::NotWritten(NotWritten::Differs(_)) => say!(
                "What the head read back is not what was written. Zero it again before it is used."
            ),
        };
        self.doing = Doing::Nothing;
        self.fail(now, failed);
        true
    }

    fn written(&mut self, now: Duration) {
        let Some(outcome) = self.outcome.take() else { return };
        let says = say!("Written to head {} and read back the same.", Name(&self.serial));
        self.say(now, false, says);
        let head = self.begin.head.clone();
        self.doing = Doing::Recording;
        self.out.push(Output::Keep(Entry::Zeroed(Box::new(Zeroed {
            before: head.calibration.calibration.clone(),
            head,
            after: outcome.calibration,
            budget: outcome.budget,
            seats_mm: outcome.seats_mm,
            reference: self.reference(),
        }))));
    }

    pub(super) fn reference(&self) -> String {
        let Some(gauge) = &self.session.gauge else { return "no gauge".to_owned() };
        let heights: Vec<String> = gauge.heights_mm.iter().map(|mm| format!("{mm} mm")).collect();
        let light = match gauge.lamp {
            Lamp::Own => "its own lamp",
            Lamp::Emitter => "the emitter's light",
        };
        let gauge = format!(
            "gauge with slits at {} (u {} mm), lit by {light}",
            heights.join(" and "),
            gauge.u_mm
        );
        if self.begin.check {
            return gauge;
        }
        format!(
            "{gauge}; {} stands on the board, {} lifted",
            self.session.stood(false),
            self.session.stood(true)
        )
    }
}
