//! A simulated fleet: jobs of known truth, event by event as a crew's laptop would have written them.
//! Clients, places, numbers are invented.

use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use skimgauge_jobfile::JobFile;
use skimgauge_model::{Adjuster, Station};
use skimgauge_quantity::{Mm, Turns};
use skimgauge_record::carry::Lot;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    AsLeft, Body, CalibrationUsed, Came, Closed, Detail, Head, JobOpened, Judged, JudgedAt, Phase,
    Take, TurnAdvised, TurnFlag, TurnObserved, Verdict,
};
use skimgauge_record::{JobId, Stamp, StoredRow, When};

/// One job as it is meant to be.
#[derive(Debug, Clone)]
pub struct Spec {
    /// Which job, among those of a fleet.
    pub number: u64,
    /// Its name.
    pub name: String,
    /// For whom.
    pub client: String,
    /// Where.
    pub place: String,
    /// Who.
    pub who: String,
    /// The emitter's model.
    pub emitter: String,
    /// Advance of each adjuster for one clockwise turn, mm, outward positive: the truth of this unit.
    pub advance_mm: [f64; 3],
    /// The head's serial number.
    pub head: String,
    /// Its zero.
    pub zero_mm: f64,
    /// The day of that zero.
    pub zeroed: String,
    /// Scatter from seat to seat, standard deviation.
    pub seat_mm: f64,
    /// When it is begun, seconds after the year 2026 has.
    pub begins_s: i64,
    /// How many rounds.
    pub rounds: u32,
    /// Whether an adjuster slips in the first round.
    pub slips: bool,
    /// Whether it is closed at the end.
    pub closes: bool,
}

impl Default for Spec {
    fn default() -> Self {
        Self {
            number: 1,
            name: "reading room".to_owned(),
            client: "Larch Lane Library".to_owned(),
            place: "north wall".to_owned(),
            who: "R. Oakes".to_owned(),
            emitter: "practice emitter".to_owned(),
            advance_mm: [0.5; 3],
            head: "SG-0007".to_owned(),
            zero_mm: -0.12,
            zeroed: "2026-01-02".to_owned(),
            seat_mm: 0.02,
            begins_s: 0,
            rounds: 2,
            slips: false,
            closes: true,
        }
    }
}

/// Numbers by chance that come again.
#[derive(Debug)]
pub struct Chance(Pcg64);

impl Chance {
    /// From this seed.
    pub fn new(seed: u64) -> Self {
        Self(Pcg64::seed_from_u64(seed))
    }

    /// From 0 to below 1.
    pub fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.share(), self.share());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// Below an end.
    pub fn below(&mut self, end: u64) -> u64 {
        self.0.next_u64() % end
    }
}

/// The moment so many seconds after the year 2026 has begun.
///
/// # Panics
/// It is beyond any calendar.
pub fn moment(seconds: i64) -> When {
    let (days, rest) = (seconds.div_euclid(86_400), seconds.rem_euclid(86_400));
    let (mut year, mut day) = (2026, days);
    let length =
        |year: i64| if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) { 366 } else { 365 };
    while day >= length(year) {
        day -= length(year);
        year += 1;
    }
    while day < 0 {
        year -= 1;
        day += length(year);
    }
    let months = [31, length(year) - 337, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut month = 0;
    while day >= months[month] {
        day -= months[month];
        month += 1;
    }
    let (h, m, s) = (rest / 3600, rest / 60 % 60, rest % 60);
    let text = format!("{year:04}-{:02}-{:02}T{h:02}:{m:02}:{s:02}+00:00", month + 1, day + 1);
    When::parse(&text).expect("a moment")
}

/// The job file of a job.
pub fn job_file(spec: &Spec) -> String {
    skimgauge_jobfile::demo_job()
        .replace("name = \"practice wall\"", &format!("name = \"{}\"", spec.name))
        .replace("Larch Lane Library", &spec.client)
        .replace("workshop room, ground floor, north wall", &spec.place)
        .replace("R. Oakes", &spec.who)
        .replace("model = \"practice emitter\"", &format!("model = \"{}\"", spec.emitter))
}

/// A chain of events in the making.
struct Chain {
    rows: Vec<StoredRow>,
    who: String,
    now_s: i64,
}

impl Chain {
    fn put(&mut self, after_s: i64, body: impl Into<Body>) -> Hash {
        self.now_s += after_s;
        let stamp = Stamp::new(moment(self.now_s), &self.who, "skimgauge 0.1.0").expect("a stamp");
        let seq = u32::try_from(self.rows.len() + 1).expect("few");
        let parents = self.rows.last().map(|row| row.hash).into_iter().collect();
        let row = StoredRow::made(seq, &stamp, &body.into(), parents).expect("an event");
        self.rows.push(row);
        self.rows[self.rows.len() - 1].hash
    }
}

/// The identity of a job of a fleet.
pub fn id(number: u64) -> JobId {
    let hash = Hash::of(&number.to_be_bytes());
    JobId::of_first(hash)
}

/// What a room and a hand do in a job.
struct Work<'a> {
    spec: &'a Spec,
    chance: Chance,
    chain: Chain,
    stations: Vec<Station>,
    adjusters: [Adjuster; 3],
    /// How far out each adjuster holds the emitter, mm, as it truly is.
    heights: [f64; 3],
    head: Head,
}

impl Work<'_> {
    /// On the plane through the three adjusters' ends, by Cramer's rule.
    fn gap(&self, station: &Station) -> f64 {
        let rows = [0, 1, 2].map(|i| [1.0, self.adjusters[i].at.x.0, self.adjusters[i].at.y.0]);
        let whole = determinant(rows);
        let [c, p, q] = [0, 1, 2].map(|column| {
            let mut changed = rows;
            (0..3).for_each(|i| changed[i][column] = self.heights[i]);
            determinant(changed) / whole
        });
        c + p * station.at.x.0 + q * station.at.y.0
    }

    fn take(&mut self, station: usize, phase: Phase, round: u32) -> Hash {
        let station = self.stations[station].clone();
        let seen = self.gap(&station) + self.spec.seat_mm * self.chance.normal();
        self.chain.put(
            25,
            Take {
                station: station.name,
                x: station.at.x,
                y: station.at.y,
                phase,
                round,
                gap: Mm(seen),
                u_gap: Mm(0.004),
                dof: Some(20.0),
                readings: 200,
                window_s: 2.0,
                tilt: None,
                level: None,
                lean: None,
                temperature: None,
                verdict: None,
                head: self.head.clone(),
                flags: Vec::new(),
                supersedes: None,
                came: Some(Came::Seen),
                by: None,
            },
        )
    }

    /// Turns one adjuster by `turns`, watched at a station.
    fn turn(&mut self, at: usize, turns: f64, round: u32, slips: bool) {
        let station = self.stations[self.stations.len() / 2].clone();
        let advice = self.chain.put(
            20,
            TurnAdvised {
                adjuster: self.adjusters[at].name.clone(),
                turns: Turns(turns),
                station: Some(station.name.clone()),
                target_gap: Some(Mm(2.5)),
                round,
            },
        );
        let before = self.gap(&station) + 0.004 * self.chance.normal();
        // A hand stops within 15 degrees of what it counts.
        let hand = turns + (2.0 * self.chance.share() - 1.0) / 24.0;
        let held = if slips { 0.2 * hand } else { hand };
        self.heights[at] += held * self.spec.advance_mm[at];
        let after = self.gap(&station) + 0.004 * self.chance.normal();
        let flags = if slips { vec![TurnFlag::Slips] } else { Vec::new() };
        self.chain.put(
            15,
            TurnObserved {
                adjuster: self.adjusters[at].name.clone(),
                advice: Some(advice),
                turns: Some(Turns(turns)),
                station: Some(station.name),
                gap_before: Some(Mm(before)),
                gap_after: Some(Mm(after)),
                gap_predicted: None,
                flags,
                by: None,
            },
        );
    }

    fn judged(&mut self, phase: Phase, verdict: Verdict) {
        let places = self.stations.iter().map(|station| station.name.clone()).collect();
        self.chain.put(
            2,
            Judged {
                verdict,
                phase,
                worst: None,
                worst_gap: None,
                margin: None,
                expanded_u: None,
                decision_rule: "inside the band by more than the uncertainty".to_owned(),
                would_settle: None,
                simulated: false,
                survey_sha256: None,
                judged_at: Some(JudgedAt::Places(places)),
                detail: Detail::default(),
            },
        );
    }
}

fn determinant([a, b, c]: [[f64; 3]; 3]) -> f64 {
    a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
}

/// The job opened, and the calibration in use.
fn open(chain: &mut Chain, spec: &Spec, text: String, head: Head) {
    chain.put(
        0,
        JobOpened {
            id: id(spec.number),
            name: spec.name.clone(),
            job_file_sha256: Hash::of(text.as_bytes()),
            job_file: text,
        },
    );
    chain.put(
        60,
        CalibrationUsed {
            head,
            zero: Mm(spec.zero_mm),
            u_zero: Mm(0.01),
            dof: None,
            constants: serde_json::json!({}),
        },
    );
}

/// The events of a job, in their order.
///
/// # Panics
/// The spec is none of a job.
pub fn rows(spec: &Spec) -> Vec<StoredRow> {
    let text = job_file(spec);
    let job = JobFile::read("fleet", &text).expect("a job file");
    let adjusters: [Adjuster; 3] = job.adjusters.clone().try_into().expect("three adjusters");
    let head = Head {
        serial: spec.head.clone(),
        firmware: "0.1.0".to_owned(),
        calibration_date: Some(spec.zeroed.clone()),
        calibration_sha256: Some(Hash::of(format!("{}{}", spec.head, spec.zero_mm).as_bytes())),
    };
    let mut chance = Chance::new(spec.number);
    let heights = [0; 3].map(|_| 2.5 + 0.05 * chance.normal());
    let mut work = Work {
        spec,
        chance,
        chain: Chain { rows: Vec::new(), who: spec.who.clone(), now_s: spec.begins_s },
        stations: job.stations.clone(),
        adjusters,
        heights,
        head: head.clone(),
    };
    open(&mut work.chain, spec, text, head);
    let stations = work.stations.len();
    let mut left = Vec::new();
    for round in 1..=spec.rounds {
        let phase = if round == 1 { Phase::AsFound } else { Phase::Between };
        left = (0..stations).map(|station| work.take(station, phase, round)).collect();
        // One more seat at one of them.
        let again = work.take(usize::try_from(round).expect("few") % stations, phase, round);
        left.push(again);
        if round == 1 {
            work.judged(Phase::AsFound, Verdict::Outside);
        }
        if round < spec.rounds {
            for at in 0..3 {
                let turns = 0.25 + 0.5 * work.chance.share();
                let turns = if work.chance.share() < 0.5 { -turns } else { turns };
                work.turn(at, turns, round, spec.slips && round == 1 && at == 0);
            }
        }
    }
    work.chain.put(5, AsLeft { takes: left, tilt: None });
    work.judged(Phase::AsLeft, Verdict::Within);
    if spec.closes {
        work.chain.put(60, Closed { verdict: Some(Verdict::Within), open_points: Vec::new() });
    }
    work.chain.rows
}

/// The same as a lot.
///
/// # Panics
/// It does not hold.
pub fn lot(spec: &Spec) -> Lot {
    Lot::checked(id(spec.number), "a laptop", rows(spec)).expect("it holds")
}
