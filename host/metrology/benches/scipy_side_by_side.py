#!/usr/bin/env python3
"""The turns' linear programmes solved twice, here and by scipy.optimize.linprog (HiGHS): same answers, both times.

    cargo bench -p skimgauge-metrology --bench trim -- --json > cases.json
    python3 host/metrology/benches/scipy_side_by_side.py cases.json

Also solves the published three-screw cases beside this file and compares with the optimum their headers state.
Exits with 1 where a margin differs by more than 1e-8 mm. Needs numpy and scipy.
"""

import csv
import json
import pathlib
import re
import sys
import time

import numpy as np
from scipy.optimize import linprog

DATA = pathlib.Path(__file__).resolve().parent.parent / "tests" / "data"
TOLERANCE_MM = 1e-8


def largest_margin(gap, effect, low, high, travel):
    """Maximise t subject to low + t <= gap + effect n <= high - t and the travel; returns t, n and the time taken."""
    gap, effect = np.asarray(gap), np.asarray(effect)
    ones = np.ones((len(gap), 1))
    rows = np.vstack([np.hstack([-effect, ones]), np.hstack([effect, ones])])
    right = np.concatenate([gap - low, high - gap])
    bounds = [tuple(t) for t in travel] + [(None, (high - low) / 2)]
    best = float("inf")
    for _ in range(5):
        start = time.perf_counter()
        solved = linprog([0, 0, 0, -1], A_ub=rows, b_ub=right, bounds=bounds, method="highs")
        best = min(best, time.perf_counter() - start)
    if not solved.success:
        raise SystemExit(f"linprog: {solved.message}")
    return solved.x[3], solved.x[:3], best


def published(name):
    """A three-screw case: gaps, effects of a screw's travel, target, travel, least deviation as stated."""
    text = (DATA / name).read_text()
    comments = "\n".join(line for line in text.splitlines() if line.startswith("#"))
    pairs = re.findall(r"\('(-?[\d.]+)', '(-?[\d.]+)'\)", comments)
    numbers = [(float(a), float(b)) for a, b in pairs]
    screws, travel = numbers[:3], numbers[3:6]
    target = float(re.search(r"target mm: (-?[\d.]+)", comments).group(1))
    stated = float(re.search(r"optimum t = ([\d.]+)", comments).group(1))
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    places = np.array([[1.0, float(r["x"]), float(r["y"])] for r in rows])
    gap = np.array([float(r["gap"]) for r in rows])
    inverse = np.linalg.inv(np.array([[1.0, x, y] for x, y in screws]))
    return gap, places @ inverse, target, travel, stated


def main():
    wrong = 0
    print(f"{'case':<16} {'margin here':>16} {'scipy':>16} {'differ by':>10} {'here, us':>10} {'scipy, us':>10} {'ratio':>7}")
    for case in json.load(open(sys.argv[1])) if len(sys.argv) > 1 else []:
        low, high = case["band"]
        margin, _, took = largest_margin(case["gap_mm"], case["effect"], low, high, case["travel"])
        apart = abs(margin - case["margin_mm"])
        wrong += apart > TOLERANCE_MM
        here = case["seconds"]
        print(
            f"{case['name']:<16} {case['margin_mm']:>16.10f} {margin:>16.10f} {apart:>10.1e}"
            f" {here * 1e6:>10.1f} {took * 1e6:>10.1f} {took / here:>7.0f}"
        )
    for name in ["screws_s1.csv", "screws_s3.csv", "screws_s4.csv"]:
        gap, effect, target, travel, stated = published(name)
        margin, _, took = largest_margin(gap, effect, target - 1, target + 1, travel)
        apart = abs((1 - margin) - stated)
        wrong += apart > TOLERANCE_MM
        print(f"{name:<16} {1 - stated:>16.10f} {margin:>16.10f} {apart:>10.1e} {'':>10} {took * 1e6:>10.1f}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
