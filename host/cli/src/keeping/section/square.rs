//! The image judged.

use super::said;
use skimgauge_quantity::{Deg, Magnitude, Mm};
use skimgauge_record::section::{
    self, BothWays, CornerFound, FittedLength, SideBow, TapeChecked, Turnable,
};
use skimgauge_site::square::SquareReport;
use skimgauge_site::square::quadrilateral::Span;
use skimgauge_site::square::split::Found;

/// How far the image is from its rectangle.
pub fn square(report: &SquareReport) -> section::Square {
    let corners = report.corners.iter().map(|corner| CornerFound {
        corner: corner.corner.to_owned(),
        right: Mm(corner.right_mm),
        up: Mm(corner.up_mm),
        angle: Deg(corner.angle_deg),
    });
    let bows = report
        .remainder
        .bows
        .iter()
        .map(|bow| SideBow { side: side(bow.side).to_owned(), outward: Mm(bow.outward_mm) });
    let lengths = Span::ALL.into_iter().zip(report.spans_mm);
    let lengths =
        lengths.map(|(span, mm)| FittedLength { length: span.name().to_owned(), fitted: Mm(mm) });
    let turnable = &report.turnable;
    section::Square {
        corners: corners.collect(),
        turnable: Turnable {
            rotation: turnable.rotation_deg.map(found),
            vertical_trapezoid: found(turnable.vertical_trapezoid_mm),
            horizontal_trapezoid: found(turnable.horizontal_trapezoid_mm),
            size: found(turnable.size_mm),
            shift_right: turnable.shift_right_mm.map(found),
            shift_up: turnable.shift_up_mm.map(found),
        },
        stretch: found(report.remainder.stretch_mm),
        skew: found(report.remainder.skew_mm),
        remains: said([&report.remainder.says]),
        bows: bows.collect(),
        lengths: lengths.collect(),
        // What is left as it is nobody turns.
        turn_in_this_order: said(
            report.corrections.iter().filter(|step| step.to_turn).map(|step| &step.says),
        ),
        tape: report.tape.as_ref().map(|tape| said([&tape.says])),
        lengths_are: report.tape.as_ref().map(|tape| match tape.agrees {
            Some(true) => TapeChecked::BorneOut,
            Some(false) => TapeChecked::Contradicting,
            None => TapeChecked::Unchecked,
        }),
        corners_and_tape: report
            .beside
            .as_ref()
            .map(|beside| BothWays { agree: beside.agrees, says: section::Said::of(&beside.says) }),
        not_measured: report.not_measured.as_ref().map(section::Said::of),
        beyond: report.beyond.as_ref().map(section::Said::of),
        too_close: report.too_close.as_ref().map(section::Said::of),
        cautions: said(&report.cautions),
    }
}

fn found<T: Magnitude>(found: Found) -> section::Found<T> {
    section::Found { value: T::of(found.value), u: T::of(found.u) }
}

/// The word in the record.
fn side(span: Span) -> &'static str {
    match span {
        Span::Top => "top",
        Span::Right => "right",
        Span::Bottom => "bottom",
        Span::Left => "left",
        Span::FallingDiagonal => "falling-diagonal",
        Span::RisingDiagonal => "rising-diagonal",
    }
}
