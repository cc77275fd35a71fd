//! The parts held against other people's drivers: what `ads1x1x`, `scl3300` and `eeprom24x` expect
//! of the real parts, these have to do.

use ads1x1x::{Ads1x1x, ComparatorQueue, DataRate16Bit, FullScaleRange, TargetAddr, channel};
use eeprom24x::{Eeprom24x, SlaveAddr};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::InputPin;
use embedded_hal::i2c::{Error as _, ErrorKind, I2c, NoAcknowledgeSource};
use embedded_hal::spi::SpiDevice;
use scl3300::{MeasurementMode, Scl3300, output};
use skimgauge_bench::head::{Attitude, Head, Place, Plate, Seat};
use skimgauge_bench::part::inclinometer::InclinometerFault;
use skimgauge_bench::{Bench, Fault, Room};

fn exact_bench() -> Bench {
    let bench = Bench::with(Room::new(1), Head::exact(), 1);
    bench.scene(|scene| scene.set_seat(Seat::default()));
    bench
}

#[test]
fn ads1x1x_reads_all_channels_single_shot() {
    let bench = exact_bench();
    bench.scene(|scene| {
        scene.put(Place::Plate(Plate::default()), Attitude::Upright);
        scene.set_seat(Seat::default());
        scene.lift_mm = 2.0;
    });
    let mut driver = Ads1x1x::new_ads1115(bench.i2c(), TargetAddr::default());
    driver.set_full_scale_range(FullScaleRange::Within4_096V).unwrap();
    driver.set_data_rate(DataRate16Bit::Sps860).unwrap();
    // The driver's settings are written with the start bit set: a conversion at the old 128 SPS
    // runs now.
    bench.delay().delay_ms(10);
    let before_us = bench.now_us();
    let code = nb::block!(driver.read(channel::SingleA0)).unwrap();
    let took_us = bench.now_us() - before_us;
    // 35 mm is 3 V of the sensor's 1 V to 5 V over 20 mm to 50 mm; a divider of 0.5485; 125 uV a code.
    assert_eq!(code, 13_164);
    // 1162.8 us and the transfers round it.
    assert!((1300..2200).contains(&took_us), "{took_us}");
    assert_eq!(nb::block!(driver.read(channel::SingleA3)).unwrap(), 20_000);
    // Nothing is wired to the second input.
    assert_eq!(nb::block!(driver.read(channel::DifferentialA0A1)).unwrap(), 13_164);
}

#[test]
fn ads1x1x_in_continuous_mode_gets_one_ready_edge_a_conversion() {
    let bench = exact_bench();
    let mut driver = Ads1x1x::new_ads1115(bench.i2c(), TargetAddr::default());
    driver.set_data_rate(DataRate16Bit::Sps860).unwrap();
    // The driver's settings are written with the start bit set: a conversion at the old 128 SPS
    // runs now.
    bench.delay().delay_ms(10);
    // The driver leaves a switched-off comparator off, and with it the pin.
    driver.set_comparator_queue(ComparatorQueue::One).unwrap();
    driver.use_alert_rdy_pin_as_ready().unwrap();
    let mut driver = driver.into_continuous().ok().unwrap();
    driver.select_channel(channel::SingleA3).unwrap();
    let mut edges = bench.ready_edges();
    let start_us = bench.now_us();
    bench.advance_to(start_us + 1_000_000);
    let counted = edges.take();
    assert!((859..=861).contains(&counted), "{counted}");
    assert_eq!(edges.take(), 0);
    let mut ready = bench.ready();
    let low_us = (0..2326)
        .filter(|k| {
            bench.advance_to(start_us + 1_000_000 + k);
            ready.is_low().unwrap()
        })
        .count();
    assert!((15..=17).contains(&low_us), "two pulses of 8 us, not {low_us}");
    assert_eq!(driver.read().unwrap(), i16::MAX, "2.5 V at the default 2.048 V range");
}

#[test]
fn scl3300_starts_up_and_reads_tilt_and_identity() {
    let bench = exact_bench();
    bench.scene(|scene| {
        let plate = Plate { level_deg: 2.0, lean_deg: 1.5, ..Plate::default() };
        scene.put(Place::Plate(plate), Attitude::Upright);
        scene.set_seat(Seat::default());
    });
    bench.delay().delay_ms(10);
    let driver = Scl3300::new(bench.spi());
    let mut driver = driver.start_up(MeasurementMode::Inclination).ok().unwrap();
    bench.delay().delay_ms(200);
    let tilt: output::Inclination = driver.read().ok().unwrap();
    assert!((tilt.x_degrees() - 2.0).abs() < 0.03, "{}", tilt.x_degrees());
    assert!((tilt.y_degrees() - 1.5).abs() < 0.03, "{}", tilt.y_degrees());
    let id: output::ComponentId = driver.read().ok().unwrap();
    assert!(id.is_correct());
    let serial: output::Serial = driver.read().ok().unwrap();
    assert_eq!(serial.to_string(), format!("{:010}B33", 0x5678_1234u32));
    let temperature: output::Temperature = driver.read().ok().unwrap();
    assert!((temperature.degrees_celsius() - 21.0).abs() < 0.1);
    let self_test: output::SelfTest = driver.read().ok().unwrap();
    assert!(self_test.is_within_thresholds());
    bench.set_fault(Fault::InclinometerSelfTest, true);
    let self_test: output::SelfTest = driver.read().ok().unwrap();
    assert!(!self_test.is_within_thresholds());
    bench.set_fault(Fault::InclinometerSelfTest, false);
    bench.set_fault(Fault::InclinometerFrames, true);
    assert!(driver.read::<output::Inclination>().is_err());
    bench.set_fault(Fault::InclinometerFrames, false);
    bench.set_inclinometer_fault(InclinometerFault::StatusStartUp);
    assert!(driver.read::<output::Inclination>().is_err());
}

#[test]
fn eeprom24x_reads_the_serial_number_and_keeps_a_page() {
    let bench = Bench::new(3);
    let mut driver = Eeprom24x::new_24csx32(bench.i2c(), SlaveAddr::default());
    let serial = bench.scene(|scene| scene.head.serial);
    assert_eq!(driver.read_unique_serial().unwrap(), serial);
    driver.write_page(64, b"thirty-two bytes fill this page!").unwrap();
    assert!(driver.read_byte(64).is_err(), "no answer during the write cycle");
    bench.delay().delay_ms(5);
    let mut page = [0; 32];
    driver.read_data(64, &mut page).unwrap();
    assert_eq!(&page, b"thirty-two bytes fill this page!");
    driver.write_byte(4095, 7).unwrap();
    bench.delay().delay_ms(5);
    assert_eq!(driver.read_byte(4095).unwrap(), 7);
    assert_eq!(bench.memory_write_cycles(), 2);
}

#[test]
fn bus_faults_come_as_the_errors_they_are() {
    let bench = Bench::new(1);
    let mut i2c = bench.i2c();
    let kind = |result: Result<(), skimgauge_bench::bus::BusError>| result.unwrap_err().kind();
    let no_answer = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
    assert_eq!(kind(i2c.write(0x49, &[0])), no_answer);
    bench.set_fault(Fault::ConverterSilent, true);
    assert_eq!(kind(i2c.write(0x48, &[0])), no_answer);
    assert!(i2c.write(0x50, &[0, 0]).is_ok());
    bench.set_fault(Fault::ConverterSilent, false);
    bench.set_fault(Fault::BusStuck, true);
    assert_eq!(kind(i2c.write(0x50, &[0, 0])), ErrorKind::Bus);
    bench.set_fault(Fault::BusStuck, false);
    assert!(i2c.write(0x48, &[0]).is_ok());
    assert_eq!(
        kind(i2c.write(0x58, &[8, 0, 1])),
        ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data)
    );
    bench.set_fault(Fault::MemorySilent, true);
    assert_eq!(kind(i2c.write(0x50, &[0, 0])), no_answer);
    assert_eq!(kind(i2c.write(0x58, &[8, 0])), no_answer);
}

#[test]
fn transfers_take_their_time_on_the_wire() {
    let bench = Bench::new(1);
    bench.i2c().write(0x48, &[1, 0x85, 0x83]).unwrap();
    // Start, four times nine bits, stop at 400 kHz.
    assert_eq!(bench.now_us(), 95);
    bench.spi().write(&[0x18, 0, 0, 0xE5]).unwrap();
    assert_eq!(bench.now_us(), 95 + 16);
    bench.delay().delay_us(100);
    assert_eq!(bench.now_us(), 211);
}

#[test]
fn power_cut_in_a_write_cycle_tears_the_page_and_parts_start_anew() {
    let bench = Bench::new(1);
    let mut i2c = bench.i2c();
    i2c.write(0x50, &[0, 0, 1, 2, 3, 4]).unwrap();
    bench.delay().delay_ms(6);
    i2c.write(0x50, &[0, 0, 9, 9, 9, 9]).unwrap();
    bench.cut_power_at(bench.now_us() + 2_500);
    bench.delay().delay_ms(3);
    assert!(!bench.is_powered());
    assert!(i2c.write(0x48, &[0]).is_err());
    let torn = bench.memory_contents()[..4].to_vec();
    assert!(torn != [1, 2, 3, 4] && torn != [9, 9, 9, 9], "{torn:?}");
    bench.restore_power();
    let mut config = [0; 2];
    i2c.write_read(0x48, &[1], &mut config).unwrap();
    assert_eq!(config, [0x85, 0x83]);
    assert_eq!(bench.memory_contents()[..4], torn);
}

#[test]
fn byte_entry_points_and_handles_meet_the_same_parts() {
    let bench = Bench::new(1);
    bench.i2c().write(0x48, &[2, 0x12, 0x34]).unwrap();
    let mut now_us = bench.now_us();
    let mut tick = || {
        now_us += 25;
        now_us
    };
    assert!(bench.i2c_start(tick(), 0x48, true));
    assert!(bench.i2c_write(tick(), 2));
    assert!(bench.i2c_start(tick(), 0x48, false));
    assert_eq!([bench.i2c_read(tick()), bench.i2c_read(tick())], [0x12, 0x34]);
    bench.i2c_stop(tick());
    assert!(!bench.i2c_start(tick(), 0x20, false));
    bench.spi_select(tick(), true);
    for byte in [0x40, 0x00, 0x00, 0x91] {
        bench.spi_exchange(tick(), byte);
    }
    bench.spi_select(tick(), false);
    bench.spi_select(tick(), true);
    let reply = [0x40, 0x00, 0x00, 0x91].map(|byte| bench.spi_exchange(tick(), byte));
    assert_eq!(reply[2], 0xC1);
    assert!(bench.now_us() > 95 + 300);
}

#[test]
fn bench_can_be_handed_to_a_thread() {
    let bench = Bench::new(1);
    let other = bench.clone();
    std::thread::spawn(move || other.advance_to(5_000)).join().unwrap();
    assert_eq!(bench.now_us(), 5_000);
}

#[test]
fn calibration_faults_spoil_the_memory_and_give_it_back() {
    let bench = Bench::new(1);
    bench.set_memory(0, b"constants of this head");
    bench.set_memory(100, b"second copy");
    let before = bench.memory_contents();
    bench.set_fault(Fault::CalibrationMissing, true);
    assert!(bench.memory_contents().iter().all(|byte| *byte == 0xFF));
    bench.set_fault(Fault::CalibrationMissing, false);
    assert_eq!(bench.memory_contents(), before);
    bench.set_fault(Fault::CalibrationDamaged, true);
    let damaged = bench.memory_contents();
    assert_ne!(damaged[..22], before[..22]);
    assert_ne!(damaged[100..111], before[100..111]);
    bench.set_fault(Fault::CalibrationDamaged, false);
    assert_eq!(bench.memory_contents(), before);
    let mut serial = [0; 16];
    bench.set_fault(Fault::CalibrationOfOtherHead, true);
    bench.i2c().write_read(0x58, &[8, 0], &mut serial).unwrap();
    assert_ne!(serial, bench.scene(|scene| scene.head.serial));
}
