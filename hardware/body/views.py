"""Line drawings of solids as SVG: what is seen black, what is hidden left out, labels with leaders."""

import math

from build123d import Compound, GeomType, Vector

FAR = 1e4


def direction(azimuth, height):
    a, h = math.radians(azimuth), math.radians(height)
    return Vector(math.sin(a) * math.cos(h), -math.cos(a) * math.cos(h), math.sin(h))


class Drawing:
    """One view: azimuth about the board normal (0: from below, 90: from the right), height over the board, degrees."""

    def __init__(self, azimuth, height, scale=3.0, up=(0, 0, 1)):
        self.scale = scale
        self.eye = direction(azimuth, height) * FAR
        self.up = up if height < 89 else (0, 1, 0)
        self.lines, self.notes, self.solids = [], [], []
        z = self.eye.normalized()
        x = Vector(*self.up).cross(z).normalized()
        self.axes = (x, z.cross(x))

    def at(self, point):
        v = Vector(*point)
        return v.dot(self.axes[0]), v.dot(self.axes[1])

    def add(self, *solids):
        self.solids += solids

    def note(self, text, point, dx, dy):
        """A label `dx`, `dy` millimetres of paper off the point that it means."""
        self.notes.append((text, self.at(point), dx, dy))

    def line(self, a, b, style="#c04000", dash=True, width=0.35):
        self.lines.append(([self.at(a), self.at(b)], style, dash, width))

    @staticmethod
    def points(edge):
        if edge.geom_type == GeomType.LINE:
            return [edge @ 0, edge @ 1]
        n = max(4, min(24, int(edge.length / 1.2)))
        return [edge @ (k / n) for k in range(n + 1)]

    def svg(self, title=""):
        shown, _ = Compound(children=[s.moved(s.location.inverse() * s.location) if False else s for s in self.solids]).project_to_viewport(self.eye, self.up, (0, 0, 0))
        paths = [[(p.X, p.Y) for p in self.points(edge)] for edge in shown]
        everything = [p for path in paths for p in path] + [p for line in self.lines for p in line[0]]
        everything += [(x + dx, y + dy) for _, (x, y), dx, dy in self.notes] + [at for _, at, _, _ in self.notes]
        left = min(p[0] for p in everything) - 4
        right = max([p[0] for p in everything] + [x + dx + (1.9 * len(t) if dx >= 0 else 2) for t, (x, _), dx, _ in self.notes]) + 4
        left = min([left] + [x + dx - 1.9 * len(t) - 2 for t, (x, _), dx, _ in self.notes if dx < 0])
        low, high = min(p[1] for p in everything) - 4, max(p[1] for p in everything) + (9 if title else 4)
        s = self.scale
        put = lambda p: f"{(p[0] - left) * s:.1f} {(high - p[1]) * s:.1f}"
        w, h = (right - left) * s, (high - low) * s
        out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w:.0f} {h:.0f}" width="{w:.0f}" height="{h:.0f}" font-family="sans-serif">']
        out.append(f'<rect width="100%" height="100%" fill="white"/><path fill="none" stroke="black" stroke-width="1" stroke-linejoin="round" stroke-linecap="round" d="')
        out.append("".join("M" + "L".join(put(p) for p in path) for path in sorted(paths)))
        out.append('"/>')
        for points, style, dash, width in self.lines:
            dashes = ' stroke-dasharray="6 4"' if dash else ""
            out.append(f'<path fill="none" stroke="{style}" stroke-width="{width * s:.1f}"{dashes} d="M{"L".join(put(p) for p in points)}"/>')
        for text, (x, y), dx, dy in self.notes:
            end = (x + dx, y + dy)
            out.append(f'<path stroke="#0050a0" stroke-width="1" d="M{put((x, y))}L{put(end)}"/><circle cx="{put((x, y)).split()[0]}" cy="{put((x, y)).split()[1]}" r="2.2" fill="#0050a0"/>')
            side, off = ("start", 1) if dx >= 0 else ("end", -1)
            px, py = put((end[0] + off, end[1] - 1)).split()
            out.append(f'<text x="{px}" y="{py}" font-size="{3.4 * s:.1f}" text-anchor="{side}">{text}</text>')
        if title:
            out.append(f'<text x="{4 * s}" y="{6 * s:.0f}" font-size="{4.4 * s:.1f}" font-weight="bold">{title}</text>')
        out.append("</svg>")
        return "\n".join(out) + "\n"
