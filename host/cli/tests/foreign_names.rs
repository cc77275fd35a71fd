//! Names that a job file may hold and that would turn the words round: the screen lets none of them
//! through.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;
use skimgauge::console::screen;
use skimgauge::watch::Watch;
use skimgauge_jobfile::Job;
use skimgauge_shared::calibration::Date;
use skimgauge_system::terminal::steers;
use std::time::Duration;

const TURNED: &str = "a\u{202e}b\u{2066}c\u{200f}d\u{61c}e";

fn drawn(draw: impl FnOnce(&mut ratatui::Frame<'_>)) -> String {
    let mut terminal = Terminal::new(TestBackend::new(100, 30)).unwrap();
    terminal
        .draw(|frame| {
            draw(frame);
            screen::steer_nothing(frame.buffer_mut());
        })
        .unwrap();
    terminal.backend().buffer().content().iter().map(|cell| cell.symbol()).collect()
}

#[test]
fn the_screen_of_a_watch_steers_nothing() {
    // A job file is refused with such a name; the screen is swept all the same.
    let mut job = Job::parse("job.toml", skimgauge_jobfile::demo_job()).unwrap();
    job.stations[0].name = TURNED.to_owned();
    let board = skimgauge::jobs::unsurveyed(&job);
    let watch = Watch::new(job, board, Date { year: 2026, month: 3, day: 9 }, TURNED);
    let text = drawn(|frame| screen::watch::draw(frame, &watch, Duration::ZERO, Some(TURNED)));
    assert!(text.contains("abcde"), "the name is on it: {text}");
    assert!(!text.chars().any(steers), "{text:?}");
}

/// Every screen is swept before it goes out, by whichever of the library's ways a text came on it.
#[test]
fn nothing_that_steers_stays_on_a_screen() {
    let evil = format!("x\u{1b}[2J\u{9b}2J\u{7f}\u{2028}\u{85}{TURNED}");
    let text = drawn(|frame| {
        let area = frame.area();
        frame.render_widget(Paragraph::new(evil.clone()), area);
        frame.buffer_mut().set_string(0, 5, &evil, ratatui::style::Style::new());
        frame.buffer_mut().set_line(0, 6, &Line::from(evil.as_str()), 80);
    });
    assert!(text.contains("x[2J2J"), "the rest of it is there: {text:?}");
    assert!(!text.chars().any(steers), "{text:?}");
}
