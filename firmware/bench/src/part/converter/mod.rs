//! The 16-bit converter: an ADS1115 at register level.
//!
//! Register layout, codes, gains and rates are checked below against the figures that the driver
//! crate `ads1x1x` 0.3 carries. What the data sheet says about timing is from memory: a
//! configuration written while a conversion runs in continuous mode takes effect when that
//! conversion ends; leaving power-down starts a conversion at once; in single-shot mode a start
//! that comes while a conversion runs is ignored; ALERT/RDY as conversion-ready is asserted from
//! the end of a single-shot conversion until the next one starts, and for about 8 us after each
//! continuous conversion.
//!
//! Not modelled: the comparator functions of ALERT/RDY (the pin stays released), high-speed mode,
//! the general-call reset.

use super::Analog;

/// The converter's I2C address with its ADDR pin at ground.
pub const ADDRESS: u8 = 0x48;
/// Length of the conversion-ready pulse in continuous mode, us (data sheet, from memory).
pub const READY_PULSE_US: u64 = 8;
/// Configuration after power-up.
pub const DEFAULT_CONFIG: u16 = 0x8583;

const MODE_SINGLE: u16 = 1 << 8;
const START: u16 = 1 << 15;
const READY_ACTIVE_HIGH: u16 = 1 << 3;
const COMPARATOR_OFF: u16 = 0b11;

#[derive(Debug, Clone, Copy)]
struct Running {
    start_ns: u64,
    end_ns: u64,
    config: u16,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Transfer {
    Idle,
    Pointer,
    Write { have: Option<u8> },
    Read { word: u16, low_next: bool },
}

/// An ADS1115.
#[derive(Debug, Clone)]
pub struct Converter {
    pointer: u8,
    conversion: u16,
    config: u16,
    low: u16,
    high: u16,
    running: Option<Running>,
    transfer: Transfer,
    now_ns: u64,
    asserted_ns: Option<u64>,
    ready_edges: u64,
    conversions: u64,
    period_error: f64,
    frozen: bool,
}

impl Default for Converter {
    fn default() -> Self {
        Self::new(0.0)
    }
}

impl Converter {
    /// A converter just powered up, whose conversions take `1 + period_error` times their nominal
    /// length. The data sheet allows a part to be off by 10 %; values beyond +-0.1 are cut to
    /// that.
    pub fn new(period_error: f64) -> Self {
        Self {
            pointer: 0,
            conversion: 0,
            config: DEFAULT_CONFIG,
            low: 0x8000,
            high: 0x7FFF,
            running: None,
            transfer: Transfer::Idle,
            now_ns: 0,
            asserted_ns: None,
            ready_edges: 0,
            conversions: 0,
            period_error: period_error.clamp(-0.1, 0.1),
            frozen: false,
        }
    }

    /// Power lost and back at `now_us`: registers as after power-up; the counters of this model go
    /// on.
    pub fn power_cycle(&mut self, now_us: u64) {
        *self = Self {
            now_ns: self.now_ns.max(now_us * 1000),
            ready_edges: self.ready_edges,
            conversions: self.conversions,
            frozen: self.frozen,
            ..Self::new(self.period_error)
        };
    }

    /// A fault: conversions go on, but the conversion register no longer changes.
    pub fn set_frozen(&mut self, frozen: bool) {
        self.frozen = frozen;
    }

    /// Length of one conversion of this very part at the rate of `config`, ns.
    pub fn period_ns(&self, config: u16) -> u64 {
        const RATES_SPS: [u64; 8] = [8, 16, 32, 64, 128, 250, 475, 860];
        let nominal_ns = 1e9 / RATES_SPS[usize::from(config >> 5 & 0b111)] as f64;
        (nominal_ns * (1.0 + self.period_error)).round() as u64
    }

    /// Carries the conversions on to `now_us`. A conversion's value is the input at the middle of
    /// the conversion, which stands for the mean over it.
    pub fn advance_to(&mut self, now_us: u64, input: &mut dyn Analog) {
        let now_ns = now_us * 1000;
        while let Some(run) = self.running.filter(|run| run.end_ns <= now_ns) {
            let middle_us = (run.start_ns + (run.end_ns - run.start_ns) / 2) / 1000;
            let code = code(run.config, middle_us, input);
            if !self.frozen {
                self.conversion = code as u16;
            }
            self.conversions += 1;
            if self.is_ready_function() {
                self.asserted_ns = Some(run.end_ns);
                self.ready_edges += 1;
            }
            self.running = None;
            if self.config & MODE_SINGLE == 0 {
                self.begin(run.end_ns);
            }
        }
        self.now_ns = self.now_ns.max(now_ns);
    }

    /// A start or repeated start that carries this part's address, with its direction. Always
    /// acknowledged: a part that does not answer is the bus's doing. Call [`Self::advance_to`]
    /// first.
    pub fn start(&mut self, write: bool) -> bool {
        self.transfer = if write {
            Transfer::Pointer
        } else {
            // Latched here, so that a conversion ending between the two bytes cannot tear the
            // value.
            Transfer::Read { word: self.register(), low_next: false }
        };
        true
    }

    /// A byte from the master; `true` if acknowledged.
    pub fn write_byte(&mut self, byte: u8) -> bool {
        match self.transfer {
            Transfer::Pointer => {
                self.pointer = byte & 0b11;
                self.transfer = Transfer::Write { have: None };
                true
            }
            Transfer::Write { have: None } => {
                self.transfer = Transfer::Write { have: Some(byte) };
                true
            }
            Transfer::Write { have: Some(msb) } => {
                self.transfer = Transfer::Write { have: None };
                self.write_register(u16::from_be_bytes([msb, byte]));
                true
            }
            Transfer::Idle | Transfer::Read { .. } => false,
        }
    }

    /// A byte to the master; 0xFF (a released line) when the part was not addressed for reading.
    pub fn read_byte(&mut self) -> u8 {
        let Transfer::Read { word, low_next } = self.transfer else {
            return 0xFF;
        };
        self.transfer = Transfer::Read { word, low_next: !low_next };
        word.to_be_bytes()[usize::from(low_next)]
    }

    /// A stop.
    pub fn stop(&mut self) {
        self.transfer = Transfer::Idle;
    }

    /// Level of ALERT/RDY (pulled up) at the time last advanced to: `true` is high.
    pub fn ready_pin(&self) -> bool {
        let asserted = self.is_ready_function()
            && self.asserted_ns.is_some_and(|since_ns| {
                self.config & MODE_SINGLE != 0 || self.now_ns < since_ns + READY_PULSE_US * 1000
            });
        asserted == (self.config & READY_ACTIVE_HIGH != 0)
    }

    /// How often ALERT/RDY was asserted since the part was made: what an edge interrupt counts.
    pub fn ready_edges(&self) -> u64 {
        self.ready_edges
    }

    /// Conversions finished since the part was made.
    pub fn conversions(&self) -> u64 {
        self.conversions
    }

    /// When the running conversion ends, us, rounded up; `None` in power-down.
    pub fn conversion_ends_us(&self) -> Option<u64> {
        self.running.map(|run| run.end_ns.div_ceil(1000))
    }

    fn is_ready_function(&self) -> bool {
        self.high & 0x8000 != 0 && self.low & 0x8000 == 0 && self.config & 0b11 != COMPARATOR_OFF
    }

    fn begin(&mut self, at_ns: u64) {
        if self.config & MODE_SINGLE != 0 {
            self.asserted_ns = None;
        }
        self.running = Some(Running {
            start_ns: at_ns,
            end_ns: at_ns + self.period_ns(self.config),
            config: self.config,
        });
    }

    fn register(&self) -> u16 {
        match self.pointer {
            0 => self.conversion,
            1 => self.config & !START | if self.running.is_none() { START } else { 0 },
            2 => self.low,
            _ => self.high,
        }
    }

    fn write_register(&mut self, value: u16) {
        match self.pointer {
            0 => {}
            1 => {
                self.config = value & !START;
                let wanted = value & MODE_SINGLE == 0 || value & START != 0;
                if wanted && self.running.is_none() {
                    self.begin(self.now_ns);
                }
            }
            2 => self.low = value,
            _ => self.high = value,
        }
    }
}

/// The code for the input that `config` selects, at its gain, at `at_us`.
fn code(config: u16, at_us: u64, input: &mut dyn Analog) -> i16 {
    let (plus, minus) = match config >> 12 & 0b111 {
        0 => (0, Some(1)),
        1 => (0, Some(3)),
        2 => (1, Some(3)),
        3 => (2, Some(3)),
        single => ((single - 4) as u8, None),
    };
    let volts = input.volts(plus, at_us) - minus.map_or(0.0, |channel| input.volts(channel, at_us));
    let full_scale_v = match config >> 9 & 0b111 {
        0 => 6.144,
        1 => 4.096,
        2 => 2.048,
        3 => 1.024,
        4 => 0.512,
        _ => 0.256,
    };
    let code = (volts / full_scale_v * 32_768.0).round();
    code.clamp(f64::from(i16::MIN), f64::from(i16::MAX)) as i16
}

#[cfg(test)]
mod tests;
