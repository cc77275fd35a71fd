#!/usr/bin/env python3
"""Checks the body's solids and meshes, each check once on a body with that very fault, which it must find.

    check.py            all
    check.py FOLDER     compares with the meshes in FOLDER besides

Lengths in mm, volumes in mm3."""

import math
import pathlib
import sys
import types

import numpy as np
import trimesh
from build123d import Pos, Rot, Sphere

from figures import read
from parts import Head, block, rod, rounded

WHERE = ("top", "left", "right", "bottom")


def common(a, b):
    """Volume that two solids share. `intersect` gives nothing, one or many: all three are counted."""
    found = a & b
    if found is None:
        return 0.0
    many = found if isinstance(found, (list, tuple)) else [found]
    return sum(getattr(solid, "volume", 0.0) for solid in many)


class Look:
    def __init__(self, head, parts=None):
        self.h, self.f = head, head.f
        self.p = parts or head.printed()
        self.said = []

    def fault(self, text):
        self.said.append(text)

    # ---- light

    def light_strip(self, azimuth):
        """Where a sheet's light goes that reaches the pixels from there: the slit's width and 0.5 mm about, the window's height."""
        f = self.f
        w = f.window_width / 2 + 0.5
        strip = block(-w, w, f.eye_radius + 0.5, 170, f.eye_bottom, f.bridge_low - 0.2)
        return Rot(0, 0, -azimuth) * strip

    def light(self, step=4):
        """No part stands in the light from any azimuth that the place at the edge lets it come from."""
        fixed = [("plate", self.p["plate"]), ("case", self.p["case"])]
        for where in WHERE:
            low, high = self.h.light_from(where)
            placed = self.h.placed_clip(where)
            parts = fixed + list(zip(("clip", "jaw", "screw"), placed)) + [("arm", self.h.arm(self.h.column(where)))]
            for azimuth in np.arange(low, high + 0.1, step):
                strip = self.light_strip(float(azimuth))
                for name, part in parts:
                    volume = common(part, strip)
                    if volume > 0.01:
                        self.fault(f"light: at the {where} edge {name} stands in it at {azimuth:.0f} degrees ({volume:.0f} mm3)")
            fixed = []  # the same for every edge

    def window(self):
        """Straight out from the pixels, and the acceptance to either side: nothing of the eye's housing in the way."""
        f = self.f
        half = math.degrees(math.atan(f.window_width / 2 / f.slit_depth))
        for azimuth in (0, half * 0.5, -half * 0.5):
            ray = Rot(0, 0, -azimuth) * block(-0.05, 0.05, 0.1, 30, f.window_low - 0.05, f.window_high + 0.05)
            volume = common(self.p["eye"], ray)
            if volume > 1e-4:
                self.fault(f"window: the eye's own housing stands before the pixels at {azimuth:.0f} degrees ({volume:.2f} mm3)")
        if half < f.pointing:
            self.fault(f"window: {half:.0f} degrees to either side, less than a person misses by")

    def laser(self):
        """Beam and the receiver's cone meet nothing between sensor and board, whichever way the eye is turned."""
        f, h = self.f, self.h
        x, y = h.spot
        beam = rod(f.beam_radius, 0.01, f.laser_standoff - 0.01, x, y)
        cone = self.cone()
        for azimuth in range(-100, 101, 25):
            turned = Rot(0, 0, -azimuth)
            parts = [("eye", turned * self.p["eye"]), ("pointer", turned * self.p["pointer"])]
            if azimuth == 0:
                parts += [("plate", self.p["plate"]), ("case", self.p["case"]), ("bush", h.bush())]
            for name, part in parts:
                for what, light in (("beam", beam), ("receiver's view", cone)):
                    volume = common(part, light)
                    if volume > 0.01:
                        self.fault(f"laser: {name} stands in the {what} with the eye at {azimuth} degrees ({volume:.1f} mm3)")

    def cone(self):
        """From the spot to the receiving lens, with what the lens's place may be off by: as slices, each a box."""
        f, (x, y) = self.f, self.h.spot
        slices = None
        for n in range(1, 12):
            z0, z1 = f.laser_standoff * n / 12, f.laser_standoff * (n + 1) / 12 - 0.01
            t = z1 / f.laser_standoff
            r = f.receiver_radius * t
            piece = block(x + (f.receiver_from_spot - 1) * t - r, x + (f.receiver_from_spot + 1) * t + r, y - r, y + r, z0, z1)
            slices = piece if slices is None else slices + piece
        return slices

    # ---- mechanics

    def feet(self):
        """The balls' lowest points make the plane z = 0, where the figures have them; and the body's middle of mass lies over them."""
        f = self.f
        for (x, y), ball in zip(self.h.feet, self.h.balls()):
            seat = common(self.p["plate"], ball)
            if seat > 0.2:
                self.fault(f"feet: the ball at ({x:.0f}, {y:.0f}) does not go into its seat ({seat:.1f} mm3)")
            # The seat holds it: an eighth of a millimetre higher it does not go.
            if common(self.p["plate"], Pos(0, 0, 0.12) * ball) < 0.5:
                self.fault(f"feet: nothing bears on the ball at ({x:.0f}, {y:.0f}): its lowest point is not at 0")
        lowest = self.p["plate"].bounding_box().min.Z
        if lowest < f.foot_radius - 0.5:
            self.fault(f"feet: the plate comes down to {lowest:.2f} beside its balls")
        if self.p["eye"].bounding_box().min.Z < f.eye_bottom - 0.01:
            self.fault("feet: the eye stands on the board")

    def tipping(self):
        """The least press holds all three feet down against the weight, whose middle stands out from the board, and their friction
        holds the body upright though its middle is not under the screw that it hangs on. Gives grams, and the middle's height."""
        f, h = self.f, self.h
        grams = 1.27e-3 * 0.55
        mass = [(self.p[n].volume * grams, self.p[n].center()) for n in ("plate", "case", "lid", "eye", "pointer")]
        mass = [(m, (c.X, c.Y, c.Z)) for m, c in mass]
        x, y = h.spot
        # Sensor 60 g, board and circuit 40 g, cable's first half metre 15 g (from memory).
        mass += [(60, (x + 10, y, f.laser_standoff + 12)), (40, (0, -50, h.top + 6)), (15, (0, h.back, h.top))]
        total = sum(m for m, _ in mass)
        aside, along, high = (sum(m * c[k] for m, c in mass) / total for k in range(3))
        weight, press = total * 9.81e-3, f.spring_rate * 0.9 * (f.spring_free - 0.5 - f.spring_height - 3.0)
        lever = abs(h.middle[1] - h.feet[1][1])
        turn = weight * (h.lid_top - high)
        if turn > 0.9 * press * lever:
            self.fault(f"tipping: weight {weight:.2f} N turns by {turn:.0f} Nmm, the press of {press:.1f} N holds {press * lever:.0f}")
        # Friction 0.25, plastic on glass or paint (common practice, no source), at the feet's mean distance from the screw.
        reach = sum(math.dist(h.middle, foot) for foot in h.feet) / 3
        swing = weight * math.hypot(aside - h.middle[0], along - h.middle[1])
        if swing > 0.9 * press * 0.25 * reach:
            self.fault(f"tipping: hung on its screw the body turns by {swing:.0f} Nmm, friction holds {press * 0.25 * reach:.0f}")
        return total, high

    def clearances(self):
        """What turns and what is put together goes past what stands still."""
        h, f = self.h, self.f
        for azimuth in range(-100, 101, 20):
            turned = Rot(0, 0, -azimuth)
            for name in ("eye", "pointer"):
                part = turned * self.p[name]
                for other, solid in (("plate", self.p["plate"]), ("case", self.p["case"]), ("sensor", h.sensor()), ("bush", h.bush())):
                    volume = common(part, solid)
                    if volume > 0.01:
                        self.fault(f"clearance: {name} meets {other} at {azimuth} degrees ({volume:.2f} mm3)")
        for a, b, other in (("case", "plate", None), ("lid", "case", None), ("case", "sensor", h.sensor()), ("plate", "sensor", h.sensor()), ("case", "circuit", h.circuit()), ("lid", "circuit", h.circuit()), ("eye", "carrier", h.carrier())):
            volume = common(self.p[a], other or self.p[b])
            if volume > 0.01:
                self.fault(f"clearance: {a} and {b} share {volume:.1f} mm3")

    def bought(self):
        """What is bought goes where it must: screw heads past the legs, the cable's plug through the wall to its socket, the button beside
        the circuit, inserts into their holes."""
        f, h = self.f, self.h
        for x, y in h.case_screws:
            if common(self.p["plate"], rod(2.9, 0, h.low + 2.4, x, y)) > 0.01:
                self.fault(f"bought: the head of the screw at ({x:.0f}, {y:.0f}) does not pass the leg")
        # The socket's middle over perfboard and carrier; the plug's moulding 12.4 by 6.5 (USB Type-C, 3.4: 12.35 by 6.5 at most).
        mouth = h.top + 4 + 1.6 + 1.6 + 1.6
        plug = block(-6.2, 6.2, h.back - 20, h.back + 2, mouth - 3.25, mouth + 3.25)
        if common(self.p["case"], plug) > 0.01:
            self.fault("bought: the cable's plug does not reach its socket")
        button = Pos(h.right + 1, *h.button) * Rot(0, -90, 0) * rod(6, 0, 23)
        for name, part in (("case", self.p["case"]), ("lid", self.p["lid"]), ("circuit", h.circuit())):
            if common(part, button) > 0.01:
                self.fault(f"bought: the button meets {name}")
        for name, at in (("clip", Pos(0, 0, h.arm_z - 8.1)), ("jaw", Pos(0, -f.jaw_screw, 6 - 8.1))):
            if common(self.p[name], at * rod(2.8, 0, 8.1)) > 0.01:
                self.fault(f"bought: {name} has no room for its insert")

    def stops(self):
        """The pointer reaches its range and is stopped within 4 degrees of it."""
        for side in (-1, 1):
            for degrees, free in ((self.f.swivel_range, True), (self.f.swivel_range + 4, False)):
                part = Rot(0, 0, -side * degrees) * self.p["pointer"]
                if (sum(common(part, screw) for screw in self.h.stop_screws()) < 0.01) != free:
                    self.fault(f"stops: at {side * degrees:.0f} degrees the pointer is {'stopped' if free else 'free'}")

    def clip(self):
        """It takes the thinnest and the thickest edge, and its parts go together; knobs are free for a gloved hand."""
        f, h = self.f, self.h
        for thickness in np.arange(f.edge_least, f.edge_most + 0.1, 0.5):
            n = h.hole_for(thickness)
            travel = -thickness - (h.jaw_hole(n) + 8)
            if not 0.4 <= travel <= f.screw_travel or n * f.jaw_pitch > f.edge_most + 0.01:
                self.fault(f"clip: a {thickness:.0f} mm edge wants the screw {travel:.1f} out at hole {n}")
        jaw = Pos(0, 0, h.jaw_hole(2)) * self.p["jaw"]
        if common(jaw, self.p["clip"]) > 0.01:
            self.fault("clip: the jaw does not go onto its column")
        knobs = [(*h.middle, "the body's")] + [(*h.column(where), f"the clip's at the {where} edge") for where in WHERE]
        for x, y, name in knobs:
            room = rod(f.glove, h.arm_z + f.arm_thickness + 4, h.arm_z + 30, x, y)
            for other, solid in (("sensor", h.sensor()), ("case", self.p["case"]), ("pointer", self.p["pointer"])):
                if common(room, solid) > 0.01:
                    self.fault(f"clip: {other} stands within {f.glove:.0f} mm of {name} knob")
        for where in WHERE:
            arm = h.arm(h.column(where))
            for other, solid in (("sensor", h.sensor()), ("case", self.p["case"]), ("pointer", self.p["pointer"])):
                if common(arm, solid) > 0.01:
                    self.fault(f"clip: at the {where} edge the arm meets {other}")
            for part, solid in zip(("clip", "jaw"), h.placed_clip(where, f.edge_most)):
                for other in ("plate", "case", "lid"):
                    if common(solid, self.p[other]) > 0.01:
                        self.fault(f"clip: at the {where} edge {part} meets {other}")

    def edges(self):
        """Nothing sharp toward the board: all that comes nearer than 2 mm is a ball, a pad, or rounded by 0.5 mm at least."""
        for name in ("plate", "eye"):
            for edge in self.p[name].edges():
                box = edge.bounding_box()
                if box.max.Z < 0.6 and edge.length > 1 and name == "plate":
                    self.fault(f"edges: {name} has an edge {box.max.Z:.2f} over the board")
        rounded = [face for face in self.p["eye"].faces() if face.geom_type.name == "TORUS"]
        if not rounded:
            self.fault("edges: the eye's lower rim is not rounded")

    # ---- meshes

    def meshes(self, folder):
        for name in self.p:
            mesh = trimesh.load(folder / f"{name}.stl")
            self.mesh(name, mesh)

    def mesh(self, name, mesh):
        if not (mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1):
            self.fault(f"mesh {name}: not one closed surface")
            return
        thin = walls(mesh)
        least = 0.78 if name in ("eye", "pointer") else self.f.wall_least
        if thin[0] < least - 0.02:
            self.fault(f"mesh {name}: {thin[0]:.2f} mm of wall at {np.round(thin[1], 1)}")
        area = overhang(mesh, WAY_UP[name])
        if area > OVERHANG[name]:
            self.fault(f"mesh {name}: {area:.0f} mm2 hang over, {OVERHANG[name]} were reckoned with")


# How each part lies on the printer: the way that is up.
WAY_UP = {"plate": (0, 0, -1), "case": (0, 0, 1), "lid": (0, 0, -1), "eye": (0, 0, 1), "pointer": (0, 0, 1), "clip": (0, -1, 0), "jaw": (0, 0, 1)}
# Area that may hang over by more than 50 degrees without support: bridges over slots, roofs of holes.
OVERHANG = {"plate": 420, "case": 420, "lid": 120, "eye": 120, "pointer": 40, "clip": 420, "jaw": 330}


def walls(mesh, count=4000):
    """Thinnest wall met by rays from the surface straight into the part, and where: (mm, place)."""
    points, faces = trimesh.sample.sample_surface(mesh, count, seed=5)
    inward = -mesh.face_normals[faces]
    start = points + inward * 1e-3
    places, rays, hit = mesh.ray.intersects_location(start, inward, multiple_hits=False)
    facing = (mesh.face_normals[hit] * inward[rays]).sum(axis=1)
    # Opposite walls only: a ray that leaves through an edge's flank measures no wall.
    keep = facing > 0.9
    depth = np.linalg.norm(places - points[rays], axis=1)[keep]
    if not len(depth):
        return math.inf, None
    at = depth.argsort()[max(0, len(depth) // 500)]
    return float(depth[at]), points[rays][keep][at]


def overhang(mesh, up):
    up = np.array(up, float)
    down = mesh.face_normals @ up
    height = mesh.triangles_center @ up
    hanging = (down < -math.cos(math.radians(40))) & (height > height.min() + 0.6)
    return float(mesh.area_faces[hanging].sum())


def good(look, folder):
    look.light()
    for check in ("window", "laser", "feet", "clearances", "bought", "stops", "clip", "edges", "tipping"):
        getattr(look, check)()
    if folder:
        look.meshes(folder)
    return look.said


def changed(**values):
    figures = read()
    for name, value in values.items():
        setattr(figures, name, value)
    return figures


def controls(parts):
    """Each fault, put in on purpose: what was looked for, and what was found."""
    out = []

    def expect(word, look, check):
        getattr(look, check)()
        hit = [text for text in look.said if text.startswith(word)]
        out.append((f"{word}: {hit[0] if hit else 'NOT FOUND'}", bool(hit)))

    closed = Head(closed=True)
    expect("window", Look(closed, parts | {"eye": closed.eye()}), "window")
    expect("laser", Look(closed, parts | {"plate": closed.plate()}), "laser")
    short = Head()
    x, y = short.feet[0]
    # One seat 0.3 mm deeper than the others: three feet that are no plane at 0.
    legs = parts["plate"] + rod(4, 3, 8, x, y) - Pos(x, y, 3.3) * Sphere(3.05)
    expect("feet", Look(short, parts | {"plate": legs}), "feet")
    before = Head(changed(leg_top=30))
    expect("light", Look(before, parts), "light")
    low = Head()
    low.light_from = lambda where: (-100, 100)
    expect("light", Look(low, parts), "light")
    fat = Head()
    expect("clearance", Look(fat, parts | {"pointer": Pos(0, 0, 4) * parts["pointer"]}), "clearances")
    high = Head()
    socket = rounded(-8, 8, high.back - 0.1, high.back + 2, high.top + 1, high.top + 14, 0.5) - block(-6.5, 6.5, high.back - 1, high.back + 3, high.top + 2, high.top + 9)
    expect("bought: the cable's plug", Look(high, parts | {"case": parts["case"] + socket}), "bought")
    expect("bought: the head of the screw", Look(high, parts | {"plate": parts["plate"] + rod(5, 4, 17, *high.feet[1])}), "bought")
    expect("bought: clip has no room", Look(high, parts | {"clip": parts["clip"] + (rod(4, high.arm_z - 10, high.arm_z) - rod(2.1, 0, 90))}), "bought")
    low = Head()
    low.button = (low.button[0], low.button[1] - 6)
    expect("bought: the button meets circuit", Look(low, parts), "bought")
    expect("stops", Look(fat, parts | {"pointer": rod(6, fat.low + 9, fat.low + 12)}), "stops")
    expect("clip", Look(Head(changed(screw_travel=5))), "clip")
    expect("clip: at the top edge the arm", Look(Head(changed(sensor_tall=25)), parts | {"case": Pos(0, 0, 12) * parts["case"]}), "clip")
    expect("tipping", Look(Head(changed(spring_height=11.0)), parts), "tipping")
    expect("edges", Look(fat, parts | {"eye": rod(7.5, 0.2, 20)}), "edges")
    look = Look(fat, parts)
    look.mesh("lid", trimesh.creation.box((30, 20, 0.6)))
    out.append((f"mesh: {look.said}", any("of wall" in text for text in look.said)))
    look = Look(fat, parts)
    table = trimesh.util.concatenate([trimesh.creation.box((60, 40, 3), transform=trimesh.transformations.translation_matrix((0, 0, 30)))])
    leg = trimesh.creation.box((5, 5, 32), transform=trimesh.transformations.translation_matrix((0, 0, 15)))
    look.mesh("jaw", trimesh.boolean.union([table, leg], engine="manifold"))
    out.append((f"mesh: {look.said}", any("hang over" in text for text in look.said)))
    look = Look(fat, parts)
    box = trimesh.creation.box((9, 9, 9))
    box.update_faces(np.arange(len(box.faces)) > 0)
    look.mesh("jaw", box)
    out.append((f"mesh: {look.said}", any("closed" in text for text in look.said)))
    return out


def main():
    folder = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parent / "out"
    look = Look(Head())
    said = good(look, folder)
    total, high = look.tipping()
    print(f"body without clip and arm: {total:.0f} g, its middle {high:.0f} mm over the board")
    for text in said:
        print(f"FAULT {text}")
    found = controls(look.p)
    for text, hit in found:
        print(f"{'found' if hit else 'MISSED'}  {text}")
    sys.exit(1 if said or not all(hit for _, hit in found) else 0)


if __name__ == "__main__":
    main()
