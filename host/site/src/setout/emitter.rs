//! The emitter on the wall: where its light is and where its body is are two things, and only what
//! is said of each is known.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, say};

use super::SetOutError;
use super::room::Area;
use crate::entry::length_mm;

/// The emitter's light and body, as far as they are said. Everything from the image: right of its
/// middle, above its top edge, mm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EmitterPlace {
    /// Its light above the image's top edge, mm.
    #[serde(default)]
    pub above_top_mm: Option<f64>,
    /// Its light right of the image's middle, mm.
    #[serde(default)]
    pub right_mm: f64,
    /// Its body's lower edge above the image's top edge, mm; below zero is under it.
    #[serde(default)]
    pub lower_edge_mm: Option<f64>,
    /// The middle of its body right of the image's middle, mm; where its light is if unsaid.
    #[serde(default)]
    pub body_right_mm: Option<f64>,
    /// Body width, mm.
    #[serde(default)]
    pub width_mm: Option<f64>,
    /// Body height, mm.
    #[serde(default)]
    pub height_mm: Option<f64>,
}

/// Where the emitter's light is on the wall.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Light {
    /// Right of the image's middle, mm.
    pub right_mm: f64,
    /// Above the image's top edge, mm.
    pub above_top_mm: f64,
    /// From the wall's left end, mm.
    pub from_wall_left_mm: f64,
    /// Above the finished floor, mm.
    pub above_floor_mm: f64,
    /// Above the lower edge of its body, mm, where that is said.
    pub above_lower_edge_mm: Option<f64>,
}

/// The emitter in place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Emitter {
    pub(crate) light: Option<Light>,
    pub(crate) body: Option<Body>,
    /// What was taken for want of a word, and what to do about it.
    pub(crate) assumed: Vec<Sentence>,
    /// What is not set out, and what to enter.
    pub(crate) remarks: Vec<Sentence>,
}

/// The emitter's body in place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Body {
    /// Its middle right of the image's middle, mm.
    pub(crate) right_mm: f64,
    /// Its lower edge above the image's top edge, mm.
    pub(crate) lower_edge_mm: f64,
    pub(crate) width_mm: f64,
    /// Whether the lower edge was taken to be where the light is.
    pub(crate) is_assumed: bool,
    pub(crate) area: Area,
}

impl EmitterPlace {
    pub(crate) fn check(&self, wall_width_mm: f64) -> Result<(), SetOutError> {
        let wide_mm = wall_width_mm;
        length_mm("emitter's light right of the image's middle", self.right_mm, -wide_mm, wide_mm)?;
        let said = [
            ("emitter's light above the image's top", self.above_top_mm, -500.0, 3000.0),
            ("emitter's lower edge above the image's top", self.lower_edge_mm, -500.0, 3000.0),
            ("emitter's body right of the image's middle", self.body_right_mm, -wide_mm, wide_mm),
            ("width of the emitter", self.width_mm, 10.0, 3000.0),
            ("height of the emitter", self.height_mm, 5.0, 1000.0),
        ];
        for (what, value_mm, low_mm, high_mm) in said {
            value_mm.map(|value_mm| length_mm(what, value_mm, low_mm, high_mm)).transpose()?;
        }
        match self.light_off_body() {
            Some(beyond) => Err(SetOutError::LightOffBody(beyond)),
            None => Ok(()),
        }
    }

    /// By how much the light would lie outside the body, in words: one of them is wrong.
    pub fn light_off_body(&self) -> Option<Sentence> {
        let beyond =
            |mm: f64, side: &str| (mm > 1e-6).then(|| say!("{} {side} its body", Mm(mm).tape()));
        let upright = self.above_top_mm.zip(self.lower_edge_mm).and_then(|(light_mm, edge_mm)| {
            let above = |height_mm| beyond(light_mm - edge_mm - height_mm, "above");
            beyond(edge_mm - light_mm, "below").or_else(|| self.height_mm.and_then(above))
        });
        let across = self.body_right_mm.zip(self.width_mm).and_then(|(middle_mm, width_mm)| {
            let off_mm = self.right_mm - middle_mm;
            beyond(off_mm.abs() - width_mm / 2.0, if off_mm < 0.0 { "left of" } else { "right of" })
        });
        // Without a light there is nothing that could lie outside.
        self.above_top_mm.and(upright.or(across))
    }

    /// In place on the wall; `None` if nothing is said of it.
    pub(crate) fn on_wall(
        &self,
        middle_from_wall_left_mm: f64,
        top_above_floor_mm: f64,
    ) -> Option<Emitter> {
        let mut assumed = Vec::new();
        let mut remarks = Vec::new();
        let light = self.above_top_mm.map(|above_top_mm| Light {
            right_mm: self.right_mm,
            above_top_mm,
            from_wall_left_mm: middle_from_wall_left_mm + self.right_mm,
            above_floor_mm: top_above_floor_mm + above_top_mm,
            above_lower_edge_mm: self.lower_edge_mm.map(|edge_mm| above_top_mm - edge_mm),
        });
        let edge_mm = self.lower_edge_mm.or(self.above_top_mm);
        let body = edge_mm.zip(self.width_mm.zip(self.height_mm)).map(
            |(lower_edge_mm, (width_mm, height_mm))| {
                let right_mm = self.body_right_mm.unwrap_or(self.right_mm);
                let (x_mm, y_mm) = (
                    middle_from_wall_left_mm + right_mm,
                    top_above_floor_mm + lower_edge_mm + height_mm / 2.0,
                );
                let area = Area::about(x_mm, y_mm, width_mm, height_mm);
                Body {
                    right_mm,
                    lower_edge_mm,
                    width_mm,
                    is_assumed: self.lower_edge_mm.is_none(),
                    area,
                }
            },
        );
        if body.is_some_and(|body| body.is_assumed) {
            assumed.push(
                "emitter: the job says where its light is, not where its lower edge is; the lower edge is taken to be as high as the light. \
                 Measure on the emitter how far its light is above its lower edge and enter lower_edge in [emitter] before anything is marked."
                    .into(),
            );
        }
        if body.is_some() && self.body_right_mm.is_none() {
            remarks.push("emitter: its light is taken to be in the middle of its width; if it is not, enter body_right in [emitter].".into());
        }
        if body.is_none() && light.is_some() {
            remarks.push(
                "emitter: only its light is set out. What its body runs into is not looked at until width, height and lower_edge are entered in \
                 [emitter]."
                    .into(),
            );
        }
        if light.is_none() && body.is_some() {
            remarks.push(
                "emitter: only its body is set out. Enter above_top in [emitter], how far its light is above the image's top edge."
                    .into(),
            );
        }
        if light.is_none()
            && body.is_none()
            && (self.width_mm.is_some() || self.height_mm.is_some())
        {
            remarks.push("emitter: its size is said, not where it hangs; it is not set out until above_top and lower_edge are entered in [emitter].".into());
        }
        (light.is_some() || body.is_some() || !remarks.is_empty()).then_some(Emitter {
            light,
            body,
            assumed,
            remarks,
        })
    }
}

impl Body {
    /// The name of the mark at one of its ends.
    pub(crate) fn mark_name(&self, end: &str) -> String {
        let assumed = if self.is_assumed { " (assumed)" } else { "" };
        format!("emitter {end} end, lower edge{assumed}")
    }
}
