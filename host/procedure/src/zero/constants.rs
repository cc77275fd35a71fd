//! New constants: worked out, shown, written to the head in the protocol's two steps, recorded.

use super::gather::Doing;
use super::{Zero, Zeroed, said};
use crate::output::{Entry, News, Output};
use skimgauge_quantity::{Name, say};
use skimgauge_shared::exchange::{Next, NotWritten, WriteConstants};
use skimgauge_shared::message::Report;
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
        let (write, request) = WriteConstants::begin(outcome.calibration.clone());
        self.doing = Doing::Writing { since: now, write: Box::new(write) };
        self.out.push(Output::Ask(request));
    }

    /// The head answered while constants are written: whether that was it.
    pub(super) fn writes(&mut self, now: Duration, report: &Report) -> bool {
        const FORMER: &str = "the head keeps its former constants";
        let Doing::Writing { since, write } = &mut self.doing else { return false };
        let failed = match write.hear(report) {
            Next::Wait => return true,
            Next::Ask(request) => {
                *since = now;
                self.out.push(Output::Ask(request));
                return true;
            }
            Next::Written(_) => {
                self.written(now);
                return true;
            }
            Next::NotWritten(NotWritten::Refused(why)) => {
                say!("Not written: {}; {FORMER}.", said::refusal(why))
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
            reference: self.reference(),
        }))));
    }

    fn reference(&self) -> String {
        let blocks: Vec<String> =
            self.begin.blocks.iter().map(|b| format!("{} mm (u {} mm)", b.mm, b.u_mm)).collect();
        let light = self.session.light.map_or("no light of known height".to_owned(), |l| {
            format!("light at {} mm (u {} mm)", l.height_mm, l.u_mm)
        });
        format!("blocks {}; {light}", blocks.join(", "))
    }
}
