//! Tables of readings and surveyed points on disk, held against their job.

use anyhow::Context;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::TABLED;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::trim::replay::{EarlierRound, EarlierTurn, ReadTurn};
use skimgauge_model::{Bands, Point, TurnNoticed};
use skimgauge_quantity::Mm;
use skimgauge_record::chain::Hash;
use skimgauge_site::survey::Surveyed;
use skimgauge_system::input;
use skimgauge_tables::{Against, Readings, Round, TableError, Turned};
use std::path::Path;

/// Reads a table of readings; `-` is standard input.
///
/// # Errors
/// It cannot be read, or cannot be right against the job: with line and what is expected.
pub fn readings<B: Copy + Into<Option<Bands>>>(
    from: &Path,
    job: &Job<B>,
) -> anyhow::Result<Readings> {
    let bytes = if from == Path::new("-") {
        input::read_from(std::io::stdin().lock(), input::TABLE)
            .context("Standard input cannot be read.")?
    } else {
        input::read(from, input::TABLE)
            .with_context(|| format!("{} cannot be read.", from.display()))?
    };
    held(&bytes, job, skimgauge_tables::readings).with_context(|| from.display().to_string())
}

/// Where a round stands in its table: its number, and the lines of its readings and of its turns.
pub struct Lines {
    /// As the table counts it.
    pub round: u32,
    /// By reading.
    pub readings: Vec<usize>,
    /// By turn.
    pub turns: Vec<usize>,
}

/// Earlier rounds as their table has them.
#[derive(Default)]
pub struct Rounds {
    /// The rounds.
    pub rounds: Vec<(EarlierRound, Lines)>,
    /// Lines left out as copies, after the line of the table that says the same first.
    pub repeated: Vec<(usize, usize)>,
    /// Lines left out because the readings say the same, before the line of that.
    pub read_again: Vec<(usize, usize)>,
}

/// Reads a table of earlier rounds, after which came `here`.
///
/// # Errors
/// As [`readings`].
pub fn rounds(
    from: &Path,
    job: &Job,
    here: &Readings,
    default_u_mm: f64,
    shared: &[SharedError],
) -> anyhow::Result<Rounds> {
    let bytes = input::read(from, input::TABLE)
        .with_context(|| format!("{} cannot be read.", from.display()))?;
    let names: Vec<&str> = job.adjusters.iter().map(|one| one.name.as_str()).collect();
    let read =
        |bytes: &[u8], against: &Against<'_>| skimgauge_tables::rounds(bytes, &names, against);
    let mut rounds = held(&bytes, job, read).with_context(|| from.display().to_string())?;
    let repeated = rounds.iter().flat_map(|round| &round.repeated).copied().collect();
    let read_again = skimgauge_tables::leave_out_copies(&mut rounds, &here.rows);
    // Where something moved or slipped, and that was seen, the next readings alone tell the plane.
    let moved = |turned: &Turned| {
        let noticed = turned.noticed.filter(|_| turned.watched.is_none());
        matches!(noticed, Some(TurnNoticed::Moved | TurnNoticed::Slips | TurnNoticed::EndOfTravel))
    };
    let round = |round: Round| {
        let lines = Lines {
            round: round.number,
            readings: round.readings.iter().map(|reading| reading.line).collect(),
            turns: round.turns.iter().map(|turned| turned.line).collect(),
        };
        let earlier = EarlierRound {
            lost: round.turns.iter().any(moved),
            turns: round.turns.iter().map(turn).collect(),
            observations: observations(
                Readings { rows: round.readings, ..Readings::default() },
                default_u_mm,
                shared.to_vec(),
            ),
        };
        (earlier, lines)
    };
    let rounds = rounds.into_iter().map(round).collect();
    Ok(Rounds { rounds, repeated, read_again })
}

fn turn(turned: &Turned) -> EarlierTurn {
    EarlierTurn {
        adjuster: turned.adjuster,
        turns: turned.turns.map(|turns| turns.0),
        read: turned.watched.map(|(at, before, after)| ReadTurn {
            x_mm: at.x.0,
            y_mm: at.y.0,
            before_mm: before.0,
            after_mm: after.0,
        }),
        reversed: turned.reversed,
        noticed: turned.noticed.is_some(),
    }
}

/// Reads a table of surveyed points. `unread` is what to say where the file cannot be read.
///
/// # Errors
/// As [`readings`].
pub fn survey<B: Copy + Into<Option<Bands>>>(
    from: &Path,
    job: &Job<B>,
    unread: impl FnOnce() -> String,
) -> anyhow::Result<Vec<Surveyed>> {
    let bytes = input::read(from, input::TABLE).with_context(unread)?;
    let points =
        held(&bytes, job, skimgauge_tables::survey).with_context(|| from.display().to_string())?;
    Ok(points
        .iter()
        .map(|point| Surveyed { x_mm: point.at.x.0, y_mm: point.at.y.0, z_mm: point.z.0 })
        .collect())
}

/// The first line of a table whose points were read of a simulated head; each of its rows says so.
const PRACTISED: &str = "# read of a simulated head: practice, nothing was measured";

/// Whether this table's points were read of a simulated head.
pub fn is_practised(from: &Path) -> bool {
    let bytes = input::read(from, input::TABLE).unwrap_or_default();
    // A spreadsheet may have moved the line; each row says it, too.
    let says = |points: Vec<skimgauge_tables::Surveyed>| points.iter().any(|point| point.simulated);
    bytes.starts_with(PRACTISED.as_bytes())
        || skimgauge_tables::survey(&bytes, &Against::default()).is_ok_and(says)
}

/// A table of surveyed points as text; `simulated`: read of a simulated head.
pub fn of_survey(points: &[Surveyed], simulated: bool) -> String {
    let points: Vec<skimgauge_tables::Surveyed> = points
        .iter()
        .map(|p| skimgauge_tables::Surveyed {
            at: Point { x: Mm(p.x_mm), y: Mm(p.y_mm) },
            z: Mm(p.z_mm),
            simulated,
        })
        .collect();
    let table = skimgauge_tables::write_survey(&points);
    if simulated { format!("{PRACTISED}\n{table}") } else { table }
}

/// By which one table of surveyed points is told from another: that of the points alone, however
/// the file spells them.
pub fn fingerprint(points: &[Surveyed]) -> Hash {
    Hash::of(of_survey(points, false).as_bytes())
}

/// Readings as the plane wants them; `default_u_mm` (above zero) stands in where a row has no
/// uncertainty of its own.
pub fn observations(
    readings: Readings,
    default_u_mm: f64,
    shared: Vec<SharedError>,
) -> Observations {
    let gaps = readings.rows.into_iter().map(|row| GapObservation {
        station: row.station,
        ..GapObservation::bare(
            row.at.x.0,
            row.at.y.0,
            row.gap.0,
            row.u.map_or(default_u_mm, |u| u.0),
        )
    });
    Observations { gaps: gaps.collect(), lean: None, shared }
}

fn held<T, B: Copy + Into<Option<Bands>>>(
    bytes: &[u8],
    job: &Job<B>,
    read: impl FnOnce(&[u8], &Against<'_>) -> Result<T, TableError>,
) -> Result<T, TableError> {
    let against = Against {
        image: Some(job.image),
        stations: &job.stations,
        gaps: Some(TABLED),
        band: job.gap_band(),
    };
    read(bytes, &against)
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_jobfile::JobFile;

    /// Whatever a spreadsheet leaves of it, a practice is known by any of its rows.
    #[test]
    fn a_table_of_a_practice_says_so_in_every_row() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("survey.csv");
        let points = [
            Surveyed { x_mm: 1.0, y_mm: -2.0, z_mm: 0.25 },
            Surveyed { x_mm: 3.0, y_mm: -2.0, z_mm: 0.5 },
        ];
        let practised = of_survey(&points, true);
        let rows: Vec<&str> = practised.lines().collect();
        assert!(rows[2..].iter().all(|row| row.ends_with(",SIMULATED")), "{practised}");
        let without_the_line = rows[1..].join("\n");
        for (text, is_practice) in [
            (practised.as_str(), true),
            (without_the_line.as_str(), true),
            (&of_survey(&points, false), false),
        ] {
            assert!((crate::written::POINTS.is)(text.as_bytes()), "{text}");
            std::fs::write(&file, text).unwrap();
            assert_eq!(is_practised(&file), is_practice, "{text}");
            let job = JobFile::read("job.toml", skimgauge_jobfile::demo_job()).unwrap();
            assert_eq!(survey(&file, &job, String::new).unwrap(), points);
        }
        assert_eq!(fingerprint(&points), Hash::of(of_survey(&points, false).as_bytes()));
    }
}
