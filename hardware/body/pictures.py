#!/usr/bin/env python3
"""Draws the pictures of the guide into a folder (default: ../assembly): line drawings of the very solids that are printed."""

import math
import pathlib
import sys

from build123d import Pos, Rot

import gauge
from parts import Head, block, polar, rod
from views import Drawing


class Pictures:
    def __init__(self, folder):
        self.folder = folder
        self.h = Head()
        self.p = self.h.printed()

    def save(self, name, drawing, title):
        (self.folder / f"{name}.svg").write_text(drawing.svg(title))

    def board(self, x0, x1, y0, y1, thickness=20.0):
        return block(x0, x1, y0, y1, -thickness, 0)

    def whole(self, where, thickness=20.0):
        h = self.h
        column = h.column(where)
        x, y = h.middle
        return [self.p[n] for n in ("plate", "case", "lid", "eye", "pointer")] + [h.sensor(), *h.balls(), *h.placed_clip(where, thickness), h.arm(column)] + [
            h.coil(), h.knob(x, y, h.arm_z + h.f.arm_thickness), h.knob(*column, h.arm_z + h.f.arm_thickness)]

    def on_the_edge(self):
        h = self.h
        d = Drawing(28, 38, 3.4)
        d.add(*self.whole("left"), self.board(h.column("left")[0] + 7, 90, -120, 60))
        x, y = h.middle
        d.note("knob: arm on the body's spring", (x, y, h.arm_z + 18), 18, 34)
        d.note("arm, aluminium", (-50, -38, h.arm_z + 3), -18, 34)
        d.note("clip: column beyond the edge", (*h.column("left"), 20), -26, 12)
        d.note("laser sensor", (25, -6, h.f.laser_standoff + 25), 26, 22)
        d.note("lamp, button", (38, -44, 46), 40, 2)
        d.note("USB, strap, tether's eye", (28, h.back - 6, h.low + 4), 18, -22)
        d.note("board face", (80, 30, 0), 22, 10)
        self.save("on-the-edge", d, "On the left edge of a board 20 mm thick")
        d = Drawing(0, 0, 3.4, up=(0, 0, 1))
        column = h.column("left")
        d.add(*self.whole("left"), self.board(column[0] + 7, 90, -120, 60))
        d.line((-10, 0, h.f.gauge_low), (100, 0, h.f.gauge_low), "#d06000", True, 0.3)
        d.note("sheet of light, seen by the eye", (80, 0, h.f.gauge_low), 6, 22)
        d.note("coil spring: presses the three feet", (h.middle[0] + 6, h.middle[1], h.lid_top + 3), 22, 16)
        d.note("lug on the board face", (column[0] + 18, column[1], 4), -34, 20)
        d.note("jaw, pinned at one of six holes", (column[0] - 8, column[1], -30), -16, 4)
        d.note("thumb screw", (column[0] + 18, column[1], -40), -10, -14)
        d.note("arm", (-30, 0, h.arm_z + 2), -12, 18)
        d.note("board, 3 to 40 mm", (60, -120, -10), 8, -18)
        self.save("from-below", d, "The same, seen along the board from below")

    def from_above(self, where, name, title):
        h, f = self.h, self.h.f
        d = Drawing(0, 90, 2.6)
        column = h.column(where)
        edge = {"top": (-110, 90, -125, column[1] - 7), "left": (column[0] + 7, 90, -125, 70), "bottom": (-90, 90, column[1] + 7, 70)}[where]
        d.add(*self.whole(where)[:-2], self.board(*edge))
        low, high = h.light_from(where)
        for azimuth in range(math.ceil(low / 10) * 10, math.floor(high / 10) * 10 + 1, 10):
            a, b = polar(azimuth, f.eye_radius + 1), polar(azimuth, 75)
            d.line((*a, 60), (*b, 60), "#d06000", True, 0.25)
        d.note("light, every azimuth", (*polar((low + high) / 2, 70), 60), 14, 10)
        d.note("column", (*column, 60), -14, 12 if where != "bottom" else -10)
        self.save(name, d, title)

    def under(self):
        h, f = self.h, self.h.f
        d = Drawing(160, -35, 4.2)
        d.add(self.p["plate"], self.p["eye"], *h.balls())
        upper, left, right = h.feet
        d.note("eye: slit, pixels behind it", (0, 7, 8), 30, 12)
        d.note("beam's hole and receiver's slot", (10, -10, h.low), -26, 22)
        d.note("upper foot", (*upper, 0), -16, -24)
        d.note("lower feet, balls of 6 mm", (*left, 0), 22, -4)
        self.save("under", d, "The side toward the board")

    def eye_apart(self):
        h, f = self.h, self.h.f
        d = Drawing(-155, 18, 4.6)
        up = lambda z, part: Pos(0, 0, z) * part
        cut = self.p["plate"] & block(-24, 24, -20, 14, 0, 60)
        filter_ = block(-5.1, 5.1, 2.4, 3.4, f.eye_bottom + 0.1, f.eye_bottom + 17.5)
        d.add(cut, up(-34, self.p["eye"]), up(-62, h.carrier()), Pos(0, 12, -62) * filter_, up(16, h.bush()), up(26, h.spring()), up(38, self.p["pointer"]))
        d.line((0, 0, -64), (0, 0, 76), "#808080", True, 0.2)
        d.note("pointer, M2 screw on the stem's flat", (6, 0, h.low + 49), 16, 6)
        d.note("wave spring", (5, 0, h.low + 35), 16, 2)
        d.note("bush, pressed in", (5, 0, h.low + 22), 16, 0)
        d.note("plate", (-22, 0, h.top), 12, 4)
        d.note("washer 8 x 14 x 0.1 under the shoulder", (7, 0, h.low - 32), 14, 2)
        d.note("eye", (7, 0, -26), 14, -2)
        d.note("pixel line on its carrier", (5, -1.2, -54), 16, -4)
        d.note("filter", (-5, 13, -54), -12, -4)
        self.save("eye-apart", d, "The eye, apart")

    def body_apart(self):
        h, f = self.h, self.h.f
        d = Drawing(30, 28, 3.0)
        up = lambda z, part: Pos(0, 0, z) * part
        d.add(*[up(-14, ball) for ball in h.balls()], self.p["plate"], up(2, self.p["pointer"]), up(30, h.circuit()), up(52, self.p["case"]), up(0, Pos(0, 48, 52) * h.sensor()), up(92, self.p["lid"]))
        d.note("balls, glued in last", (*h.feet[2], -14), 18, -8)
        d.note("plate with the eye in it", (38, -40, h.low + 4), 20, -6)
        d.note("circuit on four spacers of 4 mm", (29, -50, h.top + 34), 24, -2)
        d.note("case, four M3 x 20 from below", (38, -50, h.top + 70), 22, 0)
        d.note("sensor, two M3 in the slots", (32, 40, h.f.laser_standoff + 66), 14, 14)
        d.note("lid, M5 screw for the arm from inside", (-38, -70, h.lid_top + 92), -10, -10)
        self.save("body-apart", d, "The body, apart")

    def clip_apart(self):
        h, f = self.h, self.h.f
        d = Drawing(60, 22, 3.0)
        jaw = Pos(0, 0, -92) * self.p["jaw"]
        d.add(self.p["clip"], jaw, Pos(0, -18, -92) * rod(2, -34, -12), Pos(0, -18, -92) * rod(8, -42, -34), Pos(34, 0, h.jaw_hole(1)) * Rot(0, 90, 0) * rod(2.5, 0, 34))
        strip = Pos(0, 0, 16) * Pos(*[-c for c in h.middle], 0) * Pos(-30, 0, 0) * h.arm((h.middle[0] + 60, h.middle[1]))
        end = (-30, 0)
        coil = rod(6, h.arm_z - 4, h.arm_z + 8, *end) - rod(4.6, h.arm_z - 5, h.arm_z + 9, *end)
        d.add(strip, h.knob(0, 0, h.arm_z + 34), h.knob(*end, h.arm_z + 34), coil)
        d.note("coil spring, on the lid's screw", (-36, 0, h.arm_z + 2), -14, -12)
        d.note("knob, M5", (-30, 0, h.arm_z + 52), -12, 8)
        d.note("knob, M4 into the head", (0, 0, h.arm_z + 52), 16, 8)
        d.note("arm", (60, 0, h.arm_z + 18), 12, 8)
        d.note("lug, rubber pad under it", (0, -28, 6), -16, 8)
        d.note("pin M5 x 35 through the jaw, at the hole below the board", (60, 0, h.jaw_hole(1)), 8, 6)
        d.note("jaw", (11, 0, -92), 16, 2)
        d.note("thumb screw M4 with a soft cap", (0, -18, -126), 18, -6)
        self.save("clip-apart", d, "The clip, apart")

    def gauge(self):
        f = self.h.f
        d = Drawing(148, 22, 4.2)
        for y in (0.0, f.gauge_apart):
            d.add(*gauge.wall(y, f))
        d.add(Pos(0, 0, 14) * gauge.frame(f))
        # Off the wall that it is glued to, so that it shows.
        film = f.gauge_apart + gauge.BAR / 2 + 6
        across, up = gauge.FILM
        d.add(block(-across / 2, across / 2, film, film + 0.4, 0.5, 0.5 + up))
        d.note("frame, printed", (-30, 30, 32), 14, 8)
        d.note("bars A, B, C; a leaf at either end of each slit", (-30, f.gauge_apart, f.gauge_high), 12, 2)
        d.note("slits, two in line at each height", (-20, f.gauge_apart + 4, f.gauge_low), 8, -14)
        d.note("film, white, glued to the far wall's back", (across / 2 - 4, film, up / 2), -16, -12)
        d.note("lamp, 5 mm", (0, f.gauge_apart + 26, 20), -6, -24)
        self.save("gauge-apart", d, "The gauge, its frame lifted")
        gauge.sheet(self.folder / "gauge-drawing", f)

    def all(self):
        self.folder.mkdir(parents=True, exist_ok=True)
        self.on_the_edge()
        self.from_above("top", "at-the-top", "At the top edge: the column on the side away from the emitter")
        self.from_above("left", "at-the-left", "At the left edge")
        self.under()
        self.eye_apart()
        self.body_apart()
        self.clip_apart()
        self.gauge()


if __name__ == "__main__":
    Pictures(pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parent / "../assembly").all()
