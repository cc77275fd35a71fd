//! What was learnt as one table, and as lines for the next job's file.

use skimgauge_quantity::count;
use std::io;

use super::figures::{Figures, Shown};

/// The columns of [`csv()`]: what kind of figure, of what (emitter, head, crew), which (adjuster, day,
/// word), the figure's name, how many it rests on, the figure, its unit.
pub const COLUMNS: [&str; 7] = ["kind", "of", "which", "figure", "count", "value", "unit"];

/// Everything that was learnt as a table (RFC 4180).
///
/// # Errors
/// What `to` reports.
pub fn csv(figures: &Figures, to: impl io::Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to);
    table.write_record(COLUMNS)?;
    for row in rows(figures) {
        table.write_record(row)?;
    }
    table.flush()
}

/// A text as a cell that no spreadsheet takes for a formula (OWASP, "CSV Injection").
fn cell(text: &str) -> String {
    let opens = ['=', '+', '-', '@', '\t', '\r'];
    let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.trim_start().starts_with(opens) { format!("'{text}") } else { text }
}

fn row([kind, of, which, figure]: [&str; 4], count: usize, value: f64, unit: &str) -> [String; 7] {
    let texts = [kind, of, which, figure].map(cell);
    let [kind, of, which, figure] = texts;
    [kind, of, which, figure, count.to_string(), value.to_string(), unit.to_owned()]
}

fn rows(figures: &Figures) -> Vec<[String; 7]> {
    let mut rows = Vec::new();
    let jobs = &figures.jobs;
    for (word, count) in ["within", "outside", "unsure", "none"].into_iter().zip(jobs.verdicts) {
        rows.push(row(["jobs", "", word, "last verdict"], jobs.count, count as f64, "jobs"));
    }
    rows.push(row(["jobs", "", "", "broken"], jobs.count, jobs.broken.len() as f64, "jobs"));
    let mut three = |kind: &str, of: &str, figure: &str, count, shown: Option<Shown>, unit| {
        for (which, value) in shown.iter().flat_map(|s| {
            [("lower quarter", s.low), ("median", s.middle), ("upper quarter", s.high)]
        }) {
            rows.push(row([kind, of, which, figure], count, value, unit));
        }
    };
    three("jobs", "", "time at work", jobs.count, jobs.minutes, "min");
    three("jobs", "", "rounds", jobs.count, jobs.rounds, "");
    for crew in &figures.crews {
        three("crew", &crew.crew, "time at work", crew.jobs, crew.minutes, "min");
        three("crew", &crew.crew, "rounds", crew.jobs, crew.rounds, "");
    }
    for crew in &figures.crews {
        if let Some(seats) = crew.seats {
            rows.push(row(["crew", &crew.crew, "", "seat scatter"], seats.dof, seats.sd_mm, "mm"));
        }
    }
    for emitter in &figures.emitters {
        for adjuster in &emitter.adjusters {
            let mut put = |figure: &str, count, value, unit| {
                rows.push(row(
                    ["emitter", &emitter.model, &adjuster.name, figure],
                    count,
                    value,
                    unit,
                ));
            };
            put("pitch", adjuster.units, adjuster.pitch_mm, "mm");
            put("u of pitch", adjuster.turns, adjuster.u_pitch_mm, "mm");
            put("spread of pitch", adjuster.units, adjuster.spread_mm, "mm");
            put("pitch in the job files", adjuster.units, adjuster.stated_mm, "mm");
            let out = if adjuster.clockwise == "out" { 1.0 } else { -1.0 };
            put("clockwise, out is 1", adjuster.units, out, "");
            put("works the other way", adjuster.units, adjuster.other_way as f64, "units");
        }
    }
    for head in &figures.heads {
        for zero in &head.zeros {
            rows.push(row(["head", &head.serial, &zero.day, "zero"], 1, zero.zero_mm, "mm"));
        }
        if let Some(limits) = head.limits {
            let many = head.zeros.len();
            for (which, value) in [
                ("mean", limits.mean_mm),
                ("lower limit", limits.lower_mm),
                ("upper limit", limits.upper_mm),
            ] {
                rows.push(row(["head", &head.serial, which, "zero"], many, value, "mm"));
            }
        }
        for sign in &head.signs {
            rows.push(row(
                ["head", &head.serial, sign, "out of the ordinary"],
                head.zeros.len(),
                1.0,
                "",
            ));
        }
        if let Some(seats) = head.seats {
            rows.push(row(
                ["head", &head.serial, "", "seat scatter"],
                seats.dof,
                seats.sd_mm,
                "mm",
            ));
        }
    }
    for fault in &figures.faults {
        rows.push(row(
            ["fault", fault.of, &fault.what, "noticed"],
            fault.jobs,
            fault.count as f64,
            "",
        ));
    }
    rows
}

/// Lines for the job file of the next board with an emitter of this model: its adjusters as they
/// work, to be put in the place of what the file says of pitch and sense. `None` where fewer than
/// three units were watched.
pub fn prior(figures: &Figures, model: &str) -> Option<String> {
    let emitter = figures.emitters.iter().find(|e| e.model.eq_ignore_ascii_case(model.trim()))?;
    let known = emitter.adjusters.iter().filter(|adjuster| adjuster.units >= 3);
    let lines: Vec<String> = known
        .map(|a| {
            let name: String = a.name.chars().filter(|c| !c.is_control() && *c != '"').collect();
            format!(
                "# {}, {}: {:.3} mm a turn, known to {:.3} mm, from unit to unit {:.3} mm (standard deviation)\n\
                 [[adjuster]]\nname = \"{name}\"\npitch = \"{:.3} mm\"\nclockwise = \"{}\"\n",
                count(a.units, "unit"), count(a.turns, "turn"), a.pitch_mm, a.u_pitch_mm, a.spread_mm, a.pitch_mm, a.clockwise
            )
        })
        .collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}
