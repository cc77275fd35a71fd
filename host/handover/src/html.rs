//! The page: a document as one HTML file with its style and pictures inside.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use skimgauge_drawing::{mark, palette};
use skimgauge_model::Verdict;

use crate::document::{
    Block, Cell, Column, Document, Figure, Picture, Section, SignPlace, Table, VerdictCard,
};

const STYLE: &str = include_str!("page.css");

/// A table of so many rows stays on one sheet when it is printed.
const SHORT_ROWS: usize = 16;

/// The page as text.
pub(crate) fn page(document: &Document) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                // By this the program knows a page of its own again, before it replaces one.
                meta name="generator" content=(document.made_by);
                meta name="viewport" content="width=device-width, initial-scale=1";
                // Should anything ever slip through, the page still runs nothing and fetches nothing.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:";
                title { (document.kind) ": " (document.title) }
                style { (PreEscaped(palette::style())) (PreEscaped(STYLE)) }
            }
            body {
                main {
                    (head(document))
                    @for section in &document.sections { (part(section)) }
                }
                footer { p { (document.foot) } }
            }
        }
    }
    .into_string()
}

fn head(document: &Document) -> Markup {
    html! {
        header {
            p.kind { (document.kind) }
            h1 { (document.title) }
            @if !document.under.is_empty() { p.under { (document.under.join(" \u{b7} ")) } }
            div.planes aria-hidden="true" { span.beam {} span.face {} }
            @for warning in &document.warnings {
                p.warning { strong { "Note " } (warning) }
            }
            p class={ "lead " (document.verdict.map_or("none", class)) } {
                @if let Some(verdict) = document.verdict { (stamped(verdict, document.word)) " " }
                span { (document.lead) }
            }
        }
    }
}

fn part(section: &Section) -> Markup {
    html! {
        section id=(section.id) {
            h2 { (section.title) }
            @for block in &section.blocks { (piece(block)) }
        }
    }
}

fn piece(block: &Block) -> Markup {
    html! {
        @match block {
            Block::Text(text) => p { (text) },
            Block::Small(text) => p.small { (text) },
            Block::Heading(text) => h3 { (text) },
            Block::Facts(facts) => (facts_of(facts)),
            Block::Table(table) => (table_of(table)),
            Block::Figures(figures) => div.figures { @for figure in figures { (figure_of(figure)) } },
            Block::Verdict(card) => (card_of(card)),
            Block::List(points) => ul { @for point in points { li { (point) } } },
            Block::Columns(lines) => ul.columns { @for (word, of) in lines { li { b { (word) } " " (of) } } },
            Block::ToDo(points) => ul.todo { @for point in points { li { (point) } } },
            Block::Caution(caution) => div.caution { h3 { (caution.about) } p { (caution.says) } },
            Block::Code(text) => pre { code { (text) } },
            Block::Sign(places) => div.signs { @for place in places { (sign_of(place)) } },
        }
    }
}

fn facts_of(facts: &[(String, Cell)]) -> Markup {
    html! {
        dl { @for (name, cell) in facts { div { dt { (name) } dd { (shown(cell)) } } } }
    }
}

fn table_of(table: &Table) -> Markup {
    let side = |column: &Column| if column.number { "number" } else { "text" };
    // Wide tables scroll on a phone; the keyboard must reach what scrolls.
    html! {
        div.scroll tabindex="0" role="group" aria-label=(table.caption) {
            table class=[(table.rows.len() <= SHORT_ROWS).then_some("short")] {
                caption { (table.caption) }
                thead { tr { @for column in &table.columns { th class=(side(column)) scope="col" { (column.title) } } } }
                tbody {
                    @for row in &table.rows {
                        tr { @for (column, cell) in table.columns.iter().zip(row) { td class=(side(column)) { (shown(cell)) } } }
                    }
                }
            }
        }
    }
}

fn figure_of(figure: &Figure) -> Markup {
    html! {
        figure class=(if figure.wide { "wide" } else { "half" }) {
            @match &figure.picture {
                Picture::Chart(svg) if figure.wide => {
                    div.scroll tabindex="0" role="group" aria-label=(figure.alt) { (PreEscaped(svg)) }
                }
                Picture::Chart(svg) => (PreEscaped(svg)),
                // As an image it can run no script and load nothing, whoever wrote it.
                Picture::Drawing(svg) => img alt=(figure.alt) src=(data_uri(svg));,
                Picture::Photo { media_type, bytes } => {
                    img alt=(figure.alt) src={ "data:" (media_type) ";base64," (STANDARD.encode(bytes)) };
                }
            }
            figcaption { (figure.caption) }
        }
    }
}

fn card_of(card: &VerdictCard) -> Markup {
    html! {
        div class={ "verdict " (class(card.verdict)) } {
            h3 { (card.heading) }
            p { (stamp(card.verdict)) }
            p { (card.says) }
            (facts_of(&card.facts))
        }
    }
}

fn sign_of(place: &SignPlace) -> Markup {
    html! {
        div {
            h3 { (place.role) }
            p { (place.says) }
            p.line { @if let Some(name) = &place.name { (name) } @else { "Name" } }
            p.line { "Signature" }
            p.line { "Place and date" }
        }
    }
}

/// A number carries the record's own value, for whoever reads the page by program.
fn shown(cell: &Cell) -> Markup {
    html! {
        @match cell {
            Cell::Number { shown, value } => data value=(value) { (shown) },
            Cell::Verdict(verdict) | Cell::Word(verdict, _) => {
                span class={ "word " (class(*verdict)) } { (mark_of(*verdict)) (cell.shown()) }
            }
            other => (other.shown()),
        }
    }
}

/// A verdict large: shape and word.
fn stamp(verdict: Verdict) -> Markup {
    stamped(verdict, None)
}

/// The same in a word of its own.
fn stamped(verdict: Verdict, word: Option<&str>) -> Markup {
    let word = word.unwrap_or(verdict.shown());
    html! { span class={ "stamp " (class(verdict)) } { (mark_of(verdict)) (word) } }
}

/// The mark beside its word, which says it already: silent for who listens to the page.
fn mark_of(verdict: Verdict) -> Markup {
    let drawing = mark::mark(verdict).to_string();
    let start = drawing.find('>').map_or(0, |at| at + 1);
    let inside = drawing[start..].trim_end().trim_end_matches("</svg>");
    html! {
        (PreEscaped(format!("<svg class=\"mark\" viewBox=\"0 0 {} {}\" aria-hidden=\"true\">", mark::SIZE[0], mark::SIZE[1])))
        (PreEscaped(inside.replace('\n', "")))
        (PreEscaped("</svg>"))
    }
}

fn class(verdict: Verdict) -> &'static str {
    verdict.word()
}

/// Everything but letters and digits is escaped, so nothing ends the attribute.
fn data_uri(svg: &str) -> String {
    use std::fmt::Write;
    let mut uri = String::from("data:image/svg+xml,");
    for byte in svg.bytes() {
        if byte.is_ascii_alphanumeric()
            || matches!(byte, b' ' | b'=' | b'.' | b',' | b'-' | b'/' | b':' | b';' | b'(' | b')')
        {
            uri.push(char::from(byte));
        } else {
            // Writing to a String does not fail.
            let _ = write!(uri, "%{byte:02X}");
        }
    }
    uri
}
