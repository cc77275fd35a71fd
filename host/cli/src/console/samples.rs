//! Views made up for the tests of their renderings: one for each state that looks different.

use skimgauge_metrology::budget::{Budget, Distribution, Entry};
use skimgauge_metrology::measure::{Came, EyeView, Fault, State as Settle};
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_metrology::zero::{Change, Outcome, Residual, Step};
use skimgauge_model::{Bands, Image, Place, Point, Station, Verdict};
use skimgauge_procedure::birth::Found;
use skimgauge_procedure::view::birth::{BirthSees, BirthStep, BirthView};
use skimgauge_procedure::view::board::{Field, Spot};
use skimgauge_procedure::view::emitter_off::EmitterOffView;
use skimgauge_procedure::view::level::{AxisFound, LevelFound, LevelView, Line};
use skimgauge_procedure::view::survey::SurveyView;
use skimgauge_procedure::view::trim::{AdjusterView, Advice, TrimView, TurnView, WatchedView};
use skimgauge_procedure::view::zero::{Sees, StepView, ZeroView};
use skimgauge_procedure::view::{
    Aim, EmitterView, LinkView, Live, Offer, Part, PlaceView, Question, Reading, State,
    StationView, TakenView, TiltJudged, TiltView, WholeView,
};
use skimgauge_procedure::{Message, Stop, View, Word};
use skimgauge_quantity::{Band, Celsius, Deg, Mm, MmPerM, Name, Sentence, Turns, say};
use skimgauge_session::Counts;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::SerialNumber;

const NAMES: [&str; 8] =
    ["top left", "top", "top right", "right", "bottom right", "bottom", "bottom left", "left"];
const SPOTS: [(f64, f64); 8] = [
    (-950.0, -20.0),
    (0.0, -20.0),
    (950.0, -20.0),
    (950.0, -632.0),
    (950.0, -1245.0),
    (0.0, -1245.0),
    (-950.0, -1245.0),
    (-950.0, -632.0),
];
const IMAGE: Image = Image { width: Mm(2000.0), height: Mm(1265.0) };
const BAND: Band<Mm> = Band { low: Mm(1.0), high: Mm(4.0) };

/// Every sample under the name of its file.
pub(crate) fn all() -> Vec<(&'static str, View)> {
    vec![
        ("waiting", waiting()),
        ("nothing taken", nothing_taken()),
        ("good", good()),
        ("still elsewhere", still_elsewhere()),
        ("outside above 10 mm", above_10_mm()),
        ("doubtful", doubtful()),
        ("absent", absent()),
        ("question", question()),
        ("lost", lost()),
        ("emitter", emitter()),
        ("emitter off", emitter_off()),
        ("over", over()),
        ("trim clip", trim_clip()),
        ("trim turn", trim_turn()),
        ("trim begin", trim_begin()),
        ("trim contradicts", trim_contradicts()),
        ("survey", survey()),
        ("level", level()),
        ("first start", first_start()),
        ("zero", zero()),
        ("zero constants", zero_constants()),
        ("foreign names", foreign_names()),
    ]
}

fn offers(words: &[(Word, &'static str)]) -> Vec<Offer> {
    words.iter().map(|(word, does)| Offer { word: *word, does: (*does).into() }).collect()
}

fn station(index: usize, taken_mm: Option<f64>) -> StationView {
    let (x, y) = SPOTS[index % SPOTS.len()];
    let taken = taken_mm.map(|gap_mm| TakenView {
        gap: Mm(gap_mm),
        u: Mm(0.045),
        expanded: Mm(0.09),
        dof: Some(40.0),
        verdict: match gap_mm {
            gap if gap > 4.1 => Verdict::Outside,
            gap if gap > 3.9 => Verdict::Unsure,
            _ => Verdict::Within,
        },
        seats: if index == 1 { 2 } else { 1 },
        last: Mm(gap_mm),
        differ: None,
        readings: 50,
        window_s: 0.5,
        came: Came::Seen,
    });
    StationView {
        name: NAMES[index % NAMES.len()].to_owned(),
        at: Point { x: Mm(x), y: Mm(y) },
        index,
        here: false,
        taken,
    }
}

fn live(gap: Reading<Mm>, verdict: Option<Verdict>) -> Live {
    Live {
        gap,
        verdict,
        level: Reading::Good { value: Deg(0.05), u: Deg(0.01) },
        lean: Reading::Good { value: Deg(-0.12), u: Deg(0.01) },
        state: Settle::Settled,
        says: "settled: take it".into(),
        can_take: gap.good().is_some(),
        rests: true,
        eye: Some(EyeView {
            middle_mm: 2.6,
            width_mm: Some(1.5),
            height: Some(0.5),
            room: Some(0.03),
            mirrored: false,
        }),
        stand_off: Some(Mm(33.0)),
        temperature: Some(Celsius(21.3)),
        supply_v: Some(5.02),
    }
}

/// The head at the third of eight stations, two of them taken.
fn good() -> View {
    let gap = Reading::Good { value: Mm(3.074), u: Mm(0.04) };
    let mut stations: Vec<StationView> = (0..8)
        .map(|index| station(index, [Some(2.413), Some(3.95)].get(index).copied().flatten()))
        .collect();
    stations[2].here = true;
    let left = stations[2..].iter().map(|station| station.name.clone()).collect::<Vec<_>>();
    View {
        number: 7,
        at_s: 12.3456,
        title: "practice wall".to_owned(),
        image: Some(IMAGE),
        link: LinkView::Up { head: Some("SG-21E9-CE3F".to_owned()) },
        counts: Counts { received: 1_234, lost: 0, skipped_bytes: 0 },
        place: Some(PlaceView {
            place: Place::Station(Station { name: NAMES[2].to_owned(), at: stations[2].at }),
            stop: Stop::Station(2),
            still_at: None,
            wanted: None,
        }),
        live: live(gap, Some(Verdict::Within)),
        bands: Some(Bands { gap: BAND, level: Band::new(Deg(-0.2), Deg(0.2)), lean: None }),
        aim: None,
        state: State::Ready,
        instruction: "Take it: press space or the head's button.".into(),
        question: None,
        message: Some(Message {
            says: say!("top: {} taken; 2 seats agree", Mm(3.95).gap()),
            bad: false,
            answers: Vec::new(),
        }),
        saving: None,
        stations,
        emitter: Some(EmitterView { here: false, taken: None }),
        whole: Some(WholeView {
            verdict: Verdict::Unsure,
            headline: "too close to call".into(),
            because: say!("take {}", Sentence::list(left.iter().map(|name| Name(name)), "and")),
            judged_at: JudgedAt::Places(vec![NAMES[0].to_owned(), NAMES[1].to_owned()]),
            odd: Vec::new(),
            contradicts: None,
            level: None,
            lean: None,
            taken: 2,
            nothing_taken: false,
            all_taken: false,
            simulated: false,
        }),
        emitter_off: None,
        part: Part::Takes,
        words: offers(&[
            (Word::Take, "take top right, and go on"),
            (Word::Redo, "take top again, in place of the last"),
            (Word::More, "take top once more, from another seat, beside the last"),
            (Word::Next, "go to right"),
            (Word::Back, "go to top"),
            (Word::Go(Stop::Emitter), "go to the emitter"),
            (Word::Go(Stop::Station(0)), "go to top left"),
            (Word::Go(Stop::Station(1)), "go to top"),
            (Word::Sound, "the head's sound on or off"),
            (Word::Quit, "end; everything taken is kept"),
        ]),
        faults: Vec::new(),
        in_the_way: None,
        cautions: vec![
            "Invisible light: follow the emitter's label. Do not look into the head's laser."
                .into(),
        ],
        sound: true,
    }
}

fn waiting() -> View {
    let mut view = good();
    let why = Fault::Stale;
    view.link = LinkView::Greeting;
    view.counts = Counts::default();
    view.live = Live {
        level: Reading::Absent { why },
        lean: Reading::Absent { why },
        says: "waiting for readings".into(),
        state: Settle::Waiting,
        can_take: false,
        rests: false,
        eye: None,
        stand_off: None,
        temperature: None,
        supply_v: None,
        ..live(Reading::Absent { why }, None)
    };
    view.state = State::Waiting;
    view.instruction = "Wait until the head answers.".into();
    view.message = None;
    view
}

fn above_10_mm() -> View {
    let mut view = good();
    view.live = live(Reading::Good { value: Mm(10.214), u: Mm(0.05) }, Some(Verdict::Outside));
    view
}

fn faulty(mut view: View, gap: Reading<Mm>, why: Fault, state: State) -> View {
    view.live = live(gap, None);
    view.faults = vec![why.into()];
    view.in_the_way = Some(why.into());
    view.instruction = say!("{} {}", why.sentence(), why.remedy());
    view.state = state;
    view.message = None;
    view
}

fn doubtful() -> View {
    let why = Fault::Knocked;
    faulty(good(), Reading::Doubtful { value: Mm(-0.341), why }, why, State::Hold)
}

fn absent() -> View {
    let why = Fault::SpotLost;
    faulty(good(), Reading::Absent { why }, why, State::Hold)
}

fn emitter_off() -> View {
    let mut view = nothing_taken();
    view.emitter_off = Some(EmitterOffView::Off { to_go_s: 1.4 });
    view.live = live(Reading::Absent { why: Fault::NoLight }, None);
    view.faults = vec![Fault::NoLight.into()];
    view.in_the_way = None;
    view.state = State::Hold;
    view.instruction = "keep the emitter off: 1.4 s".into();
    view.message = None;
    view.words = offers(&[(Word::Skip, "stop looking"), (Word::Quit, "end")]);
    view
}

fn question() -> View {
    let mut view = good();
    view.question = Some(Question {
        asks: say!(
            "The head was not seen to leave {}. Is it at {} now?",
            Name("top"),
            Name("top right")
        ),
        yes: Word::Yes,
        yes_by_button: true,
    });
    view.state = State::Asked;
    view.words = offers(&[(Word::Yes, "it is"), (Word::No, "it is not")]);
    view
}

fn lost() -> View {
    let mut view = waiting();
    view.link = LinkView::Lost {
        trouble: "The head is unplugged. Plug it back in: the work goes on by itself.".into(),
    };
    view.counts.lost = 12;
    view.words.retain(|offer| !matches!(offer.word, Word::Take | Word::Redo | Word::More));
    view.state = State::Lost;
    view
}

fn emitter() -> View {
    let mut view = good();
    view.live.gap = Reading::Absent { why: Fault::SpotLost };
    view.live.verdict = None;
    view.live.level = Reading::Good { value: Deg(-12.34), u: Deg(0.01) };
    view.stations[2].here = false;
    view.emitter = Some(EmitterView { here: true, taken: None });
    view.place = Some(PlaceView {
        place: Place::Emitter,
        stop: Stop::Emitter,
        still_at: None,
        wanted: None,
    });
    view.message = None;
    view
}

/// The head is at the first station, and nothing is taken.
fn nothing_taken() -> View {
    let mut view = good();
    view.stations = (0..8).map(|index| station(index, None)).collect();
    at(&mut view, 0);
    view.message = Some(Message {
        says: say!(
            "NOT taken: the head has not come to rest at {}. Hold it still for half a second, or \
             clip it on, and then take: a gap of {} was read while it moved.",
            Name(NAMES[0]),
            Mm(3.95).gap()
        ),
        bad: true,
        answers: Vec::new(),
    });
    if let Some(whole) = &mut view.whole {
        whole.headline = "nothing taken yet".into();
        whole.because = say!(
            "nothing taken yet: take {}",
            Sentence::list(NAMES.iter().map(|name| Name(name)), "and")
        );
        whole.judged_at = JudgedAt::Places(Vec::new());
        whole.taken = 0;
        whole.nothing_taken = true;
    }
    view
}

/// Taken at one station, and not lifted off to the next. The job's name is longer than its room.
fn still_elsewhere() -> View {
    let mut view = good();
    view.title = "meeting room 4.12, the wall with the window, second display".to_owned();
    if let Some(place) = &mut view.place {
        place.still_at = Some("shelf at 100 millimetres".to_owned());
    }
    view.stations[1].name = "shelf at 100 millimetres".to_owned();
    view.live.verdict = None;
    view.live.says =
        say!("head still at {}: put it at {}", Name("shelf at 100 millimetres"), Name(NAMES[2]));
    view.state = State::Move;
    view.instruction = say!("put the head at {}", Name(NAMES[2]));
    view
}

fn over() -> View {
    let mut view = good();
    view.stations = (0..8).map(|index| station(index, Some(2.4 + 0.1 * index as f64))).collect();
    view.stations[7].here = true;
    view.emitter = Some(EmitterView {
        here: false,
        taken: Some(TiltView { level: Deg(0.11), lean: Deg(-0.2), u: Deg(0.01) }),
    });
    let level = TiltJudged {
        emitter: Deg(0.11),
        board: Deg(0.04),
        value: Deg(0.07),
        expanded: Deg(0.03),
        verdict: Verdict::Within,
    };
    view.whole = Some(WholeView {
        verdict: Verdict::Within,
        headline: "within at the 8 places read; between them it is reckoned, nothing was read"
            .into(),
        because: Sentence::new(),
        judged_at: JudgedAt::Places(NAMES.map(str::to_owned).to_vec()),
        odd: Vec::new(),
        contradicts: None,
        level: Some(level),
        lean: None,
        taken: 8,
        nothing_taken: false,
        all_taken: true,
        simulated: false,
    });
    view.state = State::Over;
    view.instruction = "Everything is taken. Quit, or take any of it again.".into();
    view.message = None;
    view
}

fn trim() -> (View, TrimView) {
    let mut view = good();
    let taken = [6.12, 3.54, 1.12, 2.75, 2.98, 5.4, 7.99, 7.76];
    view.stations = (0..8).map(|index| station(index, Some(taken[index]))).collect();
    view.message = None;
    let (columns, rows) = (9, 7);
    let gap = |column: usize, row: usize| 6.2 - 0.65 * column as f64 + 0.3 * row as f64;
    let gaps = (0..columns * rows).map(|at| Some(Mm(gap(at % columns, at / columns))));
    let spots = view.stations.iter().map(|station| {
        let taken = station.taken.as_ref().unwrap();
        Spot {
            at: station.at,
            called: say!("{}", Name(&station.name)),
            gap: taken.gap,
            expanded: taken.expanded,
            verdict: Some(taken.verdict),
            read: station.index != 5,
            worst: station.index == 6,
        }
    });
    let adjuster = |name: &str, x, y| AdjusterView {
        name: name.to_owned(),
        at: Point { x: Mm(x), y: Mm(y) },
        made: Turns(0.0),
        per_turn: Mm(0.5),
        now: false,
    };
    let trim = TrimView {
        round: 1,
        last_round: 6,
        advice: Advice::Begin,
        says: "begin to turn".into(),
        adjusters: vec![
            adjuster("left", -60.0, 70.0),
            adjuster("right", 60.0, 70.0),
            adjuster("upper", 0.0, 110.0),
        ],
        turn: None,
        planned: Vec::new(),
        turns_left: 3,
        field: Some(Field { image: IMAGE, columns, rows, gaps: gaps.collect() }),
        spots: spots.collect(),
        seconds_left: Some(245.0),
        time_left: Some("about 4 minutes".into()),
        feasibility: None,
        said: vec![Message {
            says: say!("the worst place is bottom left: {}, outside", Mm(7.99).gap()),
            bad: true,
            answers: Vec::new(),
        }],
    };
    view.words = offers(&[
        (Word::Take, "take here"),
        (Word::Redo, "take it again, in place of the last"),
        (Word::More, "once more, from another seat"),
        (Word::Next, "go to the next place"),
        (Word::Back, "go to the one before"),
        (Word::Begin, "begin to turn"),
        (Word::Sound, "the head's sound on or off"),
        (Word::Quit, "end; everything taken is kept"),
    ]);
    (view, trim)
}

fn trim_begin() -> View {
    let (mut view, trim) = trim();
    view.instruction = "Everything is taken. Press g to begin to turn.".into();
    view.part = Part::Trim(Box::new(trim));
    view
}

/// One take does not go with the others: it is taken again, and nothing is turned on it.
fn trim_contradicts() -> View {
    let (mut view, mut trim) = trim();
    at(&mut view, 1);
    let says = say!(
        "the takes contradict one another, so there are no turns: {} reads {}, {} less than the others say; read {} \
         again: lift the head, clip it on there anew and take",
        Name(NAMES[1]),
        Mm(3.54).gap(),
        Mm(1.2).gap(),
        Name(NAMES[1])
    );
    for station in &mut view.stations {
        if let Some(taken) = &mut station.taken {
            taken.verdict = Verdict::Unsure;
        }
    }
    if let Some(whole) = &mut view.whole {
        (whole.odd, whole.contradicts) = (vec![NAMES[1].to_owned()], Some(says.clone()));
        (whole.because, whole.taken, whole.all_taken) = (says.clone(), 8, true);
    }
    for spot in &mut trim.spots {
        (spot.verdict, spot.worst) = (Some(Verdict::Unsure), false);
    }
    view.words.retain(|offer| offer.word != Word::Begin);
    trim.advice = Advice::Take { station: NAMES[1].to_owned(), index: 1 };
    trim.said = vec![Message { says, bad: true, answers: Vec::new() }];
    (trim.turns_left, trim.field) = (0, None);
    view.instruction = "Take top again: lift the head, clip it on there anew.".into();
    view.part = Part::Trim(Box::new(trim));
    view
}

fn at(view: &mut View, index: usize) {
    for station in &mut view.stations {
        station.here = station.index == index;
    }
    let here = &view.stations[index];
    view.place = Some(PlaceView {
        place: Place::Station(Station { name: here.name.clone(), at: here.at }),
        stop: Stop::Station(index),
        still_at: None,
        wanted: None,
    });
}

fn trim_clip() -> View {
    let (mut view, mut trim) = trim();
    at(&mut view, 6);
    trim.advice = Advice::Clip { station: "bottom left".to_owned(), index: 6 };
    view.state = State::Move;
    view.instruction = "Clip the head on at bottom left and press space.".into();
    view.words = offers(&[(Word::Ready, "the head is there"), (Word::Quit, "end")]);
    let why = Fault::NotSeated;
    view.live = live(Reading::Doubtful { value: Mm(7.812), why }, None);
    view.part = Part::Trim(Box::new(trim));
    view
}

fn trim_turn() -> View {
    let (mut view, mut trim) = trim();
    at(&mut view, 6);
    let to = Mm(2.5);
    trim.turn = Some(TurnView {
        adjuster: 2,
        name: "upper".to_owned(),
        turns: Turns(-0.9),
        left: Turns(-0.72),
        watched: Some(WatchedView {
            station: 6,
            from: Mm(7.99),
            to,
            within: Mm(0.05),
            outside_band: false,
        }),
        back: false,
        wrong_way: false,
    });
    trim.adjusters[2].now = true;
    trim.advice =
        Advice::Turn { adjuster: "upper".to_owned(), turns: Turns(-0.72), dial_to: Some(to) };
    view.live = live(Reading::Good { value: Mm(6.584), u: Mm(0.04) }, Some(Verdict::Outside));
    view.aim = Some(Aim { to, within: Mm(0.05), to_go: Some(to - Mm(6.584)), there: false });
    view.state = State::Turn;
    view.instruction =
        say!("Turn upper {}, until bottom left reads {}.", Turns(-0.72).in_words(), to.gap());
    view.words = offers(&[
        (Word::Ready, "the turn is made"),
        (Word::Turned(None), "turned as told, and the gap is not there"),
        (Word::Wrong, "I turned another one than upper"),
        (Word::Stuck, "upper will not go further"),
        (Word::Undo, "back to clipping the head on"),
        (Word::Sound, "the head's sound on or off"),
        (Word::Quit, "end; everything taken is kept"),
    ]);
    view.cautions = vec![
        "Invisible light: do not look in. Turn gently. Ladder: three points of contact.".into(),
    ];
    view.part = Part::Trim(Box::new(trim));
    view
}

fn survey() -> View {
    let mut view = good();
    view.stations = (0..63).map(|index| station(index, (index < 23).then_some(2.4))).collect();
    for (index, station) in view.stations.iter_mut().enumerate() {
        station.name = format!("point {}", index + 1);
        station.here = index == 23;
    }
    at(&mut view, 23);
    view.emitter = None;
    view.whole = None;
    view.bands = None;
    view.live.verdict = None;
    view.part = Part::Survey(SurveyView { taken: 23, of: 63 });
    view
}

fn level() -> View {
    let mut view = good();
    view.title = "level".to_owned();
    view.place = None;
    view.bands = None;
    view.emitter = None;
    view.stations.clear();
    view.whole = None;
    view.live.gap = Reading::Absent { why: Fault::NoLight };
    view.live.verdict = None;
    view.live.level = Reading::Good { value: Deg(-0.341), u: Deg(0.01) };
    view.message = None;
    view.instruction = "Hold the head on the bracket, and mark.".into();
    let axis = |tilt, verdict| AxisFound {
        tilt: Deg(tilt),
        offset: Deg(0.011),
        u: Deg(0.002),
        expanded: Deg(0.004),
        verdict,
    };
    view.part = Part::Level(Box::new(LevelView {
        thing: "bracket".to_owned(),
        line: Line::Level,
        level_slope: Reading::Good { value: MmPerM(-5.95), u: MmPerM(0.2) },
        lean_slope: Reading::Good { value: MmPerM(-2.09), u: MmPerM(0.2) },
        target: Band::new(Deg(-0.2), Deg(0.2)),
        level_verdict: Some(Verdict::Outside),
        lean_verdict: Some(Verdict::Within),
        marked: false,
        found: None,
        kept: vec![LevelFound {
            thing: "bracket".to_owned(),
            line: Line::Level,
            target: Band::new(Deg(-0.2), Deg(0.2)),
            level: axis(0.05, Some(Verdict::Within)),
            lean: axis(0.02, Some(Verdict::Within)),
            says: say!("level {}, lean {}", Deg(0.05).figure(), Deg(0.02).figure()),
        }],
    }));
    view.words = offers(&[
        (Word::Take, "mark this angle"),
        (Word::Clear, "forget the mark"),
        (Word::Other, "level or plumb something else"),
        (Word::Quit, "end"),
    ]);
    view.cautions = vec!["Do not look into the head's laser.".into()];
    view
}

fn first_start() -> View {
    let mut view = level();
    view.title = "first start".to_owned();
    let key = [
        "parts", "rest", "left", "back", "paper", "lift", "dark", "light", "card", "button",
        "lamp", "buzzer",
    ];
    let step = |(at, key): (usize, &'static str)| BirthStep {
        key,
        name: key.into(),
        found: (at < 2).then_some(if at == 1 { Found::Fault } else { Found::AsItShouldBe }),
    };
    view.part = Part::Birth(Box::new(BirthView {
        steps: key.into_iter().enumerate().map(step).collect(),
        now: Some(2),
        gathered: None,
        checks: Vec::new(),
        sees: BirthSees::Tilt,
    }));
    view.instruction = say!("Lift its left side by a finger's breadth, and hold it there.");
    view.state = State::Ready;
    view.words = offers(&[
        (Word::Ready, "it is held so: look at it"),
        (Word::Skip, "leave this step out"),
        (Word::Back, "make the step before it anew"),
        (Word::Quit, "end; no certificate is written"),
    ]);
    view
}

fn zero() -> View {
    let mut view = level();
    view.title = "zero".to_owned();
    let step = |name: &'static str, done| StepView { name: name.into(), done, skipped: false };
    view.part = Part::Zero(ZeroView {
        steps: vec![
            step("on the board 1 of 2", true),
            step("on the board 2 of 2", true),
            step("lifted 1 of 1", false),
            step("level", false),
            step("dark", false),
            step("even light", false),
        ],
        now: Some(2),
        gathered: None,
        came_to: Some(say!(
            "Read: both slits, at {} and {} in the eye.",
            Mm(2.6).gap(),
            Mm(8.6).gap()
        )),
        sees: Sees::Eye,
        eye: Some(say!("two lines of light, {} and {}", Mm(2.6).gap(), Mm(8.6).gap())),
        found: None,
    });
    view.instruction = say!(
        "Lifted, 1 of 1: something flat under all three feet, {} or so, three alike; the gauge stays on the board.",
        Mm(0.6).limit()
    );
    view.words = offers(&[
        (Word::Ready, "it is in place: read it"),
        (Word::Skip, "leave this step out"),
        (Word::Next, "go to level"),
        (Word::Back, "go to on the board 2 of 2"),
        (Word::Clear, "take back on the board 2 of 2"),
        (Word::Quit, "end; what is done is put aside"),
    ]);
    view
}

/// All that can stand before the yes at once.
fn zero_constants() -> View {
    let mut view = zero();
    let Part::Zero(part) = &mut view.part else { return view };
    let change = |what: &str, unit: &str, before: f64, after: f64, u: Option<f64>| Change {
        what: what.to_owned(),
        unit: unit.to_owned(),
        before,
        after,
        u,
    };
    let residual = |slit_mm, lifted_mm, residual_mm| Residual {
        slit_mm,
        lifted_mm,
        residual_mm,
        u_mm: 0.0158,
    };
    let mut budget = Budget::new("zero", "mm", -32.5871);
    for (from, u_mm) in [
        ("slits' heights (label)", 0.0042),
        ("lamp's unevenness over a slit", 0.0029),
        ("slits out of line", 0.0043),
        ("gauge's stand on the board", 0.0029),
        ("lean of the seat", 0.0069),
        ("play of the swivel", 0.0017),
        ("unequal leaves under the feet", 0.0004),
        ("stand-off's scatter", 0.0004),
        ("eye's scatter, pixels unequal", 0.0006),
        ("residuals wider than stated", 0.0112),
        ("allowance for other seats", 0.0003),
    ] {
        budget.entries.push(Entry::new(from, 0.0, u_mm, Distribution::Normal));
    }
    part.now = None;
    part.sees = Sees::Nothing;
    part.eye = None;
    part.found = Some(Box::new(Outcome {
        calibration: Calibration::nominal(SerialNumber([1; 16])),
        pixels: None,
        changes: vec![
            change("zero", "mm", -32.6, -32.5871, Some(0.015)),
            change("stand-off scale", "mm a volt", 13.6737, 13.7021, Some(0.081)),
            change("stand-off bend", "mm at 5000 codes", 0.0, 0.0123, None),
            change("level offset", "deg", 0.0, 0.2961, None),
            change("pixels unequal", "%", 3.0211, 0.0712, None),
        ],
        residuals: [0.0, 0.01, -0.02, 0.61, 1.22]
            .into_iter()
            .flat_map(|mm| [residual(3.002, mm, 0.004), residual(9.004, mm, -0.021)])
            .collect(),
        bent: true,
        birge: Some(2.3),
        dof: 8,
        budget: Some(budget),
        seats_mm: vec![0.011, -0.006, -0.005],
        moved_mm: Some(0.112),
        kept: vec![Step::Level, Step::Dark, Step::Even],
    }));
    view.state = State::Asked;
    view.instruction = say!("Write these constants to the head, dated today?");
    view.question =
        Some(Question { asks: view.instruction.clone(), yes: Word::Yes, yes_by_button: false });
    view.words = offers(&[
        (Word::Yes, "write these constants to the head"),
        (Word::Back, "go to even light"),
        (Word::Clear, "take back lifted 1 of 1"),
        (Word::Quit, "end; what is done is put aside"),
    ]);
    view
}

/// Names from a file that somebody else wrote: steering, letters that the big face has not, and a
/// length that must stay as it is written.
fn foreign_names() -> View {
    let mut view = good();
    view.title = "wall\u{1b}[2J \u{202e}gnol".to_owned();
    let names = ["shelf at 100 mm", "Überhang", "\u{1b}[31mred\u{200b}", "図書館"];
    for (station, name) in view.stations.iter_mut().zip(names) {
        station.name = name.to_owned();
    }
    at(&mut view, 1);
    view.message = Some(Message {
        says: say!("{}: {} taken", Name(names[0]), Mm(3.95).gap()),
        bad: false,
        answers: Vec::new(),
    });
    view
}
