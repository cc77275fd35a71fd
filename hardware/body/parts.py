"""The printed parts and, as plain shapes, the bought ones that they must fit.

x: right as the viewer sees the board. y: up along it. z: out of it, the board face at 0. The eye's line of pixels is the z axis.
"""

import math

from build123d import (
    Align, Axis, Box, Cone, Cylinder, Location, Plane, Polygon, Pos, RegularPolygon, Rot, SlotOverall, Sphere, Torus, extrude, fillet,
)

from figures import read

DOWN = (Align.CENTER, Align.CENTER, Align.MAX)
UP = (Align.CENTER, Align.CENTER, Align.MIN)
# Hole of an M4 insert of 5.6 mm outside and 8.1 mm length, melted in: radius, depth.
INSERT_M4 = (2.85, 8.6)


def block(x0, x1, y0, y1, z0, z1):
    return Pos(x0, y0, z0) * Box(x1 - x0, y1 - y0, z1 - z0, align=(Align.MIN,) * 3)


def rounded(x0, x1, y0, y1, z0, z1, radius):
    part = block(x0, x1, y0, y1, z0, z1)
    return fillet(part.edges().filter_by(Axis.Z), radius)


def rod(radius, z0, z1, x=0.0, y=0.0):
    return Pos(x, y, z0) * Cylinder(radius, z1 - z0, align=UP)


def polar(azimuth, r):
    """Azimuth from up, positive to the right."""
    a = math.radians(azimuth)
    return r * math.sin(a), r * math.cos(a)


class Head:
    """All parts of one set of figures."""

    def __init__(self, figures=None, closed=False):
        self.f = f = figures or read()
        self.closed = closed
        self.low = f.bridge_low
        self.top = f.bridge_low + f.plate_thickness
        lower = -f.upper_foot - f.stance_up
        self.feet = [(0.0, -f.upper_foot), (-f.stance_across / 2, lower), (f.stance_across / 2, lower)]
        # Middle of the feet: the arm's spring presses here.
        self.middle = (0.0, sum(y for _, y in self.feet) / 3)
        self.left, self.right, self.front, self.back = -38.0, 38.0, 13.0, lower - 12
        # The arm passes over the sensor.
        self.case_front, self.case_top = -24.0, f.laser_standoff + f.sensor_tall - 2
        self.lid_top = self.case_top + 4
        # Under side of the arm, on its spring.
        self.arm_z = self.lid_top + f.spring_height
        self.spot = (f.spot_to_eye * math.sin(math.radians(f.spot_direction)), f.spot_to_eye * math.cos(math.radians(f.spot_direction)))
        # Stops of the swivel, M2 screws: the pointer's flank meets them just past its range.
        self.stops = [polar(side * (f.swivel_range + 8.5), 14.5) for side in (-1, 1)]
        self.case_screws = [(x, y) for x in (-33.2, 33.2) for y in (self.case_front - 5, self.back + 5)]
        # In the right wall.
        self.button, self.lamp = (self.back + 22, self.top + 20), (self.back + 36, self.top + 20)
        # Under the perfboard's corners: spacers of 4 mm and M2.5 screws, which cut their own thread.
        self.posts = [(x, y) for x in (-26.5, 26.5) for y in (self.back + 5.1, self.case_front - 6)]

    # ---- what is printed

    def plate(self):
        """Plate, legs, bearing: everything that must hold its place to everything else."""
        f = self.f
        part = block(self.left, self.right, self.back, self.case_front, self.low, self.top)
        nose = extrude(Plane.XY.offset(self.low) * Polygon(*[(-38, -26), (38, -26), (38, -10), (20, 13), (-20, 13), (-38, -10)], align=None), f.plate_thickness)
        part += nose
        part = fillet(part.edges().filter_by(Axis.Z), 3)
        # Tail with two slots for the cable's strap, and the tether's eye beside it.
        part += block(-12, 12, self.back - 12, self.back + 1, self.low, self.top)
        for x in (-6, 6):
            part -= block(x - 1.3, x + 1.3, self.back - 8, self.back - 3, self.low - 1, self.top + 1)
        part += rod(8, self.low, self.top, 28, self.back - 2)
        part -= rod(4, self.low - 1, self.top + 1, 28, self.back - 3)
        for x, y in self.feet:
            part += rod(f.leg_radius, f.foot_radius, self.low + 1, x, y)
            part += Pos(x, y, self.low - 2) * Cone(f.leg_radius, f.leg_radius + 2, 2, align=UP)
            # The ball sits to its middle in the leg's end.
            part -= Pos(x, y, f.foot_radius) * Sphere(f.foot_radius + 0.05)
            # For the glue; and a mesh has no good point at a sphere's pole.
            part -= rod(0.8, f.foot_radius, 2 * f.foot_radius + 1, x, y)
        # Bearing: bush of 10 outside, 8 inside, 6 long; the eye's shoulder turns in a pocket below.
        part -= rod(8.0, self.low - 1, self.low + 2.5)
        part -= rod(5.0, self.low, self.top + 1)
        # The laser's beam and what comes back of it.
        if not self.closed:
            part -= self.laser_light()
        for x, y in self.stops:
            part -= rod(0.85, self.low + 2, self.top + 1, x, y)
        for x, y in self.case_screws:
            part -= rod(1.7, self.low - 1, self.top + 1, x, y)
            part -= rod(3.2, self.low - 1, self.low + 2.5, x, y)
            # The screw's head and its key pass the leg beside it.
            part -= rod(3.0, 0, self.low, x, y)
        for x, y in self.posts:
            part -= rod(1.05, self.top - 6, self.top + 1, x, y)
        # The scale: a notch each 20 degrees at the nose's edge.
        for azimuth in range(-80, 81, 20):
            x, y = polar(azimuth, 13.0)
            part -= Pos(x, y, self.top) * Rot(0, 0, -azimuth) * Box(0.8 if azimuth else 1.6, 5, 1.2)
        return part

    def laser_light(self):
        """What must be free below the sensor: cone to the receiver, cylinder of the beam, 1 mm about both."""
        f = self.f
        x, y = self.spot
        light = rod(f.beam_radius + 1.2, self.low - 1, f.laser_standoff, x, y)
        h0, h1 = self.low - 1, self.top + 1
        near, far = f.receiver_from_spot - f.receiver_radius - 2, f.receiver_from_spot + f.receiver_radius + 2
        reach = lambda across, h: across * h / f.laser_standoff
        wide = f.receiver_radius + 1.5
        x0, x1, w = x + reach(near, h0), x + reach(far, h1), reach(wide, h1)
        return light + block(x0, x1, y - w, y + w, h0, h1)

    def case(self):
        """Walls about the circuit, and the wall that the sensor hangs at."""
        f = self.f
        part = block(self.left, self.right, self.back, self.case_front, self.top, self.case_top)
        part = fillet(part.edges().filter_by(Axis.Z), 3)
        part -= block(self.left + 2, self.right - 2, self.back + 2, self.case_front - 2.5, self.top - 1, self.case_top + 1)
        for x, y in self.case_screws:
            part += rod(4, self.top, self.case_top, x, y) & block(self.left, self.right, self.back, self.case_front, self.top, self.case_top)
            part -= rod(1.25, self.top - 1, self.case_top + 1, x, y)
        # Sensor's wall: its rear face is where the sensor's thickness ends.
        sensor_back = self.spot[1] - f.sensor_deep / 2
        wall = block(-14, 34, self.case_front - 2.5, sensor_back, f.laser_standoff - 3, f.laser_standoff + f.sensor_tall)
        wall = fillet(wall.edges().filter_by(Axis.Y).group_by(Axis.Z)[-1], 3)
        part += wall - block(-15, 35, self.case_front - 3, self.case_front + 0.3, self.case_top, self.case_top + 20)
        # Two upright slots for M3: the sensor is set to its height by a gauge of 33 mm and clamped.
        for x in (-8, 26):
            part -= Pos(x, sensor_back, f.laser_standoff + f.sensor_tall / 2) * Rot(90, 0, 0) * extrude(SlotOverall(12, 3.4, rotation=90), 12, both=True)
        # Cable: its socket lies on a carrier of 1.6 mm on the perfboard, the middle of its mouth 8.8 mm over the plate; the plug rests
        # on the shelf, which lies on the plate's tail and is strapped through the same slots.
        part -= block(-7, 7, self.back - 1, self.back + 3, self.top + 4.3, self.top + 13.3)
        part += block(-12, 12, self.back - 12, self.back + 0.5, self.top, self.top + 5.3)
        for x in (-6, 6):
            part -= block(x - 1.3, x + 1.3, self.back - 8, self.back - 3, self.top - 1, self.top + 6)
        # Button and lamp, over what stands on the perfboard; the sensor's and the eye's leads.
        for (y, z), radius in ((self.button, 6.2), (self.lamp, 2.6)):
            part -= Pos(self.right, y, z) * Rot(0, 90, 0) * Cylinder(radius, 10)
        part -= block(-24, -16, self.case_front - 4, self.case_front + 1, self.top - 1, self.top + 5)
        return part

    def lid(self):
        """Closes the case; the arm is held on it, over the middle of the feet."""
        part = block(self.left, self.right, self.back, self.case_front, self.case_top, self.lid_top)
        part = fillet(part.edges().filter_by(Axis.Z), 3)
        part += block(self.left + 2.2, self.right - 2.2, self.back + 2.2, self.case_front - 2.7, self.case_top - 1.5, self.case_top)
        for x, y in self.case_screws:
            part -= rod(4.3, self.case_top - 2, self.case_top, x, y)
            part -= rod(1.7, self.case_top - 3, self.lid_top + 1, x, y)
        x, y = self.middle
        part += rod(12, self.case_top - 6, self.lid_top, x, y)
        # An M5 screw from inside, its head caught.
        part -= rod(2.7, self.case_top - 7, self.lid_top + 1, x, y)
        part -= Pos(x, y, self.case_top - 6) * extrude(RegularPolygon(4.7, 6), 4)
        for n in range(5):
            part -= block(-26, -12, self.back + 10 + 5 * n, self.back + 12 + 5 * n, self.case_top - 3, self.lid_top + 1)
        return part

    def eye(self):
        """The turning eye, pointing up: shoulder, stem, and the housing of the pixels' carrier."""
        f = self.f
        part = rod(f.eye_radius, f.eye_bottom, self.low + 2.3)
        part = fillet(part.edges().group_by(Axis.Z)[0], 0.6)
        part += rod(3.95, self.low, self.low + 13)
        part -= rod(2.3, self.low - 2, self.low + 14)
        # Carrier of 11 by 1.6, its pixels on the axis; filter of 10.4 by 1 in front of it.
        # As bought the line's package is 17.7 long: with its tolerance and its end at the rim it reaches to 18.0.
        part -= block(-5.6, 5.6, -3.2, 2.4, -1, f.eye_bottom + f.line_length + 0.4)
        part -= block(-5.2, 5.2, 2.4, 3.4, -1, self.low - 0.2)
        part -= rod(2.3, self.low - 1, self.low + 3)
        if not self.closed:
            w = f.window_width / 2
            part -= block(-w, w, 2, f.slit_depth + 0.1, -1, self.low - 0.2)
            out = f.eye_radius + 1
            flare = w + (out - f.slit_depth) * math.tan(math.radians(30))
            wedge = Polygon(*[(-w, f.slit_depth), (w, f.slit_depth), (flare, out), (-flare, out)], align=None)
            part -= Pos(0, 0, -1) * extrude(wedge, self.low + 0.8)
        # Wires leave the stem's top to the rear.
        part -= block(-1.6, 1.6, -6, 0, self.low + 11, self.low + 14)
        # Flat for the pointer's screw.
        part -= block(3.2, 5, -5, 5, self.low + 9, self.low + 14)
        return part

    def pointer(self):
        """On the stem: its tip looks where the eye does."""
        z = self.low + 9.6
        part = rod(6.6, z, z + 3.4)
        tip = Polygon(*[(-4, 4), (4, 4), (0, 17)], align=None)
        part += Pos(0, 0, z) * extrude(tip, 2.4)
        bore = rod(4.05, z - 1, z + 4) - block(3.3, 5, -5, 5, z - 1, z + 4)
        part -= bore
        part -= Pos(5, 0, z + 1.7) * Rot(0, 90, 0) * Cylinder(0.8, 6)
        part -= block(-1.6, 1.6, -14, 0, z + 1.4, z + 4)
        return part

    def clip(self):
        """Column beyond the edge, its lug on the board face, its head under the arm. Made about its own axis, the board toward -y."""
        f = self.f
        bottom = -f.edge_most - f.screw_travel - 6
        part = block(-7, 7, -7, 7, bottom, self.arm_z - 4)
        part = fillet(part.edges().filter_by(Axis.Z), 1.5)
        part += rod(11, self.arm_z - 12, self.arm_z)
        part += Pos(0, 0, self.arm_z - 16) * Cone(7.5, 11, 4, align=UP)
        part -= rod(2.1, self.arm_z - 16, self.arm_z + 1)
        part -= rod(INSERT_M4[0], self.arm_z - INSERT_M4[1], self.arm_z + 1)
        part += block(-7, 7, -f.lug_reach, 0, 2, 12)
        part += block(-7, 7, -12, -6, 11, 16)
        # Pad of soft rubber, 2 mm, glued under the lug.
        part = fillet(part.edges().filter_by(Axis.Z).group_by(Axis.Y)[0], 4)
        # It is printed lying on its back.
        part -= block(-20, 20, 7, 20, bottom - 1, self.arm_z + 1)
        n = 0
        while n * f.jaw_pitch <= f.edge_most:
            part -= Pos(0, 0, self.jaw_hole(n)) * Rot(0, 90, 0) * Cylinder(2.65, 30)
            n += 1
        return part

    def jaw_hole(self, n):
        return -f_screw(self.f) - n * self.f.jaw_pitch

    def jaw(self):
        """Slides on the column, pinned through it; its screw presses the board's back. Drawn at its pin's height 0."""
        part = rounded(-11.5, 11.5, -11.5, 11.5, -8, 8, 2.5) + rounded(-9, 9, -27, -7, -6, 6, 2.5)
        part -= block(-7.3, 7.3, -7.3, 7.3, -9, 9)
        part -= Pos(0, 0, 0) * Rot(0, 90, 0) * Cylinder(2.65, 40)
        part -= rod(2.1, -7, 7, 0, -self.f.jaw_screw)
        # From the board's side: the screw's press pushes the insert onto the shoulder.
        part -= rod(INSERT_M4[0], 6 - INSERT_M4[1], 7, 0, -self.f.jaw_screw)
        return part

    # ---- what is bought, as plain shapes

    def balls(self):
        return [Pos(x, y, self.f.foot_radius) * Sphere(self.f.foot_radius) for x, y in self.feet]

    def sensor(self):
        f = self.f
        x, y = self.spot
        return block(x - 12, x - 12 + f.sensor_across, y - f.sensor_deep / 2, y + f.sensor_deep / 2, f.laser_standoff, f.laser_standoff + f.sensor_tall)

    def bush(self):
        return rod(5, self.low + 2.5, self.low + 8.5) - rod(4, self.low, self.low + 9)

    def stop_screws(self):
        return [rod(1.0, self.top - 5, self.top + 4.5, x, y) for x, y in self.stops]

    def spring(self):
        return Pos(0, 0, self.low + 9.05) * Torus(4.9, 0.5)

    def carrier(self):
        f = self.f
        board = block(-5.5, 5.5, -2.8, -1.2, f.eye_bottom, f.eye_bottom + 17.5)
        return board + block(-f.line_width / 2, f.line_width / 2, -1.2, 0.6, f.eye_bottom, f.eye_bottom + f.line_length)

    def coil(self):
        x, y = self.middle
        return rod(6, self.lid_top, self.arm_z, x, y) - rod(4.6, self.lid_top - 1, self.arm_z + 1, x, y)

    def circuit(self):
        board = block(-29, 29, self.back + 2.6, self.case_front - 3.5, self.top + 4, self.top + 5.6)
        return board + block(-26, 25, self.back + 23, self.back + 44, self.top + 9, self.top + 11)

    def arm(self, column):
        x0, y0 = self.middle
        x1, y1 = column
        angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
        f = self.f
        strip = block(-10, f.arm_length - 10, -f.arm_width / 2, f.arm_width / 2, self.arm_z, self.arm_z + f.arm_thickness)
        strip -= rod(2.7, self.arm_z - 1, self.arm_z + 9)
        strip -= Pos(f.arm_length - 55, 0, self.arm_z - 1) * extrude(SlotOverall(84, 4.4), 6)
        return Pos(x0, y0, 0) * Rot(0, 0, angle) * strip

    def knob(self, x, y, z):
        return rod(9, z, z + 18, x, y)

    # ---- where it stands

    def column(self, where):
        """Where the clip's column stands for an edge: left and right of the eye's half that the light does not use."""
        f = self.f
        return {
            "top": polar(-f.leg_top, 58.0),
            "left": polar(-f.bridge_leg, 76.0),
            "right": polar(f.bridge_leg, 76.0),
            "bottom": (0.0, -116.0),
        }[where]

    def light_from(self, where):
        """Azimuths from which the light can come with the column there."""
        f = self.f
        return {
            "top": (-f.emitter_side - f.pointing, f.swivel_range),
            "left": (-f.pointing, f.swivel_range),
            "right": (-f.swivel_range, f.pointing),
            "bottom": (-f.swivel_range, f.swivel_range),
        }[where]

    def toward(self, where):
        """Turn of the clip about its column, so that its lug faces the board."""
        return {"top": 0, "left": 90, "right": -90, "bottom": 180}[where]

    def printed(self):
        return {
            "plate": self.plate(), "case": self.case(), "lid": self.lid(), "eye": self.eye(),
            "pointer": self.pointer(), "clip": self.clip(), "jaw": self.jaw(),
        }

    def placed_clip(self, where, thickness=20.0):
        """Clip and jaw at an edge, for a board that thick."""
        x, y = self.column(where)
        at = Pos(x, y, 0) * Rot(0, 0, self.toward(where))
        n = self.hole_for(thickness)
        jaw = Pos(0, 0, self.jaw_hole(n)) * self.jaw()
        screw = rod(2, self.jaw_hole(n) - 8, -thickness, 0, -self.f.jaw_screw) + rod(8, self.jaw_hole(n) - 16, self.jaw_hole(n) - 8, 0, -self.f.jaw_screw)
        return at * self.clip(), at * jaw, at * screw

    def hole_for(self, thickness):
        """The hole whose jaw stands nearest below the board, clear of it."""
        n = 0
        while self.jaw_hole(n) + 8 > -thickness - 0.5:
            n += 1
        return n


def f_screw(f):
    """The highest hole: a jaw 16 high below the thinnest edge."""
    return f.edge_least + 9
