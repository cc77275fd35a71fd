//! What a zeroing shows: live lines, residuals, before and after, the budget.

use crate::lengths::Lengths;
use skimgauge_metrology::budget::figures;
use skimgauge_metrology::coverage::LEVEL;
use skimgauge_metrology::zero::{Change, Outcome, Residual};
use skimgauge_procedure::View;
use skimgauge_procedure::view::Reading;
use skimgauge_procedure::view::zero::Sees;
use skimgauge_quantity::{Deg, Mm, Style, Units};
use std::fmt::Write;

/// One line of what has to be seen of the head while a step is set up: where the light stands in the
/// eye and what is wrong, or its tilt.
pub fn seen(view: &View, sees: Sees, style: Style) -> String {
    match sees {
        Sees::Eye => eye(view, style),
        Sees::Tilt => {
            let show = |tilt: Reading<Deg>| {
                tilt.good().map_or("-".to_owned(), |deg| deg.fine().signed().number(style))
            };
            format!("level {}  lean {} degrees", show(view.live.level), show(view.live.lean))
        }
        Sees::Nothing => String::new(),
    }
}

fn eye(view: &View, style: Style) -> String {
    if let Some(fault) = &view.in_the_way {
        return format!("{}: {}", fault.name, fault.remedy.text(style));
    }
    let stand_off = view.live.stand_off.map_or("-".to_owned(), |mm| mm.gap().text(style));
    match view.live.eye {
        None => format!("stand-off {stand_off}"),
        Some(eye) => {
            let middle = Mm(eye.middle_mm).gap().text(style);
            format!("light {} {middle}  stand-off {stand_off}", light(eye.middle_mm))
        }
    }
}

/// Where the light stands on the line of pixels, as a little scale: away from the board to the
/// right.
fn light(middle_mm: f64) -> String {
    const PLACES: usize = 21;
    const LINE_MM: f64 = 16.2;
    let at = (middle_mm / LINE_MM * (PLACES - 1) as f64).round().clamp(0.0, (PLACES - 1) as f64);
    (0..PLACES).map(|k| if k == at as usize { '#' } else { '.' }).collect()
}

/// Residuals as a plot: one line a block, by the height that is marked on it; the middle is zero.
pub fn residuals(residuals: &[Residual], units: Lengths) -> String {
    const HALF: usize = 20;
    let widest =
        residuals.iter().map(|r| r.residual_mm.abs().max(2.0 * r.u_mm)).fold(0.001, f64::max);
    let mut text = format!(
        "Residuals: known gap less what the new constants say; o residual, ( ) two standard uncertainties, ends at {} {}\n",
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
        let beyond = if r.residual_mm.abs() > 3.0 * r.u_mm { "  look at this one" } else { "" };
        let (residual, unit) = (units.of_mm(r.residual_mm), units.sign());
        let _ = writeln!(text, "{:>8.3} mm {line} {residual:+.4} {unit}{beyond}", r.block_mm);
    }
    text
}

/// Before and after.
pub fn changes(changes: &[Change], units: Lengths) -> String {
    let mut text =
        format!("{:<26} {:>12} {:>12} {:>12}  unit\n", "constant", "before", "after", "u");
    for change in changes {
        // Of all units here, only those of lengths begin with mm.
        let (per_mm, unit) = match change.unit.strip_prefix("mm") {
            Some(rest) if units.0 == Units::Inch => (units.of_mm(1.0), format!("in{rest}")),
            _ => (1.0, change.unit.clone()),
        };
        let u = change.u.map_or("-".to_owned(), |u| figures(u * per_mm, 2));
        let _ = writeln!(
            text,
            "{:<26} {:>12} {:>12} {u:>12}  {}",
            change.what,
            figures(change.before * per_mm, 6),
            figures(change.after * per_mm, 6),
            unit
        );
    }
    text
}

/// Everything that the user is to see before the constants are written. The budget stays in mm, as
/// it is kept.
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
        if let Some(birge) = outcome.birge {
            let _ = writeln!(
                text,
                "The residuals are {birge:.1} times as wide as stated ({} degrees of freedom){}.",
                outcome.dof,
                if birge > 2.0 { "; a block may be named wrongly, or dirty" } else { "" }
            );
        }
    }
    if let Some(budget) = &outcome.budget {
        text.push('\n');
        text.push_str(&budget.table(LEVEL));
    }
    if !outcome.kept.is_empty() {
        let names: Vec<&str> = outcome.kept.iter().map(|step| step.name()).collect();
        let _ = writeln!(text, "\nNot done, so the former constants stay: {}.", names.join(", "));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plot_keeps_its_width_whatever_the_residuals() {
        let residual =
            |residual_mm, u_mm| Residual { block_mm: 3.0, gap_mm: 5.0, residual_mm, u_mm };
        let drawn = [residual(0.0, 0.001), residual(-0.2, 0.01), residual(0.254, 0.05)];
        let text = residuals(&drawn, Lengths::default());
        let lines: Vec<&str> = text.lines().skip(1).collect();
        assert!(lines.iter().all(|l| l.contains('o')));
        assert!(lines[1].ends_with("look at this one") && !lines[0].ends_with("one"));
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

    #[test]
    fn the_scale_marks_the_light() {
        assert_eq!(light(0.0), ".......[..#..].......");
        assert!(light(1.0).ends_with('#') && light(-1.0).starts_with('#'));
    }
}
