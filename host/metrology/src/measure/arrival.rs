//! How the head came to the place at which something is taken.
//!
//! A station is a place: what is taken there needs the head to have come there. The laser shows it,
//! for a head that is off the board has no spot. Feed an [`Arrival`] with readings; tell it what
//! was taken where; ask it before the next take.

use skimgauge_shared::reading::Absence;

/// Without its spot for so long the head was off the board, s: a patch that loses the spot gives it
/// back sooner.
pub const OFF_BOARD_S: f64 = 0.3;

/// Longer than this between two readings, and nobody saw what became of the head meanwhile, s.
const UNSEEN_S: f64 = 0.2;

/// Where the head can stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum At {
    /// Clipped on at the station of this name.
    Station(String),
    /// On the emitter.
    Emitter,
}

impl At {
    /// As people say it after "at": a station's name, or the emitter.
    pub fn name(&self) -> &str {
        match self {
            Self::Station(name) => name,
            Self::Emitter => "the emitter",
        }
    }
}

/// What was seen of the head since it was known to stand somewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// Nothing: it stands as it stood.
    Still,
    /// A step or a knock, and the spot stayed.
    Moved,
    /// Nobody looked: the link was lost, or this is another run.
    Blind,
}

/// How the head came to a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Coming {
    /// Nothing was taken before: there is nowhere else that it is known to have stood.
    First,
    /// It was off the board since, and on it again.
    Seen,
    /// It is the place at which it stood already.
    Same,
    /// It was not seen to leave the place where it stood.
    Unseen {
        /// That place.
        from: At,
        /// What else was seen.
        sign: Sign,
    },
}

/// How it is known that the head had come to where something was taken: kept with the take.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Came {
    /// Nothing was taken before.
    #[default]
    First,
    /// It was seen off the board and on it again since the last take.
    Seen,
    /// The last take was made there as well.
    Same,
    /// It was not seen to come; the user was asked, and said that it is there.
    Said {
        /// Where it was last known to stand.
        from: At,
    },
}

/// Follows the head from place to place.
#[derive(Debug, Clone, Default)]
pub struct Arrival {
    lost_since_s: Option<f64>,
    last_s: f64,
    /// Off the board for long enough, and not on it since.
    off: bool,
    known: Option<At>,
    /// Off the board and on it again since `known`.
    came: bool,
    /// Off the board since `known`.
    left: bool,
    moved: bool,
    blind: bool,
}

impl Arrival {
    /// A reading at `at_s` on the head's clock: why it has no stand-off, if it has none.
    pub fn reading(&mut self, absence: Option<Absence>, at_s: f64) {
        // Another start of the head has another clock; and what fell between two readings nobody
        // saw.
        if !(0.0..=UNSEEN_S).contains(&(at_s - self.last_s)) {
            self.lost_since_s = None;
            self.blind |= self.known.is_some();
        }
        self.last_s = at_s;
        match absence {
            Some(Absence::NoSpot) => {
                let since_s = *self.lost_since_s.get_or_insert(at_s);
                if at_s - since_s >= OFF_BOARD_S - 1e-9 {
                    (self.off, self.left) = (true, true);
                }
            }
            // A part that fails says nothing of where the head is.
            Some(_) => self.lost_since_s = None,
            None => {
                let lost_for_s = self.lost_since_s.take().map_or(0.0, |since_s| at_s - since_s);
                if self.off || lost_for_s >= OFF_BOARD_S - 1e-9 {
                    (self.came, self.left) = (true, true);
                }
                self.off = false;
            }
        }
    }

    /// The head was knocked, or its readings took a step that only its own movement makes.
    pub fn moved(&mut self) {
        self.moved = true;
    }

    /// The link was lost: nobody sees what becomes of the head.
    pub fn blind(&mut self) {
        self.blind = true;
        self.lost_since_s = None;
    }

    /// The head is known to stand here now: something was taken, or the user said so.
    pub fn stands(&mut self, at: At) {
        self.known = Some(at);
        (self.came, self.left, self.moved, self.blind) = (false, false, false, false);
    }

    /// In an earlier run the head stood here last.
    pub fn stood(&mut self, at: At) {
        self.stands(at);
        self.blind = true;
    }

    /// How the head came to `at`, where something is to be taken now.
    pub fn to(&self, at: &At) -> Coming {
        let sign = match self {
            Self { moved: true, .. } => Sign::Moved,
            Self { blind: true, .. } => Sign::Blind,
            _ => Sign::Still,
        };
        match &self.known {
            None => Coming::First,
            Some(_) if self.came => Coming::Seen,
            Some(known) if known == at => Coming::Same,
            Some(known) => Coming::Unseen { from: known.clone(), sign },
        }
    }

    /// Where the head was last known to stand, as long as nobody saw it leave.
    pub fn stays_at(&self) -> Option<&At> {
        self.known.as_ref().filter(|_| !self.left && !self.off)
    }

    /// Whether the head is off the board now, and has been for long enough.
    pub fn is_off(&self) -> bool {
        self.off
    }

    /// Whether the head left the board since it was known to stand somewhere.
    pub fn has_left(&self) -> bool {
        self.left
    }

    /// Whether somebody saw that the head still has the very seat that it had.
    pub fn keeps_seat(&self) -> bool {
        self.known.is_some() && !self.left && !self.blind
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(name: &str) -> At {
        At::Station(name.to_owned())
    }

    /// Readings at 100 a second from `from_s` on: spot or none, so many of each.
    fn feed(arrival: &mut Arrival, from_s: &mut f64, spans: &[(Option<Absence>, u32)]) {
        for (absence, count) in spans {
            for _ in 0..*count {
                *from_s += 0.01;
                arrival.reading(*absence, *from_s);
            }
        }
    }

    const SPOT: Option<Absence> = None;
    const NONE: Option<Absence> = Some(Absence::NoSpot);

    #[test]
    fn one_seat_is_one_station() {
        let (mut arrival, mut now_s) = (Arrival::default(), 5.0);
        feed(&mut arrival, &mut now_s, &[(SPOT, 100)]);
        assert_eq!(arrival.to(&at("top left")), Coming::First);
        arrival.stands(at("top left"));
        feed(&mut arrival, &mut now_s, &[(SPOT, 1_000)]);
        assert_eq!(
            arrival.to(&at("top")),
            Coming::Unseen { from: at("top left"), sign: Sign::Still }
        );
        assert_eq!(arrival.to(&at("top left")), Coming::Same);
        assert!(arrival.keeps_seat());
    }

    #[test]
    fn a_spot_lost_for_three_tenths_of_a_second_and_found_is_a_new_seat() {
        for (lost, came) in [(1, false), (29, false), (30, true), (31, true), (500, true)] {
            let (mut arrival, mut now_s) = (Arrival::default(), 5.0);
            feed(&mut arrival, &mut now_s, &[(SPOT, 10)]);
            arrival.stands(at("top left"));
            feed(&mut arrival, &mut now_s, &[(NONE, lost)]);
            assert_ne!(arrival.to(&at("top")), Coming::Seen, "it is still in the hand");
            feed(&mut arrival, &mut now_s, &[(SPOT, 1)]);
            assert_eq!(
                arrival.to(&at("top")) == Coming::Seen,
                came,
                "{lost} readings without a spot"
            );
            assert_eq!(arrival.keeps_seat(), !came);
            // Each take needs an arrival of its own.
            arrival.stands(at("top"));
            assert!(matches!(arrival.to(&at("top right")), Coming::Unseen { .. }));
        }
    }

    #[test]
    fn a_patch_that_loses_the_spot_again_and_again_is_no_lift() {
        let (mut arrival, mut now_s) = (Arrival::default(), 0.0);
        arrival.stands(at("top left"));
        for _ in 0..100 {
            feed(&mut arrival, &mut now_s, &[(NONE, 12), (SPOT, 2)]);
        }
        assert!(matches!(arrival.to(&at("top")), Coming::Unseen { sign: Sign::Still, .. }));
    }

    #[test]
    fn a_part_that_fails_is_no_lift() {
        for absence in Absence::ALL.iter().filter(|absence| **absence != Absence::NoSpot) {
            let (mut arrival, mut now_s) = (Arrival::default(), 0.0);
            arrival.stands(at("top left"));
            feed(
                &mut arrival,
                &mut now_s,
                &[
                    (Some(*absence), 200),
                    (SPOT, 5),
                    (NONE, 20),
                    (Some(*absence), 1),
                    (NONE, 20),
                    (SPOT, 5),
                ],
            );
            assert!(matches!(arrival.to(&at("top")), Coming::Unseen { .. }), "{absence:?}");
        }
    }

    #[test]
    fn steps_and_lost_links_are_told_and_do_not_stand_for_a_lift() {
        let (mut arrival, mut now_s) = (Arrival::default(), 0.0);
        arrival.stands(at("top left"));
        arrival.blind();
        feed(&mut arrival, &mut now_s, &[(SPOT, 50)]);
        assert_eq!(
            arrival.to(&at("top")),
            Coming::Unseen { from: at("top left"), sign: Sign::Blind }
        );
        assert!(!arrival.keeps_seat());
        arrival.moved();
        assert_eq!(
            arrival.to(&at("top")),
            Coming::Unseen { from: at("top left"), sign: Sign::Moved }
        );
        // A tenth of a second before the link broke and a tenth after are not three tenths without
        // a spot.
        arrival.stands(at("top left"));
        feed(&mut arrival, &mut now_s, &[(NONE, 10)]);
        arrival.blind();
        now_s += 60.0;
        feed(&mut arrival, &mut now_s, &[(NONE, 10), (SPOT, 10)]);
        assert!(matches!(arrival.to(&at("top")), Coming::Unseen { .. }));
    }

    #[test]
    fn what_falls_between_two_readings_is_no_lift() {
        let (mut arrival, mut now_s) = (Arrival::default(), 100.0);
        feed(&mut arrival, &mut now_s, &[(SPOT, 10)]);
        arrival.stands(at("top left"));
        feed(&mut arrival, &mut now_s, &[(SPOT, 10), (NONE, 3)]);
        // The readings of five seconds never came.
        now_s += 5.0;
        feed(&mut arrival, &mut now_s, &[(SPOT, 10)]);
        assert_eq!(
            arrival.to(&at("top")),
            Coming::Unseen { from: at("top left"), sign: Sign::Blind }
        );
    }

    #[test]
    fn lifted_before_the_link_was_lost_and_found_seated_after_it_has_come() {
        let (mut arrival, mut now_s) = (Arrival::default(), 100.0);
        arrival.stands(at("top left"));
        feed(&mut arrival, &mut now_s, &[(NONE, 40)]);
        arrival.blind();
        // It starts anew: its clock begins at nought.
        let mut now_s = 0.0;
        feed(&mut arrival, &mut now_s, &[(Some(Absence::Starting), 10), (SPOT, 10)]);
        assert_eq!(arrival.to(&at("top")), Coming::Seen);
    }

    #[test]
    fn another_run_does_not_know_what_became_of_the_head() {
        let mut arrival = Arrival::default();
        arrival.stood(at("bottom"));
        assert_eq!(
            arrival.to(&at("top")),
            Coming::Unseen { from: at("bottom"), sign: Sign::Blind }
        );
        assert_eq!(arrival.to(&at("bottom")), Coming::Same);
        assert!(!arrival.keeps_seat());
    }

    #[test]
    fn on_the_emitter_it_is_off_the_board_and_from_there_it_must_come_back() {
        let (mut arrival, mut now_s) = (Arrival::default(), 0.0);
        arrival.stands(at("left"));
        feed(&mut arrival, &mut now_s, &[(SPOT, 50)]);
        assert!(!arrival.is_off() && !arrival.has_left());
        feed(&mut arrival, &mut now_s, &[(NONE, 50)]);
        assert!(arrival.is_off() && arrival.has_left());
        arrival.stands(At::Emitter);
        assert!(arrival.is_off(), "it still is");
        assert_eq!(arrival.to(&At::Emitter), Coming::Same);
        assert!(matches!(arrival.to(&at("top")), Coming::Unseen { .. }));
        feed(&mut arrival, &mut now_s, &[(SPOT, 1)]);
        assert_eq!(arrival.to(&at("top")), Coming::Seen);
        assert!(!arrival.is_off());
    }

    proptest! {
        /// Whatever is lost and found: with no stretch of 0.3 s without a spot there is no second station.
        #[test]
        fn no_pattern_of_shorter_losses_makes_a_station(spans in prop::collection::vec((1..29_u32, 1..40_u32), 1..60)) {
            let (mut arrival, mut now_s) = (Arrival::default(), 0.0);
            arrival.stands(at("top left"));
            for (lost, found) in spans {
                feed(&mut arrival, &mut now_s, &[(NONE, lost), (SPOT, found)]);
            }
            let unseen = matches!(arrival.to(&at("top")), Coming::Unseen { .. });
            prop_assert!(unseen);
        }
    }
}
