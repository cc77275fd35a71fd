//! What the person should look at again, of a trim worked out from tables.

use crate::tables::Rounds;
use skimgauge_jobfile::Job;
use skimgauge_model::Adjuster;
use skimgauge_procedure::trim::says;
use skimgauge_quantity::{Name, Sentence, say};
use skimgauge_tables::Readings;

/// Lines that repeat others are named up to so many.
const MOST_REPEATS: usize = 5;

/// That it is not judged here, in words.
pub(super) fn of_the_rest(not_judged: &[&'static str]) -> Option<Sentence> {
    let names = Sentence::joined(not_judged.iter().map(|of| say!("{}", Name(of))), " and ");
    let says = || {
        say!(
            "the job judges {names} too, and a table of gaps says nothing of that: at the board, --head takes it"
        )
    };
    (!not_judged.is_empty()).then(says)
}

/// Adjusters that work the other way round than the job says.
pub(super) fn reversed(job: &Job, adjusters: &[Adjuster]) -> Vec<Sentence> {
    let other_way = job.adjusters.iter().zip(adjusters);
    let other_way = other_way.filter(|(was, is)| was.clockwise != is.clockwise);
    let says = |(was, _): (&Adjuster, &Adjuster)| {
        say!(
            "{} works the other way round than the job says, by what the rounds show",
            Name(&was.name)
        )
    };
    other_way.map(says).collect()
}

/// Adjusters whose turns do another part of what the job says.
pub(super) fn pitches(job: &Job, adjusters: &[Adjuster]) -> Vec<Sentence> {
    let each = job.adjusters.iter().zip(adjusters).filter(|(was, is)| was.pitch != is.pitch);
    each.map(|(was, is)| says::pitch(&was.name, is.pitch.0 / was.pitch.0, is.pitch)).collect()
}

/// What the person should look at again.
pub(super) fn of_readings(readings: &Readings) -> Vec<Sentence> {
    let of = readings.repeated.iter().map(|(first, again)| (*again, say!("line {first}")));
    let mut remarks = copies(&Sentence::new(), of);
    if let Some(moved) = readings.moved.first() {
        let (line, station, apart) = (moved.line, Name(&moved.station), moved.apart.wall());
        remarks.push(say!("line {line}: {station} is {apart} from where the job has it"));
    }
    remarks
}

/// The same of a table of earlier rounds.
pub(super) fn copies_of_rounds(from: &str, rounds: &Rounds) -> Vec<Sentence> {
    let within = rounds.repeated.iter().map(|(first, again)| (*again, say!("its line {first}")));
    let after = rounds.read_again.iter();
    let after = after.map(|(line, now)| (*line, say!("line {now} of the readings")));
    copies(&say!("{}: ", Name(from)), within.chain(after))
}

/// Lines left out as copies of another.
fn copies(at: &Sentence, of: impl Iterator<Item = (usize, Sentence)>) -> Vec<Sentence> {
    let mut of = of.peekable();
    if of.peek().is_none() {
        return Vec::new();
    }
    let says = |(again, first)| say!("{at}line {again} says exactly what {first} says: left out");
    let mut remarks: Vec<Sentence> = of.by_ref().take(MOST_REPEATS).map(says).collect();
    let further = of.count();
    if further > 0 {
        remarks.push(say!("{at}{further} further lines left out as copies"));
    }
    remarks.push(say!(
        "what is the same to the last digit is taken for one line pasted twice, and no second seat. If the head was \
         lifted and read so again, write both with one digit more"
    ));
    remarks
}
