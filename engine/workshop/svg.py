"""The sheet of a drawing: pens, lines and rings to scale, dimensions, words that keep out of each other's way.

Ink is ``currentColor`` unless the page sets ``--drawing-ink`` or, for dimensions and their words, ``--drawing-note``.
Words cover the lines under them where the page sets its colour as ``--drawing-paper``.  Nothing is told by colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.ops import nearest_points

from engine.arrays import Floats
from engine.markup import in_markup
from engine.quantities import Units
from engine.space import panels
from engine.space.roles import Pen

Point = tuple[float, float]
Place = tuple[Point, str]  # for words: where they are anchored on the page, and how
Box = tuple[float, float, float, float]  # left, top, right, bottom on the page
Keys = list[tuple[Pen, str]]  # of a drawing: what its lines are

WIDTH = 460.0  # of every drawing, in its own units: about the pixels of half a page, so that words stay as large as set
TEXT = 14.0
LETTER = 0.6  # width of a letter in text heights, on the safe side
LINE = 19.0  # from one line of text to the next
APART = 30.0  # from an outline to a dimension line
COLUMN = 38.0  # from one upright dimension line to the next
PAD = 14.0

INK = "var(--drawing-ink, currentColor)"
NOTE = "var(--drawing-note, currentColor)"
HALO = "paint-order:stroke;stroke:var(--drawing-paper, transparent);stroke-width:4"  # keeps lines off words

PENS: dict[Pen, tuple[float, str]] = {  # stroke width and dashes
    "cut": (2.4, ""), "outline": (1.3, ""), "thin": (0.8, ""), "hidden": (1.3, "7 4"), "faint": (0.8, "4 3"),
    "rounded": (0.8, "11 3"), "margin": (1.6, "1.6 4"), "axis": (0.9, "14 4 3 4"), "reach": (1.0, "3 3"),
}  # fmt: skip

HATCH = 8.0  # between the lines of a hatched area
LEAD = 9.0  # how far into an outline the line from its name goes
FARTHER = 6.0  # of lines under words, rather than to take the next place
SPECK = 1e-9  # m, pieces of lines that are not drawn


@dataclass(frozen=True)
class Line:
    """A line through points (K, 2) of the model; ``wash`` fills it with that much ink."""

    points: Floats
    pen: Pen
    closed: bool = True
    wash: float = 0.0


@dataclass(frozen=True)
class Ring:
    """A circle seen at a slant: ``half`` holds two half-diameters (2, 2) that were square to each other."""

    centre: Floats
    half: Floats
    pen: Pen
    wash: float = 0.0


Mark = Line | Ring


@dataclass(frozen=True)
class Frame:
    """Where the model lies on the page: its coordinates are m, up is up."""

    scale: float  # page units per m
    origin: Point  # of the model, on the page

    def at(self, point: Sequence[float] | Floats) -> Point:
        return self.origin[0] + self.scale * float(point[0]), self.origin[1] - self.scale * float(point[1])


def extent(marks: Iterable[Mark]) -> tuple[Floats, Floats]:
    """Least and greatest coordinates of marks, (2,) each."""
    points = []
    for mark in marks:
        if isinstance(mark, Ring):
            reach = np.hypot(mark.half[0], mark.half[1])
            points += [mark.centre - reach, mark.centre + reach]
        else:
            points += [mark.points.min(axis=0), mark.points.max(axis=0)]
    return np.min(points, axis=0), np.max(points, axis=0)


def hatching(outline: Floats, frame: Frame) -> list[Line]:
    """Slanted lines over the area inside an outline of the model."""
    area = shapely.make_valid(shapely.Polygon(outline))
    left, low, right, high = area.bounds
    step = HATCH * np.sqrt(2.0) / frame.scale
    shifts = np.arange(np.ceil((left - high) / step) * step, right - low, step)
    strokes = [[(shift + low - 1.0, low - 1.0), (shift + high + 1.0, high + 1.0)] for shift in shifts]
    return open_pieces(shapely.intersection(area, shapely.linestrings(strokes)), "thin") if strokes else []


def open_pieces(strokes: shapely.Geometry, pen: Pen) -> list[Line]:
    """The pieces that are left of straight lines."""
    pieces = [piece for piece in shapely.get_parts(strokes) if piece.geom_type == "LineString" and piece.length > SPECK]
    return [Line(np.asarray(piece.coords), pen, closed=False) for piece in pieces]


def closed_pieces(area: shapely.Geometry) -> list[Floats]:
    """Corners (K, 2) of the outlines of what polygons there are in an area."""
    pieces = [piece for piece in shapely.get_parts(area) if piece.geom_type == "Polygon" and not piece.is_empty]
    return [np.asarray(piece.exterior.coords)[:-1] for piece in pieces]


@dataclass
class Sheet:
    """An SVG in the making.  What is of the model goes through ``frame``, the rest is in page units."""

    name: str
    title: str
    about: str
    units: Units
    frame: Frame = field(default_factory=lambda: Frame(1.0, (0.0, 0.0)))
    left: float = 0.0  # of what is framed, on the page
    right: float = 0.0
    top: float = 0.0
    bottom: float = 0.0
    height: float = 0.0
    parts: list[str] = field(default_factory=list)
    words: list[Box] = field(default_factory=list)  # taken by text and key
    strokes: list[shapely.LineString] = field(default_factory=list)  # every line on the page but rings

    def fit(self, marks: Iterable[Mark], *, left: float, right: float, top: float, tallest: float) -> None:
        """Frame the model so that ``marks`` fill the room between the edges, centred."""
        low, high = extent(marks)
        size = np.maximum(high - low, 1e-3)
        scale = min((WIDTH - left - right) / float(size[0]), tallest / float(size[1]))
        spare = WIDTH - left - right - scale * float(size[0])
        x = left + 0.5 * spare - scale * float(low[0])
        self.frame = Frame(scale, (x, top + scale * float(high[1])))
        (self.left, self.bottom), (self.right, self.top) = self.at(low), self.at(high)

    def length(self, value: float) -> str:
        return panels.length(value, self.units)

    def at(self, point: Sequence[float] | Floats) -> Point:
        return self.frame.at(point)

    def draw(self, marks: Iterable[Mark]) -> None:
        for mark in marks:
            look = f'fill="none" style="stroke:{INK}"'
            if mark.wash:
                look = f'fill="currentColor" fill-opacity="{mark.wash:g}" style="fill:{INK};stroke:{INK}"'
            shape = self._ring(mark) if isinstance(mark, Ring) else self._line(mark)
            self.parts.append(f"<{shape} {_stroke(mark.pen)} {look}/>")

    def _line(self, line: Line) -> str:
        corners = [self.at(point) for point in line.points]
        self.strokes.append(shapely.LineString([*corners, *corners[: int(line.closed)]]))
        places = " L".join(f"{x:.2f} {y:.2f}" for x, y in corners)
        return f'path d="M{places}{" Z" if line.closed else ""}"'

    def _ring(self, ring: Ring) -> str:
        x, y = self.at(ring.centre)
        # Columns of ``turn`` are the ellipse's own axes on the page, where down is positive.
        turn, radii, _ = np.linalg.svd((ring.half * [1.0, -1.0]).T * self.frame.scale)
        place = f'cx="{x:.2f}" cy="{y:.2f}"'
        if radii[0] - radii[1] < 1e-3:
            return f'circle {place} r="{radii[0]:.2f}"'
        turned = f"rotate({np.degrees(np.arctan2(turn[1, 0], turn[0, 0])):.3f} {x:.2f} {y:.2f})"
        return f'ellipse {place} rx="{radii[0]:.2f}" ry="{radii[1]:.2f}" transform="{turned}"'

    def rule(self, start: Point, end: Point, pen: Pen = "thin") -> None:
        """A straight line between places on the page."""
        self.strokes.append(shapely.LineString([start, end]))
        ends = f'x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}"'
        self.parts.append(f'<line {ends} {_stroke(pen)} style="stroke:{NOTE}"/>')

    def text(self, words: str, place: Point, *, anchor: str = "middle", turned: bool = False) -> None:
        """Words with their middle line at a place on the page; ``turned`` reads upward."""
        x, y = place
        turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if turned else ""
        look = f'text-anchor="{anchor}" fill="currentColor" style="fill:{NOTE};{HALO}"{turn}'
        self.parts.append(f'<text x="{x:.2f}" y="{y:.2f}" dy="0.35em" {look}>{in_markup(words)}</text>')
        self.words.append(_box(words, place, anchor=anchor, turned=turned))

    def label(self, names: Sequence[str], places: Sequence[Place], *, of: Floats | None = None) -> str:
        """Writes the first of ``names`` that is free of other words at one of ``places``; returns it, "" where none is.

        Of the places that are free it goes where it lies over least of the lines drawn.
        From there a thin line leads into the outline ``of`` what it names, corners (K, 2) of the model.
        """
        for words in names:
            found: list[tuple[float, int, Place, Box]] = []
            for order, (place, anchor) in enumerate(places):
                left, top, right, bottom = box = _box(words, place, anchor=anchor)
                inside = left >= 2.0 and right <= WIDTH - 2.0 and top >= 2.0 and bottom <= self.height - 2.0
                if inside and not any(left < r and x < right and top < b and y < bottom for x, y, r, b in self.words):
                    crossed = shapely.length(shapely.intersection(self.strokes, shapely.box(*box))).sum()
                    found.append((float(crossed) + FARTHER * order, order, (place, anchor), box))
            if found:
                _, _, (place, anchor), box = min(found)
                if of is not None:
                    self._lead(box, np.array([self.at(corner) for corner in of]))
                self.text(words, place, anchor=anchor)
                return words
        return ""

    def _lead(self, box: Box, outline: Floats) -> None:
        """A line from the edge of a box of words to a dot in an outline beside it."""
        area, words = shapely.MultiPoint(outline).convex_hull, shapely.box(*box)
        if area.intersects(words):
            return
        near, start = (np.asarray(point.coords)[0] for point in nearest_points(area, words))
        inward = outline.mean(axis=0) - near
        end = near + inward * min(1.0, LEAD / max(float(np.hypot(*inward)), 1e-9))
        self.rule((start[0], start[1]), (end[0], end[1]))
        place = f'cx="{end[0]:.2f}" cy="{end[1]:.2f}"'
        self.parts.append(f'<circle {place} r="1.8" fill="currentColor" style="fill:{NOTE}"/>')

    def across(self, start: Point, end: Point, y: float, words: str, *, beyond: str = "end") -> None:
        """A level dimension at height ``y`` of the page between two places on it; longer words go ``beyond`` an end."""
        (left, _), (right, _) = start, end
        ways = [(x, source, 5.0 if y > source else -5.0) for x, source in (start, end)]
        leads = [((x, source + away), (x, y + away)) for x, source, away in ways]
        self._dimension(leads, (left, y), (right, y))
        if wide(words) < right - left - 6.0:
            self.text(words, (0.5 * (left + right), y - 10.0))
        else:
            x, anchor = (right + 8.0, "start") if beyond == "end" else (left - 8.0, "end")
            self.text(words, (x, y), anchor=anchor)

    def upward(self, low: Point, high: Point, x: float, words: str) -> None:
        """An upright dimension at ``x`` on the page between two places on it."""
        leads = [((source + 5.0, y), (x + 5.0, y)) for source, y in (low, high)]
        self._dimension(leads, (x, low[1]), (x, high[1]))
        middle = max(0.5 * (low[1] + high[1]), 0.5 * wide(words) + 2.0)  # not over the edge of the sheet
        self.text(words, (x + 13.0, middle), turned=True)

    def along(self, start: Point, end: Point, away: Point, words: str, *, anchor: str) -> None:
        """A dimension between any two places on the page, moved ``away`` from them, its words to "start" or "end"."""
        shares = (0.15, 1.0 + 5.0 / float(np.hypot(*away)), 1.0)
        from_, to, moved = ([(x + share * away[0], y + share * away[1]) for x, y in (start, end)] for share in shares)
        self._dimension(list(zip(from_, to, strict=True)), *moved)
        (left, top), (right, bottom) = moved
        lower = 0.0 if abs(left - right) < 1.0 else 11.0
        middle = 0.5 * (left + right) + (9.0 if anchor == "start" else -9.0), 0.5 * (top + bottom) + lower
        self.text(words, middle, anchor=anchor)

    def _dimension(self, leads: Sequence[tuple[Point, Point]], start: Point, end: Point) -> None:
        """A dimension line with ticks at its ends, and the lines that lead to them."""
        for lead, (x, y) in zip(leads, (start, end), strict=True):
            self.rule(*lead)
            self.rule((x - 4.0, y + 4.0), (x + 4.0, y - 4.0), "outline")
        self.rule(start, end)

    def scale_bar(self, y: float, *, ways: Sequence[str] = (), rise: float = 0.0, of: str = "") -> None:
        """A length to measure the drawing by, and which way it looks; ``rise`` slants the bar by that much."""
        length, words = (0.1, "100 mm") if self.units == "metric" else (0.1016, "4 in")
        right, size = WIDTH - PAD, length * self.frame.scale
        left, lift = right - size * float(np.cos(rise)), 0.5 * size * float(np.sin(rise))
        self.rule((left, y - lift), (right, y + lift), "cut")
        for x, middle in ((left, y - lift), (right, y + lift)):
            self.rule((x, middle - 5.0), (x, middle + 5.0), "outline")
        self.text(words + of, (left - 8.0, y), anchor="end")
        x = PAD
        for way in ways:
            self.text(way, (x, y), anchor="start")
            x += wide(way) + 2.0 * TEXT

    def notes(self, lines: Sequence[str], keys: Keys, top: float) -> None:
        """A key to the lines, then paragraphs, from ``top`` down; fixes the height of the sheet."""
        x, y = PAD, top
        for pen, words in keys:
            needed = 44.0 + wide(words) + 18.0
            if x > PAD and x + needed > WIDTH:
                x, y = PAD, y + LINE
            self.rule((x, y), (x + 36.0, y), pen)
            self.words.append((x, y - 6.0, x + 36.0, y + 6.0))
            self.text(words, (x + 44.0, y), anchor="start")
            x += needed
        y += 1.3 * LINE
        for line in lines:
            for part in textwrap.wrap(line, int((WIDTH - 2.0 * PAD) / (LETTER * TEXT))):
                self.text(part, (PAD, y), anchor="start")
                y += LINE
            y += 0.25 * LINE
        self.height = y

    def svg(self) -> str:
        title, about = f"{self.name}-title", f"{self.name}-about"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {self.height:.0f}" width="{WIDTH:g}" '
            f'height="{self.height:.0f}" role="img" aria-labelledby="{title} {about}" '
            f"font-family=\"system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif\" "
            f'font-size="{TEXT:g}" stroke-linejoin="round">\n'
            f'<title id="{title}">{in_markup(self.title)}</title>\n<desc id="{about}">{in_markup(self.about)}</desc>\n'
            + "\n".join(self.parts)
            + "\n</svg>\n"
        )


def spaced(marks: Sequence[tuple[float, str]]) -> list[tuple[float, float, str]]:
    """Marks in order along a line with places for their words a line of text apart: (mark, place, words)."""
    places = np.array([mark for mark, _ in marks])
    for _ in range(200):
        tight = np.flatnonzero(np.diff(places) < LINE - 1e-6)
        if not tight.size:
            break
        for gap in tight:
            push = max(0.5 * (LINE - float(places[gap + 1] - places[gap])), 0.0)
            places[gap] -= push
            places[gap + 1] += push
    return [(mark, float(place), words) for (mark, words), place in zip(marks, places, strict=True)]


def wide(words: str) -> float:
    return LETTER * TEXT * len(words)


def _box(words: str, place: Point, *, anchor: str, turned: bool = False) -> Box:
    (x, y), needed = place, wide(words)
    shift = {"start": 0.0, "middle": -0.5, "end": -1.0}[anchor] * needed
    half = 0.5 * TEXT
    if turned:
        return x - half, y - shift - needed, x + half, y - shift
    return x + shift, y - half, x + shift + needed, y + half


def _stroke(pen: Pen) -> str:
    width, dashes = PENS[pen]
    dashed = f' stroke-dasharray="{dashes}" stroke-linecap="round"' if dashes else ""
    return f'stroke="currentColor" stroke-width="{width:g}"{dashed}'
