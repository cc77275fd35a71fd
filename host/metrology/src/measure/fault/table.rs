//! The table of faults.

use super::{Bearing, faults};
use serde::{Deserialize, Serialize};

faults! {
    Stale, NoValue, "no readings",
        "No reading has come for a quarter of a second.",
        "Check the cable between head and computer.",
        "arrival times on the host";
    Late, NoValue, "late readings",
        "Readings arrive more than a quarter of a second after they were made.",
        "Close what keeps this computer busy, or plug the head in without a hub.",
        "the head's clock against arrival times";
    Starting, NoValue, "starting",
        "The head's parts are still starting.",
        "Wait a moment.",
        "the head says so of a channel";
    BusStuck, NoValue, "bus stuck",
        "A line between the head's parts is held low.",
        "Unplug the head, wait five seconds, plug it in again; if it comes back, have its wiring checked.",
        "the head sees the line low and cannot free it by clocking";
    ConverterSilent, NoValue, "converter not answering",
        "The converter that reads the distance sensor does not answer.",
        "Unplug the head and plug it in again; if it comes back, have its wiring checked.",
        "the head gets no acknowledge, or no finished conversion";
    SpotLost, NoValue, "laser spot lost",
        "The distance sensor does not see its spot on the board.",
        "Clip the head on; wipe the board and the sensor's window; move the head off a dark, clear or mirror-like patch. Do not look into the beam.",
        "the sensor's output is at its lost-spot level";
    StandOffOutOfRange, NoValue, "stand-off out of range",
        "The head is nearer to the board or farther from it than its distance sensor can measure.",
        "Clip the head on again so that all three feet stand on the board.",
        "the sensor's output is beyond its working span";
    StandOffFrozen, NoValue, "distance frozen",
        "The distance sensor gives exactly the same number again and again, as no living sensor does.",
        "Unplug the head and plug it in again; if it comes back, have the sensor checked.",
        "the same code for 0.25 s, or nothing but the converter's own noise for 0.2 s";
    EyeSilent, NoValue, "eye not answering",
        "The eye gives no scans.",
        "Unplug the head and plug it in again; if it comes back, have the eye's wiring checked.",
        "no scan from the line of pixels";
    ExposureUnknown, NoValue, "exposure not known",
        "The head does not know for how long its eye gathered light.",
        "Wait a moment; if it stays, unplug the head and plug it in again.",
        "scans whose start was missed for 0.12 s";
    EyeFrozen, NoValue, "eye frozen",
        "The eye gives exactly the same picture again and again, as no living eye does.",
        "Unplug the head and plug it in again; if it comes back, have the eye checked.",
        "the same scan twice, or the same middle for 0.25 s";
    DeadPixels, NoValue, "dead pixels",
        "A pixel of the eye stands out from its neighbours as no light does: dead, stuck or covered.",
        "Wipe the eye's window; if it stays, compare the pixels: skimgauge zero. If it comes back, have the eye replaced.",
        "a pixel far beyond what its four neighbours allow";
    TooMuchLight, NoValue, "too much light",
        "The sheet of light blinds the eye even at its shortest exposure.",
        "Shade the head with a hand; turn the eye a little away from the emitter.",
        "pixels at their stop where the light is";
    TooMuchRoomLight, NoValue, "too much room light",
        "Sun or a lamp blinds the eye: nothing is left of it for the sheet of light.",
        "Shade the head with a hand or draw the curtain; switch off a lamp that shines along the board.",
        "the unlit pixels near their stop, or so bright that their inequality hides the sheet's middle";
    TwoSheets, NoValue, "two sheets",
        "The eye sees two sheets of light, too near to each other to be told apart: one is mirrored by the board.",
        "Lay matt paper on the board in front of the eye, or move the head along the edge off the glossy patch.",
        "a second peak too near or too strong, or a sheet lopsided as two on top of each other are";
    LightLeavesWindow, NoValue, "light leaves the window",
        "The sheet of light stands too near to the board, or too far from it, for the eye to see all of it.",
        "Turn the adjusters until the sheet stands inside the eye's window; check that the head's feet stand on the board and nothing covers the window.",
        "the peak, or what shows that nothing is beside it, beyond the line of pixels";
    WrongThickness, NoValue, "wrong thickness",
        "The light in the eye is thicker or thinner than a sheet from this emitter is.",
        "Look for a lamp or the sun along the board, and switch off or cover it; wipe the eye's window; see the emitter's instructions for its focus.",
        "the profile's width (D4sigma of ISO 11146-1) outside what an emitter gives";
    UnevenRoomLight, NoValue, "uneven room light",
        "A shadow's edge or another light falls across the sheet in the eye.",
        "Shade the head with a hand, all of it or none; draw the curtain.",
        "room light beside the sheet that a straight line does not describe";
    EyeTurnedAway, NoValue, "eye not turned to the emitter",
        "The sheet of light is too weak in the eye to have a middle.",
        "Turn the eye's pointer to the emitter; wipe the eye's window; check that nothing stands in the light.",
        "a peak too low for a middle, whatever the exposure";
    NoLight, NoValue, "no light in the eye",
        "The eye sees no sheet of light.",
        "Turn the eye's pointer to the emitter; check that the emitter is on and nothing stands in its light.",
        "no peak above the unlit pixels: in three scans of an emitter that leaves none out, else for 0.12 s";
    CalibrationAwaited, NoValue, "calibration not read yet",
        "The head has not told its calibration yet.",
        "Wait a moment; if it stays, unplug the head and plug it in again.",
        "no calibration since the link opened";
    RoomLightPulls, Doubt, "room light at the sheet",
        "The room's light may pull the sheet's middle to one side.",
        "Wait a second; if it stays, turn the eye to the emitter or shade the head with a hand.",
        "what the flanks of many scans say together";
    CalibrationOtherHead, Doubt, "calibration of another head",
        "The constants in this head's memory belong to another head.",
        "Zero this head: skimgauge zero.",
        "the serial number in the constants against the head's own";
    CalibrationDamaged, Doubt, "calibration damaged",
        "The head's constants are damaged; the maker's nominal ones are in use.",
        "Zero this head: skimgauge zero.",
        "the check over the constants fails in both places, or they are impossible";
    CalibrationUnreadable, Doubt, "memory not answering",
        "The head's memory does not answer; the maker's nominal constants are in use.",
        "Unplug the head and plug it in again; if it comes back, have its memory checked.",
        "the head gets no acknowledge from its memory";
    CalibrationMissing, Doubt, "calibration missing",
        "This head was never zeroed.",
        "Zero it: skimgauge zero.",
        "nothing was ever written where the constants belong";
    ZeroedAfterToday, Doubt, "zeroing dated after today",
        "The head's zeroing is dated after today: this computer's date is wrong, or it was wrong when the head was zeroed.",
        "Set this computer's date; if it is right, zero the head again: skimgauge zero.",
        "the date in the constants against today";
    SpotErratic, Doubt, "laser spot unsteady",
        "The distance jumps while nothing else moves: the spot is on a dark, glossy or dirty patch.",
        "Wipe the board there, or move the head a few millimetres along the edge.",
        "scatter of the stand-off far above the head's own, without the light's";
    InclinometerSilent, Doubt, "inclinometer not answering",
        "The inclinometer does not answer, so nothing says whether the head is seated.",
        "Unplug the head and plug it in again; if it comes back, have its wiring checked.",
        "the head gets no frame";
    InclinometerFrame, Doubt, "inclinometer frame error",
        "What the inclinometer says arrives garbled.",
        "Keep the head away from motors and transmitters; if it stays, have its wiring checked.",
        "the check in the inclinometer's frames fails";
    InclinometerSelfTest, Doubt, "inclinometer self-test failed",
        "The inclinometer says of itself that it is not well.",
        "Hold the head still, unplug it and plug it in again; if it comes back, have the inclinometer replaced.",
        "its return status or self-test value";
    TiltFrozen, Doubt, "inclinometer frozen",
        "The inclinometer gives exactly the same numbers again and again.",
        "Unplug the head and plug it in again; if it comes back, have the inclinometer checked.",
        "the head sees the same codes again and again";
    TiltOutOfRange, Doubt, "head tipped over",
        "The head is tilted by more than 60 degrees.",
        "Clip the head upright to the board's edge.",
        "tilt beyond its limit on either axis";
    NotSeated, Doubt, "head not seated",
        "The head does not stand as the board does.",
        "Clip it again so that all three feet touch the board; look for a cable or a bead of glue under a foot.",
        "tilt against the board's";
    Knocked, Doubt, "head knocked",
        "The head was knocked or moved.",
        "Let go of it and wait until it has settled.",
        "a jump in tilt, stand-off or gap after it had settled";
    SupplyLow, Doubt, "supply low",
        "The head gets too little voltage.",
        "Use a shorter cable or another port, without a hub.",
        "the supply channel against its limit";
    TemperatureOutOfRange, Doubt, "temperature out of range",
        "The head is colder or warmer than it is trusted at.",
        "Let it come to the room's temperature; keep it out of the sun.",
        "the head's own temperature against its limits";
    CalibrationOverdue, Notice, "calibration overdue",
        "The head was zeroed longer ago than this job allows.",
        "Check it (skimgauge zero --check), or zero it again.",
        "the date in the constants against today";
    ZeroedElsewhere, Notice, "zeroed on another board",
        "This head's zero was not made on this job's board: what its laser reads of another material may differ, and is counted in the uncertainty.",
        "For a surer gap hold the zero against the gauge on this board (skimgauge zero --check --job FILE), or zero it here (zero --job FILE).",
        "the constants in the head against those that the record knows of this job";
    WeakLight, Notice, "weak light",
        "The sheet of light is weak in the eye, which asks for its longest exposure.",
        "Turn the eye's pointer to the emitter; wipe the eye's window.",
        "the peak's height at nearly the longest exposure";
    SecondSheet, Notice, "mirrored sheet",
        "The board mirrors the sheet of light; the eye tells the two apart and reads the true one.",
        "Nothing, as long as it stays a notice.",
        "a second peak far enough from the first to read past it";
    ReadingsLost, Notice, "readings lost",
        "More than one reading in ten is lost on the way.",
        "Plug the head in without a hub, with a shorter cable.",
        "gaps in the readings' numbers over the last second";
}
