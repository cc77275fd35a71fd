//! What a zeroing shows: live lines, residuals, before and after, the budget.

use crate::lengths::Lengths;
use skimgauge_metrology::budget::{Budget, figures};
use skimgauge_metrology::coverage::LEVEL;
use skimgauge_metrology::zero::{Change, Outcome, Residual};
use skimgauge_procedure::View;
use skimgauge_procedure::view::Reading;
use skimgauge_procedure::view::zero::{Sees, ZeroView};
use skimgauge_quantity::{Deg, Style, Units, counted};
use std::fmt::Write;

/// One line of what has to be seen of the head while a step is set up: what the eye sees and what is
/// wrong, or its tilt.
pub fn seen(view: &View, zero: &ZeroView, style: Style) -> String {
    match zero.sees {
        Sees::Eye => eye(view, zero, style),
        Sees::Tilt => {
            let show = |tilt: Reading<Deg>| {
                tilt.good().map_or("-".to_owned(), |deg| deg.fine().signed().number(style))
            };
            format!("level {}  lean {} degrees", show(view.live.level), show(view.live.lean))
        }
        Sees::Nothing => String::new(),
    }
}

fn eye(view: &View, zero: &ZeroView, style: Style) -> String {
    if let Some(fault) = &view.in_the_way {
        return format!("{}: {}", fault.name, fault.remedy.text(style));
    }
    let stand_off = view.live.stand_off.map_or("-".to_owned(), |mm| mm.gap().text(style));
    match &zero.eye {
        Some(eye) => format!("stand-off {stand_off}, {}", eye.text(style)),
        None => format!("stand-off {stand_off}"),
    }
}

/// Residuals as a plot: one line for each line of light, by its slit's height and how far the head was
/// lifted; the middle is zero.
pub fn residuals(residuals: &[Residual], units: Lengths) -> String {
    const HALF: usize = 14;
    let widest =
        residuals.iter().map(|r| r.residual_mm.abs().max(2.0 * r.u_mm)).fold(0.001, f64::max);
    let mut text = format!(
        "Residuals: a slit's height less what the new constants say, by slit and lift;\n  o residual, ( ) two standard uncertainties, ends at {} {}\n",
        figures(units.of_mm(widest), 2),
        units.sign()
    );
    let place = |mm: f64| (HALF as f64 * (1.0 + (mm / widest).clamp(-1.0, 1.0))).round() as usize;
    for r in residuals {
        let mut line = vec![' '; 2 * HALF + 1];
        line[HALF] = '|';
        line[place(-2.0 * r.u_mm)] = '(';
        line[place(2.0 * r.u_mm)] = ')';
        line[place(r.residual_mm)] = 'o';
        let line: String = line.into_iter().collect();
        let beyond = if r.residual_mm.abs() > 3.0 * r.u_mm { "  look here" } else { "" };
        let (residual, unit) = (units.of_mm(r.residual_mm), units.sign());
        let (slit, lifted) = (units.of_mm(r.slit_mm), units.of_mm(r.lifted_mm));
        let _ = writeln!(
            text,
            "{slit:>7.3} {lifted:>+6.3} {unit} {line} {residual:+.4} {unit}{beyond}"
        );
    }
    text
}

/// Before and after.
pub fn changes(changes: &[Change], units: Lengths) -> String {
    let mut text =
        format!("{:<18} {:>12} {:>12} {:>12}  unit\n", "constant", "before", "after", "u");
    for change in changes {
        // Of all units here, only those of lengths begin with mm.
        let (per_mm, unit) = match change.unit.strip_prefix("mm") {
            Some(rest) if units.0 == Units::Inch => (units.of_mm(1.0), format!("in{rest}")),
            _ => (1.0, change.unit.clone()),
        };
        let u = change.u.map_or("-".to_owned(), |u| figures(u * per_mm, 2));
        let _ = writeln!(
            text,
            "{:<18} {:>12} {:>12} {u:>12}  {}",
            change.what,
            figures(change.before * per_mm, 6),
            figures(change.after * per_mm, 6),
            unit
        );
    }
    text
}

/// A budget in the unit of the screen; it is kept in mm.
fn shown_in(budget: &Budget, units: Lengths) -> Budget {
    let mut budget = budget.clone();
    if units.0 == Units::Inch {
        budget.unit = units.sign().to_owned();
        budget.value = units.of_mm(budget.value);
        for entry in &mut budget.entries {
            (entry.value, entry.stated) = (units.of_mm(entry.value), units.of_mm(entry.stated));
        }
    }
    budget
}

/// Everything that the user is to see before the constants are written.
pub fn outcome(outcome: &Outcome, units: Lengths) -> String {
    let mut text = changes(&outcome.changes, units);
    if !outcome.residuals.is_empty() {
        text.push('\n');
        text.push_str(&residuals(&outcome.residuals, units));
        text.push_str(if outcome.bent {
            "A bent curve: the residuals of a straight line asked for it.\n"
        } else {
            "A straight line: the residuals ask for no more.\n"
        });
        text.push_str(&wide(outcome));
    }
    if let Some(budget) = &outcome.budget {
        text.push('\n');
        text.push_str(&shown_in(budget, units).table(LEVEL));
    }
    text.push('\n');
    text.push_str(&stays(outcome, units));
    text
}

/// The same in so few lines of 80 columns that a small screen has room for all of it and for the
/// question.
pub fn brief(outcome: &Outcome, units: Lengths) -> String {
    let mut text = changes(&outcome.changes, units);
    let unit = units.sign();
    if let Some(worst) =
        outcome.residuals.iter().max_by(|a, b| a.residual_mm.abs().total_cmp(&b.residual_mm.abs()))
    {
        let _ = writeln!(
            text,
            "Worst residual {:+.4} {unit} (stated {:.4}), slit {:.3} {unit}, lifted {:.3} {unit}.",
            units.of_mm(worst.residual_mm),
            units.of_mm(worst.u_mm),
            units.of_mm(worst.slit_mm),
            units.of_mm(worst.lifted_mm)
        );
        text.push_str(&wide(outcome));
    }
    if let Some(budget) = &outcome.budget {
        let mut parts: Vec<_> = budget.entries.iter().collect();
        parts.sort_by(|a, b| b.contribution().total_cmp(&a.contribution()));
        let _ = writeln!(
            text,
            "The zero's uncertainty {} {unit}, mostly",
            figures(units.of_mm(budget.u()), 2)
        );
        for part in parts.iter().take(4) {
            let of_it = 100.0 * budget.share(part);
            let _ = writeln!(
                text,
                "{:>8} {unit} {of_it:>3.0} %  {}",
                figures(units.of_mm(part.contribution()), 2),
                part.source
            );
        }
    }
    text.push_str(&stays(outcome, units));
    text
}

fn wide(outcome: &Outcome) -> String {
    outcome.birge.map_or_else(String::new, |birge| {
        format!(
            "Residuals {birge:.1} times as wide as stated ({}).\n{}",
            counted(outcome.dof, "degree of freedom", "degrees of freedom"),
            if birge > 2.0 {
                "A crumb under a foot, or dirt in a slit: take that stand anew.\n"
            } else {
                ""
            }
        )
    })
}

/// What the user is to know besides: a zero that moved, and what stays as it was.
fn stays(outcome: &Outcome, units: Lengths) -> String {
    let mut text = String::new();
    if let Some(moved_mm) = outcome.moved_mm {
        let _ = writeln!(
            text,
            "The zero moved by {:+.3} {}, more than it was known to: a knock, or the gauge's\nheights are not those on its label. Look again before you say yes.",
            units.of_mm(moved_mm),
            units.sign()
        );
    }
    let names: Vec<&str> = outcome.kept.iter().map(|step| step.name()).collect();
    if !names.is_empty() {
        let _ = writeln!(text, "Not done, its former constants stay: {}.", names.join(", "));
    }
    text.push_str("Lean is not found here (it wants a stand with two faces): its offset stays.\n");
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plot_keeps_its_width_whatever_the_residuals() {
        let residual =
            |residual_mm, u_mm| Residual { slit_mm: 3.0, lifted_mm: 0.6, residual_mm, u_mm };
        let drawn = [residual(0.0, 0.001), residual(-0.2, 0.01), residual(0.254, 0.05)];
        let text = residuals(&drawn, Lengths::default());
        let lines: Vec<&str> = text.lines().skip(2).collect();
        assert!(lines.iter().all(|l| l.contains('o') && l.len() < 80), "{text}");
        assert!(lines[1].ends_with("look here") && !lines[0].ends_with("here"));
        assert!(lines[1].find('o') < lines[0].find('o'));
        let inch = residuals(&drawn, Lengths(Units::Inch));
        assert!(inch.contains("ends at 0.010 in") && inch.contains("+0.0100 in"), "{inch}");
    }

    #[test]
    fn constants_in_inches_keep_what_is_no_length() {
        let change = |what: &str, unit: &str| Change {
            what: what.to_owned(),
            unit: unit.to_owned(),
            before: 25.4,
            after: 2.54,
            u: Some(0.0254),
        };
        let text = changes(
            &[change("zero", "mm"), change("temperature", "mm/K"), change("offset", "deg")],
            Lengths(Units::Inch),
        );
        let lines: Vec<&str> = text.lines().skip(1).collect();
        assert!(lines[0].contains("1.00000") || lines[0].contains(" 1 "), "{text}");
        assert!(
            lines[0].ends_with("in") && lines[0].contains("0.0010") && lines[1].ends_with("in/K"),
            "{text}"
        );
        assert!(lines[2].contains("25.4") && lines[2].ends_with("deg"), "{text}");
    }
}
