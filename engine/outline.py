"""A cross-section as people measure it: row by row from the floor up, how far the back stands in and what is left.

A row holds at one height where the back wall stands (``back``, forward of its rearmost point)
and how deep the space is there (``depth``).  Between rows both sides run straight.  A level
ledge is two rows of one height: the first holds for below it, the second for above.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal, NamedTuple

from engine.errors import Finding, Refusal, finding
from engine.polygon import Corner
from engine.words.voice import Mixed, Quantity

Side = Literal["front", "back"]
Chain = list[Corner]

FARTHEST = 4.0  # times the height of the row below it that a top row is believed to stand at
INCH_IN_MM = 25.4
# A depth this many times off what its neighbours lead to was measured in the other unit: 25.4, and a quarter
# either way because a real outline is not straight from row to row.
WRONG_UNIT = (20.0, 31.0)
LEAST_JUMP = 10.0
NO_DEPTH = 1e-9  # m
_NOTHING = Quantity(0.0, "length", figures=1)


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One row of the table, in m."""

    height: float  # up from the floor
    back: float = 0.0  # from the rearmost plane forward to the back wall
    depth: float  # from the back wall to what bounds the space in front

    @property
    def front(self) -> float:
        return self.back + self.depth


class RowFault(NamedTuple):
    """What is wrong with a row (counted from 0; None: with the table) and at which of its keys.

    Parameters count rows from 1, the way people do.
    """

    row: int | None
    key: str
    finding: Finding


def places_of(rows: Sequence[Measured]) -> list[tuple[int, Side]]:
    """Row and side of each corner in order: up the front, then down the back.

    Of corners that coincide, as where the depth is 0, only the first is listed.
    """
    going_round: list[tuple[int, Side]] = [(i, "front") for i in range(len(rows))]
    going_round += [(i, "back") for i in reversed(range(len(rows)))]
    places: list[tuple[int, Side]] = []
    for place in going_round:
        around = [places[0], places[-1]] if places else []
        if corner_at(rows, place) not in [corner_at(rows, other) for other in around]:
            places.append(place)
    return places


def corner_at(rows: Sequence[Measured], place: tuple[int, Side]) -> Corner:
    row = rows[place[0]]
    return (row.front if place[1] == "front" else row.back, row.height)


def corners_of(rows: Sequence[Measured]) -> tuple[Corner, ...]:
    """The corners (y forward, z up) of the outline that sound rows stand for."""
    return tuple(corner_at(rows, place) for place in places_of(rows))


def faults_of(rows: Sequence[Measured | None]) -> list[RowFault]:
    """What keeps rows from being the measurements of one space; empty if nothing.

    None stands for a row that could not be read: then only the order of the others is
    looked at.  Rows without faults make a simple polygon.
    """
    if len(rows) < 2:
        return [RowFault(None, "", finding("few_rows"))]
    known = {number: row for number, row in enumerate(rows) if row is not None}
    found = _out_of_order(known)
    whole = list(known.values())
    if found or len(whole) < len(rows):
        return found
    found = [*_ledges(whole), *_points(whole)]
    return found or _other_units(whole)


def _out_of_order(rows: dict[int, Measured]) -> list[RowFault]:
    """The fewest rows without which the heights ascend, each with the heights that would do there."""
    best: dict[int, list[int]] = {}
    for number, row in rows.items():
        before = [best[other] for other in best if rows[other].height <= row.height]
        best[number] = [*max(before, key=len, default=[]), number]
    kept = max(best.values(), key=len, default=[])
    found = []
    for number, row in rows.items():
        if number in kept:
            continue
        below = [other for other in kept if other < number][-1:]
        above = [other for other in kept if other > number][:1]
        meant = row.height * INCH_IN_MM
        fits = all(rows[other].height < meant for other in below) and all(meant < rows[other].height for other in above)
        # A top row has nothing above it to hold it against: no space goes on that far beyond the row below.
        fits &= bool(above) or all(meant < FARTHEST * rows[other].height for other in below)
        ends: dict[str, Any] = {"mixed": Mixed(inches=True)}
        for other in below:
            ends |= {"low": Quantity(rows[other].height, "length"), "below": other + 1}
        for other in above:
            ends |= {"high": Quantity(rows[other].height, "length"), "above": other + 1}
        side = "within" if below and above else "low" if below else "high"
        code = f"row_unit_{side}" if fits else f"row_order_{side}"
        found.append(RowFault(number, "height", finding(code, row=number + 1, **ends)))
    return found


def _ledges(rows: Sequence[Measured]) -> list[RowFault]:
    """Rows of one height: two between others, and the space must go on from one to the other."""
    found = []
    for i in range(1, len(rows)):
        below, above = rows[i - 1], rows[i]
        if below.height != above.height:
            continue
        said: dict[str, Any] = {"row": i + 1, "below": i, "height": Quantity(above.height, "length")}
        key = "height"
        if i > 1 and rows[i - 2].height == below.height:
            code = "ledge_of_three"
        elif below == above:
            code = "row_twice"
        elif rows[0].height == below.height:
            code = "ledge_at_the_bottom"
        elif rows[-1].height == above.height:
            code = "ledge_at_the_top"
        elif above.back >= below.front or below.back >= above.front:
            code, key = "ledge_apart", "back" if above.back >= below.front else "depth"
            said |= {"back": Quantity(above.back, "length"), "front": Quantity(above.front, "length")}
            said |= {"back_below": Quantity(below.back, "length"), "front_below": Quantity(below.front, "length")}
        else:
            continue
        found.append(RowFault(i, key, finding(code, **said)))
    return found


def _points(rows: Sequence[Measured]) -> list[RowFault]:
    """Where the depth is nothing the space ends, so only its ends may have that."""
    found = [
        RowFault(i, "depth", finding("row_without_depth", row=i + 1, nothing=_NOTHING))
        for i in range(1, len(rows) - 1)
        if rows[i].depth < NO_DEPTH
    ]
    if all(row.depth < NO_DEPTH for row in rows):
        return [RowFault(None, "", finding("rows_without_area", nothing=_NOTHING))]
    return found


def _other_units(rows: Sequence[Measured]) -> list[RowFault]:
    """Depths between two rows that are off by the factor between an inch and a millimetre.

    Beside such a row a good one can look wrong as well: of two in a row the one further off is named.
    At a ledge the depth jumps by its nature, on one side of a row: there both sides must be far off.
    """
    off: dict[int, float] = {}
    for i in range(1, len(rows) - 1):
        below, row, above = rows[i - 1 : i + 2]
        ratio = row.depth / max(_between(below, above, row.height), NO_DEPTH)
        shallow = max(below.depth, above.depth) < row.depth / LEAST_JUMP
        deep = min(below.depth, above.depth) > row.depth * LEAST_JUMP
        on_ledge = row.height in (below.height, above.height)
        if WRONG_UNIT[0] <= max(ratio, 1.0 / ratio) <= WRONG_UNIT[1] and (shallow or deep or not on_ledge):
            off[i] = ratio
    found = _ends_in_other_units(rows)
    for i, ratio in off.items():
        if any(abs(math.log(off.get(other, 1.0))) > abs(math.log(ratio)) for other in (i - 1, i + 1)):
            continue
        leads = Quantity(_between(rows[i - 1], rows[i + 1], rows[i].height), "length")
        said = {"row": i + 1, "one": i, "other": i + 2, "leads": leads, "mixed": Mixed(inches=ratio < 1.0)}
        found.append(RowFault(i, "depth", finding("depth_in_other_unit", **said)))
    return found


def _ends_in_other_units(rows: Sequence[Measured]) -> list[RowFault]:
    """The lowest and the highest depth against the straight line through the two rows next to it."""
    found = []
    for i, near, far in ((0, 1, 2), (len(rows) - 1, len(rows) - 2, len(rows) - 3)) if len(rows) > 2 else ():
        row, one, other = rows[i], rows[near], rows[far]
        if not row.depth or one.height in (row.height, other.height):
            continue
        leads = _between(other, one, row.height) if i else _between(one, other, row.height)
        if WRONG_UNIT[0] <= leads / row.depth <= WRONG_UNIT[1]:
            said = {"row": i + 1, "one": near + 1, "other": far + 1, "leads": Quantity(leads, "length")}
            found.append(RowFault(i, "depth", finding("end_in_other_unit", mixed=Mixed(inches=True), **said)))
    return found


def _between(below: Measured, above: Measured, height: float) -> float:
    """Depth at a height on the straight line from one row to another."""
    share = (height - below.height) / (above.height - below.height)
    return below.depth + share * (above.depth - below.depth)


def rows_of(corners: Sequence[Corner]) -> tuple[Measured, ...]:
    """The rows that stand for a sound outline: one at the height of each corner, two at a ledge.

    Raises Refusal where rows cannot tell it: where it lies behind the rearmost plane or below the floor, or comes in
    two pieces at some height.
    """
    for i, (y, z) in enumerate(corners):
        if y < 0.0 or z < 0.0:
            raise Refusal("corner_behind" if y < 0.0 else "corner_below", corner=i + 1)
    if _area(corners) < 0.0:
        corners = corners[::-1]
    front, back = _sides(corners)
    heights = sorted({z for _, z in corners})
    rows: list[Measured] = []
    for height in heights:
        # Just below a height and just above it; a ledge makes the two differ.
        for end in (0, -1):
            if (height, end) in ((heights[0], 0), (heights[-1], -1)):
                continue
            start, stop = (_crossing(side, height)[end] for side in (back, front))
            row = Measured(height=height, back=start, depth=stop - start)
            if row not in rows[-1:]:
                rows.append(row)
    return tuple(rows)


def _area(corners: Sequence[Corner]) -> float:
    following = [*corners[1:], corners[0]]
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, following, strict=True))


def _sides(corners: Sequence[Corner]) -> tuple[Chain, Chain]:
    """Front and back of an outline that goes round with the front upwards, each from its lowest corner up."""
    n = len(corners)
    rising = [i for i in range(n) if corners[(i + 1) % n][1] > corners[i][1]]
    falling = [i for i in range(n) if corners[(i + 1) % n][1] < corners[i][1]]
    sloping = sorted([*rising, *falling])
    turns = [i for at, i in enumerate(sloping) if (i in rising) != (sloping[at - 1] in rising)]
    if len(turns) > 2:
        low, high = (pick(z for _, z in corners) for pick in (min, max))
        inner = next(i for i in turns if low < corners[i][1] < high)
        raise Refusal("two_stretches", height=Quantity(corners[inner][1], "length"))
    first, last = (next(i for i in turns if (i in rising) == up) for up in (True, False))

    def along(start: int, edges: list[int]) -> Chain:
        end = max(edges, key=lambda i: (i - start) % n) + 1
        return [corners[(start + step) % n] for step in range((end - start) % n + 1)]

    return along(first, rising), along(last, falling)[::-1]


def _crossing(side: Chain, height: float) -> tuple[float, float]:
    """Where a side is just below a height and just above it (y)."""
    level = [y for y, z in side if z == height]
    if level:
        return level[0], level[-1]
    (y0, z0), (y1, z1) = next((a, b) for a, b in pairwise(side) if a[1] < height < b[1])
    y = y0 + (y1 - y0) * (height - z0) / (z1 - z0)
    return y, y
