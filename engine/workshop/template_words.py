"""Words in the window of a template's page: whole on one page, and on no line where there is room beside it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np

from engine.arrays import Floats
from engine.workshop.templates import Tile, Tiling, core_of, places_along, seams

WIDE, TALL = 1.35, 3.4  # mm, of a letter and of a line as they are set
ALONG = (0.0, *(sign * mm for mm in range(4, 65, 4) for sign in (1.0, -1.0)))  # mm, that words are moved at most
ASIDE = (0.0, *(sign * mm for mm in range(2, 15, 3) for sign in (1.0, -1.0)))
CLEAR = 0.6  # mm, between words and lines
INSIDE = 3.5  # mm, from a seam to the middle of the words on it
STEP = 1.0  # mm, between places along a line


def page_words(tiling: Tiling, tile: Tile) -> list[dict[str, object]]:
    """Words of the window of one page: place and size in mm, angle in degrees clockwise, as Typst turns.

    A label stands on the page whose own part holds its middle, moved to where no joint parts it and no line runs
    through it; where there is no such place near, it stays.
    """
    left, top, _, _ = tiling.window
    core = core_of(tiling)
    lines = _points(tiling, tile)
    found: list[dict[str, object]] = []
    for label in tiling.template.labels:
        x, y = tile.left + 1e3 * label.place[0], tile.top - 1e3 * label.place[1]
        if core[0] <= x < core[2] and core[1] <= y < core[3]:
            x, y = _moved(label.words, (x, y), -label.angle, lines, core)
            found.append({"x": x - left, "y": y - top, "words": label.words, "turn": -math.degrees(label.angle)})
            lines = np.concatenate([lines, _box(label.words, (x, y), -label.angle)])
    for down, right, (start, end) in seams(core):
        if (other := tiling.neighbour(tile, down, right)) is not None:
            words = f"to here; then {other.name}" + (", which is blank" if other.blank else "")
            x, y = _on_seam(words, start, end, (-right * INSIDE, -down * INSIDE), lines)
            found.append({"x": x - left, "y": y - top, "words": words, "turn": 90.0 * abs(right) * -1.0})
    return found


def _points(tiling: Tiling, tile: Tile) -> Floats:
    """Places along all lines of a page, (K, 2), mm of it."""
    every = [
        places_along(start, end, bulge, 1e-3 * STEP)
        for trace in tiling.template.traces
        for start, end, bulge in trace.pieces()
    ]
    found = np.concatenate(every)
    return np.column_stack([tile.left + 1e3 * found[:, 0], tile.top - 1e3 * found[:, 1]])


def _moved(
    words: str, place: tuple[float, float], turn: float, lines: Floats, core: tuple[float, float, float, float]
) -> tuple[float, float]:
    """The nearest place at which words, turned by ``turn`` rad clockwise, lie within ``core`` and on no line."""
    for x, y in _near(place, turn):
        reach = _reach(words, turn)
        within = core[0] < x - reach[0] and x + reach[0] < core[2] and core[1] < y - reach[1] and y + reach[1] < core[3]
        if within and _room(words, (x, y), turn, lines) > CLEAR:
            return x, y
    return place


def _near(place: tuple[float, float], turn: float) -> Iterator[tuple[float, float]]:
    """Places to try, the nearest first: along the words, then beside them."""
    along, aside = np.array([math.cos(turn), math.sin(turn)]), np.array([-math.sin(turn), math.cos(turn)])
    for far, off in sorted(itertools.product(ALONG, ASIDE), key=lambda move: abs(move[0]) + 2.0 * abs(move[1])):
        x, y = np.asarray(place) + far * along + off * aside
        yield float(x), float(y)


def _reach(words: str, turn: float) -> tuple[float, float]:
    """Half of the width and height that turned words take, mm."""
    wide, tall = 0.5 * WIDE * len(words), 0.5 * TALL
    cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
    return wide * cos + tall * sin, wide * sin + tall * cos


def _box(words: str, place: tuple[float, float], turn: float) -> Floats:
    """Places all over words that stand already, (K, 2), mm."""
    wide, tall = 0.5 * WIDE * len(words), 0.5 * TALL
    along = np.linspace(-wide, wide, max(math.ceil(2.0 * wide / STEP), 1) + 1)
    aside = np.linspace(-tall, tall, math.ceil(2.0 * tall / STEP) + 1)
    grid = np.stack(np.meshgrid(along, aside), axis=-1).reshape(-1, 2)
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return np.asarray(np.asarray(place) + grid @ turned)


def _room(words: str, place: tuple[float, float], turn: float, lines: Floats) -> float:
    """How far the nearest line is from the box of words, mm; 0 where one runs through it."""
    off = lines - np.asarray(place)
    cos, sin = math.cos(turn), math.sin(turn)
    along, aside = off @ np.array([cos, sin]), off @ np.array([-sin, cos])
    outside = np.column_stack([np.abs(along) - 0.5 * WIDE * len(words), np.abs(aside) - 0.5 * TALL])
    return float(np.hypot(*np.maximum(outside, 0.0).T).min()) if len(lines) else math.inf


def _on_seam(
    words: str, start: Sequence[float], end: Sequence[float], inward: tuple[float, float], lines: Floats
) -> tuple[float, float]:
    """Where along a seam its words stand: as near to its middle as no line runs through them."""
    turn = 0.0 if inward[0] == 0.0 else 0.5 * math.pi
    shares = sorted(np.arange(0.15, 0.86, 0.05), key=lambda share: abs(share - 0.5))
    places = [
        (
            float(start[0] + share * (end[0] - start[0]) + inward[0]),
            float(start[1] + share * (end[1] - start[1]) + inward[1]),
        )
        for share in shares
    ]
    free = [place for place in places if _room(words, place, turn, lines) > CLEAR]
    return free[0] if free else max(places, key=lambda place: _room(words, place, turn, lines))
