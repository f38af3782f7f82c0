"""Where names stand in a chart: each at the first of the places proposed for it that lies over no name before it.

Judged in the smallest and in the largest chart that is drawn: between them names move apart or together evenly.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal, NamedTuple

SIZES = ((300.0, 190.0), (700.0, 290.0))  # px between the axes, width and height: the smallest and the largest chart
FONT_SIZE = 11
LETTER, LINE = 0.56, 1.2  # width of a letter and height of a line, of the font's size


class Place(NamedTuple):
    """Where a name might stand: beside a point of the chart, beginning ``dx`` px to the right of it or, where that is
    negative, ending so much to the left, its middle ``dy`` px below it.

    ``hz`` and ``value`` are on the chart's axes.
    """

    hz: float
    value: float
    dx: float
    dy: float

    @property
    def align(self) -> Literal["left", "right"]:
        """Which end of the name is at the point."""
        return "left" if self.dx > 0.0 else "right"


class Box(NamedTuple):
    """What a name covers, px."""

    left: float
    top: float
    right: float
    bottom: float

    def common(self, other: Box) -> float:
        """Area in common with another."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(across, 0.0) * max(down, 0.0)


class Names:
    """The names of one chart whose axes run over some ``frequencies`` (Hz) and values (``span``)."""

    def __init__(self, *, frequencies: tuple[float, float], span: tuple[float, float]) -> None:
        self._start, self._octaves = frequencies[0], math.log(frequencies[1] / frequencies[0])
        self._low, self._high = span
        self._taken: list[list[Box]] = []

    def stand(self, words: str, places: Iterable[Place]) -> Place:
        """The first of some places at which the words lie in the chart and over no name so far; it is then taken.

        Where there is none, that with least of them over others or outside.  There has to be one at least.
        """
        best, least, taken = None, math.inf, []
        for place in places:
            boxes = [self._box(words, place, size) for size in SIZES]
            over = sum(self._covered(box, number) for number, box in enumerate(boxes))
            if over < least:
                best, least, taken = place, over, boxes
            if over <= 0.0:
                break
        assert best is not None, "a name has a place to stand"
        self._taken.append(taken)
        return best

    def _box(self, words: str, place: Place, size: tuple[float, float]) -> Box:
        """Words at a place in a chart of some size, px from its upper left."""
        long, half = LETTER * FONT_SIZE * len(words), 0.5 * LINE * FONT_SIZE
        left = math.log(place.hz / self._start) / self._octaves * size[0] + place.dx
        left -= long if place.align == "right" else 0.0
        middle = (self._high - place.value) / (self._high - self._low) * size[1] + place.dy
        return Box(left, middle - half, left + long, middle + half)

    def _covered(self, box: Box, number: int) -> float:
        """Of a box in one of the sizes, px² that lie over names so far or outside the chart."""
        outside = box.common(box) - box.common(Box(0.0, 0.0, *SIZES[number]))
        return outside + sum(box.common(taken[number]) for taken in self._taken)
