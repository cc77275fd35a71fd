use super::*;
use skimgauge_metrology::measure::{Fault, Part, Source, Take};
use skimgauge_model::Verdict;
use skimgauge_procedure::takes::{EmitterTilt, Stations, unsurveyed};
use skimgauge_quantity::Turns;
use skimgauge_record::event::{Came, Struck, TakeFlag};
use skimgauge_record::practice::Heads;
use skimgauge_session::HeadIs;
use skimgauge_shared::message::{Capabilities, SerialNumber};

fn taken(job: &Job) -> Stations {
    let mut stations = Stations::of(job);
    for at in 0..job.stations.len() {
        let part = |source, effect_mm| Part { source, effect_mm, dof: None };
        let take = Take {
            gap_mm: 2.4 + 0.02 * (at % 3) as f64,
            u_mm: 0.05,
            dof: None,
            parts: vec![part(Source::Seating, 0.03), part(Source::Zero, 0.04)],
            readings: 100,
            window_s: 1.0,
            head_at_s: 1.0,
            stand_off_mm: 27.0,
            middle_mm: 2.6,
            sheet_mm: Some(1.5),
            level_deg: 0.0,
            lean_deg: 0.0,
            tilt_u_deg: 0.01,
            temperature_c: Some(20.0),
            notices: Vec::new(),
        };
        stations.keep(at, stations.with(at, take, false, job.bands.gap).unwrap());
    }
    stations
}

/// A new record of the practice job.
fn opened(folder: &tempfile::TempDir, job: &Job) -> Keeping {
    let (path, text) = (folder.path().join("r.sqlite"), skimgauge_jobfile::demo_job());
    Keeping::open(&path, job, text, None, &SameJob::default()).unwrap()
}

/// Keeps the take that stands at that station.
fn take(keeping: &mut Keeping, stations: &Stations, at: usize, supersedes: Option<Hash>) -> Hash {
    let (station, kept) = stations.rows().nth(at).unwrap();
    let kept = kept.unwrap();
    keeping.take(station, &kept.take, kept.verdict, supersedes, Some(Came::Seen), None).unwrap()
}

fn a_head() -> Head {
    Head {
        serial: "SG-1".to_owned(),
        firmware: "0.1.0".to_owned(),
        calibration_date: None,
        calibration_sha256: None,
    }
}

/// What stands is said to be left, and not written again: what is counted is what was made.
#[test]
fn as_left_refers_to_what_stands_in_this_round() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stations = taken(&job);
    let mut keeping = opened(&folder, &job);
    keeping.head = Some(a_head());
    let take = |keeping: &mut Keeping, at, supersedes| take(keeping, &stations, at, supersedes);
    let found: Vec<Hash> = (0..3).map(|at| take(&mut keeping, at, None)).collect();
    assert_eq!(keeping.standing(), (found, None));
    keeping.start_round(Phase::Between).unwrap();
    assert_eq!(keeping.standing(), (Vec::new(), None));
    let first = take(&mut keeping, 0, None);
    let second = take(&mut keeping, 1, None);
    let redone = take(&mut keeping, 0, Some(first));
    let tilt = EmitterTilt { level_deg: 0.1, lean_deg: 0.0, u_deg: 0.01, own_u_deg: 0.01 };
    let tilt = keeping.tilt(tilt, None).unwrap();
    assert_eq!(keeping.standing(), (vec![second, redone], Some(tilt)));
    let (takes, tilt) = keeping.standing();
    keeping.as_left(takes, tilt).unwrap();
    let history = keeping.record.job(&keeping.id).unwrap();
    assert_eq!((history.takes().count(), history.summary.takes), (6, 5));
    let left: Vec<Hash> =
        history.standing(Phase::AsLeft).iter().map(|current| current.event.hash).collect();
    assert_eq!(left, [second, redone]);
    assert_eq!(keeping.place(), history.events.last().unwrap().seq);
    assert_eq!(keeping.phase, Phase::AsLeft);
}

/// Quit while a turn was watched, the head stands there, and not where something was taken last: a
/// take that is asked for without moving it is none of that place.
#[test]
fn the_head_stands_where_a_turn_was_watched_last() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let tilt = EmitterTilt { level_deg: 0.1, lean_deg: 0.0, u_deg: 0.01, own_u_deg: 0.01 };
    let mut keeping = opened(&folder, &job);
    keeping.head = Some(a_head());
    assert_eq!(keeping.stood_at().unwrap(), None);
    keeping.tilt(tilt, None).unwrap();
    assert_eq!(keeping.stood_at().unwrap(), Some(At::Emitter));
    let advised = |station: Option<&str>| event::TurnAdvised {
        adjuster: "left".to_owned(),
        turns: Turns(0.5),
        station: station.map(str::to_owned),
        target_gap: None,
        round: 1,
    };
    keeping.append(advised(Some("top"))).unwrap();
    keeping.append(advised(None)).unwrap();
    assert_eq!(keeping.stood_at().unwrap(), Some(At::Station("top".to_owned())));
}

/// A record from elsewhere may say that the last round was the last there can be.
#[test]
fn rounds_do_not_run_over() {
    for last in [LAST_ROUND, u32::MAX - 1, u32::MAX] {
        assert!(next_round(last).is_err(), "{last}");
    }
    assert_eq!(next_round(0).unwrap(), 1);
    assert_eq!(next_round(LAST_ROUND - 1).unwrap(), LAST_ROUND);
}

/// What a take may carry has its word in the record's table.
#[test]
fn every_notice_has_its_word() {
    use skimgauge_metrology::measure::fault::Bearing;
    let notices = Fault::ALL.iter().filter(|fault| fault.bearing() == Bearing::Notice);
    for fault in notices {
        let flag = TakeFlag::from(fault.name());
        assert!(!matches!(flag, TakeFlag::Other(_)), "{flag}");
    }
}

#[test]
fn a_verdict_is_kept_once_with_what_it_rests_on() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let whole = taken(&job).whole(&job, &unsurveyed(&job));
    let mut keeping = opened(&folder, &job);
    for _ in 0..2 {
        keeping.judged(&whole).unwrap();
    }
    keeping.start_round(Phase::AsLeft).unwrap();
    keeping.judged(&whole).unwrap();
    let events = keeping.record.job(&keeping.id).unwrap().events;
    let verdicts: Vec<_> = events
        .iter()
        .filter_map(|event| match &event.body {
            Body::Judged(judged) => Some(judged),
            _ => None,
        })
        .collect();
    assert_eq!(verdicts.len(), 2, "once as found, once as left");
    let names = job.stations.iter().map(|station| station.name.clone()).collect();
    assert_eq!(verdicts[0].judged_at, Some(event::JudgedAt::Places(names)));
    let detail = &verdicts[0].detail;
    assert_eq!(detail.residuals.len(), job.stations.len());
    assert_eq!(detail.residuals[0].station, job.stations[0].name);
    assert!(detail.agreement.is_some() && detail.plane.is_some() && detail.more.is_empty());
    let lines = &detail.budget;
    assert!(lines.iter().any(|line| line.source.starts_with("zero")), "{lines:?}");
    let shares: f64 = lines.iter().map(|line| line.share).sum();
    assert!((shares - 1.0).abs() < 1e-9, "the lines are the whole: {shares}");
    let u_mm = lines.iter().map(|line| line.contribution.powi(2)).sum::<f64>().sqrt();
    assert!((1.96 * u_mm - verdicts[0].expanded_u.unwrap().0).abs() < 0.01 * u_mm);
}

/// A record's takes of `round` and what stands of them for another run.
fn resumed(keeping: &Keeping, job: &Job) -> (Vec<(String, f64)>, u32) {
    let (resumed, _) = keeping.resumed(&job.adjusters, &job.stations).unwrap();
    (resumed.takes.iter().map(|t| (t.station.clone(), t.gap_mm)).collect(), resumed.looked)
}

/// What the guide struck out, or found to be of another setting, never stands up again.
#[test]
fn what_was_disowned_is_not_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stations = taken(&job);
    let mut keeping = opened(&folder, &job);
    keeping.head = Some(a_head());
    let take = |keeping: &mut Keeping, at: usize, off_mm: f64| {
        let (station, kept) = stations.rows().nth(at).unwrap();
        let take = Take { gap_mm: 2.4 + off_mm, ..kept.unwrap().take.clone() };
        keeping.take(station, &take, Verdict::Within, None, Some(Came::Seen), None).unwrap()
    };
    let wrong: Vec<Hash> = [3.0, 3.1].map(|off_mm| take(&mut keeping, 0, off_mm)).into();
    let right = take(&mut keeping, 1, 0.0);
    let name = job.stations[0].name.clone();
    assert!(keeping.strike_out(&name, Struck::LightLeaves, None).unwrap().is_some());
    assert_eq!(keeping.strike_out(&name, Struck::LightLeaves, None).unwrap(), None, "nothing left");
    assert_eq!(keeping.standing(), (vec![right], None));
    let kept = (job.stations[1].name.clone(), 2.4);
    assert_eq!(resumed(&keeping, &job), (vec![kept.clone()], 0));
    // Taken again in a later run, it stands alone.
    keeping.go_on().unwrap();
    let again = take(&mut keeping, 0, 0.1);
    assert_eq!(keeping.standing(), (vec![right, again], None));
    assert_eq!(resumed(&keeping, &job).0, [kept, (name, 2.5)]);
    // Nothing to read of the struck ones in what the rounds teach.
    keeping.start_round(Phase::Between).unwrap();
    take(&mut keeping, 2, 0.0);
    let (taught, _) = keeping.resumed(&job.adjusters, &job.stations).unwrap();
    let [round] = &taught.rounds[..] else { panic!("{taught:?}") };
    assert_eq!((round.observations.gaps.len(), round.lost), (2, false));
    // The person said that something was touched: what was taken is of before.
    for why in [event::Unasked::SaidSo, event::Unasked::ReadsOtherwise] {
        keeping.start_round(Phase::Between).unwrap();
        take(&mut keeping, 2, 0.0);
        assert_eq!(resumed(&keeping, &job).0.len(), 1);
        let lost = why == event::Unasked::SaidSo;
        keeping.append(event::Touched { why, by: None }).unwrap();
        let (taught, _) = keeping.resumed(&job.adjusters, &job.stations).unwrap();
        assert!(!taught.stands() && taught.rounds.last().unwrap().lost == lost, "{taught:?}");
    }
    assert_eq!(wrong.len(), 2);
}

/// Takes of constants that were written over since do not stand beside those of the new ones.
#[test]
fn takes_of_other_constants_do_not_stand_beside_the_last() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stations = taken(&job);
    let mut keeping = opened(&folder, &job);
    let before = skimgauge_procedure::trial::head();
    let mut after = before.clone();
    after.calibration.calibration.zero = skimgauge_shared::units::Micrometres(40);
    let used =
        |keeping: &Keeping| keeping.resumed(&job.adjusters, &job.stations).unwrap().0.constants;
    keeping.head_is(&before).unwrap();
    take(&mut keeping, &stations, 0, None);
    // Zeroed, and nothing taken with it yet but the look with the emitter off.
    keeping.head_is(&after).unwrap();
    assert_eq!(used(&keeping), Some(before.calibration.calibration.clone()));
    assert_eq!(resumed(&keeping, &job).0.len(), 1);
    take(&mut keeping, &stations, 1, None);
    assert_eq!(used(&keeping), Some(after.calibration.calibration.clone()));
    let stands = resumed(&keeping, &job).0;
    assert_eq!(stands, [(job.stations[1].name.clone(), 2.42)]);
}

/// Quitting and coming back makes no look a first one.
#[test]
fn looks_at_the_same_setting_are_counted_over_runs() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stations = taken(&job);
    let mut keeping = opened(&folder, &job);
    keeping.head = Some(a_head());
    let take = |keeping: &mut Keeping, at, supersedes| take(keeping, &stations, at, supersedes);
    let all = |keeping: &mut Keeping| -> Vec<Hash> {
        (0..job.stations.len()).map(|at| take(keeping, at, None)).collect()
    };
    let first = all(&mut keeping);
    assert_eq!(resumed(&keeping, &job).1, 0, "still at its first look");
    take(&mut keeping, 0, Some(first[0]));
    assert_eq!(resumed(&keeping, &job).1, 1);
    // Judged as left, and begun anew without a turn: three looks are the fourth's.
    let (takes, tilt) = keeping.standing();
    keeping.as_left(takes, tilt).unwrap();
    assert_eq!(resumed(&keeping, &job).1, 2);
    keeping.start_round(Phase::Between).unwrap();
    let again = all(&mut keeping);
    assert_eq!(resumed(&keeping, &job).1, 2);
    take(&mut keeping, 1, Some(again[1]));
    assert_eq!(resumed(&keeping, &job).1, 3);
    keeping.append(event::Touched { why: event::Unasked::SaidSo, by: None }).unwrap();
    assert_eq!(resumed(&keeping, &job).1, 0, "another setting");
}

/// The same head, simulated.
fn simulated(head: &HeadIs) -> HeadIs {
    let mut simulated = head.clone();
    let mut number = simulated.hello.serial.unwrap();
    number.0[..4].copy_from_slice(&SerialNumber::SIMULATED);
    simulated.hello.serial = Some(number);
    let as_well = simulated.hello.capabilities;
    simulated.hello.capabilities = as_well.with(Capabilities::SIMULATED);
    simulated
}

/// What a simulated head read is known by the record's own words, and never goes beside what a real
/// one read.
#[test]
fn a_simulated_heads_takes_are_kept_as_such_and_in_no_real_job() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let (stations, whole) = (taken(&job), taken(&job).whole(&job, &unsurveyed(&job)));
    let real = skimgauge_procedure::trial::head();
    let mut keeping = opened(&folder, &job);
    keeping.head_is(&simulated(&real)).unwrap();
    take(&mut keeping, &stations, 0, None);
    keeping.judged(&whole).unwrap();
    let history = keeping.record.job(&keeping.id).unwrap();
    assert_eq!(history.heads(), Heads::Simulated);
    assert!(history.takes().all(|current| current.take.head.is_simulated()));
    let practised = |event: &skimgauge_record::Event| match &event.body {
        Body::Judged(judged) => Some(judged.simulated),
        _ => None,
    };
    assert_eq!(history.events.iter().rev().find_map(practised), Some(true));
    assert_eq!((history.summary.verdict, history.last_judged()), (None, None));
    // A real head comes: nothing is kept until the work begins anew, then nothing of the practice
    // is gone on with.
    for _ in 0..2 {
        let refused = keeping.head_is(&real).unwrap_err().to_string();
        assert!(refused.contains("only practised") && refused.contains("start it again"));
    }
    let mut keeping = opened(&folder, &job);
    assert_eq!(keeping.phase, Phase::AsFound);
    let (resumed, turned) = keeping.resumed(&job.adjusters, &job.stations).unwrap();
    assert!(!turned && resumed.takes.is_empty() && resumed.rounds.is_empty());
    keeping.head_is(&real).unwrap();
    take(&mut keeping, &stations, 0, None);
    keeping.judged(&whole).unwrap();
    assert!(keeping.record.job(&keeping.id).unwrap().last_judged().is_some());
    // Nor does it judge over a board that a simulated one surveyed.
    let mut surveyed = opened(&folder, &job);
    surveyed.set_survey(Some(KnownFrom { table: Hash::of(b"heights"), practised: true }));
    let refused = surveyed.head_is(&real).unwrap_err().to_string();
    assert!(refused.contains("[survey]"), "{refused}");
    // And a simulated one is refused from now on, be it without a number.
    for refused in [simulated(&real), without_memory(simulated(&real))] {
        let refused = opened(&folder, &job).head_is(&refused).unwrap_err().to_string();
        assert!(refused.contains("--record"), "{refused}");
    }
}

/// Its memory does not answer: it has no number.
fn without_memory(mut head: HeadIs) -> HeadIs {
    head.hello.serial = None;
    head
}

#[test]
fn a_head_without_memory_counts_for_what_it_is() {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stations = taken(&job);
    let real = skimgauge_procedure::trial::head();
    for (head, counts) in [((*real).clone(), Heads::Real), (simulated(&real), Heads::Simulated)] {
        let folder = tempfile::tempdir().unwrap();
        let mut keeping = opened(&folder, &job);
        keeping.head_is(&without_memory(head)).unwrap();
        take(&mut keeping, &stations, 0, None);
        assert_eq!(keeping.record.job(&keeping.id).unwrap().heads(), counts);
    }
}

/// Judged over another table, the same verdict is news.
#[test]
fn a_verdict_names_the_survey_that_it_was_judged_over() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let whole = taken(&job).whole(&job, &unsurveyed(&job));
    let mut keeping = opened(&folder, &job);
    let tables = [None, Some(Hash::of(b"heights")), Some(Hash::of(b"others"))];
    for table in tables {
        keeping.set_survey(table.map(|table| KnownFrom { table, practised: false }));
        keeping.judged(&whole).unwrap();
        keeping.judged(&whole).unwrap();
    }
    let kept = keeping.events().unwrap();
    let kept = kept.iter().filter_map(|event| match &event.body {
        Body::Judged(judged) => Some(judged.survey_sha256),
        _ => None,
    });
    assert_eq!(Vec::from_iter(kept), tables);
}

/// Judged by another job file, the same verdict is news.
#[test]
fn a_verdict_is_kept_again_where_the_job_file_was_changed_since() {
    let folder = tempfile::tempdir().unwrap();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let whole = taken(&job).whole(&job, &unsurveyed(&job));
    opened(&folder, &job).judged(&whole).unwrap();
    let text = format!("# agreed anew\n{}", skimgauge_jobfile::demo_job());
    let path = folder.path().join("r.sqlite");
    let mut keeping = Keeping::open(&path, &job, &text, None, &SameJob::default()).unwrap();
    keeping.judged(&whole).unwrap();
    let events = keeping.record.job(&keeping.id).unwrap().events;
    assert!(matches!(events.last().unwrap().body, Body::Judged(_)), "{events:?}");
}
