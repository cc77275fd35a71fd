"""Writes KiCad 9 sheets: symbols of our own, parts, wires, labels. Places are in steps of 1.27 mm, x to the right, y down."""

import uuid

STEP = 1.27
SPACE = uuid.UUID("5b1f0c52-5c0e-4f4e-9d7c-2f6e2a3d9a10")
PROJECT = "head"


def uid(name):
    """The same name has the same number in every drawing, so that drawing twice gives the same bytes."""
    return str(uuid.uuid5(SPACE, name))


def mm(steps):
    return f"{steps * STEP:.4f}".rstrip("0").rstrip(".")


def font(size=1.27, justify="", hide=False, bold=False):
    parts = f"(font (size {size} {size}){' (bold yes)' if bold else ''})"
    if justify:
        parts += f" (justify {justify})"
    if hide:
        parts += " (hide yes)"
    return f"(effects {parts})"


def quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


class Symbol:
    """A kind of part. Pins: (number, name, type, x, y, angle), y up, the angle is the way from the tip into the body."""

    def __init__(self, name, letter, pins, art, show_names=False, show_numbers=False, power=False, size=(2, 3)):
        self.name, self.letter, self.pins, self.art = name, letter, pins, art
        self.show_names, self.show_numbers, self.power, self.size = show_names, show_numbers, power, size

    def text(self, prefix=""):
        out = [f"(symbol {quoted(prefix + self.name)}"]
        if self.power:
            out.append("(power)")
        if not self.show_numbers:
            out.append("(pin_numbers (hide yes))")
        out.append(f"(pin_names (offset 0.762){'' if self.show_names else ' (hide yes)'})")
        bom = "no" if self.power or self.letter == "#FLG" else "yes"
        out.append(f"(exclude_from_sim no) (in_bom {bom}) (on_board yes)")
        hide = self.letter.startswith("#")
        out.append(f'(property "Reference" "{self.letter}" (at 0 0 0) {font(hide=hide)})')
        out.append(f'(property "Value" {quoted(self.name)} (at 0 0 0) {font()})')
        for field in ("Footprint", "Datasheet", "Description"):
            out.append(f'(property "{field}" "" (at 0 0 0) {font(hide=True)})')
        out.append(f'(symbol "{self.name}_0_1" {" ".join(self.art)})')
        pins = []
        for number, name, kind, x, y, angle, length in self.pins:
            pins.append(
                f"(pin {kind} line (at {mm(x)} {mm(y)} {angle}) (length {mm(length)}) "
                f"(name {quoted(name)} {font(1.1)}) (number {quoted(number)} {font(1.0)}))"
            )
        out.append(f'(symbol "{self.name}_1_1" {" ".join(pins)})')
        out.append("(embedded_fonts no))")
        return "\n".join(out)


def line(*points, width=0.254, fill="none"):
    xy = " ".join(f"(xy {mm(x)} {mm(y)})" for x, y in points)
    return f"(polyline (pts {xy}) (stroke (width {width}) (type default)) (fill (type {fill})))"


def box(x0, y0, x1, y1, fill="background"):
    return f"(rectangle (start {mm(x0)} {mm(y0)}) (end {mm(x1)} {mm(y1)}) (stroke (width 0.254) (type default)) (fill (type {fill})))"


def ring(x, y, r, fill="none"):
    return f"(circle (center {mm(x)} {mm(y)}) (radius {mm(r)}) (stroke (width 0.254) (type default)) (fill (type {fill})))"


def two(name, letter, art, reach=3, body=2, kinds=("passive", "passive"), names=("~", "~")):
    """A part with two ends, upright: 1 above, 2 below."""
    pins = [("1", names[0], kinds[0], 0, reach, 270, reach - body), ("2", names[1], kinds[1], 0, -reach, 90, reach - body)]
    return Symbol(name, letter, pins, art)


def chip(name, letter, left, right, width, rows=None, bottom=()):
    """A box with pins on both sides from the top: (number, name, type), or None for a gap. Its origin is the upper left pin's row."""
    rows = rows or max(len(left), len(right))
    pins = []
    for side, angle, x in ((left, 0, -2), (right, 180, width + 2)):
        for at, pin in enumerate(side):
            if pin:
                pins.append((*pin, x, -2 * at, angle, 2))
    for x, pin in bottom:
        pins.append((*pin, x, -2 * rows - 2, 90, 2))
    art = [box(0, 2, width, -2 * rows)]
    return Symbol(name, letter, pins, art, show_names=True, show_numbers=True, size=(width, 2 * rows))


class Sheet:
    def __init__(self, name, title, paper, number, of, path, notes):
        self.name, self.title, self.paper, self.number, self.of, self.path = name, title, paper, number, of, path
        self.notes, self.items, self.kinds, self.segments, self.ends, self.count = notes, [], {}, [], [], {}

    def key(self, what):
        self.count[what] = self.count.get(what, 0) + 1
        return uid(f"{self.name} {what} {self.count[what]}")

    def put(self, symbol, ref, value, x, y, angle=0, ref_at=None, value_at=None, justify="left", hide_value=False, mirror=""):
        """Places a part; gives the places of its pins by number."""
        self.kinds[symbol.name] = symbol
        places = {}
        for number, _, _, px, py, _, _ in symbol.pins:
            if mirror == "y":
                px = -px
            if mirror == "x":
                py = -py
            rx, ry = {0: (px, py), 90: (-py, px), 180: (-px, -py), 270: (py, -px)}[angle]
            places[number] = (x + rx, y - ry)
            self.ends.append(places[number])
        ref_at = ref_at or (symbol.size[0], -1)
        value_at = value_at or (symbol.size[0], 1)
        hidden = ref.startswith("#")
        out = [f'(symbol (lib_id "parts:{symbol.name}") (at {mm(x)} {mm(y)} {angle})']
        if mirror:
            out.append(f"(mirror {mirror})")
        bom = "no" if hidden else "yes"
        out.append(f'(unit 1) (exclude_from_sim no) (in_bom {bom}) (on_board yes) (dnp no) (uuid "{uid(ref)}")')
        # KiCad turns the fields of a turned part with it: turned back here, they are always read from below.
        turn = {0: 0, 90: 90, 180: 0, 270: 90}[angle]
        flip = justify
        if angle == 180:
            flip = {"left": "right", "right": "left"}.get(justify, justify)
        if mirror == "y":
            flip = {"left": "right", "right": "left"}.get(flip, flip)
        for field, text, (dx, dy), hide in (("Reference", ref, ref_at, hidden), ("Value", value, value_at, hide_value)):
            out.append(f'(property "{field}" {quoted(text)} (at {mm(x + dx)} {mm(y + dy)} {turn}) {font(1.27, flip, hide)})')
        for field in ("Footprint", "Datasheet", "Description"):
            out.append(f'(property "{field}" "" (at {mm(x)} {mm(y)} 0) {font(hide=True)})')
        for number in places:
            out.append(f'(pin {quoted(number)} (uuid "{uid(ref + " pin " + number)}"))')
        out.append(f'(instances (project "{PROJECT}" (path "{self.path}" (reference "{ref}") (unit 1)))))')
        self.items.append("\n".join(out))
        return places

    def wire(self, *points):
        for a, b in zip(points, points[1:]):
            assert a[0] == b[0] or a[1] == b[1], f"{self.name}: a wire at a slope, {a} {b}"
            if a != b:
                self.segments.append((a, b))

    def label(self, name, at, angle=0, shape="passive"):
        """A name that holds on all sheets; 0: its text runs to the right of the place, 180: to the left."""
        justify = {0: "left", 180: "right", 90: "left", 270: "right"}[angle]
        self.items.append(
            f'(global_label {quoted(name)} (shape {shape}) (at {mm(at[0])} {mm(at[1])} {angle}) (fields_autoplaced yes) '
            f'{font(1.27, justify)} (uuid "{self.key("label " + name)}") '
            f'(property "Intersheetrefs" "${{INTERSHEET_REFS}}" (at {mm(at[0])} {mm(at[1])} 0) {font(1.27, justify, True)}))'
        )
        self.ends.append(at)

    def open_end(self, at):
        self.items.append(f'(no_connect (at {mm(at[0])} {mm(at[1])}) (uuid "{self.key("open")}"))')

    def say(self, text, x, y, size=1.4, bold=False):
        self.items.append(f'(text {quoted(text)} (exclude_from_sim no) (at {mm(x)} {mm(y)} 0) {font(size, "left top", bold=bold)} (uuid "{self.key("text")}"))')

    def frame(self, x0, y0, x1, y1, title):
        self.items.append(
            f'(rectangle (start {mm(x0)} {mm(y0)}) (end {mm(x1)} {mm(y1)}) (stroke (width 0.15) (type dash)) (fill (type none)) (uuid "{self.key("frame")}"))'
        )
        self.say(title, x0 + 1, y0 + 1, 1.8, True)

    def subsheet(self, name, title, x, y, width, height, page):
        self.items.append(
            f'(sheet (at {mm(x)} {mm(y)}) (size {mm(width)} {mm(height)}) (exclude_from_sim no) (in_bom yes) (on_board yes) (dnp no) '
            f'(stroke (width 0.2) (type solid)) (fill (color 0 0 0 0.0)) (uuid "{uid("sheet " + name)}") '
            f'(property "Sheetname" {quoted(title)} (at {mm(x)} {mm(y - 0.5)} 0) {font(1.5, "left bottom")}) '
            f'(property "Sheetfile" "{name}.kicad_sch" (at {mm(x)} {mm(y + height + 0.5)} 0) {font(1.2, "left top")}) '
            f'(instances (project "{PROJECT}" (path "/{uid("root")}" (page "{page}")))))'
        )

    def joined(self):
        """Wires, parted wherever another end stands on them: KiCad joins only at ends. And the dots."""
        stops = set(self.ends)
        for a, b in self.segments:
            stops |= {a, b}
        parted = set()
        for a, b in self.segments:
            a, b = sorted((a, b))
            on = sorted(p for p in stops if a <= p <= b and (p[0] == a[0] == b[0] or p[1] == a[1] == b[1]))
            parted |= set(zip(on, on[1:]))
        met = {}
        for piece in parted:
            for end in piece:
                met[end] = met.get(end, 0) + 1
        for end in set(self.ends):
            if end in met:
                met[end] += self.ends.count(end)
        return sorted(parted), sorted(p for p, n in met.items() if n >= 3)

    def text(self, extra=""):
        wires, dots = self.joined()
        paper = " ".join(word if word[0].isdigit() else quoted(word) for word in self.paper.split())
        out = [f'(kicad_sch (version 20250114) (generator "draw.py") (generator_version "9.0") (uuid "{uid("root" if extra else "page " + self.name)}") (paper {paper})']
        comments = " ".join(f"(comment {n} {quoted(text)})" for n, text in enumerate(self.notes, 1))
        out.append(f'(title_block (title {quoted(self.title)}) (date "") (rev "1") (company "skimgauge head, CERN-OHL-P-2.0") {comments})')
        out.append("(lib_symbols")
        out += [self.kinds[name].text("parts:") for name in sorted(self.kinds)]
        out.append(")")
        for x, y in dots:
            out.append(f'(junction (at {mm(x)} {mm(y)}) (diameter 0) (color 0 0 0 0) (uuid "{uid(f"{self.name} dot {x} {y}")}"))')
        for (x0, y0), (x1, y1) in wires:
            out.append(
                f'(wire (pts (xy {mm(x0)} {mm(y0)}) (xy {mm(x1)} {mm(y1)})) (stroke (width 0) (type default)) (uuid "{uid(f"{self.name} wire {x0} {y0} {x1} {y1}")}"))'
            )
        out += self.items
        out.append(extra)
        out.append("(embedded_fonts no))")
        return "\n".join(line for line in out if line) + "\n"
