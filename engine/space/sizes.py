"""A box's sizes as somebody states them, outside or inside, and the outer sizes that they come to.

Height and width are stated outside or inside.  Of the section two of these are stated: the depth at the bottom and at
the top, each outside or inside, and the lean of the baffle.  Inside depths are measured horizontally at the inner faces
of bottom and top.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping

import numpy as np
from scipy.optimize import brentq

from engine.arrays import Floats
from engine.space.wedge import Wedges

# Ways to state one size: the first is the outer one.
Ways = tuple[str, str]
WIDTH: Ways = ("outer_width", "inside_width")
HEIGHT = ("outer_height", "inside_height")
BOTTOM = ("bottom_depth", "inside_bottom_depth")
TOP = ("top_depth", "inside_top_depth")
LEAN = "baffle_angle"
VOLUME = "inside_volume"
ALIKE = (WIDTH, HEIGHT, BOTTOM, TOP)  # of each only one is stated
OUTER = tuple(ways[0] for ways in ALIKE)
LARGEST = 20.0  # m, that a size is looked for up to
ROUNDS = 30  # of Newton's rule; five do unless the box is hardly higher than its board


def stated_way(ways: Collection[str], stated: Collection[str]) -> str | None:
    """Which of several ways a size is stated in; None where in none."""
    return next((key for key in ways if key in stated), None)


def twice(stated: Collection[str]) -> Iterator[tuple[str, str, list[str]]]:
    """What of stated sizes says too much: the size at fault, the code of the fault, and the sizes that it is about."""
    for ways in ALIKE:
        if all(key in stated for key in ways):
            yield ways[1], "size_twice", list(ways)
    depths = [key for key in (*TOP, *BOTTOM) if key in stated]
    if LEAN in stated and stated_way(BOTTOM, stated) and stated_way(TOP, stated):
        yield LEAN, "lean_besides", depths


def missing(stated: Collection[str]) -> list[Ways]:
    """The sizes that are still to be stated, each as its ways; the lean of the baffle stands for one depth."""
    lacking = [ways for ways in ALIKE if stated_way(ways, stated) is None]
    depths = [ways for ways in lacking if ways in (BOTTOM, TOP)]
    if LEAN in stated and depths:
        lacking.remove(depths[-1])
    return lacking


def outer_sizes(
    stated: Mapping[str, Floats | float], *, board: float, back_angle: float, layer: Floats | float = 0.0
) -> dict[str, Floats]:
    """The four outer sizes that stated ones come to, (N,) m each by their names in ``OUTER``.

    Exactly one way of each size, of the section two; :data:`LEAN` in rad, positive where the baffle leans back going
    up.  ``board`` in m, ``back_angle`` in rad; the baffle is a ``layer`` thicker than the board, m.  Inside the panels
    are off: a slanted panel of thickness t takes t/cos θ of depth.  Sizes that make no box come back as they follow,
    those too small for their boards as nan or inside out; nothing is raised for them.

    >>> inch = 0.0254
    >>> inside = {"inside_height": 18.5 * inch, "inside_width": 28.0 * inch}
    >>> depths = {"inside_top_depth": 2.0 * inch, "inside_bottom_depth": 5.0 * inch}
    >>> outer = outer_sizes(inside | depths, board=0.75 * inch, back_angle=0.0)
    >>> [round(float(outer[name][0]) / inch, 3) for name in ("outer_width", "outer_height")]
    [29.5, 20.0]
    """
    given = {name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in stated.items()}
    width, height = (given[ways[0]] if ways[0] in given else given[ways[1]] + 2.0 * board for ways in (WIDTH, HEIGHT))
    back = math.tan(back_angle)

    def taken(taper: Floats) -> Floats:
        """Depth that back and baffle take together."""
        secant = np.hypot(1.0, back + taper)
        return np.asarray(board * (math.hypot(1.0, back) + secant) + layer * secant)

    low, high = (stated_way(ways, given) for ways in (BOTTOM, TOP))
    with np.errstate(all="ignore"):
        if LEAN in given:
            taper = np.asarray(-np.tan(given[LEAN]) - back)
        else:
            assert low is not None, "the reader sees to it that two of the section are stated"
            assert high is not None, "the reader sees to it that two of the section are stated"
            inner = (low == BOTTOM[1], high == TOP[1])
            taper = _taper(given[high] - given[low], height, inner, board=board, back=back, layer=layer)
        if low is not None:
            bottom = given[low] if low == BOTTOM[0] else given[low] + taken(taper) - taper * board
        else:
            assert high is not None, "the reader sees to it that two of the section are stated"
            top = given[high] if high == TOP[0] else given[high] + taken(taper) + taper * board
            bottom = top - taper * height
    sizes = (width, height, bottom, bottom + taper * height)
    each = np.broadcast_arrays(*sizes)
    return {name: np.array(size) for name, size in zip(OUTER, each, strict=True)}


def _taper(
    gained: Floats, height: Floats, inner: tuple[bool, bool], *, board: float, back: float, layer: Floats | float
) -> Floats:
    """Depth gained per metre of height where the stated depths at bottom and top differ by ``gained`` m.

    ``inner`` says of either whether it is an inside one.  Where one of them is, the panels' own depth stands between
    them, which depends on the taper: found by Newton's rule, since that depth is convex in it.
    """
    rise = height - board * float(sum(inner))
    # What is added to the outer difference: the panels' depth comes off the top where that is an inside one.
    sign = float(inner[0]) - float(inner[1])
    taper = np.asarray(gained / rise)
    for _ in range(ROUNDS if sign else 0):
        secant = np.hypot(1.0, back + taper)
        off = rise * taper + sign * (board * (math.hypot(1.0, back) + secant) + layer * secant) - gained
        taper = np.asarray(taper - off / (rise + sign * (board + layer) * (back + taper) / secant))
    return taper


def held_to(
    held: Mapping[str, Floats | float],
    sizes: Mapping[str, Floats],
    *,
    board: float,
    back_angle: float,
    layer: Floats | float = 0.0,
) -> dict[str, Floats]:
    """Outer ``sizes`` (N,) m with some sizes ``held`` exactly, as they are stated; what is free stays as it is.

    Of a section of which one thing is held the depth at the bottom stays, or where that is held the one at the top.
    """
    stated: dict[str, Floats | float] = dict(held)
    stated |= {ways[0]: sizes[ways[0]] for ways in missing(held)}
    count = len(sizes[OUTER[0]])
    outer = outer_sizes(stated, board=board, back_angle=back_angle, layer=layer)
    return {name: np.broadcast_to(size, (count,)).copy() for name, size in outer.items()}


def volume_of(outer: Mapping[str, Floats], *, board: float, back_angle: float, layer: float = 0.0) -> Floats:
    """Gross volume inside boxes of these outer sizes, (N,) m³."""
    sizes = {name: np.atleast_1d(np.asarray(outer[name], dtype=float)) for name in OUTER}
    return np.array(Wedges(**sizes, board=board, back_angle=back_angle, layer=layer).gross_volume)


def size_for(
    stated: Mapping[str, float], *, board: float, back_angle: float, layer: float = 0.0
) -> dict[str, float] | None:
    """Stated sizes of which one is missing, with the outer one that gives the :data:`VOLUME` stated in its place.

    The volume is that between the panels with nothing in it, m³.  None where no size up to 20 m does.
    """
    (ways,) = missing([key for key in stated if key != VOLUME])
    others = {key: value for key, value in stated.items() if key != VOLUME}

    def over(size: float) -> float:
        shape = {"board": board, "back_angle": back_angle, "layer": layer}
        outer = outer_sizes(others | {ways[0]: size}, **shape)
        return float(np.nan_to_num(volume_of(outer, **shape)[0])) - stated[VOLUME]

    low = 2.0 * board
    if over(low) >= 0.0 or over(LARGEST) <= 0.0:
        return None
    return others | {ways[0]: float(brentq(over, low, LARGEST, xtol=1e-12))}


def inside_of(wedges: Wedges) -> dict[str, Floats]:
    """Inside sizes and the lean of the baffle of boxes, by the names they are stated by, (N,) m and rad."""
    taper = wedges.baffle_slope - wedges.back_slope
    taken = wedges.board * (wedges.back_secant + wedges.baffle_secant) + wedges.layer * wedges.baffle_secant
    return {
        WIDTH[1]: wedges.inner_width,
        HEIGHT[1]: wedges.inner_height,
        BOTTOM[1]: wedges.bottom_depth + taper * wedges.board - taken,
        TOP[1]: wedges.top_depth - taper * wedges.board - taken,
        LEAN: -np.arctan(wedges.baffle_slope),
    }
