"""What is printed at full size: section, cut-outs with their screws, shaped boards, bevel gauges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from engine.arrays import Floats
from engine.quantities import Units, show, show_set_out
from engine.space.bodies import Bend, Frustum
from engine.words.voice import first_up, listed
from engine.workshop.alike import alike, names_of
from engine.workshop.board import Board, Box, Cut
from engine.workshop.board_drawing import face_of
from engine.workshop.board_files import core, seen_ring, silhouette
from engine.workshop.templates import Label, Stroke, Template, Trace, circle, crossing, path

SAME = 1e-6  # m
GAUGE = (0.150, 0.080)  # m, width and height of a bevel gauge
ROOM = 0.050  # m, half of an opening that has room for more words than its ways
PIN = 0.0015  # m, half of the cross at a drilled hole
SQUARE = math.radians(0.05)
_AROUND = {"hole": 0, "recess": 1, "drill": 2}


def templates_of(box: Box, units: Units) -> list[Template]:
    """All templates of a build, the section first."""
    return [
        _section(box, units), *_cut_outs(box, units), *_shaped(box, units), *_gauges(box, units),
    ]  # fmt: skip


def _section(box: Box, units: Units) -> Template:
    """The box as its left side is seen, with every panel along the width in it."""
    outer = box.outer.section
    traces, labels = [], []
    for board in box.boards:
        if board.role not in ("shell", "layer") or _is_side(board):
            continue
        both = np.concatenate([board.outside, board.inside])
        corners = np.asarray(shapely.MultiPoint(both[:, 1:]).convex_hull.exterior.coords)[:-1]
        traces.append(Trace(corners, np.zeros(len(corners)), "cut"))
        middle, long = corners.mean(axis=0), _longest(corners)
        angle = math.atan2(long[1], long[0])
        angle += math.pi if math.cos(angle) < -1e-9 else 0.0
        labels.append(Label((float(middle[0]), float(middle[1])), board.name, angle))
    traces.append(Trace(outer, np.zeros(len(outer)), "thin"))
    traces += [*_boards_inside(box), *_vents(box), *_dowels(box)]
    low, high = outer.min(axis=0), outer.max(axis=0)
    middle = 0.5 * (low + high)
    labels += [
        Label((float(middle[0]), float(high[1]) - 0.05), "up ↑"),
        Label((float(high[0]) - 0.06, float(middle[1])), "front →"),
        Label((float(low[0]) + 0.06, float(middle[1])), "← back"),
    ]
    sizes = " × ".join(show_set_out(float(each), units) for each in high - low)
    return Template(
        name="Section",
        said=(
            (
                f"The box cut across, {sizes} over all (deep × high). Lay boards on it to check bevels, and mark on "
                "the sides where the others land; thin lines are braces, blocks, vents and dowels."
            ),
            "The right side is its mirror image: turn the paper over.",
        ),
        face="seen from the left side, front at the right",
        traces=tuple(traces),
        labels=tuple(labels),
    )


def _boards_inside(box: Box) -> Iterator[Trace]:
    """Outlines of braces and blocks with what is cut out of them, as the left side sees them."""
    for board in box.boards:
        if board.role in ("brace", "block"):
            for ring in (
                board.profile,
                *(ring for cut in board.cuts if cut.operation == "hole" for ring in cut.outlines),
            ):
                yield Trace(board.at(ring.points)[:, 1:], ring.bulges, "thin")


def _vents(box: Box) -> Iterator[Trace]:
    """Straight pieces of pipes: round where they run along the width, else with their two sides."""
    for pipe in (part for part in box.parts if part.role == "pipe"):
        for piece in (solid for solid in pipe.solids if isinstance(solid, Frustum)):
            way, radius = np.asarray(piece.axis)[1:], float(piece.radii[0])
            if float(np.hypot(*way)) < SQUARE:
                yield circle(np.asarray(piece.start)[1:], 2.0 * radius, "thin")
            else:
                off = radius * np.array([-way[1], way[0]]) / np.hypot(*way)
                start, end = np.asarray(piece.start)[1:], np.asarray(piece.end)[1:]
                yield path(start + off, end + off, end - off, start - off, closed=True)

        for bend in (solid for solid in pipe.solids if isinstance(solid, Bend)):
            start, end = ((bend.centre + bend.radius * way)[1:] for way in (bend.first, bend.last))
            way = (end - start) / np.hypot(*(end - start))
            off = bend.tube_radius * np.array([-way[1], way[0]])
            yield path(start + off, end + off)
            yield path(start - off, end - off)


def _dowels(box: Box) -> Iterator[Trace]:
    """Dowels with both their ends, between the inner faces of back and baffle."""
    back, baffle = (box.board_called(name).inside[:, 1:] for name in ("back", "baffle"))

    def at(face: Floats, high: float) -> tuple[float, float]:
        order = np.argsort(face[:, 1])
        return float(np.interp(high, face[order, 1], face[order, 0])), high

    seen: set[float] = set()
    for dowel in (part for part in box.parts if part.role == "dowel"):
        for solid in (each for each in dowel.solids if isinstance(each, Frustum)):
            middle, radius = round(float(solid.start[2]), 6), float(solid.radii[0])
            if middle not in seen:
                seen.add(middle)
                low, high = middle - radius, middle + radius
                yield path(at(back, low), at(baffle, low), at(baffle, high), at(back, high), closed=True)


def _is_side(board: Board) -> bool:
    """Whether it stands across the width."""
    return bool(np.ptp(board.outside[:, 0]) < SAME)


def _longest(corners: Floats) -> Floats:
    ways = np.roll(corners, -1, axis=0) - corners
    return np.asarray(ways[np.argmax(np.hypot(*ways.T))])


def _cut_outs(box: Box, units: Units) -> Iterator[Template]:
    """Round cut-outs with what is screwed and sunk round them, those that are alike once; then other openings."""
    groups: dict[str, tuple[Template, list[str]]] = {}
    at: dict[str, list[str]] = {}  # the same in short, for every page
    for board in box.boards:
        if board.role in ("brace", "block"):
            continue  # printed whole
        for cut in board.cuts:
            if cut.operation != "hole" or cut.ring is None:
                continue
            traces, key = _around(board, cut)
            named = f"{cut.name} in the {board.name}"
            across, up = (show_set_out(float(each), units) for each in _middle(cut))
            if key in groups:
                other = "" if board.datum in groups[key][0].placed else f" {board.datum}"
                at[key].append(f"{cut.name} {across} and {up}{other}")
                groups[key][1].append(_placed(board, cut, units))
                continue
            first = Template(name=named, said=(), face=f"{face_of(board)} of the {board.name}", traces=traces,
                             labels=tuple(_labels(board, cut, units)), placed=f"Middle {board.datum}: ")  # fmt: skip
            groups[key], at[key] = (first, [_placed(board, cut, units)]), [f"{cut.name} {across} and {up}"]
    for key, (template, places) in groups.items():
        yield Template(
            name=f"Cut-out: {template.name}" + (f" and {len(places) - 1} more" if len(places) > 1 else ""),
            said=tuple(places), face=template.face, traces=template.traces, labels=template.labels,
            placed=template.placed + "; ".join(at[key]),
        )  # fmt: skip


def _middle(cut: Cut) -> Floats:
    assert cut.ring is not None
    if (round_ := cut.ring.round) is not None:
        return round_.centre
    corners = cut.ring.corners()
    return np.asarray(0.5 * (corners.min(axis=0) + corners.max(axis=0)))


def _around(board: Board, hole: Cut) -> tuple[tuple[Trace, ...], str]:
    """Traces of a cut-out and all that lies round the same centre, from there; and what makes others the same."""
    middle = board.seen(_middle(hole))
    traces, key = [], [f"{board.role}{board.mirrored}"]
    reach = 0.0
    for cut in board.cuts:
        if cut.operation == "notch" or not _belongs(cut, hole):
            continue
        for ring in cut.outlines:
            seen = seen_ring(board, ring)
            stroke: Stroke = "dashed" if cut.face == "inside" else "cut" if cut.operation == "hole" else "thin"
            traces.append(Trace(seen.points - middle, seen.bulges, stroke))
            reach = max(reach, float(np.abs(ring.corners() - _middle(hole)).max()))
        for place in cut.places:
            traces += crossing(board.seen(place) - middle, 0.5 * cut.diameter + PIN)
    traces += crossing((0.0, 0.0), reach + 0.008, "axis")
    key += [f"{np.round(trace.points, 5).tolist()}{np.round(trace.bulges, 5).tolist()}" for trace in traces]
    return tuple(traces), "".join(key)


def _belongs(cut: Cut, hole: Cut) -> bool:
    """Whether a cut lies round the centre of a hole."""
    if cut is hole:
        return True
    places = cut.places if len(cut.places) else _middle(cut)[np.newaxis]
    return bool(np.linalg.norm(places.mean(axis=0) - _middle(hole)) < 1e-4)


def _labels(board: Board, hole: Cut, units: Units) -> Iterator[Label]:
    corners = hole.ring.corners() if hole.ring is not None else np.zeros((1, 2))
    half = 0.5 * float(np.ptp(corners[:, 1]))
    left, right, down, up = board.ways
    wide = 0.5 * float(np.ptp(corners[:, 0]))
    beside = min(0.012, 0.4 * wide)  # off the middle lines
    yield Label((beside, 0.72 * half), f"↑ {up}")
    yield Label((beside, -0.72 * half), f"↓ {down}")
    yield Label((-0.62 * wide, min(0.006, 0.3 * half)), f"← {left}")
    yield Label((0.62 * wide, min(0.006, 0.3 * half)), f"{right} →")
    if min(wide, half) < ROOM:
        return  # the head of the page says which face it is, and places on the board
    # Off the middle, where large ones are parted between pages.
    yield Label((-0.42 * wide, 0.42 * half), f"{face_of(board)} of the {board.name}")
    yield Label((0.42 * wide, -0.42 * half), _size(hole, units))


def _size(cut: Cut, units: Units) -> str:
    assert cut.ring is not None
    if (round_ := cut.ring.round) is not None:
        return f"cut-out ⌀ {show_set_out(2.0 * round_.radius, units)}"
    wide, tall = np.ptp(cut.ring.corners(), axis=0)
    return f"{show_set_out(float(wide), units)} × {show_set_out(float(tall), units)}"


def _placed(board: Board, cut: Cut, units: Units) -> str:
    across, up = (show_set_out(float(each), units) for each in _middle(cut))
    middle = "centre" if cut.ring is not None and cut.ring.round is not None else "middle"
    return f"{first_up(cut.name)} in the {board.name}: {middle} {across} and {up} {board.datum}."


def _shaped(box: Box, units: Units) -> Iterator[Template]:
    """Boards within the box that are more than a straight outline, whole."""
    inner = [board for board in box.boards if board.role in ("brace", "block") and board.cuts]
    for same in alike(inner):
        board = same[0]
        outer, short = silhouette(board), core(board)
        traces = [Trace(outer.points, outer.bulges)]
        if outer.area - short.area > SAME:
            traces.append(Trace(short.points, short.bulges, "dashed"))
        for cut in board.cuts:
            if cut.operation == "notch":
                continue
            for ring in cut.outlines:
                seen = seen_ring(board, ring)
                traces.append(Trace(seen.points, seen.bulges, "cut" if cut.operation == "hole" else "thin"))
                if (round_ := ring.round) is not None:
                    traces += crossing(board.seen(round_.centre), round_.radius + 0.005, "axis")
        left, right, down, up = board.ways
        low, high = outer.corners().min(axis=0), outer.corners().max(axis=0)
        x, y = 0.5 * (low + high)
        inset = 0.004
        labels = (
            Label((float(x), float(high[1]) - inset), f"{board.name}: ↑ {up}"),
            Label((float(x), float(low[1]) + inset), f"↓ {down}"),
            Label((float(low[0]) + inset, float(y)), f"{left}", 0.5 * math.pi),
            Label((float(high[0]) - inset, float(y)), f"{right}", 0.5 * math.pi),
        )
        sizes = " × ".join(show_set_out(float(each), units) for each in high - low)
        count = "" if len(same) == 1 else f"{len(same)} are cut alike. "
        yield Template(
            name=first_up(names_of(same)), said=(f"{count}{sizes} over all.",), face=board.face,
            traces=tuple(traces), labels=labels,
        )  # fmt: skip


def _gauges(box: Box, units: Units) -> Iterator[Template]:
    """A gauge for each tilt of the blade: cut out of card, stood on the saw's table against the blade."""
    tilts: dict[float, list[str]] = {}
    for board in box.boards:
        for edge in board.edges:
            if abs(edge.bevel) > SQUARE:
                tilts.setdefault(round(math.degrees(abs(edge.bevel)), 2), []).append(f"{board.name} ({edge.side})")
    if not tilts:
        return
    wide, tall = GAUGE
    traces, labels = [], []
    for number, degrees in enumerate(sorted(tilts)):
        slope, base = tall * math.tan(math.radians(degrees)), -number * (tall + 0.012)
        corners = np.array([(0.0, base), (wide, base), (wide, base + tall), (slope, base + tall)])
        traces += [Trace(corners, np.zeros(4)), path((0.0, base), (0.0, base + tall), stroke="dashed")]
        off = show_set_out(tall * math.tan(math.radians(degrees)), units)
        labels += [
            Label((0.6 * wide, base + 0.62 * tall), f"{degrees:g}° from square"),
            Label(
                (0.6 * wide, base + 0.40 * tall), f"the point is {off} off square at {show(tall, 'length', units)} up"
            ),
            Label((0.6 * wide, base + 0.20 * tall), _at_most(list(dict.fromkeys(tilts[degrees])))),
            Label((0.6 * wide, base + 0.05 * tall), "this edge on the saw's table"),
        ]
    yield Template(
        name="Bevel gauge" + ("s" if len(tilts) > 1 else ""),
        said=(
            (
                "Cut out of stiff card, unplug the saw, stand it on the table and tilt the blade until it lies along "
                "the slanted edge. Then prove the setting on scrap: the blade's own scale is no measure."
            ),
        ),
        face="either face",
        traces=tuple(traces),
        labels=tuple(labels),
    )


def _at_most(names: Sequence[str], count: int = 4) -> str:
    """The first names, and how many more there are."""
    return listed([*names[:count], *([f"{len(names) - count} more"] if len(names) > count else [])])
