//! Earlier rounds: `round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns,before_mm,after_mm,noticed`.
//!
//! A row is a reading or a turn. A reading has a place and a gap, as in a table of readings, and no
//! adjuster. A turn has an adjuster: its turns as counted, clockwise positive; or, where it was
//! watched, the station or place and the gap there before and after it; or both. What was noticed of
//! it may stand beside: that the adjuster works the other way round than the job says, or that head or
//! emitter moved meanwhile. Rounds count up from the top of the table; a round's turns were made after
//! its readings.

use skimgauge_model::{Point, Station, TurnNoticed};
use skimgauge_quantity::{Mm, Turns};

use crate::against::{Against, READING_SLACK};
use crate::error::{Problem, TableError, shortened};
use crate::grid::{Grid, Row};
use crate::header::{Column, Kind};
use crate::readings::{
    Copies, LARGEST_GAP_MM, LARGEST_POSITION_MM, LARGEST_U_MM, LEAST_U, Reading,
};

/// The header of a table of earlier rounds.
pub const ROUNDS: &str =
    "round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns,before_mm,after_mm,noticed";

/// No job has more rounds.
const MOST_ROUNDS: f64 = 1000.0;
/// No adjuster is turned further at once.
const MOST_TURNS: f64 = 200.0;

const ROUND: usize = 0;
const STATION: usize = 1;
const X: usize = 2;
const Y: usize = 3;
const GAP: usize = 4;
const U: usize = 5;
const ADJUSTER: usize = 6;
const TURNS: usize = 7;
const BEFORE: usize = 8;
const AFTER: usize = 9;
const NOTICED: usize = 10;

static KIND: Kind = Kind {
    header: ROUNDS,
    may_be_left_out: " (u_mm, before_mm, after_mm and noticed may be left out; station or x_mm and y_mm)",
    what: "rounds",
    columns: &[
        Column::number("round", "round", MOST_ROUNDS, true),
        Column::text("station", false),
        Column::number("x_mm", "x", LARGEST_POSITION_MM, false),
        Column::number("y_mm", "y", LARGEST_POSITION_MM, false),
        Column::number("gap_mm", "gap", LARGEST_GAP_MM, true),
        Column::number("u_mm", "u", LARGEST_U_MM, false),
        Column::text("adjuster", true),
        Column::number("turns", "turns", MOST_TURNS, true),
        Column::number("before_mm", "before", LARGEST_GAP_MM, false),
        Column::number("after_mm", "after", LARGEST_GAP_MM, false),
        Column::text("noticed", false),
    ],
};

/// A turn of an earlier round.
#[derive(Debug, Clone, PartialEq)]
pub struct Turned {
    /// Line in the text, from one.
    pub line: usize,
    /// The adjuster, by its place among those asked for.
    pub adjuster: usize,
    /// As counted, clockwise positive, if anybody counted.
    pub turns: Option<Turns>,
    /// Where it was watched, with the gap before and after it.
    pub watched: Option<(Point, Mm, Mm)>,
    /// It was seen then that the adjuster works the other way round than the job says.
    pub reversed: bool,
    /// What was noticed of it, that or another thing.
    pub noticed: Option<TurnNoticed>,
}

/// An earlier round.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Round {
    /// Its number.
    pub number: u32,
    /// Its readings.
    pub readings: Vec<Reading>,
    /// What was turned after them, in its order.
    pub turns: Vec<Turned>,
    /// Lines left out because they say exactly what another says of the same setting, after that
    /// one: a copy is no second seat.
    pub repeated: Vec<(usize, usize)>,
}

/// Leaves out of the last rounds, after which nothing was turned, what these readings say again:
/// they are of the same setting. The lines of the rounds with those of the readings.
pub fn leave_out_copies(rounds: &mut [Round], readings: &[Reading]) -> Vec<(usize, usize)> {
    let mut copies = Vec::new();
    let known = Copies::of(readings);
    for round in rounds.iter_mut().rev().take_while(|round| round.turns.is_empty()) {
        round.readings.retain(|reading| {
            let first = known.known(reading);
            copies.extend(first.map(|first| (reading.line, first)));
            first.is_none()
        });
    }
    copies.sort_unstable();
    copies
}

/// Reads a table of earlier rounds; `adjusters` are the names that the job has.
///
/// # Errors
/// The first [`TableError`], with its line.
pub fn rounds(
    bytes: &[u8],
    adjusters: &[&str],
    against: &Against<'_>,
) -> Result<Vec<Round>, TableError> {
    let grid = Grid::read(bytes, &KIND)?;
    let mut rounds: Vec<Round> = Vec::new();
    // Of the readings since the last turn.
    let mut copies = Copies::default();
    grid.each(|row| {
        let number = round(row)?;
        let last = rounds.last().map_or(0, |last| last.number);
        if number < last {
            return Err(Problem::RoundBack { found: number, last }.at(row.line));
        }
        if number > last {
            rounds.push(Round { number, ..Round::default() });
        }
        let Some(round) = rounds.last_mut() else { return Ok(()) };
        if row.text(ADJUSTER).is_empty() {
            if !round.turns.is_empty() {
                return Err(Problem::ReadingAfterTurn.at(row.line));
            }
            let reading = reading(row, against)?;
            match copies.first_of(&reading) {
                Some(first) => round.repeated.push((first, row.line)),
                None => round.readings.push(reading),
            }
        } else {
            copies = Copies::default();
            round.turns.push(turned(row, adjusters, against)?);
        }
        Ok(())
    })?;
    Ok(rounds)
}

fn round(row: Row<'_>) -> Result<u32, TableError> {
    let number = row.number(ROUND)?;
    let whole = number >= 1.0 && number.fract() == 0.0;
    if whole {
        return Ok(number as u32);
    }
    let cell = row.cell(ROUND);
    Err(Problem::RoundNumber { found: shortened(cell.text) }.at(row.line).column(cell.number))
}

/// Where a row is of: its own place, or that of its station in the job.
fn place(row: Row<'_>, against: &Against<'_>) -> Result<(Option<String>, Point), TableError> {
    let name = match row.text(STATION) {
        "" => None,
        _ => Some(against.name(row.cell(STATION))?),
    };
    if !row.text(X).is_empty() || !row.text(Y).is_empty() {
        let at = Point { x: Mm(row.number(X)?), y: Mm(row.number(Y)?) };
        against.check_place(at, row.line, READING_SLACK)?;
        return Ok((name, at));
    }
    let station = |station: &&Station| Some(station.name.as_str()) == name.as_deref();
    match against.stations.iter().find(station) {
        Some(station) => Ok((name, station.at)),
        None => Err(Problem::NoPlace.at(row.line)),
    }
}

fn reading(row: Row<'_>, against: &Against<'_>) -> Result<Reading, TableError> {
    let (station, at) = place(row, against)?;
    let gap = Mm(row.number(GAP)?);
    against.check_gap(gap, row.cell(GAP))?;
    let u = row.number_if(U)?.map(Mm);
    if u.is_some_and(|u| u < LEAST_U) {
        let cell = row.cell(U);
        let problem = Problem::Uncertainty { found: shortened(cell.text) };
        return Err(problem.at(row.line).column(cell.number));
    }
    Ok(Reading { line: row.line, station, at, gap, u })
}

fn turned(row: Row<'_>, adjusters: &[&str], against: &Against<'_>) -> Result<Turned, TableError> {
    let named = row.text(ADJUSTER);
    let Some(adjuster) = adjusters.iter().position(|one| one.eq_ignore_ascii_case(named)) else {
        let (found, known) = (shortened(named), adjusters.join(", "));
        return Err(Problem::Adjuster { found, known }.at(row.line));
    };
    let turns = row.number_if(TURNS)?.map(Turns);
    let watched = match (row.number_if(BEFORE)?, row.number_if(AFTER)?) {
        (Some(before), Some(after)) => Some((place(row, against)?.1, Mm(before), Mm(after))),
        _ => None,
    };
    if turns.is_none() && watched.is_none() {
        return Err(Problem::NoTurn.at(row.line));
    }
    let said = row.text(NOTICED).trim().to_lowercase();
    let of_word = TurnNoticed::ALL.into_iter().find(|noticed| noticed.word() == said);
    let noticed = match said.as_str() {
        "other way" => Some(TurnNoticed::OtherWay),
        _ => of_word,
    };
    // A turn that was taken back is none: its row is left out.
    if noticed == Some(TurnNoticed::TakenBack) || (noticed.is_none() && !said.is_empty()) {
        let found = shortened(row.text(NOTICED));
        return Err(Problem::Noticed { found }.at(row.line));
    }
    let reversed = noticed == Some(TurnNoticed::OtherWay);
    let moved = noticed == Some(TurnNoticed::Moved);
    // What moved head or emitter meanwhile tells nothing of the turn.
    let watched = watched.filter(|_| !moved);
    Ok(Turned { line: row.line, adjuster, turns, watched, reversed, noticed })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 3] = ["left", "right", "upper"];

    fn against(stations: &[Station]) -> Against<'_> {
        Against { stations, ..Against::default() }
    }

    #[test]
    fn readings_and_turns_come_round_by_round() {
        let text = "round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns,before_mm,after_mm
1,top,,,3.5,0.06,,,,
1,,-900,-1200,4.5,,,,,
1,top,,,,,left,,3.5,2.75
1,,,,,,UPPER,-1.25,,
2,top,,,2.5,,,,,
";
        let noticed =
            "round,station,gap_mm,adjuster,turns,noticed\n1,,,left,1,works the other way round\n";
        let of_noticed = super::rounds(noticed.as_bytes(), &NAMES, &against(&[])).unwrap();
        assert!(of_noticed[0].turns[0].reversed);
        let stations = [Station { name: "top".to_owned(), at: Point::mm(0.0, 0.0) }];
        let rounds = rounds(text.as_bytes(), &NAMES, &against(&stations)).unwrap();
        assert_eq!(rounds.iter().map(|round| round.number).collect::<Vec<_>>(), [1, 2]);
        assert_eq!((rounds[0].readings.len(), rounds[0].turns.len()), (2, 2));
        let [first, second] = &rounds[0].turns[..] else { panic!("{rounds:?}") };
        let watched = Some((Point::mm(0.0, 0.0), Mm(3.5), Mm(2.75)));
        assert_eq!((first.adjuster, first.turns, first.watched), (0, None, watched));
        assert_eq!((second.adjuster, second.turns), (2, Some(Turns(-1.25))));
        assert!(!first.reversed && !second.reversed);
    }

    /// The readings pasted once more, in another order, are no second seats; after a turn they are
    /// of another setting.
    #[test]
    fn what_is_said_again_of_one_setting_is_left_out() {
        let rows = "1,,0,0,3.5,,,\n1,,900,0,3.6,,,\n1,,0,0,3.5,,,\n2,,900,0,3.6,,,\n2,,0,0,3.52,,,\n2,,,,,,left,1\n3,,0,0,3.5,,,\n";
        let text = format!("round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns\n{rows}");
        let mut rounds = rounds(text.as_bytes(), &NAMES, &against(&[])).unwrap();
        let lines = |round: &Round| round.readings.iter().map(|r| r.line).collect::<Vec<_>>();
        assert_eq!(rounds.iter().map(lines).collect::<Vec<_>>(), [vec![2, 3], vec![6], vec![8]]);
        assert_eq!((&*rounds[0].repeated, &*rounds[1].repeated), (&[(2, 4)][..], &[(3, 5)][..]));
        // Of the readings that follow the last round without a turn, and of no others.
        let now = crate::readings(b"x,y,gap\n900,0,3.6\n0,0,3.5\n", &against(&[])).unwrap();
        assert_eq!(leave_out_copies(&mut rounds, &now.rows), [(8, 3)]);
        assert_eq!(rounds.iter().map(lines).collect::<Vec<_>>(), [vec![2, 3], vec![6], vec![]]);
    }

    #[test]
    fn what_cannot_be_is_told_with_its_line() {
        let stations = [Station { name: "top".to_owned(), at: Point::mm(0.0, 0.0) }];
        for (rows, says) in [
            ("2,top,,,3.5,,,,,,\n1,top,,,3.5,,,,,,\n", "line 3: round 1 comes after round 2"),
            ("0,top,,,3.5,,,,,,\n", "line 2: round is 0"),
            ("1,,,,3.5,,,,,,\n", "line 2: neither a station of the job"),
            ("1,top,,,,,middle,1,,,\n", "line 2: adjuster \"middle\" is not in the job"),
            ("1,top,,,,,left,,,,\n", "line 2: neither turns nor"),
            ("1,,,,,,left,1,,,\n1,top,,,3.5,,,,,,\n", "line 3: a reading after a turn"),
            ("1,,,,,,left,1,,,hums\n", "line 2: noticed is \"hums\"; expected"),
        ] {
            let text = format!("{ROUNDS}\n{rows}");
            let error = rounds(text.as_bytes(), &NAMES, &against(&stations)).unwrap_err();
            assert!(error.to_string().contains(says), "{says}: {error}");
        }
    }
}
