#!/usr/bin/env python3
"""Linear programmes and flatness worked out twice, here and by numpy and scipy: same answers, both times.

    cargo bench -p skimgauge-metrology --bench trim -- --json > cases.json
    cargo bench -p skimgauge --bench survey -- --json > survey.json
    python3 host/metrology/benches/scipy_side_by_side.py cases.json survey.json

Turns are scipy.optimize.linprog's (HiGHS); the published three-screw cases beside this file are solved as well and
compared with the optimum their headers state. A survey's least-squares plane and its bow and twist are numpy.linalg.lstsq's,
its zone along z is linprog's, and its minimum zone is that of linprog after the survey was turned square to it, until it
stays. Exits with 1 where a margin differs by more than 1e-8 mm, or a flatness by more than 1e-6 mm. Needs numpy and scipy.
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
FLATNESS_TOLERANCE_MM = 1e-6


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


def best_of(times, work):
    """What `work` gives, and the shortest of so many goes at it, s."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return answer, best


def vertical_zone(places):
    """The plane z = a + b x + c y with the least 2 t that holds |z - plane| <= t: width and plane."""
    size = np.abs(places[:, :2]).max()
    design = np.column_stack([np.ones(len(places)), places[:, :2] / size])
    ones = np.ones((len(places), 1))
    rows = np.vstack([np.hstack([design, -ones]), np.hstack([-design, -ones])])
    right = np.concatenate([places[:, 2], -places[:, 2]])
    solved = linprog([0, 0, 0, 1], A_ub=rows, b_ub=right, bounds=[(None, None)] * 3 + [(0, None)], method="highs")
    if not solved.success:
        raise SystemExit(f"linprog: {solved.message}")
    a, b, c, t = solved.x
    return 2 * t, np.array([a, b / size, c / size])


def minimum_zone(places):
    """The zone along z, the places turned until it lies square to z: its width."""
    places = places - places.mean(axis=0)
    width = float("inf")
    for _ in range(20):
        narrower, (_, b, c) = vertical_zone(places)
        if narrower > width - 1e-12:
            return min(width, narrower)
        width = narrower / np.sqrt(1 + b * b + c * c)
        if b * b + c * c < 1e-20:
            return width
        normal = np.array([-b, -c, 1.0]) / np.sqrt(1 + b * b + c * c)
        across = np.cross([0.0, 1.0, 0.0], normal)
        across /= np.linalg.norm(across)
        places = places @ np.column_stack([across, np.cross(normal, across), normal])
    return width


def survey(file):
    """One survey: a table of what differs, and how many figures differ too much."""
    told = json.load(open(file))
    places, (wide, high) = np.array(told["places"]), told["image_mm"]
    across, down = 2 * places[:, 0] / wide, 2 * places[:, 1] / high + 1

    def least_squares():
        design = np.column_stack([np.ones(len(places)), places[:, :2]])
        plane = np.linalg.lstsq(design, places[:, 2], rcond=None)[0]
        return np.ptp(places[:, 2] - design @ plane)

    def form():
        design = np.column_stack([np.ones(len(places)), across, down, -across * across, -down * down, across * down])
        return np.linalg.lstsq(design, places[:, 2], rcond=None)[0]

    flatness, took_plane = best_of(5, least_squares)
    shape, took_form = best_of(5, form)
    zone, took_zone = best_of(3, lambda: vertical_zone(places)[0])
    minimum, took_minimum = best_of(3, lambda: minimum_zone(places))
    rows = [
        ("least-squares flatness", flatness, "least_squares_flatness_mm", took_plane),
        ("bow across", shape[3], "bow_across_mm", took_form),
        ("bow down", shape[4], "bow_down_mm", None),
        ("twist", shape[5], "twist_mm", None),
        ("zone along z", zone, "zone_along_z_mm", took_zone),
        ("minimum zone", minimum, "flatness_mm", took_minimum),
    ]
    print(f"\n{len(places)} places {'':<12} {'here, mm':>14} {'scipy, mm':>14} {'differ by':>10} {'here, ms':>10} {'scipy, ms':>10}")
    wrong = 0
    for name, value, key, took in rows:
        apart = abs(value - told[key])
        wrong += apart > FLATNESS_TOLERANCE_MM
        here = told["seconds"].get(key)
        times = f"{here * 1e3 if here else float('nan'):>10.2f} {took * 1e3:>10.2f}" if took else ""
        print(f"{name:<25} {told[key]:>14.9f} {value:>14.9f} {apart:>10.1e} {times}")
    whole = took_plane + took_form + took_zone + took_minimum
    print(f"{'all of these':<25} {'':>14} {'':>14} {'':>10} {told['seconds']['sums'] * 1e3:>10.2f} {whole * 1e3:>10.2f}")
    print(f"{'the whole survey':<25} {'':>14} {'':>14} {'':>10} {told['seconds']['survey'] * 1e3:>10.2f}   with map and next points")
    return wrong


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
    for file in sys.argv[2:]:
        wrong += survey(file)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
