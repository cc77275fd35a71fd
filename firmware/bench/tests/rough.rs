//! Whatever is done to the bench, in whatever order: no panic, no way back in time, and a working
//! head once all is well.

use embedded_hal::i2c::I2c;
use proptest::prelude::*;
use skimgauge_bench::head::{Attitude, Place, Plate};
use skimgauge_bench::{Bench, Fault};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn bench_survives_anything_and_works_afterwards(
        seed in 0u64..50,
        steps in prop::collection::vec((0u8..14, any::<u8>(), 0u64..20_000), 0..120),
    ) {
        let bench = Bench::new(seed);
        let mut last_us = 0;
        for (step, byte, wait_us) in steps {
            let now_us = bench.now_us() + wait_us;
            let fault = Fault::ALL[usize::from(byte) % Fault::ALL.len()];
            let value_mm = f64::from(byte) - 100.0;
            match step {
                0 => bench.set_fault(fault, wait_us % 2 == 0),
                1 => { bench.i2c_start(now_us, [0x48, 0x50, 0x58, 0x20][usize::from(byte) % 4], wait_us % 2 == 0); }
                2 => { bench.i2c_write(now_us, byte); }
                3 => { bench.i2c_read(now_us); }
                4 => bench.i2c_stop(now_us),
                5 => bench.spi_select(now_us, byte % 2 == 0),
                6 => { bench.spi_exchange(now_us, byte); }
                7 => bench.advance_to(now_us),
                8 => bench.cut_power_at(now_us),
                9 => bench.restore_power(),
                10 => {
                    bench.scene(|scene| scene.turn_eye(value_mm));
                    let now_us = now_us as f64;
                    bench.pixel_scan(bench.now_us(), now_us, now_us + 100.0 * f64::from(byte));
                }
                11 => bench.scene(|scene| scene.clip(value_mm * 20.0, value_mm * 10.0)),
                12 => bench.scene(|scene| {
                    let place = [Place::Hand, Place::Emitter, Place::Plate(Plate::default())][usize::from(byte) % 3];
                    let turned = [Attitude::Upright, Attitude::Reversed, Attitude::UpsideDown][usize::from(byte / 3) % 3];
                    scene.put(place, turned);
                }),
                _ => bench.scene(|scene| { scene.room.turn(usize::from(byte % 4), value_mm / 50.0); }),
            }
            prop_assert!(bench.now_us() >= last_us);
            last_us = bench.now_us();
            let truth = bench.truth();
            prop_assert!(truth.gap_mm.is_none_or(f64::is_finite) && truth.lean_deg.is_finite());
        }
        // A cut that is still to come would hit the check below.
        bench.advance_to(bench.now_us() + 20_000);
        for fault in Fault::ALL {
            bench.set_fault(fault, false);
        }
        bench.restore_power();
        let mut i2c = bench.i2c();
        let mut word = [0; 2];
        prop_assert!(i2c.write_read(0x48, &[1], &mut word).is_ok());
        prop_assert_eq!(word, [0x85, 0x83]);
        let mut serial = [0; 16];
        prop_assert!(i2c.write_read(0x58, &[8, 0], &mut serial).is_ok());
        prop_assert_eq!(serial, bench.scene(|scene| scene.head.serial));
    }
}
