//! The screen of a watch.

use super::{digits, gauge, words};
use crate::watch::stations::Place;
use crate::watch::{Link, Watch};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Block, Borders, Paragraph, Wrap};
use skimgauge_metrology::measure::{Fault, Live, Shown};
use skimgauge_model::Verdict;
use std::time::Duration;

/// Below this nothing can be read from two metres.
const LEAST: (u16, u16) = (60, 18);
const TABLE_COLUMNS: u16 = 38;

/// A verdict's colour: blue, orange, grey. Told apart by every kind of colour blindness, and never
/// the only sign.
pub fn colour(verdict: Option<Verdict>) -> Style {
    match verdict {
        Some(Verdict::Within) => Style::new().fg(Color::LightBlue),
        Some(Verdict::Outside) => Style::new().fg(Color::LightRed).add_modifier(Modifier::BOLD),
        Some(Verdict::Unsure) => Style::new().fg(Color::LightYellow),
        None => Style::new().fg(Color::DarkGray),
    }
}

/// Draws a watch; `says` is what somebody beside the user says, in the foot.
pub fn draw(frame: &mut Frame<'_>, watch: &Watch, now: Duration, says: Option<&str>) {
    let area = frame.area();
    if area.width < LEAST.0 || area.height < LEAST.1 {
        let text = format!("Make this window at least {} by {} characters.", LEAST.0, LEAST.1);
        frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), area);
        return;
    }
    let live = watch.live(now);
    let [top, middle, bottom] =
        Layout::vertical([Constraint::Length(1), Constraint::Min(10), Constraint::Length(2)])
            .areas(area);
    let [left, right] = Layout::horizontal([
        Constraint::Min(30),
        Constraint::Length(TABLE_COLUMNS.min(area.width / 2)),
    ])
    .areas(middle);
    frame.render_widget(Paragraph::new(title(watch)), top);
    draw_live(frame, watch, &live, left);
    draw_stations(frame, watch, right);
    draw_foot(frame, watch, says, bottom);
}

pub(super) fn title(watch: &Watch) -> Line<'_> {
    let link = match &watch.link {
        Link::Greeting => "looking for the head".to_owned(),
        Link::Up(head) => head
            .hello
            .serial
            .map_or("head without a number".to_owned(), |serial| serial.to_string()),
        Link::Lost(_) => "HEAD LOST: plug it back in".to_owned(),
    };
    let lost = if watch.counts.lost > 0 {
        format!("  {} readings lost", watch.counts.lost)
    } else {
        String::new()
    };
    let style = Style::new().add_modifier(Modifier::REVERSED);
    Line::styled(format!(" {}   {link}{lost} ", watch.job.about.name), style)
}

/// The gravest fault. On the emitter nobody looks for the board or for the light, as long as the
/// tilt is known.
pub(super) fn in_the_way(watch: &Watch, live: &Live) -> Option<Fault> {
    let at_emitter = matches!(watch.stations.place(), Place::Emitter);
    live.faults.first().copied().filter(|_| !at_emitter || live.level_deg.good().is_none())
}

/// That the head still stands elsewhere, for a title.
fn still(watch: &Watch) -> String {
    watch.still_at().map_or_else(String::new, |at| format!(" (head still at {at})"))
}

fn draw_live(frame: &mut Frame<'_>, watch: &Watch, live: &Live, area: Rect) {
    let place = watch.stations.name();
    let block = Block::new().borders(Borders::ALL).title(format!(" at: {place}{} ", still(watch)));
    let inner = block.inner(area);
    frame.render_widget(block, area);
    let at_emitter = matches!(watch.stations.place(), Place::Emitter);
    let [number, word, bar, tilt, say] = Layout::vertical([
        Constraint::Min(5),
        Constraint::Length(2),
        Constraint::Length(3),
        Constraint::Length(1),
        Constraint::Length(5),
    ])
    .areas(inner);
    if at_emitter {
        draw_level(frame, live, number);
    } else {
        draw_gap(frame, watch, live, number, word);
        let band = watch.job.bands.gap;
        let shown = match live.gap_mm {
            Shown::Good { value, .. } => Some(value),
            _ => None,
        };
        let lines: Vec<Line<'_>> = gauge::lines(band, shown, usize::from(bar.width), watch.units)
            .into_iter()
            .map(Line::from)
            .collect();
        frame.render_widget(Paragraph::new(lines).style(colour(watch.live_verdict(live))), bar);
    }
    let tilts = format!("level {}   lean {}", degrees(live.level_deg), degrees(live.lean_deg));
    frame.render_widget(
        Paragraph::new(tilts).style(Style::new().add_modifier(Modifier::BOLD)),
        tilt,
    );
    frame.render_widget(Paragraph::new(say_lines(watch, live)).wrap(Wrap { trim: true }), say);
}

fn draw_gap(frame: &mut Frame<'_>, watch: &Watch, live: &Live, number: Rect, word: Rect) {
    let verdict = watch.live_verdict(live);
    let (text, ink, words) = match live.gap_mm {
        Shown::Good { value, .. } => {
            let verdict = verdict.unwrap_or(Verdict::Unsure);
            (
                watch.units.gap_number(value),
                '█',
                format!("{} {}", words::shape(verdict), words::verdict(verdict)),
            )
        }
        Shown::Doubtful { value, why } => (
            format!("{}?", watch.units.gap_number(value)),
            '░',
            format!("? doubtful: {}", why.name()),
        ),
        Shown::Absent { why } => ("--".to_owned(), '░', format!("– no value: {}", why.name())),
    };
    draw_digits(frame, &text, ink, colour(verdict), number);
    let style = colour(verdict).add_modifier(Modifier::BOLD);
    frame.render_widget(
        Paragraph::new(format!("{words}   ({})", watch.units.sign())).style(style),
        word,
    );
}

fn draw_level(frame: &mut Frame<'_>, live: &Live, area: Rect) {
    let (text, ink) = match live.level_deg {
        Shown::Good { value, .. } => (format!("{value:.2}"), '█'),
        Shown::Doubtful { value, .. } => (format!("{value:.2}?"), '░'),
        Shown::Absent { .. } => ("--".to_owned(), '░'),
    };
    draw_digits(frame, &text, ink, Style::new(), area);
}

pub(super) fn draw_digits(frame: &mut Frame<'_>, text: &str, ink: char, style: Style, area: Rect) {
    let dot = digits::fitting(text, usize::from(area.width), usize::from(area.height));
    let lines = dot.map_or_else(|| vec![text.to_owned()], |dot| digits::lines(text, dot, ink));
    let lines: Vec<Line<'_>> = lines.into_iter().map(Line::from).collect();
    frame.render_widget(Paragraph::new(lines).style(style), area);
}

fn degrees(shown: Shown) -> String {
    match shown {
        Shown::Good { value, .. } => format!("{value:+.2}°"),
        Shown::Doubtful { value, .. } => format!("{value:+.2}°?"),
        Shown::Absent { .. } => "--".to_owned(),
    }
}

/// What matters more than any number: a question that waits for its answer, what is being saved.
pub(super) fn urgent(watch: &Watch) -> Option<Line<'static>> {
    let style = Style::new().add_modifier(Modifier::BOLD | Modifier::REVERSED);
    let saving = || watch.busy().map(|what| format!(" … saving {what} "));
    watch
        .question()
        .map(|asked| format!(" ? {asked} "))
        .or_else(saving)
        .map(|text| Line::styled(text, style))
}

fn say_lines(watch: &Watch, live: &Live) -> Vec<Line<'static>> {
    let mut lines: Vec<Line<'static>> = urgent(watch).into_iter().collect();
    if watch.question().is_some() {
        return lines;
    }
    if let Some(message) = &watch.message {
        let style = if message.bad { colour(Some(Verdict::Outside)) } else { Style::new() };
        lines.push(Line::styled(
            watch.units.sentence(&message.text),
            style.add_modifier(Modifier::BOLD),
        ));
    }
    match (&watch.link, in_the_way(watch, live)) {
        (Link::Lost(trouble), _) => lines.push(Line::from(trouble.to_string())),
        (_, Some(fault)) => {
            lines.push(Line::from(format!("{} {}", fault.sentence(), fault.remedy())));
        }
        (_, None) => lines.push(Line::from(watch.units.sentence(&watch.hint(live)))),
    }
    lines
}

fn draw_stations(frame: &mut Frame<'_>, watch: &Watch, area: Rect) {
    let band = watch.job.bands.gap;
    let units = watch.units;
    let title = format!(" gap {} to {} ", units.gap_number(band.low.0), units.gap(band.high.0));
    let block = Block::new().borders(Borders::ALL).title(title);
    let inner = block.inner(area);
    frame.render_widget(block, area);
    let mut lines = Vec::new();
    let here = watch.stations.place();
    for (at, (station, kept)) in watch.stations.rows().enumerate() {
        let mark = if here == Place::Station(at) { "▸" } else { " " };
        let (value, verdict) = match kept {
            Some(kept) => (
                format!(
                    "{:>6} ±{} {}{}",
                    units.gap_number(kept.take.gap_mm),
                    units.gap_number(kept.expanded_mm),
                    words::shape(watch.whole().told(kept.verdict)),
                    if kept.seats.len() > 1 {
                        format!("×{}", kept.seats.len())
                    } else {
                        String::new()
                    }
                ),
                Some(watch.whole().told(kept.verdict)),
            ),
            None => ("     ·".to_owned(), None),
        };
        let number = (at + 1).to_string();
        lines.push(Line::from(vec![
            Span::raw(format!("{mark}{number:>2} {:<14} ", station.name)),
            Span::styled(value, colour(verdict)),
        ]));
    }
    let (asked, tilt) = watch.stations.emitter();
    if asked {
        let mark = if here == Place::Emitter { "▸" } else { " " };
        let level = watch.whole().level.as_ref().and_then(|level| level.as_ref().ok());
        let value = match (tilt, level) {
            (None, _) => "     ·".to_owned(),
            (Some(_), Some(level)) => format!("level {:+.2}°", level.value_deg),
            (Some(_), None) => "taken".to_owned(),
        };
        lines.push(Line::from(format!("{mark} e {:<14} {value}", "emitter")));
    }
    lines.push(Line::default());
    let whole = watch.whole();
    let style = colour(Some(whole.verdict)).add_modifier(Modifier::BOLD);
    lines.push(Line::styled(
        match whole.verdict {
            Verdict::Within => format!("{} {}", words::shape(whole.verdict), whole.headline()),
            other => format!("{} whole board: {}", words::shape(other), words::verdict(other)),
        },
        style,
    ));
    lines.push(Line::from(units.sentence(&whole.because(band))));
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }), inner);
}

fn draw_foot(frame: &mut Frame<'_>, watch: &Watch, says: Option<&str>, area: Rect) {
    let sound = if watch.sound { "on" } else { "off" };
    let keys = format!(
        "space take   r redo   m one more seat   ↑ ↓ station   s sound {sound}   q quit   (head: press = take, hold = redo)"
    );
    let first = match says {
        Some(says) => Line::styled(says.to_owned(), Style::new().add_modifier(Modifier::BOLD)),
        None => Line::styled(keys, Style::new().add_modifier(Modifier::DIM)),
    };
    let lines = vec![
        first,
        Line::styled(
            "Invisible light: follow the emitter's label. Do not look into the head's laser.",
            Style::new().add_modifier(Modifier::DIM),
        ),
    ];
    frame.render_widget(Paragraph::new(lines), area);
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;
    use skimgauge_jobfile::Job;
    use skimgauge_session::Told;
    use skimgauge_session::{Arrived, Event, HeadIs};
    use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
    use skimgauge_shared::message::*;
    use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
    use skimgauge_shared::sequence::{Placed, Position};
    use skimgauge_shared::units::{
        CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, TenThousandths,
    };

    const TODAY: Date = Date { year: 2026, month: 6, day: 1 };

    fn watch() -> Watch {
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let board = crate::jobs::unsurveyed(&job);
        let mut watch = Watch::new(job, board, TODAY, "port");
        let serial = SerialNumber([1; 16]);
        let mut calibration = Calibration::nominal(serial);
        calibration.date = TODAY;
        let rate = Rate { per_second: 100, conversions: 2 };
        let hello = Hello {
            protocol: PROTOCOL,
            firmware: Version { major: 0, minor: 1, patch: 0 },
            serial: Some(serial),
            reset: ResetCause::Power,
            capabilities: Capabilities::EYE,
            at: Microseconds(0),
            made: 0,
            rate,
            calibration: CalibrationCheck::Good,
        };
        let calibration = CalibrationState { check: CalibrationCheck::Good, calibration };
        watch.told(Duration::ZERO, Told::Head(Event::Up(Box::new(HeadIs { hello, calibration }))));
        watch
    }

    /// A second of readings with this stand-off, the light in the middle of the eye.
    fn read(watch: &mut Watch, stand_off: Sample<Micrometres>) -> Duration {
        for number in 1..=100_u32 {
            let at = Microseconds::from_millis(u64::from(number) * 10);
            let arrival = Duration::from_micros(at.0);
            // A live sensor's last digit moves.
            let jitter = Micrometres([0, 7, -6, 3, -4][number as usize % 5]);
            let reading = Reading {
                sequence: number as u8,
                at_low_us: at.0 as u32,
                stand_off: stand_off.map(|s| s + jitter),
                eye: Sample::Value(TenThousandths(number as i16 % 7)),
                tilt: Sample::Value(Tilt {
                    level: Microdegrees(5_493 * (number % 3) as i32),
                    lean: Microdegrees(0),
                }),
            };
            let placed = Placed { position: Position { number, at }, lost: 0 };
            if number % 20 == 1 {
                let pulse = Pulse {
                    at,
                    made: number,
                    unsent: 0,
                    refused_frames: 0,
                    temperature: Sample::Value(CentiCelsius(2_000)),
                    supply: Sample::Value(Millivolts(5_000)),
                    light: Sample::Value(9_000),
                    latest_start_us: 0,
                };
                watch.told(arrival, Told::Head(Event::Pulse(pulse)));
            }
            watch.told(arrival, Told::Head(Event::Reading(Arrived { reading, placed, arrival })));
        }
        Duration::from_millis(1_000)
    }

    fn screen(watch: &Watch, now: Duration, columns: u16, rows: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
        terminal.draw(|frame| draw(frame, watch, now, None)).unwrap();
        terminal.backend().to_string()
    }

    #[test]
    fn a_good_gap_is_large_and_has_its_word_and_shape() {
        let mut watch = watch();
        let now = read(&mut watch, Sample::Value(Micrometres(27_500)));
        for (columns, rows) in [(80, 24), (120, 40)] {
            let screen = screen(&watch, now, columns, rows);
            assert!(screen.contains("● within"), "{screen}");
            assert!(
                screen.contains('▼') && screen.contains("1.00") && screen.contains("4.00"),
                "{screen}"
            );
            assert!(
                screen.contains("top left") && screen.contains("too close to call"),
                "{screen}"
            );
            assert!(screen.matches('█').count() > 60, "{screen}");
        }
    }

    #[test]
    fn in_inches_every_length_is() {
        let mut watch = watch();
        watch.units = crate::lengths::Lengths(skimgauge_handover::Units::Inch);
        let now = read(&mut watch, Sample::Value(Micrometres(27_500)));
        let shown = screen(&watch, now, 100, 30);
        assert!(
            shown.contains("gap 0.039 to 0.157 in")
                && shown.contains("(in)")
                && shown.contains('▼'),
            "{shown}"
        );
        assert!(!shown.contains("mm"), "{shown}");
        let plain = crate::watch::line::plain(&watch, now);
        let live = watch.live(now).gap_mm.good().unwrap().0;
        assert!(plain.contains(&format!("gap  {:.3} in  within", live / 25.4)), "{plain}");
    }

    #[test]
    fn a_gap_outside_says_so_without_colour() {
        let mut watch = watch();
        let now = read(&mut watch, Sample::Value(Micrometres(33_000)));
        let screen = screen(&watch, now, 80, 24);
        assert!(screen.contains("✕ outside") && screen.contains('▶'), "{screen}");
    }

    #[test]
    fn an_absent_gap_shows_no_number_and_what_to_do() {
        let mut watch = watch();
        let now = read(&mut watch, Sample::Absent(Absence::NoSpot));
        let screen = screen(&watch, now, 100, 30);
        assert!(
            screen.contains("no value: laser spot lost") && screen.contains("Wipe"),
            "{screen}"
        );
        assert!(!screen.contains('█') && !screen.contains('▼'), "{screen}");
    }

    #[test]
    fn three_tenths_of_a_second_without_a_reading_take_the_number_away() {
        let mut watch = watch();
        let now = read(&mut watch, Sample::Value(Micrometres(27_500)));
        let later = now + Duration::from_millis(310);
        let screen = screen(&watch, later, 80, 24);
        assert!(screen.contains("no value: no readings") && !screen.contains('█'), "{screen}");
        assert!(watch.said(later, crate::watch::Said::Take).is_empty(), "taken all the same");
    }

    #[test]
    fn a_small_window_is_told_so_and_nothing_panics() {
        let watch = watch();
        for (columns, rows) in [(1, 1), (10, 3), (59, 17), (60, 18), (300, 100)] {
            let screen = screen(&watch, Duration::ZERO, columns, rows);
            assert!(columns < 60 || screen.contains("whole board"), "{screen}");
        }
    }
}
