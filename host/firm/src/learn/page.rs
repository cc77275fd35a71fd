//! What was learnt, as one page that needs nothing beside it.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use skimgauge_drawing::{control, palette};
use skimgauge_quantity::{Mm, Style, Units, counted};

use super::figures::{Figures, HeadFigures, Scatter, Shown};
use super::table::prior;

const STYLE: &str = "\
body{margin:0 auto;max-width:62rem;padding:0 1.25rem 2rem;background:var(--paper);color:var(--ink);\
font:1rem/1.5 system-ui,sans-serif;font-variant-numeric:tabular-nums}\
h1{line-height:1.1}section{border-top:1px solid var(--rule);margin-top:2rem}\
table{border-collapse:collapse;width:100%}\
th,td{padding:.35rem .7rem .35rem 0;border-bottom:1px solid var(--rule);text-align:left}\
td.n,th.n{text-align:right}.scroll{overflow-x:auto}\
.sign{border:2px dashed var(--outside);border-radius:4px;padding:.4rem .8rem}\
.small{color:var(--soft);font-size:.875rem}pre{background:var(--panel);padding:.8rem 1rem;white-space:pre-wrap}\
figure{margin:1rem 0}figure svg{width:100%;height:auto}";

/// The page as text, lengths in these units.
pub fn page(figures: &Figures, units: Units) -> String {
    let style = Style::printed(units);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                // By this the program knows a page of its own again, before it replaces one.
                meta name="generator" content="skimgauge lessons";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:";
                title { "What the jobs teach" }
                style { (PreEscaped(palette::style())) (PreEscaped(STYLE)) }
            }
            body { main {
                h1 { "What the jobs teach" }
                (jobs(figures))
                (emitters(figures, style))
                (heads(figures, style))
                @if !figures.crews.is_empty() { (crews(figures, style)) }
                (faults(figures))
            } }
        }
    }
    .into_string()
}

fn of_three(shown: Option<Shown>, places: usize) -> String {
    shown.map_or_else(
        || "-".to_owned(),
        |s| format!("{:.places$} ({:.places$} to {:.places$})", s.middle, s.low, s.high),
    )
}

fn of_scatter(scatter: Option<Scatter>, style: Style) -> String {
    scatter.map_or_else(
        || style.none().to_owned(),
        |s| {
            let dof = counted(s.dof, "degree of freedom", "degrees of freedom");
            format!("{} ({dof})", Mm(s.sd_mm).fine().text(style))
        },
    )
}

fn fine(mm: f64, style: Style) -> String {
    Mm(mm).fine().number(style)
}

/// So many of them.
fn many(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

fn jobs(figures: &Figures) -> Markup {
    let jobs = &figures.jobs;
    let [within, outside, unsure, none] = jobs.verdicts;
    html! {
        section {
            h2 { (many(jobs.count, "job")) }
            p { "Last verdicts: " (within) " within, " (outside) " outside, " (unsure) " too close to call, " (none) " none." }
            p { "Minutes at work, median and middle half: " (of_three(jobs.minutes, 0)) ". Rounds: " (of_three(jobs.rounds, 0)) "." }
            p.small { "At work: the intervals between entries, those of a quarter of an hour and more left out." }
            @if !jobs.broken.is_empty() {
                p.sign { "Broken, and so not counted: " (jobs.broken.join(", ")) ". " code { "skimgauge jobs verify --from URL" } " tells more." }
            }
        }
    }
}

fn emitters(figures: &Figures, style: Style) -> Markup {
    let sign = style.units.sign();
    html! {
        section {
            h2 { "Adjusters by emitter" }
            @for emitter in &figures.emitters {
                h3 { (emitter.model) ", " (many(emitter.jobs, "job")) }
                @if emitter.adjusters.is_empty() {
                    p { "No turn was counted and watched yet." }
                } @else {
                    div.scroll tabindex="0" role="region" aria-label=(format!("Adjusters of {}", emitter.model)) { table {
                        thead { tr {
                            th scope="col" { "adjuster" } th.n scope="col" { "a turn moves it, " (sign) } th.n scope="col" { "known to, " (sign) }
                            th.n scope="col" { "from unit to unit, " (sign) } th scope="col" { "clockwise" } th.n scope="col" { "units" }
                            th.n scope="col" { "turns" } th.n scope="col" { "other way round" } th.n scope="col" { "in the job files, " (sign) }
                        } }
                        tbody { @for a in &emitter.adjusters { tr {
                            td { (a.name) } td.n { (fine(a.pitch_mm, style)) } td.n { (fine(a.u_pitch_mm, style)) }
                            td.n { (fine(a.spread_mm, style)) } td { (a.clockwise) } td.n { (a.units) } td.n { (a.turns) }
                            td.n { (a.other_way) } td.n { (fine(a.stated_mm, style)) }
                        } } }
                    } }
                    @if let Some(lines) = prior(figures, &emitter.model) {
                        p { "For the next job's file, in the place of what it says of pitch and sense:" }
                        pre { (lines) }
                    }
                }
            }
            p.small {
                "From turns that were counted and watched, those that slipped, came to an end or were cut short left out. Known to: \
                 standard uncertainty. From unit to unit: standard deviation beyond it (DerSimonian and Laird)."
            }
        }
    }
}

fn heads(figures: &Figures, style: Style) -> Markup {
    html! {
        section {
            h2 { "Heads" }
            @for head in &figures.heads {
                h3 { "Head " (head.serial) }
                @for sign in &head.signs {
                    p.sign { strong { "Look at this head: " } (sign) ". Zero it anew on the gauge before the next board, and check the gauge." }
                }
                p { "Scatter from seat to seat: " (of_scatter(head.seats, style)) "." }
                (chart(head, style))
            }
            p.small { "Limits after ISO 7870-2, single values and moving ranges; none for fewer than five zeros." }
        }
    }
}

fn chart(head: &HeadFigures, style: Style) -> Markup {
    let values: Vec<(String, f64)> =
        head.zeros.iter().map(|zero| (zero.day.clone(), zero.zero_mm)).collect();
    let limits = head.limits.map(|limits| [limits.mean_mm, limits.lower_mm, limits.upper_mm]);
    let of = format!("Zero of head {} over time", head.serial);
    let row = control::Row { of: &of, values: &values, limits, signs: &head.at };
    html! {
        @if let Some(chart) = control::draw(&row, style.units) {
            figure {
                (PreEscaped(chart.to_string()))
                figcaption { "Its zero, " (style.units.sign()) ", by the day on which it was found. Ringed: out of the ordinary." }
            }
        }
    }
}

fn crews(figures: &Figures, style: Style) -> Markup {
    html! {
        section {
            h2 { "By crew" }
            div.scroll tabindex="0" role="region" aria-label="By crew" { table {
                thead { tr {
                    th scope="col" { "crew" } th.n scope="col" { "jobs" } th.n scope="col" { "seat to seat" }
                    th.n scope="col" { "minutes at work" } th.n scope="col" { "rounds" }
                } }
                tbody { @for crew in &figures.crews { tr {
                    td { (crew.crew) } td.n { (crew.jobs) } td.n { (of_scatter(crew.seats, style)) }
                    td.n { (of_three(crew.minutes, 0)) } td.n { (of_three(crew.rounds, 0)) }
                } } }
            } }
        }
    }
}

fn faults(figures: &Figures) -> Markup {
    html! {
        section {
            h2 { "Faults" }
            @if figures.faults.is_empty() { p { "Nothing was noticed." } }
            @else { div.scroll tabindex="0" role="region" aria-label="Faults" { table {
                thead { tr { th scope="col" { "of a" } th scope="col" { "noticed" } th.n scope="col" { "times" } th.n scope="col" { "jobs" } } }
                tbody { @for fault in &figures.faults { tr {
                    td { (fault.of) } td { (fault.what) } td.n { (fault.count) } td.n { (fault.jobs) }
                } } }
            } } }
        }
    }
}
