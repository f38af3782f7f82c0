"""Forms of braces: what each is made of, and the openings it leaves to the air; ``packing.braces`` says which it is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from engine.acoustics.cavity import ACROSS
from engine.acoustics.windows import Braces, Edges, Openings, edges, opening_inertance
from engine.arrays import Floats
from engine.core.compiled import Table, borrowing, compiled, in_pieces
from engine.packing.box import Box, clear_depth
from engine.packing.braces import CORNER, DOWEL, DOWELS, FRAME, RIB, STRIP, STRIPS
from engine.packing.inside import Packed
from engine.registry import Registry
from engine.space import roles
from engine.space.bodies import SAME, Body, Circle, Prism, Shape, Thing, cylinder
from engine.space.interior import Interior, at_height, level_section, round_hole
from engine.space.layout import Layout
from engine.space.panels import Telling

ARC = 16  # flat pieces of a window's corner
SHALLOWEST = 1e-3  # m, where walls meet
LEAST_PIECE = 1e-6  # m² of a brace's board: what is left between pipes that touch is no piece of it


@dataclass(frozen=True, kw_only=True)
class BraceForm:
    """One form of a brace.

    ``shapes(box, x, pipes)`` makes the pieces of one whose left face is at ``x``; ``pipes`` are the holes of all pipes
    along the width, in the section.  ``said(body, told)`` is how one is cut, after where it stands.
    """

    name: str  # in the front
    code: int
    said: Callable[[Body, Telling], str]
    shapes: Callable[[Interior, float, Sequence[Circle]], tuple[Shape, ...]]
    role: roles.Role = roles.BRACE


def _plate(
    box: Interior, low: float, high: float, x: float, cut: Sequence[shapely.Polygon], circles: Sequence[Circle]
) -> tuple[Prism, ...]:
    """Board across the section between two heights, without what is cut out of it; the largest piece first.

    What is round in what is cut out lies on ``circles``.
    """
    section, across = level_section(box.inner, low, high), (x, x + box.board)
    whole = shapely.Polygon(section)
    apart = [each for each in cut if not whole.disjoint(each)]
    each_alone = shapely.union_all(apart).area > sum(each.area for each in apart) - LEAST_PIECE
    if each_alone and all(map(whole.contains_properly, apart)):
        holes = tuple(np.asarray(each.exterior.coords)[:-1] for each in apart)
        return (Prism(section=section, x=across, holes=holes, circles=tuple(circles)),)
    # Pipes that touch a panel or each other, where no gap is asked for.
    pieces = [piece for piece in shapely.get_parts(whole - shapely.union_all(apart)) if piece.area > LEAST_PIECE]
    return tuple(
        Prism(
            section=np.asarray(piece.exterior.coords)[:-1],
            x=across,
            holes=tuple(np.asarray(ring.coords)[:-1] for ring in piece.interiors),
            circles=tuple(circles),
        )
        for piece in sorted(pieces, key=lambda piece: -piece.area)
    )


def _middles(box: Interior) -> shapely.Polygon:
    """Of a frame's window, its corners where the middles of their arcs are."""
    packed = box.packed
    corners = level_section(box.inner, float(packed.brace_low), float(packed.brace_high))
    rear, front = float(packed.brace_rear), float(packed.brace_front)
    sharp = shapely.Polygon(corners + np.array([[rear, 0.0], [-front, 0.0], [-front, 0.0], [rear, 0.0]]))
    return sharp.buffer(-CORNER, join_style="mitre", mitre_limit=1e6)


def _frame(box: Interior, x: float, pipes: Sequence[Circle]) -> tuple[Shape, ...]:
    middles = _middles(box)
    window = middles.buffer(CORNER, quad_segs=ARC)
    corners = [] if middles.is_empty else [Circle(each, CORNER) for each in np.asarray(middles.exterior.coords)[:-1]]
    cut, circles = [window, *_holes(pipes)], [*corners, *pipes]
    return _plate(box, float(box.packed.brace_start), float(box.packed.brace_end), x, cut, circles)


def _holes(pipes: Sequence[Circle]) -> list[shapely.Polygon]:
    return [round_hole(each.centre, each.radius) for each in pipes]


def _rib(box: Interior, x: float, pipes: Sequence[Circle]) -> tuple[Shape, ...]:
    packed = box.packed
    below = packed.brace_low > packed.brace_start  # the rib stands below what is open
    low, high = (packed.brace_start, packed.brace_low) if below else (packed.brace_high, packed.brace_end)
    return _plate(box, float(low), float(high), x, _holes(pipes), pipes)


def _heights(box: Interior) -> Floats:
    """Middles of strips or dowels."""
    low, high, pieces = box.packed.brace_low, box.packed.brace_high, int(box.packed.brace_pieces)
    return np.asarray(low + np.arange(1, pieces + 1) * (high - low) / (pieces + 1))


def _strips(box: Interior, x: float, pipes: Sequence[Circle]) -> tuple[Shape, ...]:
    half = 0.5 * STRIP * box.board
    return tuple(strip for z in _heights(box) for strip in _plate(box, z - half, z + half, x, [], []))


def _dowels(box: Interior, x: float, pipes: Sequence[Circle]) -> tuple[Shape, ...]:
    """Through to where all of their ends is in back and baffle."""
    radius, found = 0.5 * DOWEL * box.board, []
    slopes = (box.shell.back_slope, box.shell.baffle_slope)
    into = [radius * abs(float(slope)) for slope in slopes]
    for z in _heights(box):
        (back, _), (front, _) = at_height(box.inner[0], box.inner[3], z), at_height(box.inner[1], box.inner[2], z)
        start, end = (np.array([x + 0.5 * box.board, y, z]) for y in (back - into[0], front + into[1]))
        found.append(cylinder(start, end, radius))
    return tuple(found)


def _frame_said(body: Body, told: Telling) -> str:
    plate, inner = body.prisms[0], told.parts.inner.section
    if not plate.holes:
        return "a whole board, which no window has room in"
    opening, *pipes = sorted(map(shapely.Polygon, plate.holes), key=lambda hole: -hole.area)
    _, low, _, high = opening.bounds
    middle = 0.5 * (low + high)
    rear, _, front, _ = shapely.LineString([(-9.0, middle), (9.0, middle)]).intersection(opening).bounds
    before = rear - float(at_height(inner[0], inner[3], middle)[0])
    window = f"{told.length(high - low)} high; at half its height {told.length(front - rear)} deep"
    where = f"{told.length(before)} before the back; {told.length(low)} above the box's lower edge"
    ends = np.ptp(plate.section[:, 1]) < np.ptp(inner[:, 1]) - SAME
    more = ", and holes for the pipes" if pipes else ", from the slot's board on" if ends else ""
    return f"a frame{more}; its window {window}, {where}, corners of {told.length(CORNER)} radius"


def _rib_said(body: Body, told: Telling) -> str:
    heights = np.concatenate([plate.section[:, 1] for plate in body.prisms])
    low, high = (told.length(float(each)) for each in (heights.min(), heights.max()))
    holes = ", with holes for the pipes" if any(plate.holes for plate in body.prisms) else ""
    return f"a rib from {low} to {high} above the box's lower edge{holes}"


def _strips_said(body: Body, told: Telling) -> str:
    tall = told.length(float(np.ptp(body.prisms[0].section[:, 1])))
    return f"{_sticks('strip', [float(plate.section[:, 1].mean()) for plate in body.prisms], told)}, {tall} high"


def _dowels_said(body: Body, told: Telling) -> str:
    thick = told.length(2.0 * body.frusta[0].radii[0])
    return f"{_sticks('dowel', [float(piece.start[2]) for piece in body.frusta], told)}, ⌀\u00a0{thick}"


def _sticks(name: str, middles: Sequence[float], told: Telling) -> str:
    count, heights = len(middles), " and ".join(map(told.length, sorted(middles)))
    many = f"a {name}" if count == 1 else f"{count} {name}s"
    return f"{many} from back to baffle, {heights} above the box's lower edge (middle)"


FORMS = Registry(
    BraceForm(name="framed window", code=FRAME, said=_frame_said, shapes=_frame),
    BraceForm(name="half-height rib", code=RIB, said=_rib_said, shapes=_rib),
    BraceForm(name="strips", code=STRIPS, said=_strips_said, shapes=_strips),
    BraceForm(name="dowels", code=DOWELS, said=_dowels_said, shapes=_dowels, role=roles.DOWEL),
)
if [form.code for form in FORMS.records] != [FRAME, RIB, STRIPS, DOWELS]:
    raise ValueError("expected forms of braces in the order of their codes")


def braces_of(box: Interior, others: Sequence[Body]) -> list[Body]:
    """All braces of a box, cut alike; ``others`` are the bodies of its openings, whose pipes pass them."""
    airs = [air for body in others if body.role is roles.FREE_AIR for air in body.frusta]
    pipes = [Circle(air.start[1:], air.radii[0]) for air in airs if abs(air.axis[0]) > 0.5]
    found = []
    for number, x in enumerate(box.brace_x, start=1):
        form = FORMS.records[int(box.packed.brace_form) - 1]
        shapes = form.shapes(box, x, pipes)
        found.append(Body(f"brace {number}", form.role, Thing("brace", number), shapes, form=form.name))
    return found


def braces_in(layout: Layout) -> Braces | None:
    """What the braces of N laid-out boxes weigh, for the air in them; None where no box has any.

    Pipes along the width are taken off what is open where they pass, and their holes are open beyond their ends.
    """
    across, packed = layout.across, layout.packed
    if not np.any(packed.brace_count > 0):
        return None
    x, inertance = np.full((2, *across.brace_x.shape), np.nan)
    most = max(int(packed.brace_pieces.max()) + 1, 2)  # openings of one brace
    pieces = layout.batch.boxes, packed, across.brace_x, across.ports, most, edges(), x, inertance
    in_pieces(_weigh_braces, len(x), *pieces)
    return Braces(x=x, inertance=inertance)


@compiled
def _weigh_braces(
    start: int, stop: int, boxes: Table, packed: Table, brace_x: Floats, ports: Table, most: int, table: Edges,
    x: Floats, inertance: Floats,
) -> None:  # fmt: skip
    """Write the middles of braces (N, B), from the inner face of the left side, and their inertance."""
    openings = Openings(np.zeros(most), np.zeros(most), np.zeros(most), np.zeros(most), np.zeros(most))
    for i in range(start, stop):
        if packed[i].brace_count == 0:
            continue
        box, count, height, end, holes = boxes[i], 0, 0.0, 0.0, 0.0
        for number in range(ports.shape[1]):
            pipe = ports[i, number]
            if pipe.opening and pipe.kind == ACROSS and not math.isnan(pipe.radius):
                count, height, end = count + 1, height + pipe.z, end + pipe.x
                holes += math.pi * pipe.outer * pipe.outer
        height, end = height / max(count, 1) + box.board, end / max(count, 1)
        beyond, passed = math.nan, math.nan  # of a brace beyond the pipes' ends, of one that they pass
        for brace in range(brace_x.shape[1]):
            if math.isnan(brace_x[i, brace]):
                continue
            x[i, brace] = brace_x[i, brace] - 0.5 * box.board
            if x[i, brace] < end:
                if math.isnan(passed):
                    passed = _weigh(box, packed[i], height, holes, True, openings, table)
                inertance[i, brace] = passed
            else:
                if math.isnan(beyond):
                    beyond = _weigh(box, packed[i], height, holes, False, openings, table)
                inertance[i, brace] = beyond


@borrowing
def _weigh(
    box: Box, packed: Packed, pipe_z: float, holes: float, passed: bool, openings: Openings, table: Edges
) -> float:
    """Inertance over density of one brace, where pipes pass it or beyond their ends, 1/m.

    ``pipe_z`` is the mean height of pipes, m, ``holes`` what all of them take of a brace, m².
    """
    low, high = packed.brace_low, packed.brace_high
    openings.area[:] = 0.0
    if packed.brace_form <= RIB:
        _open(box, packed, openings, 0, low, high, packed.brace_rear, packed.brace_front)
        openings.area[0] = packed.brace_free
        beside_rib = packed.brace_form == RIB and not low < pipe_z < high
        if not passed and holes > 0.0 and (packed.brace_form == FRAME or beside_rib):
            # Holes that are not in what is open count as one as large as all of them.
            deep = max(clear_depth(box, pipe_z), SHALLOWEST)
            side = min(math.sqrt(max(holes, LEAST_PIECE)), 0.9 * deep)
            half, beside = 0.5 * holes / side, 0.5 * (deep - side)
            _open(box, packed, openings, 1, pipe_z - half, pipe_z + half, beside, beside)
        elif not passed:
            openings.area[0] += holes
    else:
        bottom, thick = packed.brace_start, (STRIP if packed.brace_form == STRIPS else DOWEL) * box.board
        for place in range(packed.brace_pieces + 1):
            top = low + (place + 1) * (high - low) / (packed.brace_pieces + 1) - 0.5 * thick
            if place == packed.brace_pieces:
                top = packed.brace_end
            _open(box, packed, openings, place, bottom, top, 0.0, 0.0)
            if passed and bottom < pipe_z < top:
                openings.area[place] = max(openings.area[place] - holes, LEAST_PIECE)
            bottom = top + thick
    secant = math.hypot(1.0, box.back_slope + 0.5 * box.taper)
    depth = max(clear_depth(box, 0.5 * (packed.brace_start + packed.brace_end)), SHALLOWEST)
    tall = packed.brace_end - packed.brace_start
    return opening_inertance(openings, tall * secant, depth / secant, box.board, table)


@borrowing
def _open(
    box: Box, packed: Packed, openings: Openings, place: int, bottom: float, top: float, behind: float, before: float
) -> None:
    """Write an opening between two heights and so far from back and baffle, m."""
    start, tall = packed.brace_start, packed.brace_end - packed.brace_start
    deep = max(clear_depth(box, 0.5 * (bottom + top)), SHALLOWEST)
    openings.low[place], openings.high[place] = (bottom - start) / tall, (top - start) / tall
    openings.rear[place], openings.front[place] = behind / deep, 1.0 - before / deep
    openings.area[place] = max(top - bottom, 0.0) * max(deep - behind - before, 0.0)
