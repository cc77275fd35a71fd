//! Reading for a step: the hand lets go, raw codes are gathered, what they come to is held.

use super::steps::{Read, Stage};
use super::{Zero, said};
use crate::output::Output;
use skimgauge_metrology::measure::NotTaken;
use skimgauge_metrology::zero::{Gathering, Session};
use skimgauge_quantity::{Name, say};
use skimgauge_shared::exchange::WriteConstants;
use skimgauge_shared::message::{Codes, Report, Request};
use std::time::Duration;

/// A still stretch lasts so long.
const STILL: Duration = Duration::from_millis(1_500);
/// What the hand still does after a word or the button.
const LET_GO: Duration = Duration::from_millis(600);
/// A roll takes no longer.
const ROLL: Duration = Duration::from_secs(25);
/// A roll has crossed the light from here to there.
const CROSSED: f64 = 0.75;
/// An answer takes no longer than this, writing to the memory included.
const ANSWER_FOR: Duration = Duration::from_secs(3);

/// What goes on between two prompts.
#[derive(Debug, Default)]
pub(super) enum Doing {
    /// Nothing: a step waits for its word.
    #[default]
    Nothing,
    /// The hand lets go.
    LettingGo { since: Duration, level_only: bool },
    /// The head was asked for raw codes.
    Starting { since: Duration, level_only: bool },
    /// Codes are gathered.
    Gathering { since: Duration, gathering: Gathering, low: bool, high: bool, level_only: bool },
    /// The head was asked for no more of them.
    Stopping { since: Duration, gathering: Gathering, crossed: bool, level_only: bool },
    /// What was read is on its way into its file; what was there before, and the step.
    Keeping { former: Box<Session>, at: usize },
    /// Constants are being written to the head.
    Writing { since: Duration, write: Box<WriteConstants> },
    /// They are on their way into the record.
    Recording,
    /// A check waits for a take; why there was none so far.
    Checking { since: Duration, last: Option<NotTaken> },
}

impl Doing {
    pub(super) fn codes(&mut self, codes: &Codes) {
        if let Self::Gathering { gathering, .. } = self {
            gathering.codes(codes);
        }
    }

    pub(super) fn temperature(&mut self, celsius: f64) {
        if let Self::Gathering { gathering, .. } = self {
            gathering.temperature(celsius);
        }
    }

    /// Readings gathered so far.
    pub(super) fn gathered(&self) -> Option<usize> {
        match self {
            Self::Gathering { gathering, .. } | Self::Stopping { gathering, .. } => {
                Some(gathering.readings())
            }
            _ => None,
        }
    }

    /// Whether the head's constants are being changed or kept.
    pub(super) fn writes(&self) -> bool {
        matches!(self, Self::Writing { .. } | Self::Recording)
    }
}

impl Zero {
    /// A step's reading begins.
    pub(super) fn begin_to_read(&mut self, now: Duration, stage: Stage) {
        // A roll is made by the hand.
        if stage == Stage::Roll { self.ask_for_codes(now, false) } else { self.let_go(now, false) }
    }

    pub(super) fn let_go(&mut self, now: Duration, level_only: bool) {
        self.doing = Doing::LettingGo { since: now, level_only };
    }

    fn ask_for_codes(&mut self, now: Duration, level_only: bool) {
        self.doing = Doing::Starting { since: now, level_only };
        self.out.push(Output::Ask(Request::StreamCodes { on: true }));
    }

    /// It is over: no more codes.
    pub(super) fn stop_streaming(&mut self) {
        if matches!(self.doing, Doing::Starting { .. } | Doing::Gathering { .. }) {
            self.out.push(Output::Ask(Request::StreamCodes { on: false }));
        }
        if !matches!(self.doing, Doing::Keeping { .. }) {
            self.doing = Doing::Nothing;
        }
    }

    /// A reading came.
    pub(super) fn read(&mut self, now: Duration) {
        let rolls = self.stage() == Some(Stage::Roll);
        if let Doing::Gathering { low, high, .. } = &mut self.doing
            && rolls
        {
            let live = self.observer.live(now.as_secs_f64());
            let ratio = live.eye.map_or(0.0, |eye| eye.ratio);
            *low |= ratio < -CROSSED;
            *high |= ratio > CROSSED;
        }
        self.try_to_take(now);
    }

    /// Time passed.
    pub(super) fn passes(&mut self, now: Duration) {
        let rolls = self.stage() == Some(Stage::Roll);
        let after = |since: Duration| now.saturating_sub(since);
        match &mut self.doing {
            Doing::LettingGo { since, level_only } if after(*since) >= LET_GO => {
                let level_only = *level_only;
                self.ask_for_codes(now, level_only);
            }
            Doing::Gathering { since, gathering, low, high, level_only } => {
                let crossed = *low && *high;
                let over =
                    if rolls { crossed || after(*since) >= ROLL } else { after(*since) >= STILL };
                if over {
                    let (gathering, level_only) = (std::mem::take(gathering), *level_only);
                    self.doing = Doing::Stopping { since: now, gathering, crossed, level_only };
                    self.out.push(Output::Ask(Request::StreamCodes { on: false }));
                }
            }
            Doing::Starting { since, .. }
            | Doing::Stopping { since, .. }
            | Doing::Writing { since, .. }
                if after(*since) > ANSWER_FOR =>
            {
                self.doing = Doing::Nothing;
                let says = say!(
                    "The head on {} does not answer. Plug it in anew and begin again; what was read is kept.",
                    Name(&self.begin.port)
                );
                self.fail(now, says);
            }
            _ => self.check_waits(now),
        }
    }

    /// The head answered while codes are begun or ended.
    pub(super) fn streams(&mut self, now: Duration, report: &Report) {
        match std::mem::take(&mut self.doing) {
            Doing::Starting { level_only, .. } => match report {
                Report::Refused { why, .. } => {
                    let why = said::refusal(*why);
                    self.fail(now, say!("The head does not send raw codes: {why}."));
                }
                _ => {
                    let (gathering, low, high) = (Gathering::default(), false, false);
                    self.doing = Doing::Gathering { since: now, gathering, low, high, level_only };
                }
            },
            Doing::Stopping { gathering, crossed, level_only, .. } => {
                self.gathered(now, &gathering, crossed, level_only);
            }
            other => self.doing = other,
        }
    }

    /// What a stretch comes to.
    fn gathered(&mut self, now: Duration, gathering: &Gathering, crossed: bool, level_only: bool) {
        let read = match self.stage() {
            Some(Stage::Roll) if crossed => Ok(Read::Roll(gathering.roll())),
            Some(Stage::Roll) => Err(say!(
                "The slide did not cross the light from one side to the other in {} s.",
                ROLL.as_secs()
            )),
            Some(stage) => {
                let still = gathering.still().and_then(|still| match stage {
                    Stage::Block(_) => still.seeing(),
                    _ => Ok(still),
                });
                still.map(Read::Still).map_err(|why| say!("{}", why.to_string()))
            }
            None => return,
        };
        match read {
            Ok(read) => self.has_read(now, read, level_only),
            Err(why) => {
                self.say(now, true, why);
                self.prompt();
            }
        }
    }
}
