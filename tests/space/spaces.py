"""Invented spaces, and boxes about as large as they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.parts import KeepOut, Space
from engine.space.wedge import Wedges

BOARD = 0.018
WIDTH = 1.0


def boxes_for(space: Space, count: int, *, back_angle: float, seed: int) -> Wedges:
    """Random boxes about as large as the space, so that some fit and some do not."""
    rng = np.random.default_rng(seed)
    left, low, right, high = shapely.Polygon(space.section).bounds
    return Wedges(
        outer_width=rng.uniform(0.3, 1.05, count) * space.width,
        outer_height=rng.uniform(0.15, 1.0, count) * (high - low),
        top_depth=rng.uniform(0.05, 0.8, count) * (right - left),
        bottom_depth=rng.uniform(0.05, 0.8, count) * (right - left),
        board=BOARD,
        back_angle=back_angle,
    )


def convex_space(seed: int, margin: float) -> Space:
    rng = np.random.default_rng(seed)
    hull = shapely.MultiPoint(rng.uniform(0.0, [0.7, 0.6], (9, 2))).convex_hull
    return Space(section=tuple(map(tuple, np.asarray(hull.exterior.coords)[:-1])), width=WIDTH, margin=margin)


def crooked_space(seed: int, margin: float) -> Space:
    """A simple polygon with corners that point inward: corners in order of angle, at random distances."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, 10)) + np.linspace(0.0, 1e-3, 10)
    distance = rng.uniform(0.12, 0.5, 10)
    corners = np.stack([distance * np.cos(angle), distance * np.sin(angle)], axis=1)
    return Space(section=tuple(map(tuple, corners)), width=WIDTH, margin=margin)


def placed(wedges: Wedges, y: Floats, z: Floats) -> NDArray[np.object_]:
    shapes: NDArray[np.object_] = shapely.polygons(wedges.outer_section + np.stack([y, z], axis=-1)[:, np.newaxis, :])
    return shapes


SPACES = [convex_space(seed, margin) for seed, margin in enumerate([0.0, 0.01, 0.02, 0.03] * 4)] + [
    crooked_space(seed, margin) for seed, margin in enumerate([0.0, 0.01, 0.02] * 10, start=100)
]


def furnished_space(seed: int, *, margin: float) -> Space:
    """A random section with one to four keep-outs: on the floor, at the sides or in mid-air, convex or not."""
    rng = np.random.default_rng(seed)
    space = (convex_space if seed % 2 else crooked_space)(seed, margin)
    left, low, right, high = shapely.Polygon(space.section).bounds
    keepouts = []
    for number in range(1 + seed % 4):
        angle = 2.0 * np.pi * (np.arange(7) + rng.uniform(0.0, 0.8, 7)) / 7.0
        reach = rng.uniform(0.02, 0.12, 7)
        corners = rng.uniform([left, low], [right, high]) + np.stack(
            [reach * np.cos(angle), reach * np.sin(angle)], axis=1
        )
        start = rng.choice([0.0, rng.uniform(0.0, 0.9) * space.width])
        end = rng.choice([space.width, start + rng.uniform(0.03, 0.4)])
        keepouts.append(KeepOut(name=f"{number}", section=tuple(map(tuple, corners)), across=(start, end)))
    return replace(space, keepouts=tuple(keepouts))
