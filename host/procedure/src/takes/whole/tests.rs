use super::*;
use crate::takes::{EmitterTilt, unsurveyed};
use crate::word::Stop;
use skimgauge_bench::head::Seating;
use skimgauge_bench::noise::Noise;
use skimgauge_metrology::measure::{Part, Source, Take};
use skimgauge_quantity::{Sentence, Style};

/// What the bench's feet, 0.012 mm uneven on a wiped face, lean a head by over its stance of 40 mm.
const WIPED_LEAN_DEG: f64 = 0.02;

fn job() -> Job {
    Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap()
}

const SOLID: &str = "\n[board]\nkind = \"solid\"\n";

/// Of a board that does not bulge by as much as would matter in the practice job's band.
fn solid() -> Job {
    Job::parse("demo.toml", &format!("{}{SOLID}", skimgauge_jobfile::demo_job())).unwrap()
}

fn seat(gap_mm: f64) -> Take {
    let part = |source, effect_mm| Part { source, effect_mm, dof: None };
    Take {
        gap_mm,
        u_mm: 0.06,
        dof: None,
        parts: vec![part(Source::Seating, 0.05), part(Source::Zero, 0.03)],
        readings: 41,
        window_s: 0.4,
        head_at_s: 1.0,
        stand_off_mm: 27.0,
        middle_mm: 2.6,
        sheet_mm: Some(1.5),
        level_deg: 0.05,
        lean_deg: -0.02,
        tilt_u_deg: 0.01,
        temperature_c: Some(20.0),
        notices: Vec::new(),
    }
}

fn take(stations: &mut Stations, job: &Job, name: &str, gap_mm: f64, anew: bool) {
    let at = at(stations, name);
    let kept = stations.with(at, seat(gap_mm), false, job.bands.gap).unwrap();
    if anew { stations.keep_anew(at, kept) } else { stations.keep(at, kept) }
}

/// Takes at these stations of the practice job, over a plane in the middle of the band.
fn taken(job: &Job, names: &[&str]) -> Stations {
    let mut stations = Stations::of(job);
    for station in job.stations.iter().filter(|station| names.contains(&station.name.as_str())) {
        take(&mut stations, job, &station.name, 2.5 + 0.0001 * station.at.x.0, false);
    }
    stations.keep_emitter(EmitterTilt {
        level_deg: 0.05,
        lean_deg: 0.06,
        u_deg: 0.01,
        own_u_deg: 0.01,
    });
    stations
}

fn all(job: &Job) -> Vec<&str> {
    job.stations.iter().map(|station| station.name.as_str()).collect()
}

fn at(stations: &Stations, name: &str) -> usize {
    let Some(Stop::Station(at)) = stations.named(name) else { panic!("no {name}") };
    at
}

fn text(says: &Sentence) -> String {
    says.text(Style::default())
}

fn because(whole: &Whole, job: &Job) -> String {
    text(&whole.because(job.bands.gap, job.image))
}

fn whole(stations: &Stations, job: &Job) -> Whole {
    stations.whole(job, &unsurveyed(job))
}

#[test]
fn within_speaks_of_the_places_read() {
    let job = solid();
    let found = whole(&taken(&job, &all(&job)), &job);
    assert_eq!(found.verdict, Verdict::Within, "{}", because(&found, &job));
    assert_eq!(
        text(&found.headline()),
        "within at the 9 places read; between them it is reckoned, nothing was read"
    );
    assert_eq!(because(&found, &job), "");
    // A dent or bump that would take the gap out of the band is one that boards have.
    let narrower = skimgauge_jobfile::demo_job()
        .replace("[\"1.0 mm\", \"4.0 mm\"]", "[\"1.5 mm\", \"3.5 mm\"]");
    let job = Job::parse("demo.toml", &format!("{narrower}{SOLID}")).unwrap();
    let found = whole(&taken(&job, &all(&job)), &job);
    assert_eq!(
        text(&found.headline()),
        "within at the 9 places read; between them it is reckoned, nothing was read; a dent or bump narrower than \
         1130 mm and higher or deeper than 0.90 mm would not have been seen: nobody has run a straightedge over the board"
    );
}

#[test]
fn contradicting_takes_are_neither_within_nor_outside_and_the_odd_one_is_named() {
    let job = solid();
    // In the band, and far out of it.
    for misread_mm in [3.5, 9.0] {
        let mut stations = taken(&job, &all(&job));
        take(&mut stations, &job, "top left", misread_mm, true);
        let found = whole(&stations, &job);
        assert_eq!((found.verdict, &found.out), (Verdict::Unsure, &None));
        assert_eq!(
            (found.told(Verdict::Within), found.told(Verdict::Outside)),
            (Verdict::Unsure, Verdict::Unsure)
        );
        let says = because(&found, &job);
        assert!(
            says.contains("contradict one another") && says.contains("read top left again"),
            "{says}"
        );
        assert!(!text(&found.headline()).contains("within"));
        // Right the second time: nothing is left of it.
        let mut mended = stations.clone();
        take(&mut mended, &job, "top left", 2.41, true);
        assert_eq!(whole(&mended, &job).verdict, Verdict::Within);
        // The same again from the same seat says nothing. From another it does, but for the first,
        // which differs; from a third it is the board.
        take(&mut stations, &job, "top left", misread_mm + 0.02, false);
        assert!(stations.came_back().is_empty());
        take(&mut stations, &job, "top left", misread_mm + 0.03, true);
        assert!(stations.came_back().is_empty());
        assert!(because(&whole(&stations, &job), &job).contains("read top left again"));
        take(&mut stations, &job, "top left", misread_mm + 0.01, true);
        assert_eq!(stations.came_back(), ["top left"]);
        let found = whole(&stations, &job);
        let out = misread_mm > job.bands.gap.high.0;
        assert_eq!(found.verdict, if out { Verdict::Outside } else { Verdict::Unsure });
        let says = because(&found, &job);
        let asked = if out { "at top left lies above the band" } else { "skimgauge survey" };
        assert!(says.contains(asked), "{says}");
        assert_eq!(found.told(Verdict::Within), Verdict::Unsure);
    }
}

/// A take that contradicts the others goes into the record without a verdict.
#[test]
fn a_take_that_contradicts_the_others_is_told_as_neither() {
    let job = job();
    let board = unsurveyed(&job);
    let stations = taken(&job, &all(&job));
    let at = at(&stations, "top left");
    for (gap_mm, own, told) in [
        (2.41, Verdict::Within, Verdict::Within),
        (3.5, Verdict::Within, Verdict::Unsure),
        (9.0, Verdict::Outside, Verdict::Unsure),
    ] {
        let kept = stations.with(at, seat(gap_mm), false, job.bands.gap).unwrap();
        assert_eq!(
            (kept.verdict, stations.told_with(at, &kept, &job, &board)),
            (own, told),
            "{gap_mm}"
        );
    }
}

#[test]
fn a_new_round_forgets_what_came_back() {
    let job = job();
    let mut stations = taken(&job, &all(&job));
    for _ in 0..3 {
        take(&mut stations, &job, "top", 3.5, true);
    }
    assert_eq!(stations.came_back(), ["top"]);
    stations.clear();
    take(&mut stations, &job, "top", 3.5, true);
    assert!(stations.came_back().is_empty());
}

#[test]
fn three_stations_are_never_within_however_many_seats() {
    let text = skimgauge_jobfile::demo_job()
        .replace("level = [\"-0.2 deg\", \"0.2 deg\"]", "")
        .replace("lean = [\"-0.2 deg\", \"0.2 deg\"]", "");
    let mut job = Job::parse("demo.toml", &text).unwrap();
    job.bands.gap = Band { low: Mm(-20.0), high: Mm(20.0) };
    job.stations
        .retain(|station| ["top left", "top right", "bottom"].contains(&station.name.as_str()));
    let mut stations = taken(&job, &all(&job));
    for name in ["top left", "top right", "bottom"] {
        let at = at(&stations, name);
        for _ in 0..3 {
            let gap_mm = 2.5 + 0.0001 * job.stations[at].at.x.0;
            let kept = stations.with(at, seat(gap_mm), true, job.bands.gap).unwrap();
            stations.keep(at, kept);
        }
    }
    let found = whole(&stations, &job);
    assert_eq!((found.verdict, &found.one_more), (Verdict::Unsure, &None));
    assert!(because(&found, &job).contains("take one more"), "{}", because(&found, &job));
    // With stations left in the job, the one that would settle it.
    let job = Job { bands: job.bands, ..self::job() };
    let stations = taken(&job, &["top left", "top right", "bottom"]);
    let found = whole(&stations, &job);
    let fourth = found.one_more.clone().unwrap();
    assert!(fourth.starts_with("bottom "), "{fourth}");
    let says = because(&found, &job);
    assert!(says.contains(&format!("take {fourth} (about 20 seconds, helps ")), "{says}");
}

/// What the places read show is not all: a board may stray between them, and what would settle it
/// is offered with its time and its chance.
#[test]
fn a_narrow_band_is_unsure_between_the_places_until_the_board_is_surveyed() {
    let text = skimgauge_jobfile::demo_job()
        .replace("[\"1.0 mm\", \"4.0 mm\"]", "[\"1.7 mm\", \"3.3 mm\"]");
    let job = Job::parse("demo.toml", &text).unwrap();
    let stations = taken(&job, &all(&job));
    let found = whole(&stations, &job);
    assert_eq!(found.verdict, Verdict::Unsure);
    let Some(Settles { by: Settling::Survey(places), seconds, chance }) = &found.settles else {
        panic!("{:?}", found.settles)
    };
    assert!(*places > 9 && *seconds > 30.0 && (0.05..1.0).contains(chance), "{found:?}");
    let says = because(&found, &job);
    assert!(says.contains("between the places read") && says.contains("survey "), "{says}");
    assert!(says.contains("about ") && says.contains("times in 10"), "{says}");
    // A solid board does not stray so, where its middle is read; a board taken as flat not at all.
    let solid = Job::parse("demo.toml", &format!("{text}{SOLID}")).unwrap();
    assert_eq!(whole(&stations, &solid).verdict, Verdict::Within);
    assert_eq!(stations.whole(&job, &Board::flat()).verdict, Verdict::Within);
    // A line of light that stays with the emitter off may be what was read.
    let mut lit = stations.clone();
    lit.line_stays(true);
    let found = whole(&lit, &job);
    assert_eq!(found.verdict, Verdict::Unsure);
    assert!(because(&found, &job).contains("a line of light stayed"), "{found:?}");
}

/// Whoever looks until it passes is right less often.
#[test]
fn looking_again_and_again_is_counted() {
    let job = job();
    let mut stations = taken(&job, &all(&job));
    assert_eq!(stations.looks(), 1);
    for _ in 0..4 {
        take(&mut stations, &job, "top", 2.5, true);
    }
    assert_eq!(stations.looks(), 5);
    stations.clear();
    assert_eq!(stations.looks(), 1);
}

/// Level and lean are a difference: what the emitter shows less what the board shows, once.
#[test]
fn level_and_lean_are_the_emitters_less_the_boards() {
    let job = job();
    let found = whole(&taken(&job, &all(&job)), &job);
    let level = found.level.unwrap().unwrap();
    assert!((level.emitter_deg - 0.05).abs() < 1e-12 && (level.board_deg - 0.05).abs() < 1e-12);
    assert!(level.value_deg.abs() < 1e-12);
    let lean = found.lean.unwrap().unwrap();
    assert!(
        (lean.value_deg - (lean.emitter_deg - lean.board_deg)).abs() < 1e-15
            && lean.value_deg > 0.07
    );
}

/// Heads clipped on anew in the bench's scatter of seats: the intervals of level and lean hold the
/// truth nineteen times in twenty, on a flat board and on a bent one, whose lean is another at each
/// station.
#[test]
fn level_and_lean_are_as_sure_as_seats_let_them_be() {
    let job = job();
    let band = job.bands.lean.unwrap();
    let mut noise = Noise::new(7, 0);
    for bend_deg in [0.0, 0.1] {
        let mut held = [0; 2];
        let jobs = 2_000;
        for _ in 0..jobs {
            let mut stations = Stations::of(&job);
            for at in 0..job.stations.len() {
                let mut seated = seat(2.5);
                let lean_deg = noise.normal(bend_deg);
                seated.level_deg = 0.1 + noise.normal(Seating::WIPED.level_deg);
                seated.lean_deg = lean_deg + noise.normal(WIPED_LEAN_DEG);
                seated.tilt_u_deg = 0.003;
                let kept = stations.with(at, seated, false, job.bands.gap).unwrap();
                stations.keep(at, kept);
            }
            let level_deg = 0.15 + noise.normal(Seating::WIPED.level_deg);
            let lean_deg = 0.05 + noise.normal(WIPED_LEAN_DEG);
            let own_u_deg = 0.003;
            stations.keep_emitter(EmitterTilt { level_deg, lean_deg, u_deg: 0.01, own_u_deg });
            for (nth, is_level) in [true, false].into_iter().enumerate() {
                let tilt = stations.tilt(band, is_level).unwrap();
                held[nth] += u32::from((tilt.value_deg - 0.05).abs() <= tilt.expanded_deg);
            }
        }
        let [level, lean] = held.map(|held| f64::from(held) / f64::from(jobs));
        assert!((0.93..0.99).contains(&level) && (0.93..0.99).contains(&lean), "{level} {lean}");
    }
}

/// Seats that scatter by more than is stated of them (0.05 mm) widen the takes at every station, not
/// only where they were seen; as stated they are left as they are.
#[test]
fn seats_that_scatter_more_than_stated_are_reckoned_with_everywhere() {
    let job = job();
    let seated = |scatter_mm: f64| {
        let mut stations = taken(&job, &all(&job));
        for name in ["top left", "bottom", "right"] {
            for sign in [1.0, -1.0, 1.0] {
                let at = at(&stations, name);
                let gap_mm = stations.rows().nth(at).unwrap().1.unwrap().take.gap_mm;
                let beside = seat(gap_mm + sign * scatter_mm);
                let kept = stations.with(at, beside, true, job.bands.gap).unwrap();
                stations.keep(at, kept);
            }
        }
        stations
    };
    let u_mm = |stations: &Stations| {
        let gaps = stations.observations().gaps;
        gaps.iter().find(|gap| gap.station.as_deref() == Some("left")).unwrap().u_mm
    };
    let as_stated = seated(0.04);
    assert!(!as_stated.seating().unwrap().is_worse);
    assert!((u_mm(&as_stated) - 0.05).abs() < 1e-9, "{}", u_mm(&as_stated));
    let wild = seated(0.16);
    let seating = wild.seating().unwrap();
    assert!(seating.is_worse && seating.shown_mm.unwrap() > 0.1, "{seating:?}");
    assert!((u_mm(&wild) - seating.u_mm).abs() < 1e-9, "{} {seating:?}", u_mm(&wild));
    assert!(taken(&job, &all(&job)).seating().is_none());
}
