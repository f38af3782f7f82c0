"""Forms of braces: what each is made of, and the openings it leaves to the air; ``packing.braces`` says which it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from engine.acoustics.cavity import ACROSS
from engine.acoustics.windows import Braces, Openings, opening_inertance
from engine.arrays import Flags, Floats, Indices
from engine.packing.box import depth_at
from engine.packing.braces import CORNER, DOWEL, DOWELS, FRAME, RIB, STRIP, STRIPS
from engine.registry import Registry
from engine.space import roles
from engine.space.bodies import SAME, Body, Prism, Shape, Thing, cylinder
from engine.space.interior import Interior, at_height, level_section, round_hole
from engine.space.layout import Layout
from engine.space.panels import Telling

ARC = 16  # flat pieces of a window's corner
SHALLOWEST = 1e-3  # m, where walls meet
LEAST_PIECE = 1e-6  # m² of a brace's board: what is left between pipes that touch is no piece of it


@dataclass(frozen=True, kw_only=True)
class BraceForm:
    """One form of a brace.

    ``shapes(box, x, holes)`` makes the pieces of one whose left face is at ``x``; ``holes`` are those of all pipes
    along the width, as outlines in the section.  ``said(body, told)`` is how one is cut, after where it stands.
    """

    name: str  # in the front
    code: int
    said: Callable[[Body, Telling], str]
    shapes: Callable[[Interior, float, Sequence[shapely.Polygon]], tuple[Shape, ...]]
    role: roles.Role = roles.BRACE


def _plate(box: Interior, low: float, high: float, x: float, cut: Sequence[shapely.Polygon]) -> tuple[Prism, ...]:
    """Board across the section between two heights, without what is cut out of it; the largest piece first."""
    section, across = level_section(box.inner, low, high), (x, x + box.board)
    whole = shapely.Polygon(section)
    apart = [each for each in cut if not whole.disjoint(each)]
    each_alone = shapely.union_all(apart).area > sum(each.area for each in apart) - LEAST_PIECE
    if each_alone and all(map(whole.contains_properly, apart)):
        holes = tuple(np.asarray(each.exterior.coords)[:-1] for each in apart)
        return (Prism(section=section, x=across, holes=holes),)
    # Pipes that touch a panel or each other, where no gap is asked for.
    pieces = [piece for piece in shapely.get_parts(whole - shapely.union_all(apart)) if piece.area > LEAST_PIECE]
    return tuple(
        Prism(
            section=np.asarray(piece.exterior.coords)[:-1],
            x=across,
            holes=tuple(np.asarray(ring.coords)[:-1] for ring in piece.interiors),
        )
        for piece in sorted(pieces, key=lambda piece: -piece.area)
    )


def window(box: Interior) -> shapely.Polygon:
    """The window of a frame, its corners rounded."""
    packed = box.packed
    corners = level_section(box.inner, float(packed.brace_low), float(packed.brace_high))
    rear, front = float(packed.brace_rear), float(packed.brace_front)
    sharp = shapely.Polygon(corners + np.array([[rear, 0.0], [-front, 0.0], [-front, 0.0], [rear, 0.0]]))
    return sharp.buffer(-CORNER, join_style="mitre", mitre_limit=1e6).buffer(CORNER, quad_segs=ARC)


def _frame(box: Interior, x: float, holes: Sequence[shapely.Polygon]) -> tuple[Shape, ...]:
    return _plate(box, float(box.packed.brace_start), float(box.packed.brace_end), x, [window(box), *holes])


def _rib(box: Interior, x: float, holes: Sequence[shapely.Polygon]) -> tuple[Shape, ...]:
    packed = box.packed
    below = packed.brace_low > packed.brace_start  # the rib stands below what is open
    low, high = (packed.brace_start, packed.brace_low) if below else (packed.brace_high, packed.brace_end)
    return _plate(box, float(low), float(high), x, holes)


def _heights(box: Interior) -> Floats:
    """Middles of strips or dowels."""
    low, high, pieces = box.packed.brace_low, box.packed.brace_high, int(box.packed.brace_pieces)
    return np.asarray(low + np.arange(1, pieces + 1) * (high - low) / (pieces + 1))


def _strips(box: Interior, x: float, holes: Sequence[shapely.Polygon]) -> tuple[Shape, ...]:
    half = 0.5 * STRIP * box.board
    return tuple(strip for z in _heights(box) for strip in _plate(box, z - half, z + half, x, []))


def _dowels(box: Interior, x: float, holes: Sequence[shapely.Polygon]) -> tuple[Shape, ...]:
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
    holes = [round_hole(air.start[1:], air.radii[0]) for air in airs if abs(air.axis[0]) > 0.5]
    found = []
    for number, x in enumerate(box.brace_x, start=1):
        form = FORMS.records[int(box.packed.brace_form) - 1]
        shapes = form.shapes(box, x, holes)
        found.append(Body(f"brace {number}", form.role, Thing("brace", number), shapes, form=form.name))
    return found


def braces_in(layout: Layout) -> Braces | None:
    """What the braces of N laid-out boxes weigh, for the air in them; None where no box has any.

    Pipes along the width are taken off what is open where they pass, and their holes are open beyond their ends.
    """
    across, board = layout.across, layout.batch.boxes.board
    if not np.any(layout.brace_count > 0):
        return None
    braced = np.isfinite(across.brace_x) & (layout.brace_count > 0)[:, np.newaxis]
    ports, x = across.ports, np.where(braced, across.brace_x - 0.5 * board[:, np.newaxis], np.nan)  # of their middles
    pipes = ports.opening & (ports.kind == ACROSS) & np.isfinite(ports.radius)
    count = np.maximum(pipes.sum(axis=1), 1)
    height, end = (np.where(pipes, each, 0.0).sum(axis=1) / count for each in (ports.z, ports.x))
    holes = np.where(pipes, np.pi * ports.outer**2, 0.0).sum(axis=1)
    form = layout.packed.brace_form
    # What is open from back to baffle is quicker to weigh.
    framed = (form == FRAME) | ((form == RIB) & (holes > 0.0))
    passed, inertance = x < end[:, np.newaxis], np.full(x.shape, np.nan)
    for by_pipes in (False, True):
        here = (passed == by_pipes) & np.isfinite(x)
        for group in (framed, ~framed):
            rows = np.flatnonzero(group & here.any(axis=1))
            if rows.size:
                found = _weigh(layout, rows, height[rows] + board[rows], holes[rows], passed=by_pipes)
                inertance[rows] = np.where(here[rows], found[:, np.newaxis], inertance[rows])
    return Braces(x=x, inertance=inertance)


def _weigh(layout: Layout, rows: Indices, pipe_z: Floats, holes: Floats, *, passed: bool) -> Floats:
    """Inertance over density of one brace of some boxes, where pipes pass it or beyond their ends, 1/m.

    ``pipe_z`` are the mean heights of pipes, m, ``holes`` what all of them take of a brace, m².
    """
    packed, boxes = layout.packed[rows], layout.batch.boxes[rows]
    start, low, high, pieces = packed.brace_start, packed.brace_low, packed.brace_high, packed.brace_pieces
    tall, plate = packed.brace_end - start, packed.brace_form <= RIB
    aside = plate & (holes > 0.0) & ~((packed.brace_form == RIB) & (pipe_z > low) & (pipe_z < high))  # of what is open
    most = max(int(np.where(plate, 1, pieces + 1).max()), 2 if np.any(aside) and not passed else 1)
    from_z, to_z, rear, front, area = np.zeros((5, len(rows), most))

    def put(some: Flags, place: int, bottom: Floats, top: Floats, behind: Floats, before: Floats) -> None:
        deep = np.maximum(depth_at(boxes, 0.5 * (bottom + top)), SHALLOWEST)
        wide = np.maximum(deep - behind - before, 0.0)
        for each, value in (
            (from_z, (bottom - start) / tall), (to_z, (top - start) / tall), (rear, behind / deep),
            (front, 1.0 - before / deep), (area, np.maximum(top - bottom, 0.0) * wide),
        ):  # fmt: skip
            each[some, place] = value[some]

    put(plate, 0, low, high, packed.brace_rear, packed.brace_front)
    area[plate, 0] = packed.brace_free[plate]
    if not passed:
        area[:, 0] += np.where(plate & ~aside, holes, 0.0)
        if most > 1:
            deep = np.maximum(depth_at(boxes, pipe_z), SHALLOWEST)
            side = np.minimum(np.sqrt(np.maximum(holes, LEAST_PIECE)), 0.9 * deep)  # of a hole as large as all of them
            half, beside = 0.5 * holes / side, 0.5 * (deep - side)
            put(aside, 1, pipe_z - half, pipe_z + half, beside, beside)
    thick = np.where(packed.brace_form == STRIPS, STRIP, DOWEL) * boxes.board
    bottom, none = start, np.zeros(len(rows))
    for place in range(0 if plate.all() else most):
        middle = low + (place + 1) * (high - low) / (pieces + 1)
        top = np.where(place == pieces, packed.brace_end, middle - 0.5 * thick)
        some = ~plate & (place <= pieces)
        put(some, place, bottom, top, none, none)
        if passed:
            within = some & (pipe_z > bottom) & (pipe_z < top)
            area[within, place] = np.maximum(area[within, place] - holes[within], LEAST_PIECE)
        bottom = top + thick
    secant = np.hypot(1.0, boxes.back_slope + 0.5 * boxes.taper)
    depth = np.maximum(depth_at(boxes, 0.5 * (start + packed.brace_end)), SHALLOWEST)
    openings = Openings(low=from_z, high=to_z, rear=rear, front=front, area=area)
    return opening_inertance(openings, height=tall * secant, depth=depth / secant, thickness=boxes.board)
