#!/usr/bin/env python3
"""Writes the printed parts into a folder (default: out): a mesh of each (STL), all of them in place (STEP), the arm's outline (DXF)."""

import pathlib
import re
import sys

from build123d import Compound, ExportDXF, Plane, Pos, export_step, export_stl, section

import gauge
from parts import Head


def write(folder):
    folder.mkdir(parents=True, exist_ok=True)
    head = Head()
    parts = head.printed()
    meshes = parts | {"gauge-frame": gauge.frame(head.f)}
    for name, part in meshes.items():
        # 0.05 mm and 12 degrees: finer than a nozzle lays it.
        export_stl(part, str(folder / f"{name}.stl"), tolerance=0.05, angular_tolerance=0.2)
    shown = []
    for name, part in parts.items():
        part.label = name
        shown.append(part)
    step = folder / "head.step"
    export_step(Compound(label="head", children=shown), str(step))
    text = step.read_text()
    # The day of writing is no part of the shape.
    step.write_text(re.sub(r"(FILE_NAME\('[^']*',)'[^']*'", r"\1'1970-01-01T00:00:00'", text))
    outline = ExportDXF()
    arm = head.arm((head.middle[0] + 100, head.middle[1]))
    outline.add_shape(section(Pos(0, 0, -head.arm_z - 1) * arm, section_by=Plane.XY))
    outline.write(str(folder / "arm.dxf"))


if __name__ == "__main__":
    write(pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parent / "out")
