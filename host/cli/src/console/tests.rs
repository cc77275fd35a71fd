//! The same view as screen, plain line and JSON, in millimetres and inches, against the files in
//! `snapshots/`. They are written anew with
//!
//! ```sh
//! SNAPSHOTS=renew cargo test -p skimgauge --lib console
//! ```
//!
//! and then looked at (`git diff`): a snapshot is right because somebody saw that it is.

use super::keys::{Hidden, Meant, meant, meant_unseen};
use super::screen::{self, Look};
use super::{json, plain, samples};
use crate::practice::turning::KEYS;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use skimgauge_procedure::view::Offer;
use skimgauge_procedure::{View, Word};
use skimgauge_quantity::{Style, Units, steers};
use std::path::PathBuf;

const MM: Style = Style { units: Units::Mm, signs: skimgauge_quantity::Signs::Typed };
const INCH: Style = Style { units: Units::Inch, signs: skimgauge_quantity::Signs::Typed };

pub(super) fn drawn(view: &View, (columns, rows): (u16, u16), look: &Look<'_>) -> String {
    let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
    terminal.draw(|frame| screen::draw(frame, view, look)).unwrap();
    let buffer = terminal.backend().buffer();
    let line = |row| (0..columns).map(|column| buffer[(column, row)].symbol()).collect::<String>();
    (0..rows).map(|row| line(row).trim_end().to_owned() + "\n").collect()
}

pub(super) fn screen(view: &View, size: (u16, u16), style: Style) -> String {
    drawn(view, size, &Look { style, ..Look::default() })
}

/// Everything that a view is rendered as.
fn rendered(view: &View) -> String {
    let json = serde_json::to_string_pretty(&json::line(view)).unwrap();
    let help = drawn(view, (80, 24), &Look { style: MM, help: true, ..Look::default() });
    [
        ("screen 80 x 24, mm", screen(view, (80, 24), MM)),
        ("screen 80 x 24, inch", screen(view, (80, 24), INCH)),
        ("screen 120 x 40, mm", screen(view, (120, 40), MM)),
        ("screen 120 x 40, inch", screen(view, (120, 40), INCH)),
        ("? at 80 x 24", help),
        ("plain, mm", plain::line(view, MM) + "\n"),
        ("plain, inch", plain::line(view, INCH) + "\n"),
        ("JSON", skimgauge_system::terminal::shown_json(&json).into_owned() + "\n"),
    ]
    .map(|(title, text)| format!("== {title} ==\n{text}"))
    .concat()
}

#[test]
fn every_view_is_rendered_as_its_snapshot() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src/console/snapshots");
    let renew = std::env::var_os("SNAPSHOTS").is_some_and(|value| value == "renew");
    let mut changed = Vec::new();
    for (name, view) in samples::all() {
        let file = folder.join(format!("{}.txt", name.replace(' ', "-")));
        let now = rendered(&view);
        if renew {
            std::fs::write(&file, &now).unwrap();
        } else if std::fs::read_to_string(&file).unwrap_or_default() != now {
            changed.push(format!("{} is no longer what is rendered:\n{now}", file.display()));
        }
    }
    assert!(changed.is_empty(), "{}", changed.join("\n"));
}

/// What was practised is called so to programs, too.
#[test]
fn the_end_in_json_says_whether_a_simulated_head_read_it() {
    let (_, mut view) = samples::all().into_iter().find(|(name, _)| *name == "over").unwrap();
    for simulated in [false, true] {
        view.whole.as_mut().unwrap().simulated = simulated;
        assert_eq!(json::end(&view)["simulated"], simulated);
    }
}

/// Two metres is the test: digits ten rows high, or the face of a picture at a pause.
#[test]
fn digits_are_big_at_80_by_24_in_every_state() {
    for (name, view) in samples::all() {
        if matches!(name, "trim begin" | "zero" | "zero constants") {
            continue;
        }
        for style in [MM, INCH] {
            let drawn = screen(&view, (80, 24), style);
            let rows = drawn
                .lines()
                .filter(|line| line.chars().filter(|c| matches!(c, '█' | '░')).count() >= 2);
            let least = if name == "level" { 10 } else { 8 };
            // The dashes of an absent number are low.
            let least = if matches!(name, "absent" | "emitter off" | "waiting" | "lost") {
                2
            } else {
                least
            };
            assert!(rows.count() >= least, "{name}\n{drawn}");
        }
    }
}

/// What is written to a head is read before the yes: all of it is on the smallest screen.
#[test]
fn constants_before_the_yes_are_whole_at_80_by_24() {
    for style in [MM, INCH] {
        let view = samples::all().into_iter().find(|(name, _)| *name == "zero constants");
        let drawn = screen(&view.unwrap().1, (80, 24), style);
        for shown in [
            "Write these constants",
            "-32.5871",
            "mm at 5000 codes",
            "pixels unequal",
            "Worst residual",
            "8 degrees of freedom",
            "take that stand anew.",
            "lean of the seat",
            "The zero moved",
            "before you say yes",
            "stay: level, dark, even light.",
            "Lean is not found here (it wants a stand with two faces): its offset stays.",
        ] {
            let shown = match shown {
                "-32.5871" if style == INCH => "-1.28296",
                "mm at 5000 codes" if style == INCH => "in at 5000 codes",
                shown => shown,
            };
            assert!(drawn.contains(shown), "{shown}\n{drawn}");
        }
        assert!(!drawn.contains('…'), "{drawn}");
        let tall = samples::all().into_iter().find(|(name, _)| *name == "zero constants");
        let tall = screen(&tall.unwrap().1, (100, 60), style);
        assert!(tall.contains("allowance for other seats"));
    }
}

#[test]
fn every_screen_has_its_keys_in_80_columns() {
    for (name, view) in samples::all() {
        let drawn = screen(&view, (80, 24), MM);
        let keys = drawn.lines().nth(22).unwrap();
        assert!(keys.contains("? words") && keys.ends_with("q quit"), "{name}\n{drawn}");
    }
}

/// In the practice the user has keys that turn the adjusters; the foot that names them is hidden.
#[test]
fn help_names_the_keys_of_who_stands_beside_the_user() {
    let keys = "k K left   l L right   u U upper";
    for (name, view) in samples::all() {
        let look = Look { style: MM, help: true, beside: Some(keys), ..Look::default() };
        let shown = drawn(&view, (80, 24), &look);
        assert!(shown.contains(keys), "{name}\n{shown}");
    }
}

#[test]
fn nothing_foreign_steers_and_a_name_stays_as_it_is_written() {
    let view = samples::all().pop().unwrap().1;
    let text = rendered(&view);
    assert!(!text.chars().any(|c| c != '\n' && steers(c)), "{text:?}");
    for style in [MM, INCH] {
        let shown = screen(&view, (120, 40), style);
        assert!(shown.contains("shelf at 100 mm: "), "{shown}");
    }
    assert!(screen(&view, (120, 40), INCH).contains("0.156 in taken"));
}

#[test]
fn in_inches_no_millimetre_is_left_and_the_other_way_round() {
    for (name, view) in samples::all() {
        if name == "foreign names" {
            continue;
        }
        for size in [(80, 24), (120, 40)] {
            let shown = screen(&view, size, INCH);
            assert!(!shown.contains("mm"), "{name}\n{shown}");
            let shown = screen(&view, size, MM);
            assert!(!shown.contains(" in\n") && !shown.contains("in/ft"), "{name}\n{shown}");
        }
    }
}

#[test]
fn no_window_is_too_small_or_too_large_to_be_drawn() {
    for (_, view) in samples::all() {
        for size in
            [(1, 1), (10, 3), (59, 17), (60, 18), (79, 23), (119, 30), (200, 60), (300, 100)]
        {
            for help in [false, true] {
                let text = drawn(&view, size, &Look { help, ..Look::default() });
                assert!(size.0 >= 60 || size.0 < 10 || text.contains("window"), "{text}");
            }
        }
    }
}

/// What a key of the practice does hangs on no word that happens to be on offer.
#[test]
fn no_word_has_a_key_of_the_practice() {
    let every = [Word::Wrong, Word::Stuck, Word::Skip, Word::Clear, Word::Other, Word::Ready];
    for (name, mut view) in samples::all() {
        view.words.extend(every.map(|word| Offer { word, does: "".into() }));
        let keys = KEYS.into_iter().flat_map(|(clockwise, back)| [clockwise, back]);
        for key in keys.chain(['h', 't', '+', '-', '0']) {
            let event = KeyEvent::new(KeyCode::Char(key), KeyModifiers::NONE);
            assert_eq!(meant(event, &view), Meant::Beside(key), "{name}: {key}");
        }
    }
}

/// A key behind the help, or in a window that shows nothing, says no word.
#[test]
fn keys_for_a_screen_that_is_not_seen_do_nothing_to_the_job() {
    for code in [KeyCode::Char(' '), KeyCode::Char('k'), KeyCode::Char('y'), KeyCode::Enter] {
        let event = KeyEvent::new(code, KeyModifiers::NONE);
        assert_eq!(meant_unseen(event, Hidden::ByHelp), Meant::Help);
        assert_eq!(meant_unseen(event, Hidden::TooSmall), Meant::Nothing);
    }
    let escape = KeyEvent::new(KeyCode::Esc, KeyModifiers::NONE);
    assert_eq!(meant_unseen(escape, Hidden::ByHelp), Meant::Help);
    assert_eq!(meant_unseen(escape, Hidden::TooSmall), Meant::Say(Word::Quit));
    let ends = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    for hidden in [Hidden::ByHelp, Hidden::TooSmall] {
        assert_eq!(meant_unseen(ends, hidden), Meant::Say(Word::Quit));
    }
}
