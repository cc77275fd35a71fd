#!/usr/bin/env python3
"""The map's fit worked out by numpy and scipy: map_taps.csv in, map_numpy.csv out (this script wrote both).

    python3 map_reference.py

Taps at thirteen marks, three rounds, off by a known map and normal scatter (numpy.random.default_rng(20261126)), two
decimals. One least-squares problem of both axes together (numpy.linalg.lstsq, 6 unknowns), covariance s^2 (X'X)^-1 with
s^2 the residual sum over 2 n - 6; 95 % half widths with scipy.stats.t at the effective degrees of freedom of Welch and
Satterthwaite, the aim's bias (2 mm, known) on the offsets alone.
"""
import csv
import pathlib

import numpy as np
from scipy import stats

HERE = pathlib.Path(__file__).resolve().parent
W, H, INSET, AIM = 2025.0, 1265.6, 0.05, 2.0
OUT, Q = 0.5 - INSET, 0.25
MARKS = [(-OUT, -OUT), (0, -OUT), (OUT, -OUT), (-Q, -Q), (Q, -Q), (-OUT, 0), (0, 0), (OUT, 0), (-Q, Q), (Q, Q), (-OUT, OUT), (0, OUT), (OUT, OUT)]


def main():
    rng = np.random.default_rng(20261126)
    rows = []
    for rnd in range(3):
        for mark, (across, down) in enumerate(MARKS):
            x, y = across * W / 1000, -down * H / 1000
            off = np.array([3.0 + 1.5 * x - 0.8 * y, -2.0 + 0.9 * x + 2.2 * y]) + rng.normal(0, 2.5, 2)
            rows.append((mark, rnd, round(off[0], 2), round(off[1], 2)))
    with open(HERE / "map_taps.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["mark", "round", "right_mm", "up_mm"])
        out.writerows(rows)
    n = len(rows)
    design, values = np.zeros((2 * n, 6)), np.zeros(2 * n)
    for at, (mark, _, right, up) in enumerate(rows):
        across, down = MARKS[mark]
        columns = [1.0, across * W / 1000, -down * H / 1000]
        design[2 * at, :3] = columns
        design[2 * at + 1, 3:] = columns
        values[2 * at], values[2 * at + 1] = right, up
    found, squares, rank, _ = np.linalg.lstsq(design, values, rcond=None)
    assert rank == 6
    dof = 2 * n - 6
    s2 = float(squares[0]) / dof
    cov = s2 * np.linalg.inv(design.T @ design)
    combine = {
        "right": ([1, 0, 0, 0, 0, 0], AIM),
        "up": ([0, 0, 0, 1, 0, 0], AIM),
        "scale_across": ([0, 1, 0, 0, 0, 0], 0.0),
        "scale_down": ([0, 0, 0, 0, 0, 1], 0.0),
        "turn": ([0, 0, -0.5, 0, 0.5, 0], 0.0),
        "shear": ([0, 0, 1, 0, 1, 0], 0.0),
    }
    with open(HERE / "map_numpy.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["what", "value", "u", "expanded"])
        for what, (row, aim) in combine.items():
            row = np.array(row, float)
            value, variance = float(row @ found), float(row @ cov @ row)
            u = np.sqrt(variance + aim * aim)
            effective = u**4 / (variance**2 / dof)
            out.writerow([what, repr(value), repr(float(u)), repr(float(u * stats.t.ppf(0.975, effective)))])
        out.writerow(["scatter", repr(float(np.sqrt(s2))), "", ""])
    for name, value in [
        ("garwood 3 in 2, 97.5 %", stats.chi2.ppf(0.975, 8) / 2 / 2),
        ("clopper-pearson 2 of 51 below, 95 %", stats.beta.ppf(0.95, 3, 49)),
    ]:
        print(name, value)


main()
