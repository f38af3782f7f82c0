"""Invented drivers, pipes and boxes for the tests of layouts."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.space.layout import Floats, Layout, lay_out
from engine.space.wedge import Wedges

GAP = 0.010
BOARD = 0.018
SPAN = 0.4
FREE_WIDTH = 1.15
C = 343.2

# Over the flange, cut-out, magnet, mounting depth.
DRIVERS = np.array(
    [
        [0.212, 0.184, 0.120, 0.098],
        [0.270, 0.236, 0.145, 0.128],
        [0.316, 0.282, 0.175, 0.150],
        [0.300, 0.180, 0.200, 0.110],
    ]
)
# Bore and outer diameter.
PIPES = np.array([[0.0525, 0.0603], [0.0779, 0.0889], [0.1022, 0.1143]])


def frustum_volume(one: Floats, other: Floats, length: Floats) -> Floats:
    """Volume between two discs of diameters ``one`` and ``other``."""
    result: Floats = np.pi * length / 12.0 * (one**2 + one * other + other**2)
    return result


def contents(count: int, *, seed: int, closed: float = 0.2) -> dict[str, Any]:
    """Random contents for ``count`` boxes; a driver takes the volume of its frustum."""
    rng = np.random.default_rng(seed)
    outer, cutout, magnet, depth = DRIVERS[rng.integers(0, len(DRIVERS), count)].T
    bore, pipe = PIPES[rng.integers(0, len(PIPES), count)].T
    return {
        "outer_diameter": outer.copy(),
        "cutout_diameter": cutout.copy(),
        "magnet_diameter": magnet.copy(),
        "mounting_depth": depth.copy(),
        "driver_displacement": frustum_volume(cutout, magnet, depth - BOARD),
        "driver_count": rng.integers(1, 4, count),
        "vent_count": np.where(rng.random(count) < closed, 0, rng.integers(1, 5, count)),
        "vent_inner": bore.copy(),
        "vent_outer": pipe.copy(),
        "tuning": rng.uniform(25.0, 60.0, count),
    }


def boxes(count: int, *, seed: int, back_angle: float = 0.2, deepest: float = 0.55) -> Wedges:
    rng = np.random.default_rng(seed)
    return Wedges(
        outer_width=rng.uniform(0.35, 1.15, count),
        outer_height=rng.uniform(0.28, 0.6, count),
        top_depth=rng.uniform(0.08, 0.9 * deepest, count),
        bottom_depth=rng.uniform(0.08, deepest, count),
        board=BOARD,
        back_angle=back_angle,
    )


def layout(wedges: Wedges, things: dict[str, Any], **changes: Any) -> Layout:
    settings = {"breathing_gap": GAP, "brace_span": SPAN, "free_width": FREE_WIDTH, "c": C}
    return lay_out(wedges, **{**things, **settings, **changes})


def take(things: dict[str, Any], rows: Any) -> dict[str, Any]:
    return {name: value[rows] for name, value in things.items()}


def fitting(laid_out: Layout) -> NDArray[np.bool_]:
    kept: NDArray[np.bool_] = np.max(np.stack(list(laid_out.violations.values())), axis=0) <= 0.0
    return kept
