//! Places, clearances and reach.

use super::{InBoth, said};
use skimgauge_quantity::Mm;
use skimgauge_record::section::{self, Clearance, Mark, Reach};
use skimgauge_site::setout::SetOut;
use skimgauge_site::setout::clearance::Fit;
use skimgauge_site::setout::mount::Basis;

/// A set-out with its drawing.
pub fn set_out(found: &SetOut, drawing: &InBoth) -> section::SetOut {
    let marks = found.marks.iter().map(|mark| Mark {
        name: mark.name.clone(),
        from_plumb: Mm(mark.from_plumb_mm),
        from_level: Mm(mark.from_level_mm),
        above_floor: Mm(mark.above_floor_mm),
        drill: mark.drill_mm.map(Mm),
    });
    let clearances = found.clearances.iter().map(|clearance| Clearance {
        between: format!("{} and {}", clearance.from, clearance.to),
        free: Mm(clearance.clear_mm),
        least: clearance.least_mm.map(Mm),
        most: clearance.most_mm.map(Mm),
        fit: fit(clearance.fit),
    });
    let reach = found.reach.iter().map(|reach| Reach {
        who: reach.reach.who.to_owned(),
        low: Mm(reach.reach.low_printed_mm),
        high: Mm(reach.reach.high_printed_mm),
        of_image_percent: (100.0 * reach.share).round(),
        after: reach.reach.source.to_owned(),
    });
    section::SetOut {
        width: Mm(found.image.width.0),
        height: Mm(found.image.height.0),
        top_above_floor: Mm(found.image_area.top_mm),
        emitter_light_above_floor: found.emitter_light.map(|light| Mm(light.above_floor_mm)),
        emitter_lower_edge_above_floor: found.emitter_area.map(|body| Mm(body.bottom_mm)),
        plumb_line_from_wall_left: Mm(found.datum.plumb_from_wall_left_mm),
        level_line_above_floor: Mm(found.datum.level_above_floor_mm),
        drawing: drawing.mm.clone(),
        drawing_in_inches: Some(drawing.inch.clone()),
        marks: marks.collect(),
        clearances: clearances.collect(),
        reach: reach.collect(),
        to_change_first: said(found.stops.iter().map(|stop| &stop.says)),
        assumed: said(&found.assumed),
        not_listed: found
            .mount
            .as_ref()
            .filter(|mount| mount.basis != Basis::Listed)
            .map(|mount| section::Said::of(&mount.says)),
        remarks: said(&found.remarks),
        cautions: said(&found.cautions),
    }
}

fn fit(fit: Fit) -> section::Fit {
    match fit {
        Fit::Enough => section::Fit::Enough,
        Fit::Short => section::Fit::Short,
        Fit::Far => section::Fit::Far,
        Fit::Overlaps => section::Fit::Overlaps,
        Fit::Stated => section::Fit::Stated,
    }
}
