"""Drawings to scale, as SVG text: the box in its space, the baffle square on, the space alone.

Plain technical drawing: heavy lines are edges to cut, thin ones outlines, dashes lie
behind something, dots keep the margin, dash-dot lines are axes.  Ink is ``currentColor``
unless the page sets ``--drawing-ink`` or, for dimensions and their words, ``--drawing-note``.
Nothing is told by colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.quantities import Units, show
from engine.scenario import Scenario
from engine.search.front import layout_of
from engine.space.arrangement import Arrangement, DriverSolid, Frustum, VentSolid, arrangement
from engine.space.envelope import Envelope
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Point = tuple[float, float]

WIDTH = 640.0  # of every drawing, in its own units
TEXT = 14.0
LETTER = 0.6  # width of a letter in text heights, on the safe side
LINE = 19.0  # from one line of text to the next
APART = 30.0  # from an outline to a dimension line

INK = "var(--drawing-ink, currentColor)"
NOTE = "var(--drawing-note, currentColor)"

# Stroke width and dashes.
CUT = (2.4, "")
OUTLINE = (1.3, "")
THIN = (0.8, "")
HIDDEN = (1.3, "7 4")
MARGIN = (1.6, "1.6 4")
AXIS = (0.9, "14 4 3 4")
REACH = (1.0, "3 3")
Pen = tuple[float, str]

PAD = 14.0


@dataclass
class _Sheet:
    """An SVG in the making.  Model coordinates (m, up is up) map to the page by ``scale`` and ``origin``."""

    name: str
    title: str
    about: str
    scale: float  # page units per m
    origin: Point  # of the model, on the page
    height: float = 0.0
    parts: list[str] = field(default_factory=list)

    def at(self, point: Sequence[float] | Floats) -> Point:
        return self.origin[0] + self.scale * float(point[0]), self.origin[1] - self.scale * float(point[1])

    def path(
        self, points: Iterable[Sequence[float]] | Floats, pen: Pen, *, closed: bool = True, wash: float = 0.0
    ) -> None:
        """A line through model points; ``wash`` fills it with that much ink."""
        places = " L".join(f"{x:.2f} {y:.2f}" for x, y in map(self.at, points))
        fill = f'fill="currentColor" fill-opacity="{wash}"' if wash else 'fill="none"'
        inked = f"fill:{INK};stroke:{INK}" if wash else f"stroke:{INK}"
        end = " Z" if closed else ""
        self.parts.append(f'<path d="M{places}{end}" {_stroke(pen)} {fill} style="{inked}"/>')

    def circle(self, centre: Sequence[float] | Floats, diameter: float, pen: Pen) -> None:
        x, y = self.at(centre)
        radius = 0.5 * diameter * self.scale
        self.parts.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="none" {_stroke(pen)} style="stroke:{INK}"/>'
        )

    def rule(self, start: Point, end: Point, pen: Pen = THIN) -> None:
        """A straight line between places on the page."""
        self.parts.append(
            f'<line x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}" '
            f'{_stroke(pen)} style="stroke:{NOTE}"/>'
        )

    def text(self, words: str, place: Point, *, anchor: str = "middle", turned: bool = False) -> None:
        """Words with their middle line at a place on the page; ``turned`` reads upward."""
        x, y = place
        turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if turned else ""
        self.parts.append(
            f'<text x="{x:.2f}" y="{y:.2f}" dy="0.35em" text-anchor="{anchor}" fill="currentColor" '
            f'style="fill:{NOTE}"{turn}>{escape(words)}</text>'
        )

    def across(self, start: float, end: float, y: float, words: str, *, sources: tuple[float, float]) -> None:
        """A level dimension on the page at height ``y``, with lines to it from the heights ``sources``."""
        for x, source in ((start, sources[0]), (end, sources[1])):
            away = 1.0 if y > source else -1.0
            self.rule((x, source + 5.0 * away), (x, y + 5.0 * away))
            self._tick(x, y)
        self.rule((start, y), (end, y))
        fits = _wide(words) < end - start - 6.0
        self.text(
            words,
            (0.5 * (start + end), y - 10.0) if fits else (end + 8.0, y),
            anchor="middle" if fits else "start",
        )

    def upward(self, low: float, high: float, x: float, words: str, *, sources: tuple[float, float]) -> None:
        """An upright dimension on the page at ``x``, with lines to it from the places ``sources``."""
        for y, source in ((low, sources[0]), (high, sources[1])):
            self.rule((source + 5.0, y), (x + 5.0, y))
            self._tick(x, y)
        self.rule((x, low), (x, high))
        self.text(words, (x + 13.0, 0.5 * (low + high)), turned=True)

    def _tick(self, x: float, y: float) -> None:
        self.rule((x - 4.0, y + 4.0), (x + 4.0, y - 4.0), OUTLINE)

    def notes(self, lines: Sequence[str], keys: Sequence[tuple[Pen, str]], top: float) -> None:
        """A key to the lines, then paragraphs, from ``top`` down; fixes the height of the sheet."""
        x, y = PAD, top
        for pen, words in keys:
            needed = 44.0 + _wide(words) + 18.0
            if x > PAD and x + needed > WIDTH:
                x, y = PAD, y + LINE
            self.rule((x, y), (x + 36.0, y), pen)
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
            f'<title id="{title}">{escape(self.title)}</title>\n<desc id="{about}">{escape(self.about)}</desc>\n'
            + "\n".join(self.parts)
            + "\n</svg>\n"
        )


def section_svg(scenario: Scenario, row: Mapping[str, Any], units: Units) -> str:
    """The box in its space, cut through a driver and seen along the width.

    ``row`` is a row of the front of ``scenario``; lengths are written in ``units``.
    """
    wedges, parts = _one(scenario, row)
    place = np.array([float(row["box_forward_m"]), float(row["box_up_m"])])
    envelope = Envelope(scenario.space)
    corners = np.asarray(scenario.space.section)
    low, high = corners.min(axis=0), corners.max(axis=0)
    sizes = {
        "height": _length(float(wedges.outer_height[0]), units),
        "top": _length(float(wedges.top_depth[0]), units),
        "bottom": _length(float(wedges.bottom_depth[0]), units),
    }
    sheet = _sheet(
        "section",
        "Section of the box in its space",
        f"Outer height {sizes['height']}, depth at the top {sizes['top']}, depth at the bottom {sizes['bottom']}. "
        f"{_leans(wedges, units)}",
        low=low,
        high=high,
        left=34.0,
        right=76.0,
        top=66.0,
        tallest=400.0,
    )
    sheet.path(corners, OUTLINE)
    for outline in envelope.outlines:
        sheet.path(outline, MARGIN)
    for panel in parts.panels[2:]:
        sheet.path(panel.section + place, CUT, wash=0.16)
    cut = parts.drivers[0].x
    for vent in parts.vents:
        _vent_in_section(sheet, vent, place, in_cut=_in_cut(vent, cut))
    _driver_in_section(sheet, parts.drivers[0], place)

    outer = parts.outer.section + place
    page = [sheet.at(corner) for corner in outer]
    above, below = sheet.at(high)[1] - APART, sheet.at(low)[1] + APART
    sheet.across(page[3][0], page[2][0], above, sizes["top"], sources=(page[3][1], page[2][1]))
    sheet.across(page[0][0], page[1][0], below, sizes["bottom"], sources=(page[0][1], page[1][1]))
    right = sheet.at(high)[0] + APART
    sheet.upward(page[1][1], page[2][1], right, sizes["height"], sources=(page[1][0], page[2][0]))
    _scale_bar(sheet, below + 34.0, units)
    notes = [_leans(wedges, units), _drivers_in_words(scenario, row, units)]
    if parts.vents:
        notes.append(_vents_in_words(row, parts, units))
    keys = [(CUT, "board, cut"), (OUTLINE, "space"), (MARGIN, "margin kept free"), (REACH, "room for the driver")]
    if not all(_in_cut(vent, cut) for vent in parts.vents):
        keys.append((HIDDEN, "vent beside the cut"))
    sheet.notes(notes, keys, below + 64.0)
    return sheet.svg()


def front_svg(scenario: Scenario, row: Mapping[str, Any], units: Units) -> str:
    """The baffle seen square on in its true size, with what lies behind it in dashes.

    Centres are measured from the left and the lower edge of the outer face.
    """
    wedges, parts = _one(scenario, row)
    width = float(wedges.outer_width[0])
    length = float(wedges.outer_height[0] * wedges.baffle_secant[0])
    shown = {name: _length(value, units) for name, value in (("width", width), ("length", length))}
    sheet = _sheet(
        "front",
        "Baffle seen square on",
        f"Outer width {shown['width']}, length of the baffle along its slope {shown['length']}. "
        f"{_drivers_in_words(scenario, row, units)}",
        low=np.zeros(2),
        high=np.array([width, length]),
        left=96.0,
        right=64.0,
        top=26.0,
        tallest=330.0,
    )
    face = _Face(wedges)
    inner_low, inner_high = (face.up(parts.inner.section[corner]) for corner in (1, 2))
    sheet.path(_rectangle(0.0, width, 0.0, length), CUT)
    sheet.path(_rectangle(*parts.inner.x, inner_low, inner_high), HIDDEN)
    for brace in parts.braces:
        for x in brace.x:
            sheet.path([(x, inner_low), (x, inner_high)], HIDDEN, closed=False)
    for vent in parts.vents:
        _vent_in_front(sheet, vent, face)
    for driver in parts.drivers:
        _driver_in_front(sheet, driver, units)

    holes = [(driver.x, driver.s) for driver in parts.drivers]
    holes += [
        (float(vent.pipe.start[0]), face.up(vent.pipe.start[1:])) for vent in parts.vents if vent.through == "baffle"
    ]
    deepest = _places_across(sheet, holes, units)
    _places_up(sheet, holes, units)
    below = deepest + 36.0
    left, right = sheet.at((0.0, 0.0)), sheet.at((width, length))
    sheet.across(left[0], right[0], below, shown["width"], sources=(left[1], left[1]))
    sheet.upward(left[1], right[1], right[0] + APART, shown["length"], sources=(right[0], right[0]))
    tall = _length(float(wedges.outer_height[0]), units)
    slope = f"The length {shown['length']} is along the slope; the box is {tall} high."
    notes = [f"{slope} Centres are from the left and the lower edge.", _drivers_in_words(scenario, row, units)]
    if parts.vents:
        notes.append(_vents_in_words(row, parts, units))
    if parts.braces:
        notes.append(_braces_in_words(parts, units))
    notes.append("The box may as well be built as its mirror image.")
    keys = [(CUT, "edge to cut"), (OUTLINE, "flange, bore"), (HIDDEN, "behind"), (AXIS, "axis")]
    sheet.notes(notes, keys, below + 36.0)
    return sheet.svg()


def space_svg(scenario: Scenario, units: Units) -> str:
    """The space with the largest box that it holds; corners are numbered as the file lists them."""
    space, board = scenario.space, scenario.stock.board_thickness
    envelope = Envelope(space)
    box = envelope.largest(board=board, back_angle=scenario.box.back_angle)
    corners = np.asarray(space.section)
    low, high = corners.min(axis=0), corners.max(axis=0)
    deep, tall = (_length(float(size), units) for size in high - low)
    if envelope.is_empty:
        found = "The margin leaves nothing of this space."
    elif box is None:
        found = "No box made of this board has an inside here."
    else:
        found = (
            f"Largest box: {show(box.gross_volume, 'volume', units)} inside before driver, vents and braces; "
            f"outside {_length(box.outer_width, units)} wide, {_length(box.outer_height, units)} high, "
            f"{_length(box.top_depth, units)} deep at the top and "
            f"{_length(box.bottom_depth, units)} at the bottom."
        )
    wide = f"The space is {_length(space.width, units)} wide."
    sheet = _sheet(
        "space",
        "The measured space and the largest box in it",
        f"{deep} deep, {tall} high. {wide} {found}",
        low=low,
        high=high,
        left=44.0,
        right=76.0,
        top=40.0,
        tallest=380.0,
    )
    sheet.path(corners, CUT)
    for outline in envelope.outlines:
        sheet.path(outline, MARGIN)
    if box is not None:
        wedge = Wedges(
            outer_width=np.array([box.outer_width]),
            outer_height=np.array([box.outer_height]),
            top_depth=np.array([box.top_depth]),
            bottom_depth=np.array([box.bottom_depth]),
            board=board,
            back_angle=scenario.box.back_angle,
        )
        place = np.array([box.y, box.z])
        sheet.path(wedge.outer_section[0] + place, OUTLINE, wash=0.08)
        sheet.path(wedge.inner_section[0] + place, HIDDEN)
    _number_corners(sheet, corners)
    (left, bottom), (right, top) = sheet.at(low), sheet.at(high)
    sheet.across(left, right, bottom + APART + 8.0, deep, sources=(bottom, bottom))
    sheet.upward(bottom, top, right + APART + 8.0, tall, sources=(right, right))
    _scale_bar(sheet, bottom + APART + 42.0, units)
    keys = [(CUT, "space, corners as listed"), (MARGIN, "margin kept free")]
    keys += [(OUTLINE, "largest box"), (HIDDEN, "its inside")] if box is not None else []
    sheet.notes([f"{wide} {found}"], keys, bottom + APART + 72.0)
    return sheet.svg()


def _one(scenario: Scenario, row: Mapping[str, Any]) -> tuple[Wedges, Arrangement]:
    wedges, layout = layout_of(scenario, pd.DataFrame([dict(row)]))
    return wedges, arrangement(layout, 0)


def _sheet(
    name: str,
    title: str,
    about: str,
    *,
    low: Floats,
    high: Floats,
    left: float,
    right: float,
    top: float,
    tallest: float,
) -> _Sheet:
    """A sheet whose model from ``low`` to ``high`` fills the room between the edges, centred."""
    size = high - low
    scale = min((WIDTH - left - right) / float(size[0]), tallest / float(size[1]))
    spare = WIDTH - left - right - scale * float(size[0])
    x = left + 0.5 * spare - scale * float(low[0])
    return _Sheet(name, title, about, scale, (x, top + scale * float(high[1])))


@dataclass(frozen=True)
class _Face:
    """The outer face of the baffle: places up its slope."""

    wedges: Wedges

    def up(self, point: Floats) -> float:
        """How far up the slope the foot of a point (y, z) of the section lies, m."""
        slope, secant = float(self.wedges.baffle_slope[0]), float(self.wedges.baffle_secant[0])
        return float(((point[0] - self.wedges.bottom_depth[0]) * slope + point[1]) / secant)


def _driver_in_section(sheet: _Sheet, driver: DriverSolid, place: Floats) -> None:
    body, flange = _outline(driver.body), _outline(driver.flange)
    centre, rear = driver.body.start[1:], driver.body.end[1:]
    reach = rear - centre
    across = np.array([-reach[1], reach[0]]) / float(np.hypot(*reach))
    hole, magnet = driver.body.radii
    # Data sheets do not say where the basket ends: the magnet is drawn over the rearmost 40 %.
    step = centre + 0.6 * reach
    sheet.path(flange + place, OUTLINE, wash=0.5)
    neck = hole + 0.6 * (magnet - hole)
    basket = [centre - hole * across, step - neck * across, step + neck * across, centre + hole * across]
    sheet.path(np.array(basket) + place, OUTLINE, closed=False)
    sheet.path(
        np.array([step - magnet * across, rear - magnet * across, rear + magnet * across, step + magnet * across])
        + place,
        OUTLINE,
        wash=0.3,
    )
    sheet.path(body + place, REACH)
    sheet.path(np.array([centre - 0.35 * reach, rear + 0.12 * reach]) + place, AXIS, closed=False)


def _in_cut(vent: VentSolid, x: float) -> bool:
    """Whether a section at ``x`` passes through a vent that lies along the width."""
    return vent.through != "baffle" and bool(vent.pipe.end[0] >= x)


def _vent_in_section(sheet: _Sheet, vent: VentSolid, place: Floats, *, in_cut: bool) -> None:
    if vent.through == "baffle":
        sheet.path(_outline(vent.pipe) + place, HIDDEN)
        sheet.path(np.array([vent.pipe.start[1:], vent.free_air.end[1:]]) + place, AXIS, closed=False)
        return
    centre = vent.pipe.start[1:] + place
    _cross(sheet, centre, vent.pipe.radii[0])
    sheet.circle(centre, 2.0 * vent.pipe.radii[0], OUTLINE if in_cut else HIDDEN)
    if in_cut:
        sheet.circle(centre, 2.0 * vent.bore.radii[0], THIN)


def _vent_in_front(sheet: _Sheet, vent: VentSolid, face: _Face) -> None:
    x, s = float(vent.pipe.start[0]), face.up(vent.pipe.start[1:])
    radius = vent.pipe.radii[0]
    if vent.through == "baffle":
        _cross(sheet, np.array([x, s]), radius)
        sheet.circle((x, s), 2.0 * radius, CUT)
        sheet.circle((x, s), 2.0 * vent.bore.radii[0], OUTLINE)
        return
    mouth = float(vent.pipe.end[0])
    sheet.path(_rectangle(x, mouth, s - radius, s + radius), HIDDEN)
    sheet.path([(x, s), (float(vent.free_air.end[0]), s)], AXIS, closed=False)


def _driver_in_front(sheet: _Sheet, driver: DriverSolid, units: Units) -> None:
    centre = np.array([driver.x, driver.s])
    hole = 2.0 * driver.cutout.radii[0]
    _cross(sheet, centre, driver.flange.radii[0])
    sheet.circle(centre, 2.0 * driver.flange.radii[0], OUTLINE)
    sheet.circle(centre, hole, CUT)
    x, y = sheet.at(centre)
    words = f"⌀ {_length(hole, units)}"
    if _wide(words) < 0.9 * hole * sheet.scale:
        sheet.text(words, (x, y + 0.5 * hole * sheet.scale * 0.45))


def _cross(sheet: _Sheet, centre: Floats, radius: float) -> None:
    """Axes of a circle, a little longer than it is wide."""
    for arm in (np.array([1.0, 0.0]), np.array([0.0, 1.0])):
        sheet.path(np.array([centre - 1.12 * radius * arm, centre + 1.12 * radius * arm]), AXIS, closed=False)


def _outline(frustum: Frustum) -> Floats:
    """Section (y, z) of a round body through its axis, which lies in the section's plane."""
    start, end = frustum.start[1:], frustum.end[1:]
    axis = end - start
    across = np.array([-axis[1], axis[0]]) / float(np.hypot(*axis))
    one, other = frustum.radii
    return np.array([start - one * across, end - other * across, end + other * across, start + one * across])


def _rectangle(left: float, right: float, low: float, high: float) -> list[Point]:
    return [(left, low), (right, low), (right, high), (left, high)]


def _places_across(sheet: _Sheet, holes: Sequence[Point], units: Units) -> float:
    """Distances of centres from the left edge, written upright below; returns how far down they reach."""
    bottom = sheet.at((0.0, 0.0))[1]
    labels = _spaced([(sheet.at((x, 0.0))[0], _length(x, units)) for x in sorted({round(h[0], 6) for h in holes})])
    longest = max(_wide(words) for _, _, words in labels)
    for x, place, words in labels:
        self_bottom = bottom + 22.0
        sheet.rule((x, bottom + 5.0), (x, bottom + 10.0))
        sheet.rule((x, bottom + 10.0), (place, self_bottom))
        sheet.text(words, (place, self_bottom + 4.0), anchor="end", turned=True)
    return bottom + 26.0 + longest


def _places_up(sheet: _Sheet, holes: Sequence[Point], units: Units) -> None:
    """Distances of centres from the lower edge, written level at the left."""
    left = sheet.at((0.0, 0.0))[0]
    heights = sorted({round(h[1], 6) for h in holes}, reverse=True)
    for y, place, words in _spaced([(sheet.at((0.0, s))[1], _length(s, units)) for s in heights]):
        sheet.rule((left - 5.0, y), (left - 10.0, y))
        sheet.rule((left - 10.0, y), (left - 20.0, place))
        sheet.text(words, (left - 24.0, place), anchor="end")


def _spaced(marks: Sequence[tuple[float, str]]) -> list[tuple[float, float, str]]:
    """Marks along a line with places for their words at least a line of text apart: (mark, place, words)."""
    places = np.array([mark for mark, _ in marks])
    for _ in range(200):
        gaps = np.diff(places)
        tight = np.flatnonzero(gaps < LINE - 1e-6)
        if not tight.size:
            break
        for gap in tight:
            push = 0.5 * (LINE - float(places[gap + 1] - places[gap]))
            places[gap] -= max(push, 0.0)
            places[gap + 1] += max(push, 0.0)
    return [(mark, float(place), words) for (mark, words), place in zip(marks, places, strict=True)]


def _number_corners(sheet: _Sheet, corners: Floats) -> None:
    """Numbers outside the corners of the space, in the order of the file."""
    middle = corners.mean(axis=0)
    for number, corner in enumerate(corners, start=1):
        x, y = sheet.at(corner)
        away = corner - middle
        away = away / max(float(np.hypot(*away)), 1e-9)
        sheet.text(str(number), (x + 14.0 * float(away[0]), y - 14.0 * float(away[1])))


def _scale_bar(sheet: _Sheet, y: float, units: Units) -> None:
    """A length to measure the drawing by, and which way it looks."""
    length, words = (0.1, "100 mm") if units == "metric" else (0.1016, "4 in")
    right = WIDTH - PAD
    left = right - length * sheet.scale
    sheet.rule((left, y), (right, y), CUT)
    for x in (left, right):
        sheet.rule((x, y - 5.0), (x, y + 5.0), OUTLINE)
    sheet.text(words, (left - 8.0, y), anchor="end")
    sheet.text("← back", (PAD, y), anchor="start")
    sheet.text("front →", (PAD + 84.0, y), anchor="start")


def _leans(wedges: Wedges, units: Units) -> str:
    def lean(angle: float) -> str:
        if abs(angle) < 5e-4:
            return "stands upright"
        return f"leans {'forward' if angle > 0.0 else 'back'} by {show(abs(angle), 'angle', units)}"

    return f"From upright, the back {lean(wedges.back_angle)} and the baffle {lean(float(wedges.baffle_angle[0]))}."


def _drivers_in_words(scenario: Scenario, row: Mapping[str, Any], units: Units) -> str:
    driver = next(one.driver for one in scenario.candidates if one.driver.name == row["driver"])
    sizes = (
        ("cut-out ⌀", driver.cutout_diameter),
        ("flange ⌀", driver.outer_diameter),
        ("mounting depth", driver.mounting_depth),
    )
    figures = ", ".join(f"{name} {_length(size, units)}" for name, size in sizes)
    return f"{_times(int(row['driver_count']), 'Driver')}{driver.name}, {figures}."


def _vents_in_words(row: Mapping[str, Any], parts: Arrangement, units: Units) -> str:
    count = len(parts.vents)
    words = (
        f"{_times(count, 'Vent')}bore ⌀ {_length(float(row['vent_diameter_m']), units)}, "
        f"pipe ⌀ {_length(float(row['vent_outer_diameter_m']), units)}, "
        f"{_length(float(row['vent_length_m']), units)} long from the outer face"
    )
    if parts.vents[0].through == "baffle":
        return f"{words}, through the baffle and square to it."
    places = "; ".join(
        f"{_length(float(vent.pipe.start[1]), units)} forward, {_length(float(vent.pipe.start[2]), units)} up"
        for vent in parts.vents
    )
    return (
        f"{words}, through a side panel. {'Centre' if count == 1 else 'Centres'} from the panel's lower back corner: "
        f"{places}. Keep {_length(float(row['vent_diameter_m']), units)} of air before the mouth."
    )


def _braces_in_words(parts: Arrangement, units: Units) -> str:
    places = ", ".join(_length(brace.x[0], units) for brace in parts.braces)
    first = parts.braces[0].x[0]
    passed = any(vent.through != "baffle" and vent.free_air.end[0] > first for vent in parts.vents)
    holes = ", the holes for the pipes included" if passed else ""
    if len(parts.braces) == 1:
        return f"Brace: left face {places} from the left edge; 60\u00a0% of it is cut away{holes}."
    return f"Braces: left faces {places} from the left edge; 60\u00a0% of each is cut away{holes}."


def _times(count: int, name: str) -> str:
    return f"{name}: " if count == 1 else f"{name}s: {count} × "


def _length(value: float, units: Units) -> str:
    """A length whose unit stays on the same line."""
    return show(value, "length", units).replace(" ", "\u00a0")


def _stroke(pen: Pen) -> str:
    width, dashes = pen
    return f'stroke="currentColor" stroke-width="{width:g}"' + (
        f' stroke-dasharray="{dashes}" stroke-linecap="round"' if dashes else ""
    )


def _wide(words: str) -> float:
    return LETTER * TEXT * len(words)
