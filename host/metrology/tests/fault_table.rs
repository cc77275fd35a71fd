//! The table of faults in `doc/faults.md` is this list, and every fault names its test.
//! `FAULT_TABLE=write cargo test -p skimgauge-metrology --test fault_table` writes it anew.

use skimgauge_metrology::measure::{Bearing, Fault};
use std::fmt::Write;

/// Tests here in `measure_stream`, causes in the `heads` command of the tests' crate.
fn tested(fault: Fault) -> &'static str {
    match fault {
        Fault::Stale => "nothing_for_a_quarter_of_a_second_is_stale",
        Fault::Late => "readings_that_come_late_are_stale_though_they_just_arrived",
        Fault::Starting => "every_absence_is_found_at_once",
        Fault::BusStuck => "every_absence_is_found_at_once; heads: BusStuck",
        Fault::ConverterSilent => "every_absence_is_found_at_once; heads: ConverterSilent",
        Fault::SpotLost => "every_absence_is_found_at_once; heads: SpotLost",
        Fault::StandOffOutOfRange => "every_absence_is_found_at_once; heads: StandoffTooNear",
        Fault::StandOffFrozen => {
            "frozen_channels_are_found; heads: StandoffFrozen, ConverterFrozen"
        }
        Fault::EyeSilent => "every_absence_is_found_at_once",
        Fault::ExposureUnknown => "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken",
        Fault::EyeFrozen => "frozen_channels_are_found; heads: PixelsFrozen",
        Fault::DeadPixels => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: PixelsDead"
        }
        Fault::TooMuchLight => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: TooMuchLight"
        }
        Fault::TooMuchRoomLight => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: TooMuchRoomLight"
        }
        Fault::TwoSheets => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: TwoSheets"
        }
        Fault::LightLeavesWindow => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: LightLeavesWindow"
        }
        Fault::WrongThickness => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: SheetTooThick, SheetTooThin"
        }
        Fault::UnevenRoomLight => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: UnevenRoomLight"
        }
        Fault::EyeTurnedAway => {
            "every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken; heads: EyeTurnedAway"
        }
        Fault::NoLight => "with_the_emitter_off_there_is_no_gap_and_no_take; heads: NoLight",
        Fault::CalibrationAwaited => "what_comes_after_a_break_does_not_continue_what_was",
        Fault::RoomLightPulls => "light_that_the_room_pulls_is_doubtful_and_no_part_of_a_take",
        Fault::CalibrationOtherHead => {
            "a_calibration_that_is_not_one_is_said_and_nothing_is_taken; heads: CalibrationOfOtherHead"
        }
        Fault::CalibrationDamaged => {
            "a_calibration_that_is_not_one_is_said_and_nothing_is_taken; heads: CalibrationDamaged"
        }
        Fault::CalibrationUnreadable => {
            "a_calibration_that_is_not_one_is_said_and_nothing_is_taken; heads: MemorySilent"
        }
        Fault::CalibrationMissing => {
            "a_calibration_that_is_not_one_is_said_and_nothing_is_taken; heads: CalibrationMissing"
        }
        Fault::ZeroedAfterToday => "a_zeroing_dated_after_today_is_doubted",
        Fault::SpotErratic => "a_bad_spot_is_told_from_shaking; heads: GlossyPatch",
        Fault::InclinometerSilent => "every_absence_is_found_at_once; heads: InclinometerSilent",
        Fault::InclinometerFrame => "every_absence_is_found_at_once; heads: InclinometerFrames",
        Fault::InclinometerSelfTest => {
            "every_absence_is_found_at_once; heads: InclinometerSelfTest, InclinometerStatusTwo, InclinometerStatusError"
        }
        Fault::TiltFrozen => "frozen_channels_are_found; heads: InclinometerFrozen",
        Fault::TiltOutOfRange => "every_absence_is_found_at_once",
        Fault::NotSeated => {
            "a_head_that_does_not_stand_as_the_board_is_not_seated; heads: NotSeated"
        }
        Fault::Knocked => "a_knock_is_found_and_the_head_settles_again; heads: Knocked",
        Fault::SupplyLow => {
            "supply_and_temperature_are_held_against_their_limits; heads: SupplyLow"
        }
        Fault::TemperatureOutOfRange => {
            "supply_and_temperature_are_held_against_their_limits; heads: TooHot, TooCold"
        }
        Fault::CalibrationOverdue => "a_calibration_that_is_not_one_is_said_and_nothing_is_taken",
        Fault::ZeroedElsewhere => "a_zero_of_another_board_is_said_and_its_material_counted",
        Fault::WeakLight | Fault::SecondSheet => {
            "weak_light_and_a_mirrored_sheet_are_said_and_no_more"
        }
        Fault::ReadingsLost => "lost_readings_are_said",
    }
}

#[test]
fn the_document_is_the_code() {
    let mut text = String::from(
        "# Faults\n\nWhat can be wrong with a head's readings, gravest first. Each is meant to be found within 0.3 s, and none to be \
         shown or taken as a good reading, except that a notice is only said. How often each was found and how often one was seen that was not \
         there is measured by `cargo run --release -p skimgauge-tests --bin heads`.\n\n\
         | fault | what it means | what to do | how it is found | what it does | how it is tested |\n|---|---|---|---|---|---|\n",
    );
    for &fault in Fault::ALL {
        let bearing = match fault.bearing() {
            Bearing::Notice => "said",
            Bearing::Doubt => "gap doubtful",
            Bearing::NoValue => "no gap",
        };
        let (name, sentence, remedy, found) =
            (fault.name(), fault.sentence(), fault.remedy(), fault.found());
        writeln!(
            text,
            "| {name} | {sentence} | {remedy} | {found} | {bearing} | {} |",
            tested(fault)
        )
        .unwrap();
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/doc/faults.md");
    if std::env::var_os("FAULT_TABLE").is_some_and(|v| v == "write") {
        std::fs::write(path, &text).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(path).unwrap(),
        text,
        "doc/faults.md is not what the code says; see this file's head"
    );
    let tests = include_str!("measure_stream.rs");
    for &fault in Fault::ALL {
        let test = tested(fault).split(';').next().unwrap();
        assert!(tests.contains(&format!("fn {test}()")), "{fault:?}: no test {test}");
    }
}
