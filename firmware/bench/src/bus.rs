//! The bus as embedded-hal sees it: every transfer moves the bench's clock on by what the wire
//! takes.

use crate::bench::{Bench, World};
use core::fmt;
use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::{self, I2c, NoAcknowledgeSource, Operation};
use embedded_hal::spi::{self, SpiDevice};

/// I2C at 400 kHz: one bit, ns.
const I2C_BIT_NS: u64 = 2_500;
/// SPI at 2 MHz: one byte, ns.
const SPI_BYTE_NS: u64 = 4_000;
/// After so long a master gives up a bus that is held low, ns.
const STUCK_TIMEOUT_NS: u64 = 1_000_000;

/// A transfer on the simulated I2C failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BusError {
    /// Nobody answered to the address.
    NoAnswer,
    /// A part did not take a byte.
    NotTaken,
    /// The lines are held low.
    Stuck,
}

impl fmt::Display for BusError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoAnswer => "no part answered to the address",
            Self::NotTaken => "the part did not take a byte",
            Self::Stuck => "a line of the bus is held low",
        })
    }
}

impl core::error::Error for BusError {}

impl i2c::Error for BusError {
    fn kind(&self) -> i2c::ErrorKind {
        match self {
            Self::NoAnswer => i2c::ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address),
            Self::NotTaken => i2c::ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data),
            Self::Stuck => i2c::ErrorKind::Bus,
        }
    }
}

/// The I2C bus with converter and memory on it.
#[derive(Clone)]
pub struct BenchI2c {
    bench: Bench,
}

impl BenchI2c {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl i2c::ErrorType for BenchI2c {
    type Error = BusError;
}

impl I2c for BenchI2c {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), BusError> {
        let mut world = self.bench.world();
        if world.bus_is_stuck() {
            world.advance_ns(STUCK_TIMEOUT_NS);
            return Err(BusError::Stuck);
        }
        let done = run(&mut world, address, operations);
        world.advance_ns(I2C_BIT_NS);
        world.stop();
        done
    }
}

fn run(world: &mut World, address: u8, operations: &mut [Operation<'_>]) -> Result<(), BusError> {
    let mut direction = None;
    for operation in operations {
        let write = matches!(operation, Operation::Write(_));
        // Operations in the same direction run on without a new start.
        if direction != Some(write) {
            direction = Some(write);
            world.advance_ns(10 * I2C_BIT_NS);
            if !world.start(address, write) {
                return Err(BusError::NoAnswer);
            }
        }
        match operation {
            Operation::Write(bytes) => {
                for byte in *bytes {
                    world.advance_ns(9 * I2C_BIT_NS);
                    if !world.write_byte(*byte) {
                        return Err(BusError::NotTaken);
                    }
                }
            }
            Operation::Read(bytes) => {
                for byte in bytes.iter_mut() {
                    world.advance_ns(9 * I2C_BIT_NS);
                    *byte = world.read_byte();
                }
            }
        }
    }
    Ok(())
}

/// The inclinometer on its SPI. The wire itself cannot fail: what is wrong shows in the bytes.
#[derive(Clone)]
pub struct BenchSpi {
    bench: Bench,
}

impl BenchSpi {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl spi::ErrorType for BenchSpi {
    type Error = core::convert::Infallible;
}

impl SpiDevice for BenchSpi {
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), Self::Error> {
        let mut world = self.bench.world();
        world.select(true);
        let exchange = |world: &mut World, byte: u8| {
            world.advance_ns(SPI_BYTE_NS);
            world.exchange(byte)
        };
        for operation in operations {
            match operation {
                spi::Operation::Read(read) => {
                    read.iter_mut().for_each(|byte| *byte = exchange(&mut world, 0));
                }
                spi::Operation::Write(write) => {
                    for byte in *write {
                        exchange(&mut world, *byte);
                    }
                }
                spi::Operation::Transfer(read, write) => {
                    for k in 0..read.len().max(write.len()) {
                        let byte = exchange(&mut world, write.get(k).copied().unwrap_or(0));
                        if let Some(place) = read.get_mut(k) {
                            *place = byte;
                        }
                    }
                }
                spi::Operation::TransferInPlace(bytes) => {
                    bytes.iter_mut().for_each(|byte| *byte = exchange(&mut world, *byte));
                }
                spi::Operation::DelayNs(ns) => world.advance_ns(u64::from(*ns)),
            }
        }
        world.select(false);
        Ok(())
    }
}

/// A delay that moves the bench's clock.
#[derive(Clone)]
pub struct BenchDelay {
    bench: Bench,
}

impl BenchDelay {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl DelayNs for BenchDelay {
    fn delay_ns(&mut self, ns: u32) {
        self.bench.world().advance_ns(u64::from(ns));
    }
}
