//! Reading for a step: the hand lets go, raw codes and profiles are gathered, what they come to is
//! held.

use super::steps::Stage;
use super::{Zero, said};
use crate::output::Output;
use skimgauge_metrology::zero::{Gathering, Mean, Session, Still};
use skimgauge_quantity::{Name, say};
use skimgauge_shared::exchange::WriteConstants;
use skimgauge_shared::message::{Answer, Ask, Codes, Request};
use skimgauge_shared::reading::Reading;
use std::time::Duration;

/// A still stretch lasts so long.
const STILL: Duration = Duration::from_millis(2_200);
/// The pixels are compared over so long.
const COMPARED: Duration = Duration::from_millis(5_000);
/// It waits so much longer for profiles that are missing.
const LATE: Duration = Duration::from_millis(3_000);
/// So many profiles belong to a stretch.
const PROFILES: usize = 8;
/// The head gives a profile at most so often.
const PROFILE_EVERY: Duration = Duration::from_millis(210);
/// And is asked for one so often to show what the eye sees while a step is set up.
const SHOWN_EVERY: Duration = Duration::from_millis(400);
/// What the hand still does after a word or the button.
const LET_GO: Duration = Duration::from_millis(600);
/// An answer takes no longer than this, writing to the memory included.
const ANSWER_FOR: Duration = Duration::from_secs(3);
/// A request that writes is asked so often: it is safe to repeat.
const TRIES: u32 = 2;

/// What a stretch comes to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Gathered {
    /// Before the gauge.
    Still(Box<Still>),
    /// Tilt alone.
    Turned([f64; 2]),
    /// What the eye saw.
    Seen(Box<Mean>),
}

/// What goes on between two prompts.
#[derive(Debug, Default)]
pub(super) enum Doing {
    /// Nothing: a step waits for its word.
    #[default]
    Nothing,
    /// The hand lets go.
    LettingGo { since: Duration },
    /// The head was asked for raw codes.
    Starting { since: Duration },
    /// Codes and profiles are gathered.
    Gathering { since: Duration, gathering: Gathering },
    /// The head was asked for no more of them.
    Stopping { since: Duration, gathering: Gathering },
    /// What was read is on its way into its file; what was there before, and the step.
    Keeping { former: Box<Session>, at: Option<usize> },
    /// Constants are being written to the head; until when it waits for an answer, how often it asked.
    Writing { until: Duration, tries: u32, write: Box<WriteConstants> },
    /// They are on their way into the record.
    Recording,
}

impl Doing {
    pub(super) fn codes(&mut self, codes: &Codes) {
        if let Self::Gathering { gathering, .. } = self {
            gathering.stand_off(codes.stand_off);
        }
    }

    pub(super) fn reading(&mut self, reading: &Reading) {
        if let Self::Gathering { gathering, .. } = self {
            gathering.tilt(reading.tilt);
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

    /// A write that waits for an answer until then, asked for the first time.
    pub(super) fn writing(now: Duration, write: WriteConstants) -> Self {
        Self::Writing { until: now + ANSWER_FOR, tries: 1, write: Box::new(write) }
    }
}

/// When a request that was asked now must be answered.
pub(super) fn answered_by(now: Duration) -> Duration {
    now + ANSWER_FOR
}

impl Zero {
    /// A step's reading begins.
    pub(super) fn let_go(&mut self, now: Duration) {
        self.doing = Doing::LettingGo { since: now };
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

    /// A whole profile came, raw codes.
    pub(super) fn profile(&mut self, codes: &[u16]) {
        if let Doing::Gathering { gathering, .. } = &mut self.doing {
            gathering.profile(codes);
        }
        self.seen = Mean::of(&[codes.to_vec()]);
    }

    /// Asks for the next profile, as often as it is wanted.
    fn wants_profile(&mut self, now: Duration) {
        let every = match (&self.doing, self.stage()) {
            (Doing::Gathering { .. }, Some(stage)) if stage != Stage::Level => PROFILE_EVERY,
            (Doing::Nothing | Doing::LettingGo { .. }, Some(stage)) if stage != Stage::Level => {
                SHOWN_EVERY
            }
            _ => return,
        };
        if self.profile_asked.is_none_or(|asked| now.saturating_sub(asked) >= every) {
            self.profile_asked = Some(now);
            self.out.push(Output::Ask(Request::ProfileWanted));
        }
    }

    /// Time passed, or a reading came.
    pub(super) fn passes(&mut self, now: Duration) {
        self.wants_profile(now);
        let stage = self.stage();
        let after = |since: Duration| now.saturating_sub(since);
        match &mut self.doing {
            Doing::LettingGo { since } if after(*since) >= LET_GO => {
                self.doing = Doing::Starting { since: now };
                self.out.push(Output::Ask(Request::StreamCodes { on: true }));
            }
            Doing::Gathering { since, gathering } => {
                let pixels = matches!(stage, Some(Stage::Dark | Stage::Even));
                let least = if pixels { COMPARED } else { STILL };
                let enough = stage == Some(Stage::Level) || gathering.profiles() >= PROFILES;
                if after(*since) >= least && (enough || after(*since) >= least + LATE) {
                    let gathering = std::mem::take(gathering);
                    self.doing = Doing::Stopping { since: now, gathering };
                    self.out.push(Output::Ask(Request::StreamCodes { on: false }));
                }
            }
            Doing::Starting { since } | Doing::Stopping { since, .. }
                if after(*since) > ANSWER_FOR =>
            {
                self.silent(now);
            }
            Doing::Writing { until, tries, write } if now > *until => {
                if *tries < TRIES {
                    *tries += 1;
                    *until = now + ANSWER_FOR;
                    self.out.push(Output::Ask(write.again()));
                } else {
                    self.silent(now);
                }
            }
            _ => (),
        }
    }

    fn silent(&mut self, now: Duration) {
        let may = match &self.doing {
            Doing::Writing { write, .. } => write.may_have_written(),
            _ => false,
        };
        self.doing = Doing::Nothing;
        let port = Name(&self.begin.port);
        self.fail(
            now,
            if may {
                say!(
                    "The head on {port} does not answer; it may have been writing. Plug it in anew: `skimgauge ports` says which constants it has. What was read is kept."
                )
            } else {
                say!(
                    "The head on {port} does not answer. Plug it in anew and begin again; what was read is kept."
                )
            },
        );
    }

    /// The head answered while codes are begun or ended.
    pub(super) fn streams(&mut self, now: Duration, ask: Ask, answer: &Answer) {
        let why = match answer {
            Answer::Refused(why) => Some(said::refusal(*why)),
            Answer::Unknown => Some("it does not know what that is"),
            _ => None,
        };
        match (ask, std::mem::take(&mut self.doing)) {
            (Ask::StreamCodes, Doing::Starting { .. }) => match why {
                Some(why) => self.fail(now, say!("The head does not send raw codes: {why}.")),
                None => {
                    self.doing = Doing::Gathering { since: now, gathering: Gathering::default() };
                }
            },
            (Ask::StreamCodes, Doing::Stopping { gathering, .. }) => {
                self.gathered(now, &gathering);
            }
            (_, other) => self.doing = other,
        }
    }

    /// What a stretch comes to.
    fn gathered(&mut self, now: Duration, gathering: &Gathering) {
        let curve = &self.begin.head.calibration.calibration.stand_off;
        let read = match self.stage() {
            Some(Stage::Board(_) | Stage::Lifted(_)) => gathering
                .still()
                .and_then(|still| still.seeing(curve))
                .map(|still| Gathered::Still(Box::new(still))),
            Some(Stage::Level) => gathering.turned().map(Gathered::Turned),
            Some(Stage::Dark | Stage::Even) => {
                gathering.seen().map(|mean| Gathered::Seen(Box::new(mean)))
            }
            None => return,
        };
        match read {
            Ok(read) => self.has_read(now, read),
            Err(why) => {
                self.say(now, true, say!("{}", why.to_string()));
                self.prompt();
            }
        }
    }
}
