//! The screen of a guided trim: the board as a picture, the live gap in big digits, what to do now.

use super::board::{LEGEND, Picture};
use super::watch::{colour, draw_digits, in_the_way, title, urgent};
use super::{gauge, words};
use crate::trim::at_work::AtWork;
use crate::trim::guide::{Advice, Stage};
use crate::watch::{Link, Watch};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Block, Borders, Paragraph, Wrap};
use skimgauge_metrology::measure::{Live, Shown};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm};
use std::time::Duration;

/// Below this nothing can be read from two metres.
const LEAST: (u16, u16) = (72, 22);
/// Columns for the numbers beside the picture.
const SIDE: u16 = 36;

/// Draws it; `says` goes into the foot in place of the keys.
pub fn draw(
    frame: &mut Frame<'_>,
    watch: &Watch,
    work: &AtWork,
    now: Duration,
    says: Option<&str>,
) {
    let area = frame.area();
    if area.width < LEAST.0 || area.height < LEAST.1 {
        let text = format!("Make this window at least {} by {} characters.", LEAST.0, LEAST.1);
        return frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), area);
    }
    let live = watch.live(now);
    let [top, middle, advice, bottom] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(12),
        Constraint::Length(6),
        Constraint::Length(2),
    ])
    .areas(area);
    let [left, right] =
        Layout::horizontal([Constraint::Min(34), Constraint::Length(SIDE)]).areas(middle);
    frame.render_widget(Paragraph::new(title(watch)), top);
    draw_board(frame, watch, work, left);
    draw_live(frame, watch, work, &live, right);
    draw_advice(frame, watch, work, &live, advice);
    draw_foot(frame, watch, says, bottom);
}

fn draw_board(frame: &mut Frame<'_>, watch: &Watch, work: &AtWork, area: Rect) {
    let guide = &work.guide;
    let shown = guide.picture();
    let gap_at = |x_mm: f64, y_mm: f64| guide.gap_at(x_mm, y_mm);
    let turn = match guide.advice() {
        Advice::Turn { adjuster, turns, .. } => Some((*adjuster, *turns)),
        _ => None,
    };
    let head = watch.stations.station().map(|station| (station.at.x.0, station.at.y.0));
    let picture = Picture {
        image: guide.image(),
        band: guide.band(),
        gap_at: &gap_at,
        shown: &shown,
        adjusters: guide.adjusters(),
        turn,
        head,
        units: watch.units,
    };
    let mut lines = picture.lines(area.width.saturating_sub(1), area.height.saturating_sub(1));
    lines.push(Line::styled(LEGEND, Style::new().add_modifier(Modifier::DIM)));
    frame.render_widget(Paragraph::new(lines), area);
}

fn draw_live(frame: &mut Frame<'_>, watch: &Watch, work: &AtWork, live: &Live, area: Rect) {
    let place = watch.stations.name();
    let block = Block::new()
        .borders(Borders::ALL)
        .title(format!(" round {} at {place} ", work.guide.round()));
    let inner = block.inner(area);
    frame.render_widget(block, area);
    let [digits, word, bar] =
        Layout::vertical([Constraint::Min(5), Constraint::Length(2), Constraint::Length(3)])
            .areas(inner);
    let good = live.gap_mm.good().map(|(gap_mm, _)| gap_mm);
    let dial = watch.dial;
    let (text, ink) = match live.gap_mm {
        Shown::Good { value, .. } => (watch.units.gap_number(value), '█'),
        Shown::Doubtful { value, .. } => (format!("{}?", watch.units.gap_number(value)), '░'),
        Shown::Absent { .. } => ("--".to_owned(), '░'),
    };
    let (says, verdict, band) = match (dial, good) {
        (Some(dial), Some(gap_mm)) => {
            let off_mm = dial.to_mm - gap_mm;
            let there = off_mm.abs() <= dial.within_mm;
            let says = if there {
                format!("● there: {}", watch.units.gap(dial.to_mm))
            } else {
                let arrow = if off_mm > 0.0 { '▲' } else { '▼' };
                format!(
                    "{arrow} to {}: {} to go",
                    watch.units.gap(dial.to_mm),
                    watch.units.gap_number(off_mm.abs())
                )
            };
            (
                says,
                if there { Some(Verdict::Within) } else { Some(Verdict::Unsure) },
                around(dial.to_mm),
            )
        }
        (Some(dial), None) => {
            (format!("? to {}", watch.units.gap(dial.to_mm)), None, around(dial.to_mm))
        }
        (None, Some(_)) => {
            let verdict = watch.live_verdict(live).unwrap_or(Verdict::Unsure);
            (
                format!("{} {}", words::shape(verdict), words::verdict(verdict)),
                Some(verdict),
                work.guide.band(),
            )
        }
        (None, None) => {
            let why = live.gap_mm.why().map_or("", |why| why.name());
            (format!("– no gap: {why}"), None, work.guide.band())
        }
    };
    draw_digits(frame, &text, ink, colour(verdict), digits);
    frame.render_widget(
        Paragraph::new(says).style(colour(verdict).add_modifier(Modifier::BOLD)),
        word,
    );
    let lines: Vec<Line<'_>> = gauge::lines(band, good, usize::from(bar.width), watch.units)
        .into_iter()
        .map(Line::from)
        .collect();
    frame.render_widget(Paragraph::new(lines).style(colour(verdict)), bar);
}

/// Half a millimetre to either side of the gap to come to.
fn around(to_mm: f64) -> Band<Mm> {
    Band { low: Mm(to_mm - 0.5), high: Mm(to_mm + 0.5) }
}

fn draw_advice(frame: &mut Frame<'_>, watch: &Watch, work: &AtWork, live: &Live, area: Rect) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let left = work.guide.turns_left();
    let count = if matches!(work.guide.stage(), Stage::Turn(_)) {
        format!("{left} to go: ")
    } else {
        String::new()
    };
    let strays =
        work.strays(watch).map_or_else(String::new, |at| format!("  (takes now go to {at}: ↑ ↓)"));
    let mut lines = vec![Line::styled(
        format!("▶ {count}{}{strays}", watch.units.sentence(&work.advice_line())),
        bold.add_modifier(Modifier::REVERSED),
    )];
    if let Some(urgent) = urgent(watch) {
        lines.push(urgent);
    }
    if watch.question().is_some() {
        // Nothing else until it is answered.
    } else if let Some(message) = &watch.message {
        lines.push(Line::styled(
            watch.units.sentence(&message.text),
            if message.bad { colour(Some(Verdict::Outside)) } else { bold },
        ));
    } else if let (Link::Lost(trouble), _) = (&watch.link, ()) {
        lines.push(Line::from(trouble.to_string()));
    } else if let Some(fault) = in_the_way(watch, live) {
        lines.push(Line::from(format!("{} {}", fault.sentence(), fault.remedy())));
    } else if matches!(work.guide.stage(), Stage::Take) {
        lines.push(Line::from(watch.units.sentence(&watch.hint(live))));
    }
    if let Some((text, bad)) = work.last_said() {
        lines.push(Line::styled(
            watch.units.sentence(text),
            if *bad { colour(Some(Verdict::Outside)) } else { Style::new() },
        ));
    }
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }), area);
}

fn draw_foot(frame: &mut Frame<'_>, watch: &Watch, says: Option<&str>, area: Rect) {
    let sound = if watch.sound { "on" } else { "off" };
    let dim = Style::new().add_modifier(Modifier::DIM);
    let keys = match watch.presses {
        Some(_) => format!(
            "space ready / turned   x turned as told, gap not there   s sound {sound}   q quit"
        ),
        None => {
            format!(
                "space take   r redo   m one more seat   ↑ ↓ station   g begin to turn   s sound {sound}   q quit"
            )
        }
    };
    let first = match says {
        Some(says) => Line::styled(says.to_owned(), Style::new().add_modifier(Modifier::BOLD)),
        None => Line::styled(keys, dim),
    };
    let caution = "Invisible light: do not look in. Turn gently. Ladder: three points of contact.";
    frame.render_widget(Paragraph::new(vec![first, Line::styled(caution, dim)]), area);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs;
    use crate::trim::guide::Guide;
    use crate::watching::{Hands, Mode};
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;
    use skimgauge_jobfile::Job;
    use skimgauge_metrology::plane::observation::{GapObservation, Observations};
    use skimgauge_shared::calibration::Date;

    /// What is on a screen of this size once these stations have been taken over a plane that
    /// leans.
    fn drawn(columns: u16, rows: u16, takes: usize) -> String {
        drawn_with(columns, rows, takes, 0.0, 0.003)
    }

    /// The same over a plane that leans by so much (mm a mm), the first station misread by so much
    /// (mm).
    fn drawn_with(columns: u16, rows: u16, takes: usize, misread_mm: f64, lean: f64) -> String {
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let board = jobs::unsurveyed(&job);
        let mut guide = Guide::new(&job, &board).unwrap();
        let gap = |s: &skimgauge_model::Station| {
            3.0 + 0.0005 * s.at.x.0 * lean / 0.003 - lean * s.at.y.0
                + if s.name == job.stations[0].name { misread_mm } else { 0.0 }
        };
        let order = [0, 4, 6, 2, 1, 3, 5, 7];
        let taken: Vec<bool> =
            (0..job.stations.len()).map(|at| order[..takes].contains(&at)).collect();
        let gaps = job
            .stations
            .iter()
            .zip(&taken)
            .filter(|(_, t)| **t)
            .map(|(s, _)| GapObservation::at(s, gap(s), 0.05))
            .collect();
        guide.takes(
            Observations { gaps, lean: None, shared: Vec::new() },
            &taken,
            Vec::new(),
            true,
        );
        let watch = Watch::new(job, board, Date { year: 2026, month: 11, day: 25 }, "port");
        let work = AtWork::new(guide, Mode::Screen);
        let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
        terminal.draw(|frame| assert!(work.draw(frame, &watch, Duration::from_secs(1)))).unwrap();
        let buffer = terminal.backend().buffer().clone();
        let line =
            |y: u16| (0..columns).map(|x| buffer[(x, y)].symbol().to_owned()).collect::<String>();
        (0..rows).map(|y| line(y) + "\n").collect()
    }

    #[test]
    fn the_board_shows_high_and_low_with_the_worst_corner_marked() {
        for (columns, rows) in [(80, 24), (120, 40)] {
            let screen = drawn(columns, rows, 8);
            for part in
                ["o left", "o upper", "o right", "‼", "▓", "7.3", "✕", "begin to turn", LEGEND]
            {
                assert!(screen.contains(part), "{columns}: {part}\n{screen}");
            }
            let worst = screen.lines().find(|line| line.contains("✕‼")).unwrap();
            assert!(worst.contains("7.30✕‼"), "the bottom right corner\n{screen}");
        }
    }

    /// Readings that contradict one another are shown as read, without a verdict and without a
    /// plane behind them; and where nobody looked no dot says within.
    #[test]
    fn a_contradiction_shows_readings_and_no_verdict() {
        let screen = drawn_with(120, 40, 8, 1.2, 0.0);
        let board: String =
            screen.lines().filter_map(|line| line.strip_prefix('│')?.split('│').next()).collect();
        assert!(
            board.matches('◐').count() == 8 && !board.contains('●') && !board.contains('✕'),
            "{screen}"
        );
        assert!(screen.contains("▶ take top left again: lift the head"), "{screen}");
        let screen = drawn_with(120, 40, 8, 0.0, 0.0);
        let board: Vec<&str> =
            screen.lines().filter_map(|line| line.strip_prefix('│')?.split('│').next()).collect();
        let (gaps, dots): (Vec<usize>, Vec<usize>) = board
            .iter()
            .map(|line| (line.matches("3.00").count(), line.matches('●').count()))
            .unzip();
        assert_eq!(
            (gaps.iter().sum::<usize>(), dots.iter().sum::<usize>()),
            (9, 8),
            "the middle was not read: {screen}"
        );
    }

    #[test]
    fn before_there_is_a_plane_it_says_where_to_go_and_shows_no_gap() {
        let screen = drawn(80, 24, 2);
        assert!(screen.contains("▶ take "), "{screen}");
        // The legend has each of the shades once.
        assert!(
            screen.matches('▓').count() == 1
                && screen.matches('‼').count() == 1
                && !screen.contains('✕'),
            "{screen}"
        );
    }

    #[test]
    fn a_small_window_says_so() {
        assert!(drawn(60, 20, 8).contains("Make this window at least"));
    }
}
