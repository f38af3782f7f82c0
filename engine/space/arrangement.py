"""What every box has as bodies: panels, braces, drivers, the terminal cup.  Openings bring their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.facings import SIDEWAYS
from engine.packing.contents import TERMINAL_WIDTH, Contents
from engine.packing.placement import BENT, BESIDE, STRAIGHT
from engine.space.bodies import (
    BASKET,
    BRACE,
    CUP,
    CUP_FLANGE,
    DRIVER_FLANGE,
    DUCT,
    DUCT_AIR,
    FLANGE_THICKNESS,
    FREE_AIR,
    HOLE,
    MAGNET,
    PANEL,
    REAR_AIR,
    SAME,
    SLOT_BOARD,
    TERMINALS,
    Assembly,
    Body,
    Frustum,
    Prism,
    Role,
    Shape,
    Thing,
    cylinder,
    seat,
)
from engine.space.face import face_of, side_middle, side_panel_edge
from engine.space.interior import Interior, at_height, level_section, round_hole
from engine.space.layout import Layout, row_for
from engine.space.row import Company, Row, company_of, level_bays
from engine.space.ways import bent_start, bent_turn_depth, bent_turned, vent_group
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]


def interior_of(layout: Layout, i: int) -> Interior:
    """Design ``i`` of a layout, ready for bodies to be made."""
    places = _Places(layout, i)
    return Interior(
        wedge=places.wedge,
        contents=places.contents,
        face=face_of(places.wedge, places.contents.facing),
        gap=layout.rules.breathing_gap,
        round_over=layout.rules.round_over,
        laid={name: float(value[i]) for name, value in vars(layout).items() if isinstance(value, np.ndarray)},
        cup=layout.rules.cup,
        column_x=tuple(places.column_x),
        brace_x=tuple(places.brace_x),
        radiator_x=tuple(places.radiator_x),
        vent_x=tuple(places.vent_x),
    )


def assembled(box: Interior, openings: Sequence[Body]) -> Assembly:
    """Panels, braces, drivers and terminal cup of a box with the bodies of its ``openings``."""
    window = box.laid["brace_window"]
    braces = [
        brace(number, x, box.inner, board=box.board, window=window, others=openings)
        for number, x in enumerate(box.brace_x, start=1)
    ]
    return Assembly(
        outer=Prism(section=box.outer, x=(0.0, box.width)),
        inner=Prism(section=box.inner, x=(box.board, box.width - box.board)),
        bodies=(*panels(box.outer, box.inner, box.width, box.board), *braces, *_drivers(box), *openings, *_cup(box)),
    )


def panels(outer: Floats, inner: Floats, width: float, board: float) -> list[Body]:
    """Six panels: whole sides; bottom and top between them; back and baffle between those, bevelled."""
    between = (board, width - board)
    low, high = board, float(outer[2, 1]) - board
    back_low, back_high = (at_height(outer[0], outer[3], z) for z in (low, high))
    front_low, front_high = (at_height(outer[1], outer[2], z) for z in (low, high))
    shapes = {
        "left side": Prism(section=outer, x=(0.0, board)),
        "right side": Prism(section=outer, x=(width - board, width)),
        "bottom": Prism(section=np.array([outer[0], outer[1], front_low, back_low]), x=between),
        "top": Prism(section=np.array([back_high, front_high, outer[2], outer[3]]), x=between),
        "back": Prism(section=np.array([back_low, inner[0], inner[3], back_high]), x=between),
        "baffle": Prism(section=np.array([inner[1], front_low, front_high, inner[2]]), x=between),
    }
    return [
        Body(name=f"the {name} panel", role=PANEL, thing=Thing("panel", number), shapes=(shape,), panel=name)
        for number, (name, shape) in enumerate(shapes.items(), start=1)
    ]


# Drivers


def _drivers(box: Interior) -> list[Body]:
    sideways = int(box.contents.facing[0]) == SIDEWAYS
    rows, pitch = int(box.laid["driver_rows"]), float(box.contents.widest[0]) + box.gap
    found: list[Body] = []
    for number in range(int(box.contents.driver_count[0])):
        s = box.laid["driver_s"] + (number % rows) * pitch
        if sideways:
            face, inward = _in_side_panel(box, s), np.array([-1.0, 0.0, 0.0])
        else:
            face, inward = box.on_panel(box.column_x[number // rows], s, 0.0), box.inward
        found += driver(
            number + 1,
            face,
            inward,
            panel="right side" if sideways else box.panel,
            board=box.board,
            hole=0.5 * box.size("cutout_diameter"),
            magnet=0.5 * box.size("magnet_diameter"),
            flange=0.5 * box.size("outer_diameter"),
            neck=float(box.contents.neck(box.board)[0]),
            reach=float(box.contents.reach(box.board)[0]),
            rear_gap=box.size("rear_gap"),
            terminal_depth=box.size("terminal_depth"),
        )
    return found


def _in_side_panel(box: Interior, z: float) -> Floats:
    """Centre of a driver's hole in the right side panel."""
    things = box.contents
    edge = side_panel_edge(
        things.inside_diameter, things.outer_diameter, board=box.board, gap=box.gap, round_over=box.round_over
    )
    return np.array([box.width, float(side_middle(box.wedge, np.array([z]), edge)[0]), z])


def driver(
    number: int,
    face: Floats,
    inward: Floats,
    *,
    panel: str,
    board: float,
    hole: float,
    magnet: float,
    flange: float,
    neck: float,
    reach: float,
    rear_gap: float = 0.0,
    terminal_depth: float = 0.0,
) -> list[Body]:
    """Bodies of one driver, "driver 1" and so on.

    Parameters
    ----------
    face, inward
        Centre (3,) of its cut-out on the outer face of its ``panel``, and the unit vector from there into the box.
    panel, board
        Name and thickness of the panel, m.
    hole, magnet, flange
        Radii, m.
    neck, reach
        Depths behind the panel's outer face at which the basket has narrowed to the magnet, and of the rear, m.
    rear_gap
        Air kept free behind the magnet, m.
    terminal_depth
        Depth to which room for solder tags is kept beside the basket, m; none within the board.
    """
    name, thing = f"driver {number}", Thing("driver", number)
    inside, narrow, rear, air = (face + depth * inward for depth in (board, neck, reach, reach + rear_gap))
    found = seat(
        name, thing, DRIVER_FLANGE, face=face, inward=inward, panel=panel, board=board,
        hole=hole, flange=flange, rear=rear,
    )  # fmt: skip

    def body(called: str, role: Role, shape: Shape, through: str = panel) -> None:
        found.append(Body(name=called, role=role, thing=thing, shapes=(shape,), panel=through))

    if neck > board:
        body(name, BASKET, Frustum(start=inside, end=narrow, radii=(hole, magnet)))
    if reach > neck:
        body(name, MAGNET, cylinder(narrow, rear, magnet))
    if rear_gap > 0.0:
        body(f"the air behind {name}", REAR_AIR, cylinder(rear, air, magnet), "")
    if terminal_depth > board:
        body(f"the terminals of {name}", TERMINALS, _terminals(face, inward, hole, magnet, (board, terminal_depth)))
    return found


def _terminals(face: Floats, inward: Floats, hole: float, magnet: float, depths: tuple[float, float]) -> Prism:
    """Room for the solder tags: the driver is turned so that they point along the width, or up in a side panel."""
    half = min(0.5 * TERMINAL_WIDTH, magnet)
    out = float(np.sqrt(hole**2 - half**2))
    (x, y, z), (start, end) = face, depths
    if inward[0]:
        section = np.array([[y - half, z], [y + half, z], [y + half, z + out], [y - half, z + out]])
        return Prism(section=section, x=(x - end, x - start))
    along = np.array([inward[2], -inward[1]])  # the panel
    corners = [(-half, start), (half, start), (half, end), (-half, end)]
    section = np.array([face[1:] + s * along + d * inward[1:] for s, d in corners])
    return Prism(section=section, x=(float(x), float(x) + out))


# Braces and cup


def brace(number: int, x: float, inner: Floats, *, board: float, window: float, others: Sequence[Body]) -> Body:
    """A plate across the section whose left face is at ``x``.

    Cut away are ``window``, a part of its whole area, holes for pipes that pass and the channel
    of a slot, together.  ``others`` are the bodies of the openings; it ends at the board of a slot that passes it.
    """
    whole = shapely.Polygon(inner)
    section = _beyond_ducts(inner, x, others)
    plate = shapely.Polygon(section)
    target = window * whole.area - (whole.area - plate.area)
    holes = shapely.union_all([round_hole(air.start[1:], air.radii[0]) for air in _passing(others, x)])
    small, large = 0.0, 1.0
    opening = holes
    for _ in range(60):
        scale = 0.5 * (small + large)
        opening = shapely.union_all([shapely.affinity.scale(plate, scale, scale, origin="centroid"), holes])
        # What opens all round would fall out.
        opening = shapely.union_all([shapely.Polygon(piece.exterior) for piece in shapely.get_parts(opening)])
        if opening.area > target:
            large = scale
        else:
            small = scale
    rings = [piece for piece in shapely.get_parts(opening) if piece.area > SAME]
    shape = Prism(
        section=section,
        x=(x, x + board),
        holes=tuple(np.asarray(ring.exterior.coords)[:-1] for ring in rings),
    )
    return Body(name=f"brace {number}", role=BRACE, thing=Thing("brace", number), shapes=(shape,))


def _beyond_ducts(inner: Floats, x: float, others: Sequence[Body]) -> Floats:
    """What ducts along the bottom or the top leave of the inside at a place across the width."""
    for board in (body for body in others if body.role is SLOT_BOARD):
        ducts = [body for body in others if body.role in (DUCT, DUCT_AIR) and body.thing == board.thing]
        lying, channel = board.prisms[0].section[:, 1], ducts[0].prisms[0].section[:, 1]
        if any(part.x[0] <= x < part.x[1] for body in ducts for part in body.prisms):
            if lying.mean() > channel.mean():
                inner = level_section(inner, float(lying.max()), float(inner[2, 1]))
            else:
                inner = level_section(inner, float(inner[0, 1]), float(lying.min()))
    return inner


def _passing(others: Sequence[Body], x: float) -> list[Frustum]:
    """The air before the inner mouths of pipes along the width that go on beyond a place."""
    found = [air for body in others if body.role is FREE_AIR for air in body.frusta]
    return [air for air in found if abs(air.axis[0]) > 0.5 and air.end[0] > x]


def _cup(box: Interior) -> list[Body]:
    cup = box.cup
    if cup is None or np.isnan(box.laid["cup_y"]):
        return []
    centre = np.array([box.width, box.laid["cup_y"], box.laid["cup_z"]])
    return terminal_cup(
        centre, np.array([-1.0, 0.0, 0.0]), panel="right side", board=box.board,
        hole=0.5 * cup.cutout_diameter, flange=0.5 * cup.flange_diameter, depth=cup.depth,
    )  # fmt: skip


def terminal_cup(
    face: Floats, inward: Floats, *, panel: str, board: float, hole: float, flange: float, depth: float
) -> list[Body]:
    """Bodies of the terminal cup, its hole centred on ``face`` (3,); ``hole`` and ``flange`` are radii, m."""
    shapes: tuple[tuple[str, Role, Frustum], ...] = (
        ("the flange of the terminal cup", CUP_FLANGE, cylinder(face - FLANGE_THICKNESS * inward, face, flange)),
        ("the hole for the terminal cup", HOLE, cylinder(face, face + board * inward, hole)),
        ("the terminal cup", CUP, cylinder(face, face + depth * inward, hole)),
    )
    return [
        Body(name=name, role=role, thing=Thing("cup"), shapes=(shape,), panel=panel) for name, role, shape in shapes
    ]


# Places across the width


@dataclass
class _Places:
    """Where columns, braces, radiators and straight vents stand across the width of one design."""

    layout: Layout
    i: int
    column_x: list[float] = field(default_factory=list)  # of each column of drivers
    brace_x: list[float] = field(default_factory=list)  # left face of each
    radiator_x: list[float] = field(default_factory=list)
    vent_x: list[float] = field(default_factory=list)  # of straight vents through the drivers' panel

    def __post_init__(self) -> None:
        layout, i = self.layout, self.i
        one = np.array([i])
        self.wedge: Wedges = layout.wedges.take(one)
        self.contents: Contents = layout.contents.take(one)
        self.row: Row = row_for(layout, i)
        self.board = self.wedge.board
        self.gap = layout.rules.breathing_gap
        self.facing = int(self.contents.facing[0])
        self.vents = int(self.contents.vent_count[0])
        self.radiators = int(self.contents.radiator_count[0])
        self.braces = int(layout.brace_count[i])
        self.placement = int(layout.vent_placement[i])
        self.where = int(layout.vent_where[i])
        self.columns = int(layout.vent_columns[i])
        self.vent_length = float(layout.vent_length[i])
        self.bore = 0.5 * float(self.contents.vent_inner[0])
        self.rim = 0.5 * float(self.contents.vent_rim[0])
        self.bend = float(self.contents.elbow_radius[0])
        self.turn = float(bent_turn_depth(self.contents, self.board)[0])
        self._fill_row()

    def _fill_row(self) -> None:
        columns = int(self.row.count[0])
        if self.radiators:
            self._row_with_radiators(columns)
        elif self.where == BESIDE and self.placement == STRAIGHT:
            self._row_with_group(columns)
        elif self.where == BESIDE:
            self._row_beside_run(columns)
        else:
            counts = self._over(columns, self.braces + 1)
            bays = self._bays(self._level(counts))
            self._drivers_in(bays, counts)
            if self.placement == STRAIGHT:
                self._vents_in(bays)

    def _over(self, columns: int, bays: int) -> list[int]:
        """Columns of drivers over bays; one in the side panel keeps to the last."""
        return [0] * (bays - 1) + [1] if self.facing == SIDEWAYS else _spread(columns, bays)

    def _row_with_radiators(self, columns: int) -> None:
        company = company_of(self.row, self.contents, self.layout.rules)
        if company.together[0]:
            self._together(columns, company)
            return
        half, pitch = float(company.half[0]), float(company.pitch[0])
        empty = self.braces + 1 - int(company.bays[0]) - int(company.driver_bays[0])
        last = int(company.driver_bays[0]) + (0 if self.facing == SIDEWAYS else empty // 2)
        beside = _spread(self.radiators, self.braces + 1 - last)
        drivers = self._over(columns, last)
        needs = [2.0 * half + (count - 1) * pitch if count else 0.0 for count in beside]
        needs += [self._need(count) for count in drivers]
        needs[-1] = max(needs[-1], float(self.row.last[0]))
        bays = self._bays(level_bays(np.array(needs), float(company.room[0])))
        for (start, end), count in zip(bays[: len(beside)], beside, strict=True):
            self.radiator_x += _in_bay(start, end, count, pitch=pitch, half=half)
        self._drivers_in(bays[len(beside) :], drivers)

    def _together(self, columns: int, company: Company) -> None:
        """Radiators and drivers in one bay, what is left of the width spread evenly between them."""
        half, pitch, between = (float(size[0]) for size in (company.half, company.pitch, company.between))
        drivers = [] if self.facing == SIDEWAYS else [between, *[float(self.row.pitch[0])] * (columns - 1)]
        steps = np.array([half, *[pitch] * (self.radiators - 1), *drivers])
        x = self.board + np.cumsum(steps + float(company.slack[0]) / (len(steps) + 1))
        self.radiator_x, self.column_x = x[: self.radiators].tolist(), x[self.radiators :].tolist()

    def _row_with_group(self, columns: int) -> None:
        across = np.array([float(self.columns)])
        own, shared = vent_group(self.contents, columns=across, gap=self.gap, board=self.board)
        # The roomier of the two ways, as the search judged it.
        separate = self.row.own_bay(own)[0] >= self.row.shared_bay(shared)[0]
        if separate:
            counts = [0, *self._over(columns, self.braces)]
        else:
            counts = self._over(columns, self.braces + 1)
            if self.facing != SIDEWAYS or self.braces == 0:
                counts.sort()
                if counts[0] == 0:
                    counts = [counts.pop(counts.index(min(c for c in counts if c))), *counts]
        group = float((own if separate else shared)[0])
        bays = self._bays(self._level(counts, in_first=group))
        taken = group if counts[0] else 0.0
        self._drivers_in([(bays[0][0] + taken, bays[0][1]), *bays[1:]], counts)
        pitch = 2.0 * self.rim + self.gap
        first = bays[0][0] + self.gap + self.rim
        self.vent_x = [first + (number % self.columns) * pitch for number in range(self.vents)]

    def _row_beside_run(self, columns: int) -> None:
        run = self._inner_end
        if self.placement == BENT:
            run = max(run, self._first_need + self.board)
        filled = sorted(count for count in self._over(columns, self.braces + 1) if count)
        empty = self.braces + 1 - len(filled)
        counts = [0] * empty + filled
        widths = self._level(counts)
        first = float(sum(widths[:empty])) + empty * self.board  # inner left end of the first drivers' bay
        if first + widths[empty] - self._need(filled[0]) < run:
            # Narrow the bays beyond the first drivers' as far as the span of the others allows.
            most = empty * float(self.row.panel_span[0]) + float(self.row.span[0])
            others = float(self.row.room[0]) - most
            needs = np.array([self._need(count) for count in filled[1:]])
            beyond = level_bays(needs, max(others, float(needs.sum()))) if len(needs) else needs
            least = [self._first_need if number == 0 else 0.0 for number in range(empty)]
            before = level_bays(
                np.array([*least, self._need(filled[0])]), float(self.row.room[0]) - float(beyond.sum())
            )
            widths = np.concatenate([before, beyond])
        bays = self._bays(widths)
        start = max(bays[empty][0], self.board + run)
        self._drivers_in([*bays[:empty], (start, bays[empty][1]), *bays[empty + 1 :]], counts)

    @property
    def _leg(self) -> float:
        return self.vent_length - self.turn - 0.5 * np.pi * self.bend

    @property
    def _inner_end(self) -> float:
        """Where the free air before the inner mouths ends, m from the inner face of the left side."""
        if self.placement == BENT:
            return float(bent_start(self.contents, gap=self.gap)[0]) + self.bend + self._leg + 2.0 * self.bore
        return self.vent_length - self.board + 2.0 * self.bore

    @property
    def _first_need(self) -> float:
        return float(bent_turned(self.contents, gap=self.gap)[0]) if self.placement == BENT else 0.0

    def _need(self, count: int) -> float:
        return 2.0 * float(self.row.half[0]) + (count - 1) * float(self.row.pitch[0]) if count else 0.0

    def _level(self, counts: list[int], in_first: float = 0.0) -> Floats:
        needs = np.array([self._need(count) for count in counts])
        needs[0] = max(needs[0] + in_first, self._first_need)
        needs[-1] = max(needs[-1], float(self.row.last[0]))
        return level_bays(needs, float(self.row.room[0]))

    def _bays(self, widths: Floats) -> list[tuple[float, float]]:
        """Ends of the bays; the braces go between them."""
        bays, x = [], self.board
        for width in widths:
            bays.append((x, x + float(width)))
            x += float(width) + self.board
        self.brace_x = [end for _, end in bays[:-1]]
        return bays

    def _drivers_in(self, bays: Sequence[tuple[float, float]], counts: list[int]) -> None:
        if self.facing == SIDEWAYS:
            return
        for (start, end), count in zip(bays, counts, strict=True):
            self.column_x += _in_bay(start, end, count, pitch=float(self.row.pitch[0]), half=float(self.row.half[0]))

    def _vents_in(self, bays: list[tuple[float, float]]) -> None:
        """Vents in one row above or below the drivers: spread over equal bays, else all in the widest."""
        _, even = self.row.even_bay()
        widths = [end - start for start, end in bays]
        used = bays if int(even[0]) == len(bays) else [bays[int(np.argmax(widths))]]
        for (start, end), count in zip(used, _spread(self.vents, len(used)), strict=True):
            self.vent_x += _in_bay(start, end, count, pitch=2.0 * self.rim + self.gap, half=self.rim + self.gap)


def _spread(count: int, bays: int) -> list[int]:
    """``count`` things over ``bays`` as evenly as whole things go; empty bays lie between filled ones."""
    filled = min(count, bays)
    counts = [0] * bays
    for number in range(filled):
        share = count // filled + (1 if number < count % filled else 0)
        counts[int((number + 0.5) * bays / filled)] = share
    return counts


def _in_bay(start: float, end: float, count: int, *, pitch: float, half: float) -> list[float]:
    """Centres of equal things in a bay: evenly spaced where there is room, else packed in its middle."""
    if not count:
        return []
    share = (end - start) / count
    spacing = share if share >= pitch and 0.5 * share >= half else pitch
    middle = 0.5 * (start + end)
    return [middle + (number - 0.5 * (count - 1)) * spacing for number in range(count)]
