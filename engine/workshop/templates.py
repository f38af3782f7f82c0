"""Full-size templates on sheets of paper: traces tiled with an overlap, register marks, page map, rulers both ways.

Everything is laid out in mm of paper, x to the right and y down the page, so that a page printed at 100 % can be laid
on the wood.  :mod:`engine.workshop.patterns` says what is traced, :mod:`engine.report.templates_pdf` sets the pages.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from engine.arrays import Floats

EDGE = 10.0  # mm, that not every printer reaches; common practice, no source
HEAD, SIDE = 29.0, 13.0  # mm, of the strips above and beside the window: words and rulers
OVERLAP = 12.0  # mm, that neighbours share
AROUND = 5.0  # mm, at least free round what is traced
REGISTER = 9.0  # mm, half of a register mark; those of screws are small and in a ring
CLEAR = 4.0  # mm, that joints between pages keep from screw marks and centre lines
SHIFT = 1.0  # mm, steps in which a template is moved on its pages for that
INCH = 25.4  # mm
RULERS = {"across": (150, 6), "down": (200, 8)}  # mm and inches, as long as fits either paper

Stroke = Literal["cut", "thin", "dashed", "axis"]
STROKES: dict[Stroke, tuple[float, str]] = {
    "cut": (0.35, ""), "thin": (0.18, ""), "dashed": (0.18, "2.4 1.4"), "axis": (0.13, "7 1.5 1 1.5"),
}  # mm, and dashes  # fmt: skip


@dataclass(frozen=True, eq=False)
class Trace:
    """A line on a template: places (K, 2) in m, x to the right and y up, and the arcs between them.

    ``bulges`` (K,) are tangents of a quarter of each arc's angle from a place to the next, counter-clockwise positive.
    """

    points: Floats
    bulges: Floats
    stroke: Stroke = "cut"
    closed: bool = True

    @cached_property
    def extent(self) -> tuple[Floats, Floats]:
        """Least and greatest coordinates, (2,) each, arcs among them."""
        every = [self.points]
        for start, end, bulge in self.pieces():
            if bulge:
                every.append(_arc_points(start, end, bulge))
        found = np.concatenate(every)
        return found.min(axis=0), found.max(axis=0)

    def pieces(self) -> Iterator[tuple[Floats, Floats, float]]:
        """Start, end and bulge of each piece."""
        for number in range(len(self.points) - (0 if self.closed else 1)):
            yield self.points[number], self.points[(number + 1) % len(self.points)], float(self.bulges[number])


def circle(centre: Sequence[float] | Floats, diameter: float, stroke: Stroke = "cut") -> Trace:
    """A round trace, as two half circles."""
    middle, half = np.asarray(centre, dtype=np.float64), np.array([0.5 * diameter, 0.0])
    return Trace(np.array([middle - half, middle + half]), np.ones(2), stroke)


def path(*points: Sequence[float] | Floats, stroke: Stroke = "thin", closed: bool = False) -> Trace:
    """A trace of straight pieces."""
    return Trace(np.array([np.asarray(point) for point in points]), np.zeros(len(points)), stroke, closed)


def crossing(centre: Sequence[float] | Floats, arm: float, stroke: Stroke = "thin") -> list[Trace]:
    """Two lines that cross square to each other."""
    middle = np.asarray(centre, dtype=np.float64)
    return [path(middle - way, middle + way, stroke=stroke) for way in (np.array([arm, 0.0]), np.array([0.0, arm]))]


@dataclass(frozen=True)
class Label:
    """Words on a template, centred at a place in m, turned counter-clockwise by ``angle`` rad."""

    place: tuple[float, float]
    words: str
    angle: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Template:
    """One thing to print at full size."""

    name: str
    said: tuple[str, ...]  # sentences: what to do with it
    face: str  # which face of what is seen
    traces: tuple[Trace, ...]
    labels: tuple[Label, ...] = ()
    placed: str = ""  # where it goes on its board, for every page

    @cached_property
    def marks(self) -> tuple[list[float], list[float]]:
        """Where lines of crosses and middle lines run that no joint of pages should lie on: x of upright ones, y, m."""
        upright, level = [], []
        for trace in self.traces:
            if trace.closed or trace.stroke not in ("thin", "axis") or len(trace.points) != 2:
                continue
            (x, y), (x2, y2) = trace.points
            if x == x2:
                upright.append(float(x))
            elif y == y2:
                level.append(float(y))
        return upright, level

    @cached_property
    def extent(self) -> tuple[Floats, Floats]:
        low, high = zip(*(trace.extent for trace in self.traces), strict=True)
        return np.min(low, axis=0), np.max(high, axis=0)


@dataclass(frozen=True, kw_only=True)
class Tile:
    """One page: which part of a template is in its window.

    ``left`` and ``top`` are where the template's own origin lies, mm of this page; ``blank`` where no line crosses it.
    """

    name: str
    row: int
    column: int
    left: float
    top: float
    blank: bool


@dataclass(frozen=True, kw_only=True)
class Tiling:
    """A template on pages of one size (mm)."""

    template: Template
    paper: tuple[float, float]
    tiles: tuple[Tile, ...]
    rows: int
    columns: int

    @property
    def window(self) -> tuple[float, float, float, float]:
        return window_of(self.paper)

    @property
    def printed(self) -> tuple[Tile, ...]:
        return tuple(tile for tile in self.tiles if not tile.blank)

    @property
    def whole(self) -> tuple[float, float]:
        """Width and height of all pages trimmed and put together, mm."""
        _, _, width, height = self.window
        return self.columns * (width - OVERLAP), self.rows * (height - OVERLAP)

    def neighbour(self, tile: Tile, down: int, right: int) -> Tile | None:
        return next(
            (each for each in self.tiles if (each.row, each.column) == (tile.row + down, tile.column + right)), None
        )


def window_of(paper: tuple[float, float]) -> tuple[float, float, float, float]:
    """Left, top, width and height of the window on a page, mm."""
    left, top = EDGE + SIDE, EDGE + HEAD
    return left, top, paper[0] - EDGE - left, paper[1] - EDGE - top


def tiled(template: Template, paper: tuple[float, float]) -> Tiling:
    """A template on as few pages as hold it with its overlaps, centred on them as far as joints then run clear of
    screw marks and centre lines: one page more either way where there is no other way.
    """
    left, top, width, height = window_of(paper)
    low, high = template.extent
    size = 1e3 * (high - low)
    step = np.array([width, height]) - OVERLAP
    upright, level = template.marks
    columns, before = _laid(float(size[0]), float(step[0]), [1e3 * (each - low[0]) for each in upright])
    rows, above = _laid(float(size[1]), float(step[1]), [1e3 * (high[1] - each) for each in level])
    x, y = left + before - 1e3 * low[0], top + above + 1e3 * high[1]
    tiles = []
    for row in range(rows):
        for column in range(columns):
            at = x - column * step[0], y - row * step[1]
            blank = not any(_crosses(trace, at, (left, top, left + width, top + height)) for trace in template.traces)
            tiles.append(
                Tile(name=f"{_letters(row)}{column + 1}", row=row, column=column, left=at[0], top=at[1], blank=blank)
            )
    return Tiling(template=template, paper=paper, tiles=tuple(tiles), rows=rows, columns=columns)


def _laid(size: float, step: float, marks: Sequence[float]) -> tuple[int, float]:
    """How many pages one way, and how far from the first window's edge a template of ``size`` begins on them, mm.

    ``marks`` are measured from where it begins.  The nearest place to the middle is taken at which every joint is
    CLEAR of all marks, the clearest one where there is none with a page more either.
    """
    fewest = max(math.ceil((size + 2.0 * AROUND - OVERLAP) / step), 1)
    best = (-1.0, fewest, 0.0)
    for count in (fewest, fewest + 1):
        spare = count * step + OVERLAP - size
        most = 0.5 * spare - AROUND
        shifts = sorted(np.arange(-math.floor(most / SHIFT), math.floor(most / SHIFT) + 1) * SHIFT, key=abs)
        for shift in shifts:
            begins = 0.5 * spare + float(shift)
            joints = 0.5 * OVERLAP + step * np.arange(1, count)
            off = min((abs(begins + mark - float(joint)) for mark in marks for joint in joints), default=math.inf)
            if off >= CLEAR:
                return count, begins
            if off > best[0]:
                best = (off, count, begins)
    return best[1], best[2]


def page_svg(tiling: Tiling, tile: Tile) -> str:
    """All lines of one page as SVG in mm: the part of the template, frame, marks, rulers and map; no words."""
    left, top, width, height = tiling.window
    core = core_of(tiling)
    parts = [
        f'<clipPath id="window"><rect x="{left}" y="{top}" width="{width}" height="{height}"/></clipPath>',
        '<g clip-path="url(#window)">',
        *(_drawn(trace, 1e3, (tile.left, tile.top)) for trace in tiling.template.traces),
        "</g>",
        f'<rect x="{left}" y="{top}" width="{width}" height="{height}" fill="none" stroke="#999" stroke-width="0.13"/>',
    ]
    for down, right, ends in seams(core):
        if tiling.neighbour(tile, down, right) is not None:
            parts.append(_line(*ends, width=0.13, dashes="4 2", ink="#777"))
    parts += [_register(x, y) for x, y in _corners(core)]
    parts += [*_rulers(), *_map(tiling, tile)]
    return _page(tiling.paper, parts)


def ruler_words() -> list[dict[str, object]]:
    """Figures of the rulers: place in mm of the page, and words."""
    x0, y0 = _ruler_corner()
    found: list[dict[str, object]] = []
    (across_mm, across_in), (down_mm, down_in) = RULERS["across"], RULERS["down"]
    found += [{"x": x0 + each, "y": y0 - 7.2, "words": str(each), "turn": 0} for each in range(0, across_mm + 1, 10)]
    found += [
        {"x": x0 + INCH * each + 2.2, "y": y0 + 2.0, "words": f"{each}″", "turn": 0} for each in range(1, across_in + 1)
    ]
    y0 = _ruler_top()
    found += [{"x": x0 - 11.2, "y": y0 + each, "words": str(each), "turn": -90} for each in range(0, down_mm + 1, 10)]
    found += [
        {"x": x0 - 1.6, "y": y0 + INCH * each - 2.2, "words": f"{each}″", "turn": -90} for each in range(1, down_in + 1)
    ]
    return found


def map_svg(tiling: Tiling, width: float, tallest: float) -> str:
    """The whole template in little with its pages' edges and names, SVG no larger than ``width`` by ``tallest`` mm."""
    scale, size = map_scale(tiling, width, tallest)
    parts = _map_parts(tiling, None, scale, (0.0, 0.0), names=True)
    return _page((size[0], size[1]), parts)


# ---- pieces of a page


def core_of(tiling: Tiling) -> tuple[float, float, float, float]:
    """What of a page is its own: the window less half of each overlap; left, top, right, bottom, mm."""
    left, top, width, height = tiling.window
    half = 0.5 * OVERLAP
    return left + half, top + half, left + width - half, top + height - half


Ends = tuple[tuple[float, float], tuple[float, float]]


def seams(core: tuple[float, float, float, float]) -> list[tuple[int, int, Ends]]:
    """Edges of a page's core: which neighbour lies beyond (down, right), and its ends."""
    left, top, right, bottom = core
    return [
        (-1, 0, ((left, top), (right, top))), (1, 0, ((left, bottom), (right, bottom))),
        (0, -1, ((left, top), (left, bottom))), (0, 1, ((right, top), (right, bottom))),
    ]  # fmt: skip


def _corners(core: tuple[float, float, float, float]) -> list[tuple[float, float]]:
    left, top, right, bottom = core
    return [(x, y) for x in (left, right) for y in (top, bottom)]


def _register(x: float, y: float) -> str:
    """A register mark, long hairlines and no ring: neighbours show the same one at the same place of the template."""
    arm = REGISTER
    return _line((x - arm, y), (x + arm, y), width=0.13) + _line((x, y - arm), (x, y + arm), width=0.13)


def _ruler_corner() -> tuple[float, float]:
    """Where the ruler across begins, mm."""
    return EDGE + SIDE, EDGE + HEAD - 5.0


def _ruler_top() -> float:
    """Where the ruler down begins, mm."""
    return EDGE + HEAD


def _rulers() -> Iterator[str]:
    x0, y0 = _ruler_corner()
    (across_mm, across_in), (down_mm, down_in) = RULERS["across"], RULERS["down"]
    yield _line((x0, y0), (x0 + max(across_mm, across_in * INCH), y0), width=0.13)
    for mm in range(across_mm + 1):
        yield _line((x0 + mm, y0), (x0 + mm, y0 - (4.5 if mm % 10 == 0 else 3.2 if mm % 5 == 0 else 2.0)), width=0.1)
    for sixteenth in range(16 * across_in + 1):
        x = x0 + sixteenth * INCH / 16.0
        yield _line((x, y0), (x, y0 + _inch_tick(sixteenth)), width=0.1)
    x, y = x0 - 6.0, _ruler_top()
    yield _line((x, y), (x, y + max(down_mm, down_in * INCH)), width=0.13)
    for mm in range(down_mm + 1):
        yield _line((x, y + mm), (x - (3.6 if mm % 10 == 0 else 2.6 if mm % 5 == 0 else 1.6), y + mm), width=0.1)
    for sixteenth in range(16 * down_in + 1):
        at = y + sixteenth * INCH / 16.0
        yield _line((x, at), (x + _inch_tick(sixteenth), at), width=0.1)


def _inch_tick(sixteenth: int) -> float:
    return next(length for step, length in ((16, 4.2), (8, 3.2), (4, 2.4), (2, 1.7), (1, 1.1)) if sixteenth % step == 0)


def _map(tiling: Tiling, tile: Tile) -> list[str]:
    """The map in the head of a page, at its right."""
    scale, size = map_scale(tiling, 46.0, 15.0)
    return _map_parts(tiling, tile, scale, (tiling.paper[0] - EDGE - size[0], EDGE), names=False)


def map_scale(tiling: Tiling, width: float, tallest: float) -> tuple[float, tuple[float, float]]:
    """The scale of a map no larger than ``width`` by ``tallest`` mm, and its own width and height, mm."""
    across, down = tiling.whole
    scale = min(width / across, tallest / down)
    return scale, (across * scale, down * scale)


def _map_parts(
    tiling: Tiling, here: Tile | None, scale: float, origin: tuple[float, float], *, names: bool
) -> list[str]:
    left, top, right, bottom = core_of(tiling)
    wide, tall = (right - left) * scale, (bottom - top) * scale
    parts = []
    for tile in tiling.tiles:
        x, y = origin[0] + tile.column * wide, origin[1] + tile.row * tall
        fill = "#ccc" if tile is here else "none"
        parts.append(
            f'<rect x="{x:.3f}" y="{y:.3f}" width="{wide:.3f}" height="{tall:.3f}" fill="{fill}" stroke="#777" '
            'stroke-width="0.13"/>'
        )
    first = tiling.tiles[0]
    at = origin[0] + (first.left - left) * scale, origin[1] + (first.top - top) * scale
    width = 0.3 if names else 0.18
    parts += [_drawn(trace, 1e3 * scale, at, width=width) for trace in tiling.template.traces if trace.stroke == "cut"]
    return parts


def map_names(tiling: Tiling, width: float, tallest: float) -> list[dict[str, object]]:
    """Names of the pages on :func:`map_svg`: place in mm, and words."""
    left, top, right, bottom = core_of(tiling)
    scale, _ = map_scale(tiling, width, tallest)
    wide, tall = (right - left) * scale, (bottom - top) * scale
    return [
        {
            "x": (tile.column + 0.5) * wide, "y": (tile.row + 0.5) * tall, "turn": 0,
            "words": f"({tile.name})" if tile.blank else tile.name,
        }
        for tile in tiling.tiles
    ]  # fmt: skip


def _drawn(trace: Trace, scale: float, origin: tuple[float, float], *, width: float | None = None) -> str:
    own, dashes = STROKES[trace.stroke]
    dashed = f' stroke-dasharray="{dashes}"' if dashes and width is None else ""
    look = f'fill="none" stroke="black" stroke-width="{own if width is None else width}"{dashed}'
    return f'<path d="{path_of(trace, scale, origin)}" {look}/>'


def path_of(trace: Trace, scale: float, origin: tuple[float, float]) -> str:
    """The path of an SVG, ``scale`` units a metre, y down from ``origin``; arcs stay arcs."""

    def at(point: Floats) -> str:
        return f"{origin[0] + scale * point[0]:.4f} {origin[1] - scale * point[1]:.4f}"

    said = [f"M{at(trace.points[0])}"]
    for start, end, bulge in trace.pieces():
        if bulge:
            radius = scale * float(np.hypot(*(end - start))) * (1.0 + bulge**2) / (4.0 * abs(bulge))
            said.append(f"A{radius:.4f} {radius:.4f} 0 {int(abs(bulge) > 1.0)} {int(bulge < 0.0)} {at(end)}")
        else:
            said.append(f"L{at(end)}")
    return " ".join(said) + (" Z" if trace.closed else "")


def _line(start: Sequence[float], end: Sequence[float], *, width: float, dashes: str = "", ink: str = "black") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    places = f'x1="{start[0]:.4f}" y1="{start[1]:.4f}" x2="{end[0]:.4f}" y2="{end[1]:.4f}"'
    return f'<line {places} stroke="{ink}" stroke-width="{width}"{dashed}/>'


def _page(size: tuple[float, float], parts: Sequence[str]) -> str:
    width, height = size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.4f} {height:.4f}" width="{width:.4f}mm" '
        f'height="{height:.4f}mm">\n' + "\n".join(parts) + "\n</svg>\n"
    )


def _letters(row: int) -> str:
    """A row of pages by letters: A to Z, then AA and on."""
    return (_letters(row // 26 - 1) if row >= 26 else "") + chr(ord("A") + row % 26)


def places_along(start: Floats, end: Floats, bulge: float, step: float) -> Floats:
    """Places along one piece of a trace, (K, 2), no further apart than ``step``, m."""
    if not bulge:
        count = max(math.ceil(float(np.hypot(*(end - start))) / step), 1) + 1
        return np.asarray(start + np.linspace(0.0, 1.0, count)[:, np.newaxis] * (end - start))
    radius = float(np.hypot(*(end - start))) * (1.0 + bulge**2) / (4.0 * abs(bulge))
    return _arc_points(start, end, bulge, max(math.ceil(4.0 * math.atan(abs(bulge)) * radius / step), 2) + 1)


def _arc_points(start: Floats, end: Floats, bulge: float, count: int = 33) -> Floats:
    """Places along an arc, (count, 2), its foremost points to a five-hundredth of its radius."""
    chord = end - start
    middle = 0.5 * (start + end) + 0.25 * (1.0 / bulge - bulge) * np.array([-chord[1], chord[0]])
    angles = np.linspace(0.0, 4.0 * math.atan(bulge), count)
    x, y = start - middle
    return np.asarray(
        middle + np.column_stack([x * np.cos(angles) - y * np.sin(angles), x * np.sin(angles) + y * np.cos(angles)])
    )


def _crosses(trace: Trace, at: tuple[float, float], window: tuple[float, float, float, float]) -> bool:
    """Whether any of a trace lies in a window of the page, mm."""
    for start, end, bulge in trace.pieces():
        places = _arc_points(start, end, bulge, 65) if bulge else np.array([start, end])
        page = np.column_stack([at[0] + 1e3 * places[:, 0], at[1] - 1e3 * places[:, 1]])
        if any(_line_crosses(one, two, window) for one, two in itertools.pairwise(page)):
            return True
    return False


def _line_crosses(start: Floats, end: Floats, window: tuple[float, float, float, float]) -> bool:
    """Whether a straight line has a part in a window (Liang and Barsky 1984)."""
    low, high = np.array(window[:2]), np.array(window[2:])
    enters, leaves = 0.0, 1.0
    for place, way, least, most in zip(start, end - start, low, high, strict=True):
        if way == 0.0:
            if not least <= place <= most:
                return False
            continue
        one, two = sorted(((least - place) / way, (most - place) / way))
        enters, leaves = max(enters, one), min(leaves, two)
    return bool(enters <= leaves)
