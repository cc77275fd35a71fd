//! What is said beside the verdict.

use super::Sums;
use super::counted::contacts;
use crate::marks::name;
use skimgauge_quantity::{Sentence, counted, percent, plain, say};

impl Sums<'_> {
    pub(super) fn within(&self) -> Sentence {
        let map = self.map_part().says;
        let left_out = match self.left_out() {
            0 => Sentence::new(),
            out => say!("; {} out of reach and left out", counted(out, "mark was", "marks were")),
        };
        say!(
            "{map}; {} touches of {} were seen{left_out}",
            self.seen.asked - self.seen.missed,
            self.seen.asked
        )
    }

    /// What to know beside the verdict.
    pub(super) fn told(&self) -> Vec<Sentence> {
        let mut told = Vec::new();
        let secure = self.proof.windows.iter().all(|window| window.secure);
        let rates: Vec<f64> =
            self.strokes.iter().filter_map(|stroke| stroke.reports_per_s).collect();
        if !rates.is_empty() {
            let rate = crate::strays::median(rates);
            told.push(say!("the display reports {} times a second", plain(rate, 0)));
        } else if !secure {
            told.push(say!(
                "how often the display reports could not be measured: over this address the browser does not tell; open the page on the computer itself"
            ));
        }
        told.push(say!("latency cannot be measured from a page"));
        told.push(match self.all.at_once {
            0 => say!("no touch was seen"),
            1 => say!("one touch at a time was seen: several at once were not proved"),
            count => say!("up to {} touches at once were seen", count),
        });
        if self.seen.strays > 0 {
            let strays = self.seen.strays;
            told.push(say!("{} beside a mark's others left out of the map", strays));
        }
        if self.seen.palms > 0 {
            told.push(say!(
                "{} {} beside the asked ones counted (sides of hands)",
                self.seen.palms,
                contacts(self.seen.palms)
            ));
        }
        if self.quiet.away > self.quiet.ghosts {
            let away = self.quiet.away - self.quiet.ghosts;
            told.push(say!("{} {} came away from every asked place", away, contacts(away)));
        }
        for name in self.proof.left_out.iter().map(|mark| name(*mark)) {
            told.push(say!("{name} was left out as out of reach"));
        }
        for stroke in self.strokes.iter().filter_map(|stroke| stroke.bow.filter(|bow| bow.repeats))
        {
            told.push(say!(
                "a line bows by {} at {} of its way, there and back alike",
                stroke.off.abs().gap(),
                percent(stroke.along)
            ));
        }
        if let Some(map) = &self.map {
            // Found nine times in ten where a mark is tapped thrice.
            let seen = map.scatter * 3.5;
            told.push(say!(
                "a bend of less than about {} at a single mark may not have shown",
                seen.gap()
            ));
        }
        if !self.proof.paused.is_empty() {
            let paused = self.proof.paused.len();
            told.push(say!("{} {} came in pauses", paused, contacts(paused)));
        }
        told
    }
}
