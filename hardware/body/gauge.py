"""The gauge: two walls of stacked bars with a slit at two heights each, a frame that holds them, a lamp behind them."""

from build123d import Axis, Cylinder, Pos, Rot, fillet

from figures import read
from parts import block, rod

BAR, WIDE, TOP = 8.0, 30.0, 15.0
# The film that scatters the lamp's light: along the wall, and up.
FILM = 30.0, 12.0
# Of the screws that hold a stack: in the middle of the leaves at either end.
SCREW = 22.5
# Radius of their bores, M3: the head of an M4 is as wide as a bar, and higher than bar A has room for.
BORE = 1.7


def heights(f=None):
    """Of every joint of a stack, from the board up."""
    f = f or read()
    half = f.gauge_slit / 2
    return [0.0, f.gauge_low - half, f.gauge_low + half, f.gauge_high - half, f.gauge_high + half, TOP]


def wall(y, f=None):
    f = f or read()
    z, half = heights(f), f.gauge_length / 2
    bars = [block(-half, half, y - BAR / 2, y + BAR / 2, z[n], z[n + 1]) for n in (0, 2, 4)]
    leaves = [block(side - 7.5 if side < 0 else side - 7.5, side + 7.5, y - BAR / 2, y + BAR / 2, z[n], z[n + 1]) for n in (1, 3) for side in (-SCREW, SCREW)]
    holes = [rod(BORE, -1, TOP + 1, x, y) for x in (-SCREW, SCREW)]
    return [part - holes[0] - holes[1] for part in bars + leaves]


def frame(f=None):
    """Printed: on top of both walls, and the lamp's place behind them."""
    f = f or read()
    half = f.gauge_length / 2
    part = block(-half, half, -BAR / 2, f.gauge_apart + 26, TOP, TOP + 5)
    part = fillet(part.edges().filter_by(Axis.Z), 3)
    part -= block(-14, 14, 8, f.gauge_apart - 8, TOP - 1, TOP + 6)
    part += block(-8, 8, f.gauge_apart + 20, f.gauge_apart + 26, 1.0, TOP)
    part -= Pos(0, f.gauge_apart + 23, (f.gauge_low + f.gauge_high) / 2) * Rot(90, 0, 0) * Cylinder(2.55, 10)
    for y in (0.0, f.gauge_apart):
        for x in (-SCREW, SCREW):
            part -= rod(BORE, TOP - 1, TOP + 6, x, y)
    return part


def sheet(path, f=None):
    """The dimensioned drawing, as DXF, and as SVG of the same."""
    import ezdxf
    from ezdxf.addons.drawing import Frontend, RenderContext, layout, svg
    from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration

    f = f or read()
    doc = ezdxf.new("R2010", setup=True)
    doc.units = ezdxf.units.MM
    doc.header["$TDCREATE"] = doc.header["$TDUPDATE"] = 2440588
    style = doc.dimstyles.get("EZDXF")
    for key, value in {"dimlfac": 1, "dimtxt": 2.2, "dimasz": 1.6, "dimexe": 1, "dimexo": 0.6, "dimgap": 0.6}.items():
        style.set_dxf_attrib(key, value)
    m = doc.modelspace()
    half, z = f.gauge_length / 2, heights(f)

    def rect(x0, y0, x1, y1, **kw):
        m.add_lwpolyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs=kw)

    def dim(p1, p2, base, angle, text, at=None):
        m.add_linear_dim(base=base, p1=p1, p2=p2, angle=angle, text=text, dimstyle="EZDXF", location=at).render()

    def say(text, x, y, h=2.2):
        m.add_text(text, height=h, dxfattribs={"style": "OpenSans"}).set_placement((x, y))

    # Front view of a wall, heights drawn three times: a slit would be a line otherwise.
    k = 3.0
    say("Wall, front view (2 of these). Heights drawn 3:1, lengths 1:1", -half, k * TOP + 24, 2.8)
    for n in (0, 2, 4):
        rect(-half, k * z[n], half, k * z[n + 1])
    for n in (1, 3):
        for side in (-SCREW, SCREW):
            rect(side - 7.5, k * z[n], side + 7.5, k * z[n + 1], color=1)
    for x in (-SCREW, SCREW):
        m.add_line((x, -2), (x, k * TOP + 2), dxfattribs={"linetype": "CENTER", "color": 8})
    low, high, slit = f.gauge_low, f.gauge_high, f.gauge_slit
    texts = [f"{low - slit / 2:.2f} bar A", f"{slit:.2f} leaf", f"{high - low - slit:.2f} bar B", f"{slit:.2f} leaf", f"{TOP - high - slit / 2:.2f} bar C, any"]
    places = [0.0, 7.0, 17.0, 28.0, 36.0]
    for n, text in enumerate(texts):
        middle = k * (z[n] + z[n + 1]) / 2
        m.add_line((half + 1, middle), (half + 8, places[n] + 5))
        say(text, half + 9, places[n] + 4)
    dim((-half, 0), (-half, k * low), (-half - 12, 0), 90, f"{low:.3f} %%P0.010", (-half - 12, k * low / 2 - 14))
    dim((-half, 0), (-half, k * high), (-half - 24, 0), 90, f"{high:.3f} %%P0.010")
    dim((-half, 0), (half, 0), (0, -16), 0, f"{f.gauge_length:.0f} %%P0.2")
    dim((-15, 0), (15, 0), (0, -8), 0, "30 slit, %%P0.5")
    dim((-SCREW, k * TOP), (SCREW, k * TOP), (0, k * TOP + 14), 0, f"{2 * SCREW:.0f} %%P0.1, bore {2 * BORE:.1f}")
    # Plan.
    top = -30.0
    say("Plan", -half, top + 2, 2.8)
    for y in (0.0, f.gauge_apart):
        rect(-half, top - 4 - y - BAR, half, top - 4 - y)
        for x in (-SCREW, SCREW):
            m.add_circle((x, top - 8 - y), BORE)
    a, b = top - 8, top - 8 - f.gauge_apart
    dim((half, a), (half, b), (half + 10, a), 90, f"{f.gauge_apart:.0f} %%P0.2")
    dim((-half, b - BAR / 2), (-half, b + BAR / 2), (-half - 10, b), 90, f"{BAR:.0f}")
    rect(-FILM[0] / 2, b - BAR / 2 - 0.6, FILM[0] / 2, b - BAR / 2, color=1)
    m.add_line((10, b - BAR / 2 - 0.6), (8, b - 9.5))
    say(f"film, white, {FILM[0]:.0f} x {FILM[1]:.0f}, on the far wall's back over both slits", 6, b - 12)
    m.add_circle((0, b - 23), 2.5)
    say("lamp 5 mm, 850 or 940 nm, matt, middle 6 over the board", 6, b - 24)
    notes = [
        "Made of bought pieces: bars A, B, C from ground flat stock (gauge plate, DIN 174 or like), hardened or not;",
        "leaves from feeler stock 0.30, four a wall, 15 long, bored 3.4 like the bars.",
        f"A is {low - slit / 2:.2f}, B {high - low - slit:.2f}: ground to size, both of a pair in one setting; faces flat and parallel within 0.003.",
        "Or, without a grinder: A of 2.50 and 0.35, B of 5.00 and 0.70, of ground stock and feeler stock, bored together.",
        "Lower edges of A and faces of B at the slit: burr off with a stone, no more; corners away from the slits broken 0.3.",
        "M3 countersunk from below, in bar A; nuts on the frame. Clean, stack, press flat on a surface plate, tighten.",
        "Checked: height of either slit's lower and upper edge with a gauge block and feeler, in the middle and at both ends;",
        "the mean of the two is what counts, and is written on the gauge: it goes to the zero, not the nominal height.",
        f"Tolerances not named: ISO 2768-m. All in mm. Figures: hardware/body/params.toml (gauge_low, gauge_high, gauge_slit).",
    ]
    for n, text in enumerate(notes):
        say(text, -half - 22, b - 34 - 4 * n, 2.0)
    doc.saveas(path.with_suffix(".dxf"))
    backend = svg.SVGBackend()
    plain = Configuration(color_policy=ColorPolicy.BLACK, background_policy=BackgroundPolicy.WHITE, lineweight_scaling=0.7)
    Frontend(RenderContext(doc), backend, config=plain).draw_layout(m)
    page = layout.Page(210, 200, layout.Units.mm, margins=layout.Margins.all(8))
    path.with_suffix(".svg").write_text(backend.get_string(page))
