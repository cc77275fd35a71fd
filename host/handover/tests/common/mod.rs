//! Records to make pages of: an invented library's job from end to end, and the odd ones.
#![allow(dead_code, reason = "each test binary takes what it needs")]

#[path = "../../../record/tests/made/mod.rs"]
pub(crate) mod made;

use made::{RULE, head, take};
use serde_json::{Value, json};
use skimgauge_handover::{Options, page};
use skimgauge_jobfile::{Job, demo_job};
use skimgauge_metrology::plane::Plane;
use skimgauge_metrology::plane::board::{Board, Unsurveyed};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::verdict::{JudgedAt, decide, judge};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Deg, Mm, Turns};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    BudgetLine, Calibrated, CalibrationUsed, EmitterTilt, Judged, Note, Phase, Point, Section,
    Station, Take, TurnAdvised, TurnObserved,
};
use skimgauge_record::section::{Repeats, Said};
use skimgauge_record::{JobHistory, JobId, Record, Stamp, When};
use skimgauge_steps::Step;
use std::sync::OnceLock;

pub(crate) const JOB: &str = "practice wall";

/// The client's page.
pub(crate) fn shown(history: &JobHistory) -> String {
    page(history, &Options::default())
}

/// A section of it.
pub(crate) fn section<'a>(page: &'a str, id: &str) -> &'a str {
    let from =
        page.find(&format!("<section id=\"{id}\">")).unwrap_or_else(|| panic!("no section {id}"));
    let rest = &page[from..];
    &rest[..rest.find("</section>").unwrap()]
}

/// The text that a person reads.
pub(crate) fn text(markup: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in markup.chars() {
        match c {
            '<' => inside = true,
            '>' => inside = false,
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
        .trim()
        .to_owned()
}

/// Taken at four stations as left, each called so.
pub(crate) fn take_as_left(bench: &mut Bench, verdict: Option<Verdict>) {
    for (name, x, y) in [
        ("top left", -950.0, 0.0),
        ("top right", 950.0, 0.0),
        ("bottom left", -950.0, -1200.0),
        ("bottom right", 950.0, -1200.0),
    ] {
        bench.append(Take { verdict, ..take(name, x, y, Phase::AsLeft, 1, 2.5) });
    }
}

/// A record in a folder that goes when this does, and the time in it.
pub(crate) struct Bench {
    folder: tempfile::TempDir,
    pub record: Record,
    pub job: String,
    /// Who does what follows.
    pub who: String,
    minute: u32,
}

impl Bench {
    /// With one job, opened with this job file.
    pub(crate) fn new(job: &str, job_file: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let record = Record::create(&folder.path().join("record.sqlite")).unwrap();
        let mut bench =
            Self { folder, record, job: job.to_owned(), who: "R. Oakes".to_owned(), minute: 0 };
        let stamp = bench.stamp();
        bench.record.open_job(JobId([1; 16]), job, job_file, &stamp).unwrap();
        bench
    }

    pub(crate) fn stamp(&mut self) -> Stamp {
        self.minute += 1;
        let (h, m) = (8 + self.minute / 60 % 14, self.minute % 60);
        let day = 25 + self.minute / 840;
        let at = When::parse(&format!("2026-11-{day}T{h:02}:{m:02}:17+01:00")).unwrap();
        Stamp::new(at, &self.who, "skimgauge 0.1.0").unwrap()
    }

    pub(crate) fn append(&mut self, body: impl Into<skimgauge_record::Body>) -> Hash {
        let stamp = self.stamp();
        self.record.append(&self.job.clone(), &stamp, body).unwrap().hash
    }

    pub(crate) fn close(&mut self, open_points: &[&str]) {
        let stamp = self.stamp();
        let points: Vec<String> = open_points.iter().map(|point| (*point).to_owned()).collect();
        self.record.close(&self.job.clone(), &stamp, &points, None).unwrap();
    }

    pub(crate) fn history(&self) -> JobHistory {
        self.record.job(&self.job).unwrap()
    }
}

/// Scatter that looks like a head's and is the same every time, mm.
fn scatter_mm(n: usize) -> f64 {
    [0.011, -0.018, 0.007, 0.024, -0.009, -0.015, 0.019, -0.004, 0.013, -0.022, 0.002, 0.016]
        [n % 12]
}

/// Takes at every station of the job and judges them, as the host does.
fn pass(bench: &mut Bench, job: &Job, plane: Plane, phase: Phase, round: u32) {
    let band = job.bands.gap;
    let mut gaps = Vec::new();
    for (n, station) in job.stations.iter().enumerate() {
        let bow = 0.22 * (1.0 - (station.at.x.0 / (job.image.width.0 / 2.0)).powi(2));
        let gap_mm = plane.height_mm(station.at.x.0, station.at.y.0) - bow
            + scatter_mm(n + round as usize * 5);
        gaps.push(GapObservation {
            station: Some(station.name.clone()),
            x_mm: station.at.x.0,
            y_mm: station.at.y.0,
            gap_mm,
            u_mm: 0.0213,
            dof: 14.0,
        });
        let mut take = take(&station.name, station.at.x.0, station.at.y.0, phase, round, gap_mm);
        take.verdict = Some(decide(Mm(gap_mm), Mm(0.09), band));
        bench.append(take);
    }
    let unknown = Unsurveyed {
        width_mm: job.image.width.0,
        height_mm: job.image.height.0,
        bow_across_mm: 0.15,
        bow_down_mm: 0.15,
        twist_mm: 0.1,
    };
    let board = Board::unsurveyed(unknown);
    let shared = vec![SharedError::even("zero", 0.031, 9.0)];
    let observations = Observations { gaps, lean: None, shared };
    let fitted = fit(&observations, &board).unwrap();
    let points = board.control_points(job.image.width.0, job.image.height.0);
    let judged = judge(&fitted, &points, band);
    let worst = judged.points[judged.limiting.unwrap()];
    let detail = json!({
        "level": {"emitter_deg": 0.06, "board_deg": 0.05, "value_deg": 0.01, "expanded_deg": 0.03, "verdict": "within"},
        "lean": {"emitter_deg": -0.09, "board_deg": 0.03, "value_deg": -0.12, "expanded_deg": 0.04, "verdict": "within"},
        "plane": fitted.plane,
        "covariance": fitted.covariance(),
        "agreement": fitted.agreement,
        "chi_square": fitted.chi_square,
        "dof": fitted.dof,
        "points": judged.points.iter().map(|point| json!({
            "x_mm": point.point.x_mm, "y_mm": point.point.y_mm, "gap_mm": point.gap.gap_mm,
            "u_mm": point.gap.u_mm, "expanded_mm": point.expanded_mm, "verdict": point.verdict,
        })).collect::<Vec<_>>(),
        "residuals": fitted.residuals.iter().map(|left| json!({
            "station": job.stations[left.index].name, "residual_mm": left.residual_mm, "normalized": left.normalized,
        })).collect::<Vec<_>>(),
    });
    bench.append(Judged {
        verdict: judged.verdict,
        phase,
        worst: Some(Station {
            name: "there".to_owned(),
            at: Point { x: Mm(worst.point.x_mm), y: Mm(worst.point.y_mm) },
        }),
        worst_gap: Some(Mm(worst.gap.gap_mm)),
        margin: Some(Mm(worst.inside_mm(band))),
        expanded_u: Some(Mm(worst.expanded_mm)),
        decision_rule: RULE.to_owned(),
        would_settle: (judged.verdict == Verdict::Unsure)
            .then(|| Said::of("turn an adjuster: the gap lies on the limit")),
        simulated: false,
        survey_sha256: None,
        judged_at: Some(match judged.judged_at {
            JudgedAt::Places(names) => skimgauge_record::event::JudgedAt::Places(names),
            JudgedAt::Board(_) => skimgauge_record::event::JudgedAt::Board,
        }),
        detail: read(detail),
    });
}

pub(crate) fn turn(
    bench: &mut Bench,
    adjuster: &str,
    turns: f64,
    station: &str,
    [before, meant, after]: [f64; 3],
    round: u32,
) {
    let advice = bench.append(TurnAdvised {
        adjuster: adjuster.to_owned(),
        turns: Turns(turns),
        station: Some(station.to_owned()),
        target_gap: Some(Mm(meant)),
        round,
    });
    bench.append(TurnObserved {
        adjuster: adjuster.to_owned(),
        advice: Some(advice),
        turns: None,
        station: Some(station.to_owned()),
        gap_before: Some(Mm(before)),
        gap_after: Some(Mm(after)),
        gap_predicted: Some(Mm(meant)),
        flags: if adjuster == "right" && round == 1 {
            vec!["stiff at first".into()]
        } else {
            Vec::new()
        },
        by: None,
    });
}

fn budget() -> Vec<BudgetLine> {
    let line = |source: &str,
                value: f64,
                distribution: &str,
                divisor: f64,
                share: f64,
                dof: Option<f64>| BudgetLine {
        source: source.to_owned(),
        value,
        unit: "mm".to_owned(),
        distribution: distribution.to_owned(),
        divisor,
        sensitivity: 1.0,
        contribution: value / divisor,
        dof,
        share,
    };
    vec![
        line("seating on the block", 0.022, "normal", 1.0, 0.51, Some(9.0)),
        line("block, from its certificate", 0.02, "normal", 2.0, 0.105, None),
        line("sensor, straightness", 0.03, "rectangular", 1.732, 0.316, None),
        line("temperature, 3 \u{b0}C", 0.014, "rectangular", 1.732, 0.069, None),
        line("resolution", 0.0005, "rectangular", 1.732, 0.0001, None),
    ]
}

fn settling() -> Vec<(f64, Mm)> {
    (0..320)
        .map(|n| {
            let t = f64::from(n) * 0.01;
            let ripple = 0.02 * (t * 37.0).sin() + 0.012 * (t * 91.0).cos();
            (t, Mm(2.41 + 0.5 * (-t * 2.2).exp() + ripple))
        })
        .collect()
}

/// From JSON, as the record reads it.
pub(crate) fn read<T: serde::de::DeserializeOwned>(json: Value) -> T {
    serde_json::from_value(json).unwrap()
}

/// The job of the demonstration from beginning to end.
pub(crate) fn library() -> Bench {
    let job = Job::parse("demo", demo_job()).unwrap();
    let mut bench = Bench::new(JOB, demo_job());
    bench.append(Calibrated {
        seats: Vec::new(),
        head: head(),
        before: None,
        after: Some(json!({"gap_zero_mm": 0.412, "tilt_offset_deg": 0.031})),
        reference: "gauge block 3 mm, certificate GB-114".to_owned(),
        budget: budget(),
    });
    bench.append(CalibrationUsed {
        head: head(),
        zero: Mm(0.412),
        u_zero: Mm(0.031),
        dof: Some(9.0),
        constants: json!({"eye_scale_mm": 1.21, "tilt_offset_deg": 0.031}),
    });
    pass(
        &mut bench,
        &job,
        Plane { c_mm: 2.3, p_mm_per_m: 0.45, q_mm_per_m: -2.4 },
        Phase::AsFound,
        1,
    );
    turn(&mut bench, "upper", -0.31, "bottom", [5.28, 2.91, 2.99], 1);
    turn(&mut bench, "left", 0.12, "bottom left", [2.52, 2.84, 2.80], 1);
    turn(&mut bench, "right", -0.08, "bottom right", [3.31, 2.96, 2.98], 1);
    pass(
        &mut bench,
        &job,
        Plane { c_mm: 2.55, p_mm_per_m: 0.3, q_mm_per_m: -0.75 },
        Phase::Between,
        2,
    );
    turn(&mut bench, "upper", -0.11, "bottom", [3.33, 2.48, 2.52], 2);
    pass(
        &mut bench,
        &job,
        Plane { c_mm: 2.5, p_mm_per_m: 0.06, q_mm_per_m: -0.09 },
        Phase::AsLeft,
        3,
    );
    bench.append(EmitterTilt {
        phase: Phase::AsLeft,
        round: 3,
        level: Deg(0.06),
        lean: Deg(-0.09),
        u: Deg(0.013),
        head: head(),
        by: None,
    });
    bench.append(Note {
        text: "pen tray hides the bottom edge by 4 mm; took the stations above it".to_owned(),
        about: None,
    });
    let stamp = bench.stamp();
    let photo = skimgauge_record::photo::Photo {
        name: "bracket.jpg",
        media_type: "image/jpeg",
        caption: Some("centre plate after tightening"),
        bytes: b"not really a picture",
    };
    bench.record.attach(JOB, &stamp, photo).unwrap();
    for (section, data) in made::sections() {
        bench.append(read::<Section>(json!({"section": section, "data_version": 1, "data": data})));
    }
    let repeats = Repeats { takes: 20, scatter: Mm(0.019), history: settling() };
    bench.append(Section::from(repeats));
    for (line, value_deg) in [("level", 0.31), ("level", -0.04), ("plumb", 0.12)] {
        bench.append(read::<Section>(json!({"section": "level", "data_version": 1, "data": {
            "of": "bracket", "line": line, "value_deg": value_deg, "known": {"resolution_deg": 0.05},
            "target_deg": {"low": -0.2, "high": 0.2}, "verdict": if value_deg > 0.2 { "outside" } else { "within" },
            "tool": {"own": "spirit level, 600 mm"},
        }})));
    }
    bench.close(&[
        "client to fit the longer pen tray",
        "show the caretaker how to clean the emitter's window",
    ]);
    bench
}

/// A job in which nothing was done.
pub(crate) fn empty() -> Bench {
    Bench::new("nothing yet", demo_job())
}

/// A job that has hardly begun.
pub(crate) fn few() -> Bench {
    let mut bench = Bench::new("room 12", demo_job());
    bench.append(made::step("services", None));
    // By somebody's name: else nothing hangs.
    bench.append(made::step("fixings", None));
    bench.append(made::step("hanging", None));
    bench.append(made::step("survey", Some("the board is new and flat")));
    bench
}

/// A job in which everything is long: names of 40 letters, a person and a reason of its own for each
/// step, notes and open points without end.
pub(crate) fn long() -> Bench {
    let name = |n: usize| format!("Wilhelmina-Theodora Quartermaine-Hart {n:02}");
    let file = demo_job()
        .replace("\"Larch Lane Library\"", "\"The Governors of the Larch Lane Library 01\"")
        .replace("\"R. Oakes\"", &format!("\"{}\"", name(99)));
    let job = Job::parse("long", &file).unwrap();
    let mut bench = Bench::new("the large reading room behind the stairs 07", &file);
    let plane = |q| Plane { c_mm: 2.5, p_mm_per_m: 0.3, q_mm_per_m: q };
    pass(&mut bench, &job, plane(-2.4), Phase::AsFound, 1);
    turn(&mut bench, "upper", -0.31, "bottom", [5.28, 2.91, 2.99], 1);
    pass(&mut bench, &job, plane(-0.1), Phase::AsLeft, 2);
    for (at, word) in Step::all().map(Step::word).enumerate() {
        bench.who = name(at);
        let why = "the owner of the building asked for it to be done by others at a later time, and signed for that";
        bench.append(made::step(word, (at % 2 == 1).then_some(why)));
    }
    for n in 0..40 {
        bench.append(Note {
            text: format!(
                "note {n}: {}",
                "what was seen at the place where it was looked for ".repeat(4)
            ),
            about: None,
        });
    }
    let points: Vec<String> = (1..=30)
        .map(|n| {
            format!(
                "open point {n}: {}",
                "to be looked at again when the room is free ".repeat(n % 5 + 1)
            )
        })
        .collect();
    bench.close(&points.iter().map(String::as_str).collect::<Vec<_>>());
    bench
}

/// A job with this many takes: some stations again and again, all over the board.
pub(crate) fn many(takes: u32) -> Bench {
    let mut bench = Bench::new("many takes", demo_job());
    for n in 0..takes {
        let (column, row) = (n % 25, n / 25 % 10);
        let (x, y) = (-1000.0 + f64::from(column) * 80.0, -f64::from(row) * 130.0);
        let name = format!("grid {column}-{row}");
        let phase = if n < takes / 2 { Phase::AsFound } else { Phase::AsLeft };
        let gap_mm = 2.4 + x / 2000.0 + scatter_mm(n as usize);
        bench.append(take(&name, x, y, phase, 1, gap_mm));
    }
    bench
}

/// Names and texts that would do harm if they were taken for markup.
pub(crate) const HOSTILE: &str = "<script>alert('x')</script>\"'&amp;<img src=x onerror=alert(1)>";

/// A job full of them.
pub(crate) fn hostile() -> Bench {
    let toml_text = serde_json::to_string(HOSTILE).unwrap();
    let file = demo_job()
        .replace("\"Larch Lane Library\"", &toml_text)
        .replace("\"R. Oakes\"", &toml_text)
        .replace("\"practice emitter\"", &toml_text);
    assert!(Job::parse("hostile", &file).is_ok(), "{:?}", Job::parse("hostile", &file));
    let mut bench = Bench::new(HOSTILE, &file);
    for (x, y) in [(-1000.0, 0.0), (1000.0, 0.0), (0.0, -1200.0), (-1000.0, -1200.0)] {
        let mut bad = take(&format!("{HOSTILE}{x}{y}"), x, y, Phase::AsLeft, 1, 2.0);
        bad.flags = vec![HOSTILE.into()];
        bad.head.serial = HOSTILE.to_owned();
        bad.head.calibration_date = Some(HOSTILE.to_owned());
        bench.append(bad);
    }
    bench.append(Judged {
        verdict: Verdict::Unsure,
        phase: Phase::AsLeft,
        worst: Some(Station {
            name: HOSTILE.to_owned(),
            at: Point { x: Mm(333.0), y: Mm(-333.0) },
        }),
        worst_gap: Some(Mm(1.0)),
        margin: Some(Mm(0.0)),
        expanded_u: Some(Mm(0.1)),
        decision_rule: HOSTILE.to_owned(),
        would_settle: Some(Said::of(HOSTILE)),
        simulated: false,
        survey_sha256: None,
        judged_at: None,
        detail: read(
            json!({HOSTILE: HOSTILE, "residuals": [{"station": HOSTILE, "residual_mm": 0.1}]}),
        ),
    });
    bench.append(Note { text: HOSTILE.to_owned(), about: None });
    bench.append(TurnAdvised {
        adjuster: HOSTILE.to_owned(),
        turns: Turns(0.5),
        station: Some(HOSTILE.to_owned()),
        target_gap: Some(Mm(2.0)),
        round: 1,
    });
    let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 10 10\" onload=\"alert(1)\"><script>alert(2)</script></svg>";
    let data = json!({HOSTILE: [HOSTILE, {HOSTILE: 1.0}], "drawing": drawing, "list_mm": [1, [2, [3, [4, [5]]]]]});
    bench.append(read::<Section>(json!({"section": "set-out", "data_version": 9, "data": data})));
    bench.close(&[HOSTILE]);
    bench
}

/// Made and read once: what such a record holds is the same in every test.
fn once(read: &'static OnceLock<JobHistory>, made: fn() -> Bench) -> JobHistory {
    read.get_or_init(|| made().history()).clone()
}

pub(crate) fn library_read() -> JobHistory {
    static READ: OnceLock<JobHistory> = OnceLock::new();
    once(&READ, library)
}

pub(crate) fn empty_read() -> JobHistory {
    static READ: OnceLock<JobHistory> = OnceLock::new();
    once(&READ, empty)
}

pub(crate) fn hostile_read() -> JobHistory {
    static READ: OnceLock<JobHistory> = OnceLock::new();
    once(&READ, hostile)
}

/// Five hundred takes.
pub(crate) fn many_read() -> JobHistory {
    static READ: OnceLock<JobHistory> = OnceLock::new();
    once(&READ, || many(500))
}
