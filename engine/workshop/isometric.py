"""The box in its space in isometric projection, from the front right above."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import KeepOut, Space
from engine.quantities import Units
from engine.space.bodies import BRACE, FLARE, PASSING_PIPE, PIPE, Prism, outer_corners
from engine.space.panels import length
from engine.workshop import words
from engine.workshop.design import Design
from engine.workshop.keepouts import name_keepouts
from engine.workshop.projection import ISOMETRIC, View, disc, edges, lift, silhouette, square_on, tube
from engine.workshop.svg import (
    APART,
    CUT,
    FAINT,
    OUTLINE,
    PENS,
    THIN,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
)

Floats = NDArray[np.float64]

TALLEST = 400.0
FAR = 44.0  # room round the drawing for dimensions
CLOSE = 1e-9  # m


def isometric_of(design: Design, space: Space, units: Units) -> str:
    """Visible edges heavy, everything inside and behind in thin dashes, space and keep-outs thin."""
    view = ISOMETRIC.placed(design.place)
    box = box_edges(design)
    contents = [*_hidden(design, view), *_on_faces(design, view)]
    around_it = _room(design, space) + [mark for keepout in space.keepouts for mark in _kept_out(design, keepout)]
    low, high = extent([*box, *contents, *around_it])
    frame = framed(low, high, left=FAR, right=FAR + 56.0, top=FAR, tallest=TALLEST)
    sheet = Sheet(
        "isometric",
        "The box in its space, in isometric projection from the front right above",
        f"{words.sizes_in_words(design, units)} {words.place_in_words(design, space, units)}",
        frame,
    )
    sheet.draw([*around_it, *contents, *box])
    _dimensions(sheet, design, units)
    below = frame.at(low)[1] + FAR
    sheet.scale_bar(below + 34.0, units, rise=math.pi / 6.0, of=" along an axis")
    sizes = (
        f"Outer sizes along the three axes: {length(design.width, units)} across, {length(design.depth, units)} "
        f"from the rearmost to the foremost point, {length(design.height, units)} up. "
        "Lengths along these axes are to scale, others are not."
    )
    sheet.height = below + 58.0
    corners = [
        np.concatenate([ISOMETRIC(lift(keepout.section, x)) for x in keepout.across]) for keepout in space.keepouts
    ]
    numbered = name_keepouts(sheet, corners, space.keepouts)
    notes = [sizes]
    if numbered:
        notes.append(words.keepouts_in_words(space.keepouts, units, numbered=True))
    keys = [(CUT, "edges of the box"), (OUTLINE, "flange, cut-out, mouth"), (FAINT, "hidden, inside")]
    keys.append((THIN, "space, kept out" if space.keepouts else "space"))
    sheet.notes(notes, keys, below + 72.0)
    return sheet.svg()


def box_edges(design: Design) -> list[Mark]:
    """The twelve edges: heavy where one of the two faces that meet in it is turned to who looks."""
    view = ISOMETRIC.placed(design.place)
    return [
        Line(
            view(np.array([edge.start, edge.end])),
            CUT if any(view.shows(normal) for normal in edge.normals) else FAINT,
            closed=False,
        )
        for edge in edges(design.parts.outer.section, design.parts.outer.x)
    ]


def _hidden(design: Design, view: View) -> list[Mark]:
    """What is inside."""
    marks: list[Mark] = []
    for brace in (body.prisms[0] for body in design.parts.of(BRACE)):
        marks += [Line(view(lift(ring, brace.x[1])), FAINT) for ring in (brace.section, *brace.holes)]
    for body in (body for body in design.drawn if body.role.inside):
        marks += [mark for prism in body.prisms for mark in _plate(view, prism)]
        if body.role in (PIPE, PASSING_PIPE):
            flares = design.own(body, FLARE)
            marks += tube(view, body.rounds, [piece for flare in flares for piece in flare.frusta], FAINT)
            last = body.frusta[-1]
            widest = max([last.radii[1], *(flare.frusta[0].radii[0] for flare in flares[1:])])
            marks.append(disc(view, last.end, last.axis, widest, FAINT))
            continue
        for piece in body.frusta:
            marks += [Line(ring, FAINT) for ring in silhouette(view, [piece])]
            if body.role.mounted:
                marks.append(disc(view, piece.end, piece.axis, piece.radii[1], FAINT))
    return marks


def _plate(view: View, board: Prism) -> list[Mark]:
    """The edges of a board inside that would show if it stood alone."""
    return [
        Line(view(np.array([edge.start, edge.end])), FAINT, closed=False)
        for edge in edges(board.section, board.x)
        if any(view.shows(normal) for normal in edge.normals)
    ]


def _on_faces(design: Design, view: View) -> list[Mark]:
    """Flanges, cut-outs and mouths on their panels: solid where the panel shows."""
    marks: list[Mark] = []
    for body in design.drawn:
        if body.role.outside is None:
            continue
        outward = square_on(design.face(body.panel)).eye
        pen = PENS[body.role.outside] if view.shows(outward) else FAINT
        marks += [disc(view, ring.start, outward, ring.radii[0], pen) for ring in body.frusta[:1]]
        marks += [Line(view(outer_corners(prism, design.parts.outer)), pen) for prism in body.prisms]
    return marks


def _room(design: Design, space: Space) -> list[Mark]:
    """The far walls of the space, as one looks into it, where the box does not hide them."""
    cover = _covered(design.parts.outer.section + design.place[1:], (float(design.low[0]), float(design.high[0])))
    marks: list[Mark] = []
    for edge in edges(space.section, (0.0, space.width)):
        if not all(ISOMETRIC.shows(normal) for normal in edge.normals):
            line = shapely.LineString(ISOMETRIC(np.array([edge.start, edge.end])))
            marks += _lines(line.difference(cover), THIN)
    return marks


def _kept_out(design: Design, keepout: KeepOut) -> list[Mark]:
    """Faces of a keep-out that show; what the box hides of them in thin dashes."""
    section, across = design.parts.outer.section + design.place[1:], (float(design.low[0]), float(design.high[0]))
    cover = _covered(section, across)
    common = cover.intersection(_covered(np.asarray(keepout.section), keepout.across))
    if common.is_empty or _nearness(keepout.section, keepout.across, common) > _nearness(section, across, common):
        cover = shapely.Polygon()
    marks: list[Mark] = []
    for edge in edges(keepout.section, keepout.across):
        if any(ISOMETRIC.shows(normal) for normal in edge.normals):
            line = shapely.LineString(ISOMETRIC(np.array([edge.start, edge.end])))
            marks += _lines(line.difference(cover), THIN) + _lines(line.intersection(cover), FAINT)
    return marks


def _covered(section: Floats, across: tuple[float, float]) -> shapely.Geometry:
    """What a prism covers on the page."""
    corners = [ISOMETRIC(lift(section, x)) for x in across]
    return shapely.MultiPoint(np.concatenate(corners)).convex_hull


def _nearness(
    section: Floats | Sequence[Sequence[float]], across: tuple[float, float], where: shapely.Geometry
) -> float:
    """How near to who looks a prism is, in m along a line of sight through a place on the page that it covers.

    Of two convex bodies apart from each other the one nearer along one such line is so
    along all; a section with corners that point inwards is taken without them.
    """
    place = where.representative_point()
    start = sum(share * way / float(way @ way) for share, way in ((place.x, ISOMETRIC.right), (place.y, ISOMETRIC.up)))
    eye, (rear, front) = ISOMETRIC.eye, (-np.inf, np.inf)
    hull = np.asarray(shapely.Polygon(section).convex_hull.exterior.coords)[:-1]
    for edge in edges(hull, across):
        for normal in edge.normals:
            toward = float(normal @ eye)
            if abs(toward) > CLOSE:
                at = float(normal @ (edge.start - start)) / toward
                rear, front = (rear, min(front, at)) if toward > 0.0 else (max(rear, at), front)
    return 0.5 * (rear + front)


def _lines(left: shapely.Geometry, pen: Pen) -> list[Mark]:
    """The pieces that are left of a straight line."""
    return [
        Line(np.asarray(piece.coords), pen, closed=False)
        for piece in shapely.get_parts(left)
        if piece.geom_type == "LineString" and piece.length > CLOSE
    ]


def _dimensions(sheet: Sheet, design: Design, units: Units) -> None:
    """Outer sizes along the projected axes, at the edges nearest to who looks."""
    low, high = design.low, design.high

    def at(x: float, y: float, z: float) -> tuple[float, float]:
        return sheet.at(ISOMETRIC(np.array([x, y, z])))

    def off(x: float, y: float) -> tuple[float, float]:
        """A step of ``APART`` along x or y, on the page."""
        way = ISOMETRIC(np.array([x, y, 0.0])) * APART
        return float(way[0]), -float(way[1])

    corners = design.parts.outer.section + design.place[1:]
    (rear, front), (rear_top, front_top) = corners[:2, 0], corners[[3, 2], 0]
    lower_right, rear_right = at(high[0], high[1], low[2]), at(high[0], low[1], low[2])
    upper_right = at(high[0], low[1], high[2])
    sheet.along(at(low[0], high[1], low[2]), lower_right, off(0.0, 1.0), length(design.width, units), anchor="end")
    sheet.along(lower_right, rear_right, off(1.0, 0.0), length(design.depth, units), anchor="start")
    sheet.along(rear_right, upper_right, off(1.0, 0.0), length(design.height, units), anchor="start")
    # Where a corner of the box is not the outermost point along y, thin lines lead on to where it would be.
    for x, y, z, outermost in (
        (low[0], front, low[2], high[1]),
        (high[0], front, low[2], high[1]),
        (high[0], rear, low[2], low[1]),
        (high[0], rear_top, high[2], low[1]),
    ):
        sheet.rule(at(x, y, z), at(x, outermost, z))
    if front_top > front + CLOSE:
        sheet.rule(at(high[0], high[1], high[2]), lower_right)
    if rear_top < rear - CLOSE:
        sheet.rule(upper_right, rear_right)
