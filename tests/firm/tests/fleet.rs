//! What a simulated fleet of known truth teaches, and a board found again.

use skimgauge_firm::Base;
use skimgauge_firm::learn::{COLUMNS, Figures, Lessons, csv, hear_all, page, prior};
use skimgauge_firm_tests::fleet::{Chance, Spec, id, lot, moment};
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_quantity::Units;
use skimgauge_record::carry::Store;

const DAY_S: i64 = 86_400;

/// Two models of known pitch and sense, units that differ by a known spread.
const MODELS: [(&str, [f64; 3], f64); 2] =
    [("model one", [0.5, 0.5, 0.7], 0.03), ("model two", [-0.8, -0.8, -0.8], 0.05)];

/// The jobs of a fleet: 60 of each model, four heads.
fn fleet() -> Vec<Spec> {
    let mut chance = Chance::new(7);
    let mut specs = Vec::new();
    for number in 0..120_u64 {
        let (model, pitch, spread) = MODELS[usize::try_from(number % 2).unwrap()];
        let advance_mm = pitch.map(|pitch| pitch + spread * chance.normal());
        specs.push(Spec {
            number,
            name: format!("job {number}"),
            client: format!("client {}", number % 40),
            place: "hall".to_owned(),
            emitter: model.to_owned(),
            advance_mm,
            head: format!("SG-{}", number % 4),
            seat_mm: if number % 4 == 3 { 0.06 } else { 0.02 },
            begins_s: i64::try_from(number).unwrap() * DAY_S,
            slips: number % 10 == 0,
            rounds: 4,
            ..Spec::default()
        });
    }
    // One unit of model one was fitted the other way round.
    let reversed = &mut specs[4].advance_mm;
    *reversed = reversed.map(|advance| -advance);
    specs
}

fn taught(specs: &[Spec]) -> Figures {
    let mut lessons = Lessons::default();
    for spec in specs {
        lessons.hear(&lot(spec).branches[0], None);
    }
    lessons.learnt()
}

#[test]
fn pitch_sense_and_spread_of_each_model_come_out() {
    let figures = taught(&fleet());
    for (model, pitch, spread) in MODELS {
        let found = figures.emitters.iter().find(|emitter| emitter.model == model).unwrap();
        assert_eq!(found.jobs, 60);
        let names: Vec<&str> = found.adjusters.iter().map(|a| a.name.as_str()).collect();
        assert_eq!(names, ["left", "right", "upper"]);
        for (adjuster, truth) in found.adjusters.iter().zip(pitch) {
            let off = adjuster.pitch_mm - f64::abs(truth);
            // The simulated units are a sample: their own mean is off by spread / sqrt(60).
            assert!(off.abs() < 4.0 * adjuster.u_pitch_mm, "{model} {adjuster:?}");
            assert!(adjuster.u_pitch_mm < 2.0 * spread / 60_f64.sqrt(), "{model} {adjuster:?}");
            let ratio = adjuster.spread_mm / spread;
            assert!((0.6..1.5).contains(&ratio), "{model} {adjuster:?}");
            assert_eq!(adjuster.clockwise, if truth > 0.0 { "out" } else { "in" });
            assert_eq!(adjuster.other_way, usize::from(model == "model one"));
            assert_eq!(adjuster.stated_mm, 0.5);
        }
        let lines = prior(&figures, &model.to_uppercase()).unwrap();
        assert_eq!(lines.matches("[[adjuster]]").count(), 3);
        // The lines are such as a job file takes.
        let clockwise = if pitch[0] > 0.0 { "clockwise = \"out\"" } else { "clockwise = \"in\"" };
        assert!(lines.contains(clockwise) && lines.contains("pitch = \"0."), "{lines}");
    }
    assert_eq!(prior(&figures, "another"), None);
    // Turns that slipped are noticed, and teach no pitch.
    let slips = figures.faults.iter().find(|fault| fault.what == "slips").unwrap();
    assert_eq!((slips.of, slips.count, slips.jobs), ("turn", 12, 12));
}

#[test]
fn seats_time_and_rounds_come_out_by_head_and_nothing_of_a_person() {
    let figures = taught(&fleet());
    assert_eq!((figures.jobs.count, figures.jobs.verdicts), (120, [120, 0, 0, 0]));
    for head in &figures.heads {
        let truth = if head.serial == "SG-3" { 0.06 } else { 0.02 };
        let seats = head.seats.unwrap();
        assert!(seats.dof >= 50, "{seats:?}");
        // Within four standard deviations of a standard deviation of so many degrees of freedom.
        let off = (seats.sd_mm / truth - 1.0).abs() * (2.0 * seats.dof as f64).sqrt();
        assert!(off < 4.0, "{} {seats:?}", head.serial);
    }
    let rounds = figures.jobs.rounds.unwrap();
    assert_eq!((rounds.low, rounds.middle, rounds.high), (4.0, 4.0, 4.0));
    let minutes = figures.jobs.minutes.unwrap().middle;
    assert!((5.0..30.0).contains(&minutes), "{minutes}");
    let json = serde_json::to_string(&figures).unwrap();
    assert!(!json.contains("Oakes") && figures.crews.is_empty());
    let mut table = Vec::new();
    csv(&figures, &mut table).unwrap();
    let table = String::from_utf8(table).unwrap();
    assert!(table.starts_with(&COLUMNS.join(",")) && !table.contains("Oakes"));
    assert!(
        table.contains("emitter,model two,left,pitch,60,0.7")
            || table.contains("emitter,model two,left,pitch,60,0.8")
    );
    let page = page(&figures, Units::Mm);
    assert!(!page.contains("Oakes") && page.contains("model two") && page.contains("SG-3"));
}

/// A head whose zero wanders by a fortieth of a millimetre at each zeroing is named before it has
/// moved by a quarter of one; one that only scatters is not.
#[test]
fn a_head_that_drifts_is_named_before_it_lies() {
    let zeroed = |serial: &str, drift: f64, seed: u64, many: u64| -> Vec<Spec> {
        let mut chance = Chance::new(seed);
        (0..many)
            .map(|number| Spec {
                number: 1000 * seed + number,
                head: serial.to_owned(),
                zero_mm: -0.12 + drift * number as f64 + 0.006 * chance.normal(),
                zeroed: moment(i64::try_from(number).unwrap() * 30 * DAY_S).to_string()[..10]
                    .to_owned(),
                rounds: 1,
                ..Spec::default()
            })
            .collect()
    };
    let named = |specs: &[Spec]| {
        (5..=specs.len()).find(|many| !taught(&specs[..*many]).heads[0].signs.is_empty())
    };
    for seed in 1..=5 {
        let at = named(&zeroed("SG-9", 0.025, seed, 14)).unwrap();
        assert!(0.025 * (at - 1) as f64 <= 0.25, "seed {seed}: named at zero {at}");
    }
    let calm: Vec<Spec> = zeroed("SG-8", 0.0, 3, 12);
    let figures = taught(&calm);
    assert!(figures.heads[0].signs.is_empty(), "{:?}", figures.heads[0].signs);
    let limits = figures.heads[0].limits.unwrap();
    assert!(limits.lower_mm < -0.12 && limits.upper_mm > -0.12);
    let drifting = taught(&zeroed("SG-9", 0.025, 1, 14));
    let page = page(&drifting, Units::Mm);
    assert!(page.contains("Look at this head") && page.contains("upper limit"));
}

/// Through the database: a job whose chain breaks teaches nothing, and is named; crews only where
/// asked.
#[test]
fn a_fleet_in_the_database_teaches_the_same() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    let specs: Vec<Spec> = fleet().into_iter().take(12).collect();
    for spec in &specs {
        base.put(&lot(spec)).unwrap();
    }
    let there = hear_all(&mut base, false).unwrap().learnt();
    let here = taught(&specs);
    assert_eq!(there.emitters.len(), here.emitters.len());
    for (a, b) in there.emitters.iter().zip(&here.emitters) {
        for (a, b) in a.adjusters.iter().zip(&b.adjusters) {
            assert!((a.pitch_mm - b.pitch_mm).abs() < 1e-9, "{a:?} {b:?}");
        }
    }
    assert_eq!((there.heads.len(), there.jobs.count, there.crews.len()), (here.heads.len(), 12, 0));
    server
        .admin("jobs")
        .batch_execute(&format!(
            "ALTER TABLE skimgauge.event DISABLE TRIGGER USER; UPDATE skimgauge.event SET who = 'x' WHERE depth = 5 AND job = '\\x{}'",
            id(0)
        ))
        .unwrap();
    let by_crew = hear_all(&mut base, true).unwrap().learnt();
    assert_eq!((by_crew.jobs.count, by_crew.jobs.broken.clone()), (11, vec!["job 0".to_owned()]));
    assert_eq!(
        (by_crew.crews.len(), by_crew.crews[0].crew.as_str(), by_crew.crews[0].jobs),
        (1, "postgres", 11)
    );
}
