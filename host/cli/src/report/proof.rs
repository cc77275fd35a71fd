//! The touch proof in plain text.

use crate::lengths::Lengths;
use skimgauge_proof::judge::Judged;
use skimgauge_quantity::{Sentence, say};
use std::fmt::Write;

/// The verdict, its parts, the map and every mark.
pub fn text(judged: &Judged, units: Lengths) -> String {
    let style = units.style();
    let line = |sentence: Sentence| sentence.capital().ended().text(style);
    let mut out = String::new();
    if judged.simulated {
        out += "PRACTICE: a simulated finger on a simulated display. Nothing was proved by it.\n";
    }
    let _ = writeln!(out, "{}", line(say!("{}: {}", judged.verdict, judged.because)));
    if let Some(settle) = &judged.settle {
        let _ = writeln!(out, "What would settle it: {}", settle.clone().ended().text(style));
    }
    if let Some(cause) = &judged.cause {
        let _ = writeln!(out, "{}", line(cause.says.clone()));
    }
    out.push('\n');
    for part in &judged.parts {
        let _ = writeln!(out, "{} {}", part.verdict.shape(), line(part.says.clone()));
    }
    if let Some(map) = &judged.map {
        out.push('\n');
        let fitted = say!(
            "Map in the image's middle: {} right, {} up",
            map.right.value.gap().give_or_take(map.right.expanded.uncertainty()),
            map.up.value.gap().give_or_take(map.up.expanded.uncertainty())
        );
        let _ = writeln!(out, "{}", line(fitted));
        for (name, value) in [
            ("scale across", map.scale_across),
            ("scale down", map.scale_down),
            ("turn", map.turn),
            ("shear", map.shear),
        ] {
            let says = say!("{name} {} (u {})", value.value.figure().signed(), value.u.figure());
            let _ = writeln!(out, "  {}", says.text(style));
        }
        let _ = writeln!(out, "  {}", say!("scatter of one tap {}", map.scatter.gap()).text(style));
    }
    if !judged.marks.is_empty() {
        let _ = writeln!(
            out,
            "\n{:<22} {:>5} {:>6} {:>12} {:>12}",
            "mark", "taps", "missed", "right", "up"
        );
        for mark in &judged.marks {
            let _ = writeln!(
                out,
                "{:<22} {:>5} {:>6} {:>12} {:>12}{}",
                mark.name,
                mark.taps,
                mark.missed,
                mark.right.gap().signed().text(style),
                mark.up.gap().signed().text(style),
                if mark.bent { "  does not follow the others" } else { "" }
            );
        }
    }
    out.push('\n');
    for told in &judged.told {
        let _ = writeln!(out, "{}", line(told.clone()));
    }
    out
}
