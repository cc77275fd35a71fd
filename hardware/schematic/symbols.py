"""The kinds of parts on the sheets."""

from kicad import Symbol, box, chip, line, ring, two

P, IN, OUT, SUPPLY, SOURCE, BOTH, OPEN = "passive", "input", "output", "power_in", "power_out", "bidirectional", "open_collector"

R = two("R", "R", [box(-0.8, -2, 0.8, 2, "none")])
C = two("C", "C", [line((-1.6, 0.4), (1.6, 0.4), width=0.4), line((-1.6, -0.4), (1.6, -0.4), width=0.4)], body=0.4)
BEAD = two("BEAD", "FB", [box(-0.8, -2, 0.8, 2, "outline")])
FUSE = two("FUSE", "F", [box(-0.8, -2, 0.8, 2, "none"), line((0, -2), (0, 2)), line((-2, -1.6), (-1, -1.6), (1.2, 1.6))])
DIODE = two(
    "DIODE", "D", [line((-1.3, 1), (1.3, 1)), line((-1.3, -1), (1.3, -1), (0, 1), (-1.3, -1), fill="outline")], body=1, names=("K", "A")
)
LAMP = two(
    "LAMP",
    "D",
    DIODE.art
    + [line((-1.8, 0), (-3.2, 1.4)), line((-3.2, 0.7), (-3.2, 1.4), (-2.5, 1.4)), line((-1.8, -1), (-3.2, 0.4)), line((-3.2, -0.3), (-3.2, 0.4), (-2.5, 0.4))],
    body=1,
    names=("K", "A"),
)
CLAMP = Symbol(
    "CLAMP",
    "D",
    [("1", "A", P, 0, -5, 90, 1.5), ("2", "K", P, 0, 5, 270, 1.5), ("3", "M", P, -3, 0, 0, 3)],
    [
        line((0, -3.5), (0, 3.5)),
        line((-1.3, 3.2), (1.3, 3.2)),
        line((-1.3, 1.2), (1.3, 1.2), (0, 3.2), (-1.3, 1.2), fill="outline"),
        line((-1.3, -1.2), (1.3, -1.2)),
        line((-1.3, -3.2), (1.3, -3.2), (0, -1.2), (-1.3, -3.2), fill="outline"),
        ring(0, 0, 0.25, "outline"),
    ],
)
PMOS = Symbol(
    "PMOS",
    "Q",
    [("1", "G", P, -4, 0, 0, 3), ("2", "S", P, 2, 4, 270, 2.4), ("3", "D", P, 2, -4, 90, 2.4)],
    [
        line((-1, -1.6), (-1, 1.6)),
        line((-0.4, 2), (-0.4, 1.2), width=0.4),
        line((-0.4, 0.4), (-0.4, -0.4), width=0.4),
        line((-0.4, -1.2), (-0.4, -2), width=0.4),
        line((-0.4, 1.6), (2, 1.6)),
        line((-0.4, -1.6), (2, -1.6)),
        line((-0.4, 0), (2, 0), (2, 1.6)),
        line((1.6, 0), (0.7, 0.5), (0.7, -0.5), (1.6, 0), fill="outline"),
    ],
)
NPN = Symbol(
    "NPN",
    "Q",
    [("1", "E", P, 2, -4, 90, 2), ("2", "B", P, -4, 0, 0, 4), ("3", "C", P, 2, 4, 270, 2)],
    [
        line((0, -1.8), (0, 1.8), width=0.5),
        line((0, 0.8), (2, 2)),
        line((0, -0.8), (2, -2)),
        line((1.7, -1.82), (0.75, -1.65), (1.15, -1.0), (1.7, -1.82), fill="outline"),
        ring(0.7, 0, 2.5),
    ],
)
BUTTON = two(
    "BUTTON", "SW", [ring(0, 1.5, 0.4), ring(0, -1.5, 0.4), line((1.2, 1.6), (1.2, -1.6)), line((1.2, 0), (2.4, 0)), line((2.4, 0.8), (2.4, -0.8))], body=1.9
)
BUZZER = two("BUZZER", "BZ", [ring(0, 0, 2), line((-0.8, 0.5), (0.8, 0.5), (0.8, -0.5), (-0.8, -0.5), (-0.8, 0.5))], names=("+", "-"))
BRIDGE = two("BRIDGE", "JP", [box(-1, 0.2, 1, 2, "outline"), box(-1, -2, 1, -0.2, "outline")])
POINT = Symbol("POINT", "TP", [("1", "~", P, 0, 0, 90, 1)], [ring(0, 1.7, 0.7)], size=(1, -2))

GROUND = Symbol("GND", "#PWR", [("1", "GND", SUPPLY, 0, 0, 270, 0)], [line((0, 0), (0, -1)), line((-1.2, -1), (1.2, -1), (0, -2), (-1.2, -1))], power=True)


def rail(name):
    return Symbol(name, "#PWR", [("1", name, SUPPLY, 0, 0, 90, 0)], [line((0, 0), (0, 2)), line((-0.6, 1), (0, 2), (0.6, 1))], power=True)


V5, V3, V15 = rail("+5V"), rail("+3V3"), rail("+15V")
FLAG = Symbol("PWR_FLAG", "#FLG", [("1", "pwr", SOURCE, 0, 0, 90, 0)], [line((0, 0), (0, 1), (-0.8, 1.6), (0, 2.2), (0.8, 1.6), (0, 1))], power=True)

USB = chip(
    "USB_C",
    "J",
    [],
    [
        ("A4", "VBUS", P), None, None,
        ("A7", "D-", P), None,
        ("A6", "D+", P), None, None, None, None,
        ("A5", "CC1", P), None,
        ("B5", "CC2", P), None, None,
        ("A1", "GND", P), None,
        ("S1", "SHELL", P),
    ],
    12,
)
ESD = chip("ESD_ARRAY", "D", [("1", "IO1", P), ("2", "GND", P), ("3", "IO2", P)], [("6", "IO1", P), ("5", "VBUS", P), ("4", "IO2", P)], 10)

LEFT = "GP0 GP1 GND GP2 GP3 GP4 GP5 GND GP6 GP7 GP8 GP9 GND GP10 GP11 GP12 GP13 GND GP14 GP15".split()
RIGHT = "VBUS VSYS GND 3V3_EN 3V3 ADC_VREF GP28 AGND GP27 GP26 RUN GP22 GND GP21 GP20 GP19 GP18 GND GP17 GP16".split()


def board_pin(name):
    # VBUS goes in or out of it: with the cable at J1 the board is fed there. 3V3 is what its regulator gives.
    kind = {"GND": SUPPLY, "AGND": SUPPLY, "VBUS": SUPPLY, "VSYS": P, "3V3": SOURCE, "3V3_EN": P, "ADC_VREF": P, "RUN": P}
    return kind.get(name, BOTH)


BOARD = chip(
    "RP2040_BOARD",
    "U",
    [(str(n + 1), name, board_pin(name)) for n, name in enumerate(LEFT)],
    [(str(40 - n), name, board_pin(name)) for n, name in enumerate(RIGHT)],
    24,
    rows=23,
    bottom=((8, ("TP2", "USB D-", BOTH)), (16, ("TP3", "USB D+", BOTH))),
)
CONVERTER = chip(
    "ADS1115",
    "U",
    [("4", "AIN0", IN), None, ("5", "AIN1", IN), ("6", "AIN2", IN), None, ("7", "AIN3", IN), None, ("1", "ADDR", IN)],
    [("8", "VDD", SUPPLY), None, None, ("10", "SCL", IN), ("9", "SDA", BOTH), ("2", "RDY", OPEN), None, ("3", "GND", SUPPLY)],
    16,
)
MEMORY = chip(
    "24CS32",
    "U",
    [("1", "A0", IN), ("2", "A1", IN), ("3", "A2", IN), None, ("7", "WP", IN), ("4", "GND", SUPPLY)],
    [("8", "VCC", SUPPLY), None, None, ("6", "SCL", IN), ("5", "SDA", BOTH), None],
    14,
)
INCLINOMETER = chip(
    "SCL3300",
    "U",
    [("5", "CSB", IN), ("8", "SCK", IN), ("7", "MOSI", IN), ("6", "MISO", "tri_state"), None, ("1", "AVSS", SUPPLY), ("11", "DVSS", SUPPLY), ("12", "EMC", P), ("3", "RES", P)],
    [("4", "VDD", SUPPLY), ("9", "DVIO", SUPPLY), None, None, None, None, ("2", "A_EXTC", P), None, ("10", "D_EXTC", P)],
    16,
)
BOOST = chip("DCDC_5_15", "U", [("2", "+IN", SUPPLY), None, None, ("1", "-IN", SUPPLY)], [("4", "+OUT", SOURCE), None, None, ("3", "-OUT", P)], 14)
SENSOR = chip("LASER_SENSOR", "J", [], [("1", "supply", P), None, ("2", "0V", P), None, ("3", "output", P), None, ("4", "shield", P)], 14)
EYE_PLUG = chip("EYE_PLUG", "J", [("1", "+5V", P), ("2", "0V", P), ("3", "start", P), ("4", "clock", P), ("5", "0V", P), ("6", "out", P)], [], 12)
PIXELS = chip(
    "PIXEL_LINE",
    "U",
    [("VCC", "VCC", SUPPLY), None, None, ("GND", "GND", SUPPLY), ("AGND", "AGND", SUPPLY), None, ("SI", "SI", IN), ("CLK", "CLK", IN), ("DIS", "DIS", IN), ("AO", "AO", OUT), None, ("RSET", "RSET", P)],
    [],
    14,
)
