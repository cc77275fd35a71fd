#!/usr/bin/env python3
"""Draws the head's three sheets, their symbols and the project's files into a folder (default: this one).

The sheets are what a person opens and what everything is checked against; this file is the easier way to change them. Whoever
would rather draw in KiCad deletes it, and its line in `hardware/check`: nothing else needs it."""

import json
import pathlib
import sys

import symbols as s
from kicad import PROJECT, Sheet, uid

ROOT = f"/{uid('root')}"


class Page(Sheet):
    """A sheet with our habits."""

    flags = 0
    grounds = 0

    def ground(self, at, angle=0):
        Page.grounds += 1
        self.put(s.GROUND, f"#PWR{Page.grounds:03}", "GND", *at, angle, hide_value=True)

    def rail(self, symbol, at, angle=0):
        Page.grounds += 1
        self.put(symbol, f"#PWR{Page.grounds:03}", symbol.name, *at, angle, value_at=(0, -2.8), justify="")

    def flag(self, at, angle=0):
        Page.flags += 1
        self.put(s.FLAG, f"#FLG{Page.flags:02}", "PWR_FLAG", *at, angle, hide_value=True)

    def named(self, name, start, end, shape="passive"):
        """A wire from `start` to a label at `end`."""
        self.wire(start, end)
        self.label(name, end, 180 if end[0] < start[0] else 0, shape)

    def upright(self, symbol, ref, value, x, y):
        return self.put(symbol, ref, value, x, y)

    def flat(self, symbol, ref, value, x, y):
        """Its end 1 to the left."""
        return self.put(symbol, ref, value, x, y, 90, ref_at=(0, -2.4), value_at=(0, 2.4), justify="")

    def point(self, ref, value, at):
        self.put(s.POINT, ref, value, *at, ref_at=(1.2, -2.6), value_at=(1.2, -1.2))

    def to_ground(self, symbol, ref, value, x, y):
        """From a wire at (x, y) down to ground."""
        self.put(symbol, ref, value, x, y + 3)
        self.ground((x, y + 6))

    def clamped(self, start, d_ref, r_ref, r_value, name, tp_ref, up):
        """From `start` a clamp to the 3.3 V rail and to ground, and over it a resistor to a label."""
        x, y = start
        self.put(s.CLAMP, d_ref, "BAT54S", x + 9, y, ref_at=(2, -1), value_at=(2, 1))
        self.wire(start, (x + 6, y))
        self.rail(s.V3, (x + 9, y - 5))
        self.ground((x + 9, y + 5))
        self.wire((x + 2, y), (x + 2, y - up), (x + 6, y - up))
        self.flat(s.R, r_ref, r_value, x + 9, y - up)
        self.wire((x + 12, y - up), (x + 18, y - up))
        self.named(name, (x + 18, y - up), (x + 25, y - up), "output")
        self.point(tp_ref, name, (x + 16, y - up))


def usb(page):
    page.frame(10, 12, 106, 84, "USB in: fuse, protection, which end is up (the cable must be a 3 A one)")
    page.put(s.USB, "J1", "USB C socket, USB 2.0", 20, 30, ref_at=(0, -3.4), value_at=(4, -3.4))
    page.wire((34, 30), (44, 30))
    page.flag((38, 30))
    page.flat(s.FUSE, "F1", "1.1 A hold", 47, 30)
    page.wire((50, 30), (80, 30))
    page.to_ground(s.C, "C1", "2.2 uF, 10 %", 84, 30)
    page.wire((80, 30), (84, 30))
    page.rail(s.V5, (62, 30))
    page.flag((56, 30))
    page.point("TP1", "+5V", (72, 30))
    page.put(s.ESD, "D1", "USBLC6-2", 54, 40, ref_at=(0, -3.2), value_at=(4, -3.2))
    page.wire((34, 36), (46, 36), (46, 40), (52, 40))
    page.wire((34, 40), (42, 40), (42, 44), (52, 44))
    page.wire((52, 42), (50, 42), (50, 46))
    page.ground((50, 46))
    page.wire((66, 42), (70, 42), (70, 38))
    page.rail(s.V5, (70, 38))
    page.named("usb_dm", (66, 40), (76, 40))
    page.named("usb_dp", (66, 44), (76, 44))
    page.wire((34, 50), (54, 50), (54, 54))
    page.to_ground(s.R, "R1", "5.1 k, 1 %", 54, 54)
    page.wire((34, 54), (39, 54))
    page.to_ground(s.R, "R2", "5.1 k, 1 %", 39, 54)
    page.wire((34, 60), (35, 60), (35, 66))
    page.wire((34, 64), (35, 64))
    page.ground((35, 66))
    page.say("R1 and R2 tell a USB C host that\nsomething is there that takes 5 V.\nThe board's own socket stays empty:\nfed from both, two hosts would meet.", 70, 56)
    page.flag((14, 76), 0)
    page.wire((14, 76), (14, 78), (22, 78), (22, 80))
    page.ground((22, 80))
    page.point("TP3", "GND", (22, 78))


def board(page):
    page.frame(110, 12, 206, 84, "Board: 40 pins of the Pico's outline, seen from above, its socket upward")
    x, y = 148, 22
    at = page.put(s.BOARD, "U1", "RP2040 board, 2 MB", x, y, ref_at=(0, -3.4), value_at=(4, -3.4))
    names = {
        "6": "sda", "7": "scl", "9": "ready", "10": "pixel_start", "11": "pixel_clock", "14": "laser_enable", "16": "buzzer",
        "17": "lamp", "19": "button", "21": "tilt_miso", "22": "tilt_select", "24": "tilt_clock", "25": "tilt_mosi", "31": "pixels",
    }
    for n, (px, py) in at.items():
        left = n.isdigit() and int(n) <= 20
        way = -1 if left else 1
        kind = (s.LEFT[int(n) - 1] if left else s.RIGHT[40 - int(n)]) if n.isdigit() else ""
        if n in names:
            page.named(names[n], (px, py), (px + 6 * way, py), "bidirectional")
        elif kind in ("GND", "AGND"):
            page.ground((px, py), 270 if left else 90)
        elif n == "40":
            page.wire((px, py), (px + 5, py))
            page.rail(s.V5, (px + 5, py))
        elif n == "36":
            page.wire((px, py), (px + 18, py))
            page.rail(s.V3, (px + 18, py))
            page.point("TP2", "+3V3", (px + 24, py))
            page.wire((px + 18, py), (px + 24, py))
        elif n.startswith("TP"):
            page.wire((px, py), (px, py + 2))
        else:
            page.open_end((px, py))
    page.named("usb_dm", (x + 8, y + 50), (x - 2, y + 50))
    page.named("usb_dp", (x + 16, y + 50), (x + 26, y + 50))


def bus(page):
    page.frame(210, 12, 322, 84, "On the I2C bus: converter at 48h, memory at 50h and 58h")
    x, y = 240, 24
    page.put(s.CONVERTER, "U2", "ADS1115, 16 bit", x, y, ref_at=(0, -3.4), value_at=(4, -3.4))
    page.named("stand_off", (x - 2, y), (x - 8, y), "input")
    page.ground((x - 2, y + 4), 270)
    page.ground((x - 2, y + 6), 270)
    page.named("supply_half", (x - 2, y + 10), (x - 8, y + 10), "input")
    page.ground((x - 2, y + 14), 270)
    fed(page, x + 18, y, "C2")
    page.named("scl", (x + 18, y + 6), (x + 24, y + 6), "bidirectional")
    page.named("sda", (x + 18, y + 8), (x + 24, y + 8), "bidirectional")
    page.named("ready", (x + 18, y + 10), (x + 24, y + 10), "output")
    page.ground((x + 18, y + 14), 90)
    for ref, name, tp, at in (("R3", "sda", "TP10", 290), ("R4", "scl", "TP11", 310)):
        page.rail(s.V3, (at, y - 2))
        page.upright(s.R, ref, "2.2 k, 1 %", at, y + 1)
        page.wire((at, y + 4), (at, y + 10))
        page.point(tp, name, (at + 5, y + 10))
        page.wire((at, y + 10), (at + 5, y + 10))
        page.named(name, (at, y + 10), (at - 3, y + 10), "bidirectional")
    y = 56
    page.put(s.MEMORY, "U4", "24CS32, 4 KB", x, y, ref_at=(0, -3.4), value_at=(4, -3.4))
    for row in (0, 2, 4, 8, 10):
        page.ground((x - 2, y + row), 270)
    fed(page, x + 16, y, "C7", 2)
    page.named("scl", (x + 16, y + 6), (x + 24, y + 6), "bidirectional")
    page.named("sda", (x + 16, y + 8), (x + 24, y + 8), "bidirectional")


def fed(page, x, y, ref, more=0):
    """A supply pin at (x, y), its rail and its capacitor."""
    page.wire((x, y), (x + 16 + more, y))
    page.rail(s.V3, (x + 6 + more, y))
    page.to_ground(s.C, ref, "100 nF, 10 %", x + 16 + more, y)


def inclinometer(page):
    page.frame(210, 88, 322, 136, "Inclinometer: X right, Y into the board, Z up")
    x, y = 240, 98
    page.put(s.INCLINOMETER, "U3", "SCL3300", x, y, ref_at=(0, -3.4), value_at=(4, -3.4))
    for row, name, shape in ((0, "tilt_select", "input"), (2, "tilt_clock", "input"), (4, "tilt_mosi", "input"), (6, "tilt_miso", "output")):
        page.named(name, (x - 2, y + row), (x - 8, y + row), shape)
    for row in (10, 12, 14, 16):
        page.ground((x - 2, y + row), 270)
    page.wire((x + 18, y), (x + 52, y))
    page.wire((x + 18, y + 2), (x + 21, y + 2), (x + 21, y))
    page.rail(s.V3, (x + 24, y))
    page.to_ground(s.C, "C3", "100 nF, 10 %", x + 36, y)
    page.to_ground(s.C, "C4", "100 nF, 10 %", x + 52, y)
    page.wire((x + 18, y + 12), (x + 42, y + 12), (x + 42, y + 16))
    page.to_ground(s.C, "C5", "100 nF, 10 %", x + 42, y + 16)
    page.wire((x + 18, y + 16), (x + 24, y + 16))
    page.to_ground(s.C, "C6", "100 nF, 10 %", x + 24, y + 16)


def halved(page):
    page.frame(10, 88, 58, 136, "Supply, halved for the converter")
    page.rail(s.V5, (20, 98))
    page.upright(s.R, "R5", "10 k, 1 %", 20, 101)
    page.wire((20, 104), (20, 110))
    page.to_ground(s.R, "R6", "10 k, 1 %", 20, 110)
    page.wire((20, 107), (34, 107))
    page.wire((34, 107), (34, 110))
    page.to_ground(s.C, "C8", "100 nF, 10 %", 34, 110)
    page.named("supply_half", (34, 107), (44, 107), "output")
    page.point("TP9", "half", (27, 107))


def root():
    page = Page("head", "Head: board, converter, memory, inclinometer", "User 420 218", 1, 3, ROOT, [
        "X right as the viewer sees the board, Y into the board, Z up", "Values as '12.1 k, 0.1 %': read by the sums' test", "Sums: hardware/sums.md. Pins: hardware/pins.md",
    ])
    usb(page)
    board(page)
    bus(page)
    inclinometer(page)
    halved(page)
    page.subsheet("laser", "Laser sensor: supply, enable, input", 66, 98, 40, 20, "2")
    page.subsheet("eye", "Eye, button, lamp, buzzer", 120, 98, 40, 20, "3")
    page.say("A name in a flag is one net on all three sheets;\nthe names are those of firmware/pico/src/pins.rs.", 66, 124)
    page.say(
        "Laser: class 1, or class 2 and visible. Unplugged, or with no image running, it is dark.\n"
        "Before the first plug: no short between +5V, +3V3 and GND; hardware/test/bring-up.md.\n"
        "Board numbers U1 TP2 and TP3 are pads on its under side (from memory: look at your board's drawing).",
        10, 140, 1.8,
    )
    return page


def laser_supply(page):
    page.frame(10, 10, 222, 72, "Supply of the laser sensor: dark until the image says otherwise (R11, R12); Q1 opens in 1 to 2 ms (R13, C10)")
    page.rail(s.V5, (22, 30))
    page.wire((22, 30), (40, 30))
    page.put(s.PMOS, "Q1", "P-MOSFET, logic level", 44, 32, 90, ref_at=(6, 2), value_at=(6, 4), justify="right")
    page.wire((34, 30), (34, 33))
    page.put(s.R, "R12", "100 k, 5 %", 34, 36, ref_at=(-2, -1), value_at=(-2, 1), justify="right")
    page.wire((34, 39), (34, 42), (44, 42))
    page.wire((44, 36), (44, 43))
    page.wire((48, 30), (74, 30))
    page.wire((60, 30), (60, 36))
    page.put(s.C, "C10", "100 nF, 10 %", 57, 42, 90, ref_at=(0, -2.4), value_at=(0, 2.4), justify="")
    page.wire((44, 42), (54, 42))
    page.wire((60, 42), (60, 36))
    page.upright(s.R, "R13", "10 k, 5 %", 44, 46)
    page.wire((44, 49), (44, 52))
    page.put(s.NPN, "Q2", "NPN, 2N3904", 42, 56, ref_at=(6, -1), value_at=(6, 1))
    page.ground((44, 60))
    page.wire((36, 56), (38, 56))
    page.flat(s.R, "R10", "10 k, 5 %", 33, 56)
    page.named("laser_enable", (30, 56), (22, 56), "input")
    page.wire((27, 56), (27, 59))
    page.to_ground(s.R, "R11", "100 k, 5 %", 27, 59)
    page.point("TP12", "5 V out", (64, 30))
    page.flag((71, 30))
    page.wire((74, 30), (88, 30))
    page.to_ground(s.C, "C11", "4.7 uF, 10 %", 76, 30)
    page.put(s.BOOST, "U5", "5 V to 15 V, 1 W", 90, 30, ref_at=(0, -3.4), value_at=(4, -3.4))
    page.ground((88, 36), 270)
    page.ground((106, 36), 90)
    page.wire((106, 30), (118, 30))
    page.to_ground(s.C, "C12", "4.7 uF, 10 %, 50 V", 113, 30)
    page.wire((118, 30), (132, 30))
    page.flat(s.FUSE, "F2", "100 mA hold", 135, 30)
    page.wire((138, 30), (172, 30))
    page.rail(s.V15, (142, 30))
    page.flag((148, 30))
    page.point("TP4", "+15V", (156, 30))
    page.to_ground(s.R, "R18", "2.2 k, 5 %, 0.5 W", 172, 30)
    page.say(
        "U5 is not regulated: 12 V to 19 V over load and USB's range.\nThe sensor must bear 12 V to 24 V and take 45 mA at most.\nR18 is the least load that U5 wants; it also empties C12.",
        110, 48,
    )


def laser_input(page):
    page.frame(10, 76, 222, 129, "Output of the sensor: 1 V to 5 V; 4 mA to 20 mA with JP1 bridged. Rising or falling: the zero finds the sign")
    page.put(s.SENSOR, "J2", "to the laser sensor", 16, 90, ref_at=(0, -3.4), value_at=(4, -3.4))
    page.wire((32, 90), (38, 90))
    page.rail(s.V15, (38, 90))
    page.ground((32, 94), 90)
    page.ground((32, 102), 90)
    page.wire((32, 98), (73, 98))
    page.point("TP5", "output", (44, 98))
    page.wire((58, 98), (58, 100))
    page.upright(s.BRIDGE, "JP1", "bridge for 4-20 mA", 58, 103)
    page.wire((58, 106), (58, 110))
    page.to_ground(s.R, "R14", "249, 0.1 %, 0.6 W", 58, 110)
    page.flat(s.R, "R15", "12.1 k, 0.1 %", 76, 98)
    page.wire((79, 98), (106, 98))
    page.wire((84, 98), (84, 104))
    page.to_ground(s.R, "R16", "14.7 k, 0.1 %", 84, 104)
    page.wire((100, 98), (100, 104))
    page.to_ground(s.C, "C13", "10 nF, 5 %", 100, 104)
    page.clamped((112, 98), "D3", "R17", "1 k, 1 %", "stand_off", "TP6", 15)
    page.wire((106, 98), (112, 98))
    page.say(
        "5 V at the sensor: 2.74 V here. Spot lost: 5.4 V and more (2.95 V here), or 0.9 V and less.\n"
        "Output on the 15 V supply by a slip: D3 holds 3.7 V, R17 keeps the converter's share small.",
        134, 104,
    )
    page.say("Bridge JP1 only after TP5 was measured without it: R14 across 15 V gets hot (1 W).", 76, 124)


def laser():
    page = Page("laser", "Laser sensor: supply, enable, input", "A4", 2, 3, f"{ROOT}/{uid('sheet laser')}", [
        "Class 1, or class 2 and visible; never look into it, nor at its reflection", "Colours of the sensor's wires: its maker's sheet",
    ])
    laser_supply(page)
    laser_input(page)
    return page


def line(page):
    page.frame(10, 10, 222, 80, "Eye: a line of 256 pixels behind a 6-wire lead through the swivel's axis, 200 mm at most")
    page.rail(s.V5, (20, 28))
    page.wire((20, 28), (27, 28))
    page.flat(s.BEAD, "FB1", "600 Ohm at 100 MHz", 30, 28)
    page.wire((33, 28), (42, 28))
    page.wire((42, 28), (54, 28))
    page.to_ground(s.C, "C20", "2.2 uF, 10 %", 44, 28)
    page.flag((38, 28))
    page.named("eye_5v", (54, 28), (58, 28))
    for name, out, ref, y, tp in (("pixel_start", "eye_start", "R20", 46, "TP14"), ("pixel_clock", "eye_clock", "R21", 58, "TP13")):
        page.named(name, (37, y), (24, y), "input")
        page.flat(s.R, ref, "47, 5 %", 40, y)
        page.wire((43, y), (58, y))
        page.point(tp, name[6:], (50, y))
        page.label(out, (58, y), 0)
    page.put(s.EYE_PLUG, "J3", "eye's plug", 92, 30, ref_at=(0, -3.4), value_at=(4, -3.4))
    for row, name in ((0, "eye_5v"), (4, "eye_start"), (6, "eye_clock"), (10, "eye_out")):
        page.named(name, (90, 30 + row), (86, 30 + row))
    for row in (2, 8):
        page.ground((90, 30 + row), 270)
    page.say("Wires 2 and 5 are both ground:\none beside the clock, one beside the output.", 76, 46)
    page.frame(128, 18, 216, 68, "On the eye's own carrier")
    x, y = 176, 34
    page.put(s.PIXELS, "U6", "256 pixels, 63.5 um, iC-LFL1402", x, y, ref_at=(0, -3.4), value_at=(4, -3.4))
    page.wire((x - 2, y), (x - 20, y))
    page.wire((x - 2, y + 6), (x - 12, y + 6))
    page.put(s.C, "C21", "100 nF, 10 %", x - 12, y + 3, ref_at=(-2, -0.6), value_at=(-2, 1.4), justify="right")
    page.ground((x - 12, y + 6))
    page.label("eye_5v", (x - 20, y), 180)
    for row, name in ((12, "eye_start"), (14, "eye_clock"), (18, "eye_out")):
        page.named(name, (x - 2, y + row), (x - 20, y + row))
    page.ground((x - 2, y + 8), 270)
    page.ground((x - 2, y + 16), 270)
    page.open_end((x - 2, y + 22))
    page.say("iC-LFL1402: pads 1 SI, 2 CLK, 3 AO, 4 VCC, 5 RSET, 6 AGND, 7 GND, 8 DIS.\nDIS to ground: no shutter. RSET: as the data sheet has it for its own bias.", 132, 61)


def divider(page):
    page.frame(10, 84, 110, 129, "Pixels' output: up to 5 V, divided to 3.1 V at most")
    page.named("eye_out", (37, 108), (22, 108), "input")
    page.point("TP7", "AO", (30, 108))
    page.flat(s.R, "R22", "1.5 k, 1 %", 40, 108)
    page.wire((43, 108), (62, 108))
    page.wire((52, 108), (52, 112))
    page.to_ground(s.R, "R23", "2.1 k, 1 %", 52, 112)
    page.clamped((62, 108), "D4", "R24", "100, 5 %", "pixels", "TP8", 15)


def hand(page):
    page.frame(114, 84, 222, 129, "Button, lamp, buzzer")
    page.named("button", (137, 96), (126, 96), "output")
    page.flat(s.R, "R25", "330, 5 %", 140, 96)
    page.wire((143, 96), (150, 96), (150, 98))
    page.put(s.BUTTON, "SW1", "button", 150, 101, ref_at=(4, -1), value_at=(4, 1))
    page.ground((150, 104))
    page.named("lamp", (137, 114), (126, 114), "input")
    page.flat(s.R, "R26", "1 k, 5 %", 140, 114)
    page.wire((143, 114), (150, 114), (150, 116))
    page.put(s.LAMP, "D5", "LED, green", 150, 119, 180, ref_at=(4, -1), value_at=(4, 1))
    page.ground((150, 122))
    x = 194
    page.rail(s.V5, (x, 92))
    page.put(s.R, "R28", "100, 5 %, 0.25 W", x, 95, ref_at=(2, -1), value_at=(2, 1))
    page.wire((x, 98), (x, 101))
    page.put(s.BUZZER, "BZ1", "magnetic, 16 Ohm", x, 104, ref_at=(-3, -1), value_at=(-3, 1), justify="right")
    page.wire((x, 99), (x + 8, 99), (x + 8, 101))
    page.put(s.DIODE, "D6", "1N4148", x + 8, 104, ref_at=(2, -1), value_at=(2, 1))
    page.wire((x + 8, 107), (x + 8, 109), (x, 109))
    page.wire((x, 107), (x, 112))
    page.put(s.NPN, "Q3", "NPN, 2N3904", x - 2, 116, ref_at=(6, -1), value_at=(6, 1))
    page.ground((x, 120))
    page.wire((x - 6, 116), (x - 8, 116))
    page.flat(s.R, "R27", "1 k, 5 %", x - 11, 116)
    page.named("buzzer", (x - 14, 116), (x - 20, 116), "input")


def eye():
    page = Page("eye", "Eye, button, lamp, buzzer", "A4", 3, 3, f"{ROOT}/{uid('sheet eye')}", [
        "Pixel 1 is the lowest, next to the board face", "The lead turns with the eye, 100 degrees to either side",
    ])
    line(page)
    divider(page)
    hand(page)
    return page


def write(folder):
    folder.mkdir(parents=True, exist_ok=True)
    pages = [root(), laser(), eye()]
    kinds = {}
    for page in pages:
        extra = '(sheet_instances (path "/" (page "1")))' if page.name == "head" else ""
        (folder / f"{page.name}.kicad_sch").write_text(page.text(extra))
        kinds |= page.kinds
    body = "\n".join(kinds[name].text() for name in sorted(kinds))
    (folder / "parts.kicad_sym").write_text(f'(kicad_symbol_lib (version 20241209) (generator "draw.py") (generator_version "9.0")\n{body}\n)\n')
    table = '(sym_lib_table (version 7) (lib (name "parts") (type "KiCad") (uri "${KIPRJMOD}/parts.kicad_sym") (options "") (descr "The head\'s own symbols")))\n'
    (folder / "sym-lib-table").write_text(table)
    project = {
        "meta": {"filename": f"{PROJECT}.kicad_pro", "version": 3},
        "sheets": [[uid("root"), "Root"], [uid("sheet laser"), "Laser"], [uid("sheet eye"), "Eye"]],
    }
    (folder / f"{PROJECT}.kicad_pro").write_text(json.dumps(project, indent=2) + "\n")


if __name__ == "__main__":
    write(pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parent)
