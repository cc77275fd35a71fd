//! The touch proof, with every report that it was judged from.

use super::said;
use skimgauge_proof::judge::Judged;
use skimgauge_proof::map::{self, Map};
use skimgauge_proof::plan::Ask;
use skimgauge_proof::raw::Proof;
use skimgauge_quantity::Sentence;
use skimgauge_record::section::{self, Found, Said, TouchMap, TouchMark, TouchPart, TouchPlace};

/// Of one line so many places are drawn: what a page shows of it.
const DRAWN: usize = 120;

/// A proof and what it says.
///
/// # Errors
/// It cannot be written as JSON: a fault of this program's.
pub fn touch(proof: &Proof, judged: &Judged) -> serde_json::Result<section::Touch> {
    let places = judged.places.iter().map(|place| TouchPlace {
        name: place.name.to_owned(),
        x: place.at.x,
        y: place.at.y,
        right: place.right,
        up: place.up,
        expanded: place.expanded,
        verdict: place.verdict,
    });
    let marks = judged.marks.iter().map(|mark| TouchMark {
        name: mark.name.to_owned(),
        x: mark.at.x,
        y: mark.at.y,
        taps: mark.taps,
        missed: mark.missed,
        right: mark.right,
        up: mark.up,
        bent: mark.bent,
    });
    let parts = judged.parts.iter().map(|part| {
        let what = serde_json::to_value(part.what)?;
        Ok(TouchPart {
            what: what.as_str().unwrap_or_default().to_owned(),
            verdict: part.verdict,
            says: Said::of(&part.says),
        })
    });
    let say = |sentence: &Sentence| Said::of(sentence);
    Ok(section::Touch {
        verdict: judged.verdict,
        because: say(&judged.because),
        settle: judged.settle.as_ref().map(say),
        cause: judged.cause.as_ref().map(|cause| say(&cause.says)),
        image: judged.image,
        tool: judged.tool.word().to_owned(),
        limit: judged.limit,
        map: judged.map.as_ref().map(map_of),
        places: places.collect(),
        marks: marks.collect(),
        strokes: strokes(proof),
        parts: parts.collect::<serde_json::Result<_>>()?,
        told: said(&judged.told),
        made: serde_json::to_value(proof)?,
    })
}

fn map_of(map: &Map) -> TouchMap {
    fn found<T: Copy>(value: &map::Value<T>) -> Found<T> {
        Found { value: value.value, u: value.u }
    }
    TouchMap {
        right: found(&map.right),
        up: found(&map.up),
        scale_across: found(&map.scale_across),
        scale_down: found(&map.scale_down),
        turn: found(&map.turn),
        shear: found(&map.shear),
        scatter: map.scatter,
    }
}

/// Every line's pieces, thinned to what a picture shows, to the tenth of a millimetre.
fn strokes(proof: &Proof) -> Vec<Vec<[f64; 2]>> {
    let lines = proof.standing().filter(|asked| matches!(asked.ask, Ask::Stroke { .. }));
    lines
        .flat_map(|asked| &asked.contacts)
        .map(|contact| {
            let reports = contact.reports();
            let step = reports.len().div_ceil(DRAWN).max(1);
            let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
            let drawn = reports.iter().step_by(step).chain(reports.last());
            drawn
                .map(|report| {
                    let at = proof.place(*report);
                    [tenth(at.x.0), tenth(at.y.0)]
                })
                .collect()
        })
        .collect()
}
