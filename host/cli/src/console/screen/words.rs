//! One word and one shape for each thing, on every screen.

use skimgauge_metrology::plane::consistency::{Explains, Odd, Suspect};
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_model::Verdict;

/// How a board is surveyed, for who has to.
pub const SURVEY_IT: &str = "survey it: skimgauge survey --job FILE --head PORT --points survey.csv, then name that table \
                             under [survey] in the job file";

/// A verdict for people.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within",
        Verdict::Outside => "outside",
        Verdict::Unsure => "too close to call",
    }
}

/// A verdict on the whole, with what it speaks of.
pub fn verdict_at(verdict: Verdict, at: &JudgedAt) -> String {
    match (verdict, at) {
        (Verdict::Within, JudgedAt::Board(_)) => {
            "within over the whole board as surveyed".to_owned()
        }
        (Verdict::Within, JudgedAt::Places(names)) => within_at(names.len()),
        (other, _) => self::verdict(other).to_owned(),
    }
}

/// Within, on a board that nobody has surveyed.
fn within_at(places: usize) -> String {
    format!("within at the {places} places read; between them nobody looked")
}

/// A verdict's shape, one column wide: told apart without colour.
pub fn shape(verdict: Verdict) -> char {
    match verdict {
        Verdict::Within => '●',
        Verdict::Outside => '✕',
        Verdict::Unsure => '◐',
    }
}

/// Names as a person lists them: `a`, `a and b`, `a, b and c`.
pub fn list(names: &[&str], last: &str) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [before @ .., end] => format!("{} {last} {end}", before.join(", ")),
    }
}

/// Which reading is odd, and what to do. `again` says how a place is read again.
pub fn contradiction(odd: &Odd, again: &str) -> String {
    let names = |suspects: &[&Suspect]| -> String {
        list(&suspects.iter().map(|suspect| suspect.name.as_str()).collect::<Vec<_>>(), "and")
    };
    let all: Vec<&Suspect> = odd.suspects.iter().collect();
    if odd.came_back() {
        return format!(
            "{} came back the same: the board is not what was assumed there; {SURVEY_IT}",
            names(&all)
        );
    }
    let left: Vec<&Suspect> = odd.to_read_again().collect();
    let what = match odd.explains {
        Explains::One => all.first().map_or_else(String::new, |suspect| off(suspect)),
        Explains::Any if all.len() > 2 => format!("the odd one may be any of {}", names(&all)),
        Explains::Any => {
            let each: Vec<String> = all.iter().map(|suspect| off(suspect)).collect();
            format!("either {}", each.join(", or "))
        }
        Explains::None => {
            let worst = all.first().map_or_else(String::new, |suspect| off(suspect));
            format!(
                "no single reading explains it; the worst: {worst}. Did something move since the first was read?"
            )
        }
    };
    let came_back: Vec<&Suspect> =
        all.iter().copied().filter(|suspect| suspect.came_back).collect();
    let known = if came_back.is_empty() {
        String::new()
    } else {
        format!("; {} came back the same", names(&came_back))
    };
    let end = if what.ends_with('?') { " " } else { "; " };
    format!("{what}{known}{end}read {} again: {again}", names(&left))
}

/// One reading against what the others say.
fn off(suspect: &Suspect) -> String {
    let off_mm = suspect.off_mm();
    let way = if off_mm > 0.0 { "more" } else { "less" };
    let differ = suspect
        .differ_mm
        .map_or_else(String::new, |mm| format!(", its own readings differ by {mm:.2} mm"));
    format!(
        "{} reads {:.2} mm, {:.2} mm {way} than the others say{differ}",
        suspect.name,
        suspect.gap_mm,
        off_mm.abs()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_metrology::verdict::WholeBoard;

    fn suspect(name: &str, came_back: bool) -> Suspect {
        Suspect {
            name: name.to_owned(),
            x_mm: 0.0,
            y_mm: 0.0,
            gap_mm: 3.6,
            expected_mm: 2.7,
            u_off_mm: 0.1,
            readings: 1,
            differ_mm: None,
            came_back,
        }
    }

    #[test]
    fn within_speaks_of_the_places_read_until_the_board_is_surveyed() {
        let places = JudgedAt::Places(vec!["left".to_owned(), "right".to_owned()]);
        assert_eq!(
            verdict_at(Verdict::Within, &places),
            "within at the 2 places read; between them nobody looked"
        );
        assert_eq!(
            verdict_at(Verdict::Within, &JudgedAt::Board(WholeBoard::Board)),
            "within over the whole board as surveyed"
        );
        assert_eq!(verdict_at(Verdict::Unsure, &places), "too close to call");
    }

    #[test]
    fn the_odd_one_is_said_by_name_and_what_to_do() {
        let says = |explains, suspects| contradiction(&Odd { explains, suspects }, "lift the head");
        assert_eq!(
            says(Explains::One, vec![suspect("top", false)]),
            "top reads 3.60 mm, 0.90 mm more than the others say; read top again: lift the head"
        );
        let two = says(Explains::Any, vec![suspect("left", true), suspect("right", false)]);
        assert!(
            two.contains("either left reads")
                && two.contains("left came back the same; read right again"),
            "{two}"
        );
        let many = says(Explains::Any, ["a", "b", "c"].map(|name| suspect(name, false)).to_vec());
        assert!(
            many.starts_with("the odd one may be any of a, b and c; read a, b and c again"),
            "{many}"
        );
        assert!(
            says(Explains::None, vec![suspect("top", false)])
                .contains("no single reading explains it")
        );
        let back = says(Explains::One, vec![suspect("top", true)]);
        assert!(
            back.contains("the board is not what was assumed") && back.contains("skimgauge survey"),
            "{back}"
        );
    }
}
