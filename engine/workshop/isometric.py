"""The box in its space in isometric projection, from the front right above."""

from __future__ import annotations

import math

import numpy as np
import shapely

from engine.arrays import Floats
from engine.parts import KeepOut, Space
from engine.quantities import Units
from engine.space import roles
from engine.space.bodies import outer_corners
from engine.space.panels import panel_face
from engine.workshop import keepouts, words
from engine.workshop.design import Design
from engine.workshop.projection import ISOMETRIC, View, board_edges, disc, edges, lift, outlines, silhouette, square_on
from engine.workshop.svg import APART, Frame, Keys, Line, Mark, Point, Sheet, open_pieces

FAR = 44.0  # room round the drawing for dimensions
CLOSE = 1e-9  # m


def isometric_of(design: Design, space: Space, units: Units) -> str:
    """Visible edges heavy, everything inside and behind in thin dashes, space and keep-outs thin."""
    view = ISOMETRIC.placed(design.place)
    title = "The box in its space, in isometric projection from the front right above"
    sheet = Sheet("isometric", title, f"{words.sizes(design, units)} {words.place(design, space, units)}", units)
    around_it = room_behind(design, space) + [mark for keepout in space.keepouts for mark in kept_out(design, keepout)]
    marks = [*around_it, *_hidden(design, view), *_on_faces(design, view), *box_edges(design)]
    sheet.fit(marks, left=FAR, right=FAR + 82.0, top=FAR, tallest=400.0)
    sheet.draw(marks)
    dimensions(sheet, design)
    below = sheet.bottom + FAR
    sheet.scale_bar(below + 34.0, rise=math.pi / 6.0, of=" along an axis")
    width, depth, height = (sheet.length(size) for size in (design.width, design.depth, design.height))
    sizes = (
        f"Outer sizes along the three axes: {width} across, {depth} from the rearmost to the foremost point, "
        f"{height} up. Lengths along these axes are to scale, others are not."
    )
    sheet.height = below + 58.0
    corners = [np.concatenate([ISOMETRIC(lift(each.section, x)) for x in each.across]) for each in space.keepouts]
    told = keepouts.explained(sheet, corners, space.keepouts, always=False)
    keys: Keys = [("cut", "edges of the box"), ("outline", "flange, cut-out, mouth"), ("faint", "hidden, inside")]
    keys.append(("thin", "space, kept out" if space.keepouts else "space"))
    sheet.notes([sizes, *told], keys, below + 72.0)
    return sheet.svg()


def box_edges(design: Design) -> list[Mark]:
    """The twelve edges: heavy where one of the two faces that meet in it is turned to who looks."""
    view = ISOMETRIC.placed(design.place)
    return [
        Line(view(edge.ends), "cut" if any(map(view.shows, edge.normals)) else "faint", closed=False)
        for edge in edges(design.parts.outer.section, design.parts.outer.x)
    ]


def _hidden(design: Design, view: View) -> list[Mark]:
    """What is inside; of boards the edges that would show if they stood alone."""
    marks: list[Mark] = []
    for brace in design.braces:
        marks += board_edges(view, brace, 1)
    for body in (body for body in design.drawn if body.role.inside):
        boards = [edge for prism in body.prisms for edge in edges(prism.section, prism.x)]
        shown = [edge.ends for edge in boards if any(map(view.shows, edge.normals))]
        marks += [Line(view(ends), "faint", closed=False) for ends in shown]
        if body.role in (roles.PIPE, roles.PASSING_PIPE):
            flares, last = design.flares(body), body.frusta[-1]
            widest = max([last.radii[1], *(flare.frusta[0].radii[0] for flare in flares[1:])])
            marks += [*outlines(view, body, flares, "faint"), disc(view, last.end, last.axis, widest, "faint")]
            continue
        for piece in body.frusta:
            marks += [Line(ring, "faint") for ring in silhouette(view, [piece])]
            if body.role.mounted:
                marks.append(disc(view, piece.end, piece.axis, piece.radii[1], "faint"))
    return marks


def _on_faces(design: Design, view: View) -> list[Mark]:
    """Flanges, cut-outs and mouths on their panels: solid where the panel shows."""
    marks: list[Mark] = []
    for body in design.drawn:
        if body.role.outside is None:
            continue
        outward = square_on(panel_face(design.parts, body.panel)).eye
        pen = body.role.outside if view.shows(outward) else "faint"
        marks += [disc(view, ring.start, outward, ring.radii[0], pen) for ring in body.frusta[:1]]
        marks += [Line(view(outer_corners(prism, design.parts.outer)), pen) for prism in body.prisms]
    return marks


def room_behind(design: Design, space: Space) -> list[Mark]:
    """The far walls of the space, as one looks into it, where the box does not hide them."""
    cover, walls = _covered(*standing(design)), edges(space.section, (0.0, space.width))
    far = [edge.ends for edge in walls if not all(map(ISOMETRIC.shows, edge.normals))]
    return [mark for ends in far for mark in open_pieces(shapely.LineString(ISOMETRIC(ends)).difference(cover), "thin")]


def kept_out(design: Design, keepout: KeepOut) -> list[Mark]:
    """Faces of a keep-out that show; what the box hides of them in thin dashes."""
    box, other = standing(design), (np.asarray(keepout.section), keepout.across)
    cover = _covered(*box)
    common = cover.intersection(_covered(*other))
    if common.is_empty or _nearness(*other, common) > _nearness(*box, common):
        cover = shapely.Polygon()
    marks: list[Mark] = []
    for edge in edges(*other):
        if any(map(ISOMETRIC.shows, edge.normals)):
            line = shapely.LineString(ISOMETRIC(edge.ends))
            marks += open_pieces(line.difference(cover), "thin") + open_pieces(line.intersection(cover), "faint")
    return marks


def standing(design: Design) -> tuple[Floats, tuple[float, float]]:
    """The box's outer section where it stands in the space, and from where to where across the width."""
    return design.parts.outer.section + design.place[1:], (float(design.low[0]), float(design.high[0]))


def _covered(section: Floats, across: tuple[float, float]) -> shapely.Geometry:
    """What a prism covers on the page."""
    return shapely.MultiPoint(np.concatenate([ISOMETRIC(lift(section, x)) for x in across])).convex_hull


def _nearness(section: Floats, across: tuple[float, float], where: shapely.Geometry) -> float:
    """How near to who looks a prism is, in m along a line of sight through a place on the page that it covers.

    Of two convex bodies apart from each other the one nearer along one such line is so
    along all; a section with corners that point inwards is taken without them.
    """
    place = where.representative_point()
    start = sum(share * way / float(way @ way) for share, way in ((place.x, ISOMETRIC.right), (place.y, ISOMETRIC.up)))
    rear, front = -np.inf, np.inf
    hull = np.asarray(shapely.Polygon(section).convex_hull.exterior.coords)[:-1]
    for edge in edges(hull, across):
        for normal in edge.normals:
            toward = float(normal @ ISOMETRIC.eye)
            if abs(toward) > CLOSE:
                at = float(normal @ (edge.ends[0] - start)) / toward
                rear, front = (rear, min(front, at)) if toward > 0.0 else (max(rear, at), front)
    return 0.5 * (rear + front)


def dimensions(sheet: Sheet, design: Design) -> None:
    """Outer sizes along the projected axes, at the edges nearest to who looks."""
    low, high = design.low, design.high

    def at(x: float, y: float, z: float) -> Point:
        return sheet.at(ISOMETRIC(np.array([x, y, z])))

    def off(x: float, y: float) -> Point:
        """A step of ``APART`` along x or y, on the page."""
        return Frame(APART, (0.0, 0.0)).at(ISOMETRIC(np.array([x, y, 0.0])))

    corners, _ = standing(design)
    rear, front, front_top, rear_top = corners[:, 0]
    lower_right, rear_right = at(high[0], high[1], low[2]), at(high[0], low[1], low[2])
    upper_right, lower_left = at(high[0], low[1], high[2]), at(low[0], high[1], low[2])
    sheet.along(lower_left, lower_right, off(0.0, 1.0), sheet.length(design.width), anchor="end")
    sheet.along(lower_right, rear_right, off(1.0, 0.0), sheet.length(design.depth), anchor="start")
    sheet.along(rear_right, upper_right, off(1.0, 0.0), sheet.length(design.height), anchor="start")
    # Where a corner of the box is not the outermost point along y, thin lines lead on to where it would be.
    at_front, at_rear = (front, low[2], high[1]), (rear, low[2], low[1])
    at_top = (rear_top, high[2], low[1])
    for x, (y, z, outermost) in ((low[0], at_front), (high[0], at_front), (high[0], at_rear), (high[0], at_top)):
        sheet.rule(at(x, y, z), at(x, outermost, z))
    if front_top > front + CLOSE:
        sheet.rule(at(high[0], high[1], high[2]), lower_right)
    if rear_top < rear - CLOSE:
        sheet.rule(upper_right, rear_right)
