//! What is noticed of a turn while the gap is watched, and its words.

/// What was noticed of a turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnNoticed {
    /// The person ended it before the gap was where it was meant to be.
    StoppedBefore,
    /// The person ended it when the gap was beyond where it was meant to be.
    WentPast,
    /// The gap moved the other way than the job says of this adjuster.
    OtherWay,
    /// The gap stopped following the adjuster.
    Slips,
    /// The adjuster was at its end.
    EndOfTravel,
    /// The head or the emitter moved while it was turned.
    Moved,
    /// The turn observed before it was taken back: it was not made, or not so.
    TakenBack,
}

impl TurnNoticed {
    /// All that can be noticed.
    pub const ALL: [Self; 7] = [
        Self::StoppedBefore,
        Self::WentPast,
        Self::OtherWay,
        Self::Slips,
        Self::EndOfTravel,
        Self::Moved,
        Self::TakenBack,
    ];

    /// Its word, for people: the same in the record, in tables and on screens.
    pub const fn word(self) -> &'static str {
        match self {
            Self::StoppedBefore => "stopped before the advised gap",
            Self::WentPast => "went past the advised gap",
            Self::OtherWay => "works the other way round",
            Self::Slips => "slips",
            Self::EndOfTravel => "end of travel",
            Self::Moved => "moved",
            Self::TakenBack => "taken back",
        }
    }
}
