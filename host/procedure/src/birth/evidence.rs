//! What is gathered of a head while nobody touches it.

use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::light::{Fault, LightState};
use skimgauge_shared::message::Pulse;
use skimgauge_shared::pixels::{PIXELS, Scan};
use skimgauge_shared::reading::{Absence, Reading, Sample};

/// One channel: its values, and why it had none last.
#[derive(Debug, Clone, Default)]
pub(super) struct Channel {
    values: Vec<f64>,
    absent: usize,
    absence: Option<Absence>,
}

impl Channel {
    fn add(&mut self, sample: Sample<f64>) {
        match sample {
            Sample::Value(value) => self.values.push(value),
            // A part that is still starting has not been asked yet.
            Sample::Absent(Absence::Starting) => (),
            Sample::Absent(absence) => {
                self.absent += 1;
                self.absence = Some(absence);
            }
        }
    }

    /// Why it has no value, where it mostly has none.
    pub(super) fn absence(&self) -> Option<Absence> {
        self.absence.filter(|_| self.absent >= self.values.len())
    }

    /// Whether anything was heard of it.
    pub(super) fn is_known(&self) -> bool {
        self.absent + self.values.len() > 0
    }

    pub(super) fn mean(&self) -> Option<f64> {
        let n = self.values.len();
        (n > 0).then(|| self.values.iter().sum::<f64>() / n as f64)
    }

    /// Standard deviation of single values (n - 1).
    pub(super) fn scatter(&self) -> Option<f64> {
        let (mean, n) = (self.mean()?, self.values.len());
        let squares = self.values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        (n > 1).then(|| (squares / (n - 1) as f64).sqrt())
    }
}

/// What is gathered.
#[derive(Debug, Clone, Default)]
pub(super) struct Evidence {
    pub(super) readings: usize,
    /// mm.
    pub(super) stand_off: Channel,
    /// Degrees.
    pub(super) level: Channel,
    /// Degrees.
    pub(super) lean: Channel,
    /// V.
    pub(super) supply: Channel,
    /// What the inclinometer's status word said.
    pub(super) tilt_trouble: Option<&'static str>,
    /// Why the eye has no scans, if it has none.
    pub(super) eye_absence: Option<Absence>,
    /// Readings whose scan was the one before.
    pub(super) frozen: usize,
    scans: Vec<Scan>,
}

impl Evidence {
    pub(super) fn reading(&mut self, reading: &Reading, constants: &Calibration) {
        self.readings += 1;
        self.stand_off.add(reading.stand_off.map(|mm| f64::from(mm.0) * 1e-3));
        let tilt = match reading.tilt {
            Sample::Value(steps) => constants.tilt(steps),
            Sample::Absent(absence) => Sample::Absent(absence),
        };
        self.level.add(tilt.map(|tilt| f64::from(tilt.level.0) * 1e-6));
        self.lean.add(tilt.map(|tilt| f64::from(tilt.lean.0) * 1e-6));
        self.eye_absence = reading
            .middle
            .absence()
            .filter(|absence| !matches!(absence, Absence::NoMiddle | Absence::Starting));
        self.frozen += usize::from(is_frozen(reading.state));
    }

    pub(super) fn pulse(&mut self, pulse: &Pulse) {
        self.supply.add(pulse.supply.map(|mv| f64::from(mv.0) * 1e-3));
        self.tilt_trouble = pulse.tilt_trouble().or(self.tilt_trouble);
    }

    pub(super) fn scan(&mut self, scan: &Scan) {
        self.scans.push(*scan);
    }

    pub(super) fn scans(&self) -> usize {
        self.scans.len()
    }

    /// The line as the last scans have it.
    pub(super) fn line(&self) -> Option<Line> {
        let last = &self.scans[self.scans.len().saturating_sub(2)..];
        Line::of(last)
    }

    /// The very same scan each time.
    pub(super) fn same_scans(&self) -> bool {
        self.scans.len() > 1 && self.scans.windows(2).all(|pair| pair[0] == pair[1])
    }
}

fn is_frozen(state: LightState) -> bool {
    state.fault() == Some(Fault::Frozen)
}

/// The line of pixels, pixel by pixel, codes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line(Vec<f64>);

impl Line {
    pub(super) fn of(scans: &[Scan]) -> Option<Self> {
        let mean = |pixel: usize| {
            scans.iter().map(|scan| f64::from(scan[pixel])).sum::<f64>() / scans.len() as f64
        };
        (!scans.is_empty()).then(|| Self((0..PIXELS).map(mean).collect()))
    }

    pub(super) fn mean(&self) -> f64 {
        self.0.iter().sum::<f64>() / self.0.len() as f64
    }

    /// How much the pixels differ from one another, standard deviation.
    pub(super) fn spread(&self) -> f64 {
        let mean = self.mean();
        (self.0.iter().map(|code| (code - mean).powi(2)).sum::<f64>() / self.0.len() as f64).sqrt()
    }

    /// The lower and the upper third's mean over another line's.
    pub(super) fn ends_over(&self, dark: f64) -> [f64; 2] {
        let third = self.0.len() / 3;
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64 - dark;
        [mean(&self.0[..third]), mean(&self.0[self.0.len() - third..])]
    }

    /// Pixels that have less than half of the light that their neighbours have, over this dark.
    pub(super) fn dark_ones(&self, dark: f64) -> Vec<usize> {
        let lit = |pixel: usize| {
            let from = pixel.saturating_sub(6);
            let mut near: Vec<f64> = self.0[from..(pixel + 7).min(self.0.len())]
                .iter()
                .map(|code| code - dark)
                .collect();
            near.sort_by(f64::total_cmp);
            near[near.len() / 2]
        };
        (0..self.0.len()).filter(|pixel| self.0[*pixel] - dark < 0.5 * lit(*pixel)).collect()
    }

    /// Pixels that stand out from the mean by more than this.
    pub(super) fn above(&self, codes: f64) -> Vec<usize> {
        let mean = self.mean();
        (0..self.0.len()).filter(|pixel| self.0[*pixel] - mean > codes).collect()
    }
}
