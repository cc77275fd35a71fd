//! The buzzer: a square wave from a PWM slice.

use crate::pins;
use embedded_hal::pwm::SetDutyCycle;
use rp2040_hal::fugit::HertzU32;
use rp2040_hal::pwm::{A, Channel, FreeRunning, Pwm6, Slice};
use skimgauge_head::Buzzer;

/// The slice counts the system clock over this: 220 Hz still fit its 16 bits.
const DIVIDER: u8 = 16;

/// The buzzer's slice, at rest until asked.
pub(crate) struct Pitch {
    slice: Slice<Pwm6, FreeRunning>,
    counts_per_second: u32,
    now_hz: Option<u16>,
}

impl Pitch {
    /// Silent.
    pub(crate) fn new(
        mut slice: Slice<Pwm6, FreeRunning>,
        pin: pins::Buzzer,
        system_clock: HertzU32,
    ) -> Self {
        slice.set_div_int(DIVIDER);
        let channel: &mut Channel<_, A> = &mut slice.channel_a;
        channel.output_to(pin);
        let _ = channel.set_duty_cycle(0);
        Self { slice, counts_per_second: system_clock.to_Hz() / u32::from(DIVIDER), now_hz: None }
    }
}

impl Buzzer for Pitch {
    fn sound(&mut self, pitch_hz: Option<u16>) {
        if pitch_hz == self.now_hz {
            return;
        }
        self.now_hz = pitch_hz;
        match pitch_hz {
            Some(hz) if hz > 0 => {
                let top = (self.counts_per_second / u32::from(hz)).clamp(2, 0xFFFE) as u16;
                self.slice.set_top(top);
                let _ = self.slice.channel_a.set_duty_cycle(top / 2);
                self.slice.enable();
            }
            _ => {
                let _ = self.slice.channel_a.set_duty_cycle(0);
                self.slice.set_counter(0);
                self.slice.disable();
            }
        }
    }
}
