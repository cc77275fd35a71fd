//! Which pin does what. `hardware/pins.md` says the same for people; a test holds the two together.

rp2040_hal::bsp_pins! {
    /// I2C0 data: converter and memory
    Gpio4 { name: sda, aliases: { FunctionI2C, PullUp: Sda } },
    /// I2C0 clock: converter and memory
    Gpio5 { name: scl, aliases: { FunctionI2C, PullUp: Scl } },
    /// Converter's ALERT/RDY: falls when a conversion is done
    Gpio6 { name: ready, aliases: { FunctionSioInput, PullUp: Ready } },
    /// Line of pixels: start pulse
    Gpio7 { name: pixel_start, aliases: { FunctionSioOutput, PullDown: PixelStart } },
    /// Line of pixels: clock, by PWM
    Gpio8 { name: pixel_clock, aliases: { FunctionPwm, PullDown: PixelClock } },
    /// Distance sensor's laser: high is on
    Gpio10 { name: laser_enable, aliases: { FunctionSioOutput, PullDown: LaserEnable } },
    /// Buzzer's driver: PWM
    Gpio12 { name: buzzer, aliases: { FunctionPwm, PullDown: Buzzer } },
    /// Lamp: high is on
    Gpio13 { name: lamp, aliases: { FunctionSioOutput, PullDown: Lamp } },
    /// Button to ground: low is pressed
    Gpio14 { name: button, aliases: { FunctionSioInput, PullUp: Button } },
    /// SPI0 data from the inclinometer
    Gpio16 { name: tilt_miso, aliases: { FunctionSpi, PullNone: TiltMiso } },
    /// Inclinometer's select: low is selected
    Gpio17 { name: tilt_select, aliases: { FunctionSioOutput, PullNone: TiltSelect } },
    /// SPI0 clock to the inclinometer
    Gpio18 { name: tilt_clock, aliases: { FunctionSpi, PullNone: TiltClock } },
    /// SPI0 data to the inclinometer
    Gpio19 { name: tilt_mosi, aliases: { FunctionSpi, PullNone: TiltMosi } },
    /// Line of pixels: analogue out, to the chip's own converter
    Gpio26 { name: pixels, aliases: { FunctionNull, PullNone: Pixels } },
}
