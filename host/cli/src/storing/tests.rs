//! A slow disk and a record that is held, on a clock that the test moves: the number lives, presses
//! are let go, nothing is told before it is kept, and nothing is lost.

use super::{Book, Done, Saver, Store, Stored};
use crate::console::screen::{self, Look};
use crate::keeping::{Keeping, SameJob};
use anyhow::bail;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use skimgauge_metrology::measure::{At, Came};
use skimgauge_model::Phase;
use skimgauge_procedure::takes::Kept;
use skimgauge_procedure::trial::{SEATED, Trial, head};
use skimgauge_procedure::{Answer, Entry, EventId, Input, Output, Said, Speaker, Word};
use skimgauge_quantity::{Mm, Sentence, Style, Turns};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, Sayer};
use skimgauge_session::Event;
use skimgauge_session::Told;
use skimgauge_shared::message::Press;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

/// A disk that is done when the test says so, with what the test says.
struct Disk {
    allowed: Receiver<Result<u32, &'static str>>,
    wrote: Sender<String>,
}

impl Store for Disk {
    fn store(&mut self, entry: &Entry, _: Option<&Sayer>) -> anyhow::Result<Option<Stored>> {
        match self.allowed.recv() {
            Ok(Ok(place)) => {
                let _ = self.wrote.send(text(&entry.what()));
                Ok(Some(Stored { event: Hash::of(&place.to_le_bytes()), place }))
            }
            Ok(Err(why)) => bail!(why),
            Err(_) => bail!("the test is over"),
        }
    }
}

fn disk() -> (Saver, Sender<Result<u32, &'static str>>, Receiver<String>) {
    let (allow, allowed) = channel();
    let (wrote, written) = channel();
    (Saver::new(Box::new(Disk { allowed, wrote })).unwrap(), allow, written)
}

/// Lets the other thread come to its end, however long this machine takes for it.
fn answered(saver: &mut Saver, now: Duration) -> Vec<Done> {
    loop {
        let done = saver.look(now);
        if !done.is_empty() || !saver.is_busy() {
            return done;
        }
        std::thread::yield_now();
    }
}

fn text(says: &Sentence) -> String {
    says.text(Style::default())
}

/// What the procedure is told that is being saved.
fn tell_saving(trial: &mut Trial, saver: &Saver) {
    trial.on(Input::Record(Answer::Saving(saver.storing())));
}

/// Takes where the head is, up to the record.
fn sent(trial: &mut Trial, saver: &mut Saver) {
    trial.on(Input::Said(Said::by(Speaker::Keyboard, Word::Take)));
    let outputs = trial.on(Input::Head(Told::Head(Event::Same)));
    let Ok([Output::Keep(entry)]) = <[Output; 1]>::try_from(outputs) else {
        panic!("{}", trial.heard())
    };
    saver.put(trial.now(), entry, None);
    tell_saving(trial, saver);
}

fn drawn(trial: &Trial) -> String {
    let mut terminal = Terminal::new(TestBackend::new(100, 30)).unwrap();
    terminal.draw(|frame| screen::draw(frame, &trial.view(), &Look::default())).unwrap();
    terminal.backend().to_string()
}

#[test]
fn while_a_slow_disk_writes_the_number_lives_and_presses_are_let_go() {
    let (mut saver, allow, written) = disk();
    let mut trial = Trial::new();
    trial.read(SEATED, 3_000);
    sent(&mut trial, &mut saver);
    trial.heard();
    let (mut slow, mut let_go) = (0, 0);
    for second in 1..=10 {
        trial.read(SEATED, 1_000);
        let now = trial.now();
        for done in saver.look(now) {
            assert!(matches!(&done, Done::Slow(what) if text(what) == "top left"), "{done:?}");
            slow += 1;
        }
        tell_saving(&mut trial, &saver);
        let screen = drawn(&trial);
        assert!(
            screen.contains("saving top left") && screen.contains('█'),
            "after {second} s\n{screen}"
        );
        assert!(trial.view().live.gap.good().is_some());
        // By turns a press, a key, and on to another place.
        match second % 3 {
            0 => assert!(trial.button(Press::Short).is_empty()),
            1 => assert!(trial.say(Word::Take).is_empty()),
            _ => assert!(trial.say(Word::Next).is_empty()),
        }
        let_go += usize::from(trial.heard().contains("Let go: top left is still being saved"));
        assert_eq!(trial.takes.stations().name(), "top left");
    }
    assert_eq!((slow, let_go), (1, 10));
    assert!(
        written.try_recv().is_err() && trial.takes.stations().taken() == 0,
        "told before it was kept"
    );
    allow.send(Ok(7)).unwrap();
    let now = trial.now();
    let [Done::Stored(entry, Some(Stored { event, place: 7 }))] =
        <[Done; 1]>::try_from(answered(&mut saver, now)).unwrap()
    else {
        panic!("not stored")
    };
    tell_saving(&mut trial, &saver);
    let event = Some(EventId(event.0));
    trial.on(Input::Record(Answer::Kept { entry, event, place: Some(7) }));
    assert_eq!((trial.takes.stations().taken(), trial.view().saving), (1, None));
    assert!(written.recv().is_ok() && written.try_recv().is_err(), "what was let go was kept");
    assert!(!drawn(&trial).contains("saving"));
}

#[test]
fn a_take_that_cannot_be_kept_is_not_taken_and_its_seat_counts_for_the_next_try() {
    let (mut saver, allow, _written) = disk();
    let mut trial = Trial::new();
    trial.read(SEATED, 3_000);
    trial.say(Word::Take);
    trial.carry();
    sent(&mut trial, &mut saver);
    allow.send(Err("the record is held by another program")).unwrap();
    let now = trial.now();
    let [Done::NotTaken(entry, why)] = <[Done; 1]>::try_from(answered(&mut saver, now)).unwrap()
    else {
        panic!("taken")
    };
    let why = Sentence::new().and(&why);
    trial.on(Input::Record(Answer::NotKept { entry, why }));
    tell_saving(&mut trial, &saver);
    assert!(trial.heard().contains("NOT taken: the record is held by another program"));
    assert_eq!((trial.takes.stations().taken(), trial.takes.stations().name()), (1, "top"));
    // Without a new lift, and without a question.
    trial.read(SEATED, 1_000);
    let [again] = &trial.say(Word::Take)[..] else { panic!("{}", trial.heard()) };
    assert_eq!(again.came, Came::Seen);
}

#[test]
fn what_is_no_take_is_tried_again_in_its_order_and_said_once() {
    let (mut saver, allow, written) = disk();
    let at = Duration::from_secs;
    let advised = |adjuster: &str| Entry::Advised {
        adjuster: adjuster.to_owned(),
        turns: Turns(0.5),
        station: Some("bottom".to_owned()),
        target_gap: Some(Mm(2.5)),
    };
    saver.put(at(0), advised("left"), None);
    saver.put(at(0), advised("right"), None);
    saver.put(at(0), Entry::Round(Phase::Between), None);
    let mut late = 0;
    for second in 0..10 {
        let _ = if second < 6 { allow.send(Err("held")) } else { allow.send(Ok(1)) };
        late += answered(&mut saver, at(2 * second))
            .iter()
            .filter(|done| matches!(done, Done::Late(what, _) if text(what) == "the turn of left"))
            .count();
    }
    while saver.storing().is_some() {
        let _ = allow.send(Ok(1));
        answered(&mut saver, at(30));
    }
    assert_eq!(late, 1);
    drop(saver);
    assert_eq!(
        written.iter().collect::<Vec<_>>(),
        ["the turn of left", "the turn of right", "the new round"]
    );
}

#[test]
fn an_end_waits_for_what_is_on_its_way_and_names_what_is_left() {
    let (mut saver, allow, written) = disk();
    saver.put(Duration::ZERO, Entry::Round(Phase::AsLeft), None);
    allow.send(Err("held")).unwrap();
    answered(&mut saver, Duration::ZERO);
    allow.send(Err("held")).unwrap();
    assert!(saver.wait(Duration::from_secs(1)).is_empty(), "said before");
    assert_eq!(saver.left().iter().map(text).collect::<Vec<_>>(), ["the new round"]);
    // Dropped while something is on its way, it waits for that.
    saver.put(Duration::from_secs(9), Entry::Round(Phase::AsLeft), None);
    assert!(saver.is_busy());
    let helper = std::thread::spawn(move || allow.send(Ok(1)).is_ok());
    drop(saver);
    assert!(helper.join().unwrap() && written.recv().is_ok());
}

fn phone() -> Sayer {
    Sayer::Page("phone at 192.168.1.20".to_owned())
}

/// In a record of its own: how the head had come, and who said the word, stand with each take, and
/// what is left is said and not written again.
#[test]
fn a_take_keeps_how_the_head_had_come_and_as_left_refers() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    let text = skimgauge_jobfile::demo_job();
    let job = skimgauge_jobfile::Job::parse("demo.toml", text).unwrap();
    let keeping = Keeping::open(&path, &job, text, None, &SameJob::default()).unwrap();
    let mut book = Book::new(keeping);
    let mut trial = Trial::new();
    trial.read(SEATED, 3_000);
    let mut stored = Vec::new();
    let at = |name: &str| At::Station(name.to_owned());
    let wanted = [
        (Came::First, event::Came::First),
        (Came::Seen, event::Came::Seen),
        (Came::Said { from: at("top") }, event::Came::Said { last_at: Some("top".to_owned()) }),
        (Came::Same, event::Came::Same),
    ];
    for (station, (came, _)) in wanted.iter().enumerate() {
        trial.carry();
        let [kept] = <[Kept; 1]>::try_from(trial.say(Word::Take)).unwrap();
        let station_is = job.stations[station].clone();
        let kept = Box::new(Kept { came: came.clone(), ..kept });
        let told = kept.verdict;
        let entry = Entry::Take {
            at: station,
            station: station_is,
            kept,
            told,
            supersedes: None,
            head: head(),
        };
        stored.push(book.store(&entry, Some(&phone())).unwrap().unwrap());
    }
    let as_left = book.store(&Entry::AsLeft, None).unwrap().unwrap();
    book.store(&Entry::Judged(Box::new(trial.takes.whole().clone())), None).unwrap();
    let record = skimgauge_record::Record::open(&path).unwrap();
    let history = record.job(&job.about.name).unwrap();
    let came = history.events.iter().filter_map(|event| match &event.body {
        Body::Take(take) => {
            assert_eq!(take.by, Some(phone()));
            Some(take.came.clone().unwrap())
        }
        _ => None,
    });
    assert_eq!(came.collect::<Vec<_>>(), wanted.map(|(_, kept)| kept), "each take once");
    let left = history.events.iter().find_map(|event| match &event.body {
        Body::AsLeft(left) => Some((event.hash, left.takes.clone())),
        _ => None,
    });
    assert_eq!(left, Some((as_left.event, stored.iter().map(|stored| stored.event).collect())));
}

/// Constants found, or held against the gauge, on a job's board: the job's record knows them.
#[test]
fn a_zero_of_this_board_is_known_to_the_job() {
    use super::PutAside;
    use skimgauge_metrology::measure::Material;
    use skimgauge_metrology::zero::Check;
    use skimgauge_procedure::zero::{CheckedZero, Zeroed};
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("record.sqlite");
    let text = skimgauge_jobfile::demo_job();
    let job = skimgauge_jobfile::Job::parse("demo.toml", text).unwrap();
    let keeping = || Keeping::open(&record, &job, text, None, &SameJob::default()).unwrap();
    let path = folder.path().join("zero.json");
    let store =
        |job| PutAside { path: path.clone(), record: record.clone(), who: "A. T.".to_owned(), job };
    let before = head().calibration.calibration;
    let after = skimgauge_shared::calibration::Calibration {
        zero: skimgauge_shared::units::Micrometres(-32_615),
        ..before.clone()
    };
    let zeroed = Zeroed {
        head: head(),
        before: before.clone(),
        after: after.clone(),
        budget: None,
        seats_mm: vec![0.03, -0.01, -0.02],
        reference: "gauge".to_owned(),
    };
    let check = Check::judged(6.0, 0.03, 0.02);
    let checked = CheckedZero { head: head(), check, reference: "gauge".to_owned() };
    let entries = [Entry::Zeroed(Box::new(zeroed)), Entry::ZeroChecked(Box::new(checked))];
    // Nobody said on which job's board.
    let mut alone = store(None);
    entries.iter().for_each(|entry| assert!(alone.store(entry, None).is_ok()));
    assert_eq!(keeping().zeroed_here().unwrap(), []);
    let mut here = store(Some(keeping()));
    entries.iter().for_each(|entry| assert!(here.store(entry, None).is_ok()));
    let [found, held] = &keeping().zeroed_here().unwrap()[..] else { panic!("two are known") };
    assert_eq!((&found.constants, found.material), (&after, Material::default()));
    assert_eq!((&found.seats_mm[..], &held.seats_mm[..]), (&[0.03, -0.01, -0.02][..], &[][..]));
    assert_eq!(held.constants, before);
    assert!((held.material.u_mm - 0.03f64.hypot(0.02)).abs() < 1e-9, "{held:?}");
}
