"""Exact solids of one design: panels, drivers, radiators, vents and braces at their places.

Axes of the box: x from the outer face of the left side panel across the width, y and z as
in ``wedge.py``.  Lengths in m.  For drawings and for checks with a geometry library; the
search never comes here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.space.channel import Channel
from engine.space.contents import DOWN, SIDEWAYS, TERMINAL_WIDTH, Contents
from engine.space.face import Face, face_of, side_middle, side_panel_edge
from engine.space.layout import Layout, row_for
from engine.space.row import Company, Row, company_of, level_bays
from engine.space.vents import BENT, BESIDE, SIDE, SLOT_BAFFLE, SLOT_SIDE, STRAIGHT
from engine.space.ways import bent_start, bent_turn_depth, bent_turned, block_at, side_vent_at, vent_group
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

FLANGE_THICKNESS = 0.005  # m, for the picture only
SAME = 1e-9  # m
ROUND = 64  # corners of a pipe's hole in a brace or a block, drawn round the pipe


@dataclass(frozen=True, kw_only=True)
class Prism:
    """A plate or body of constant cross-section (y, z) between two places across the width."""

    name: str
    section: Floats  # (K, 2)
    x: tuple[float, float]
    holes: tuple[Floats, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Frustum:
    """A round body between two centres (x, y, z); a cylinder where the radii are the same."""

    name: str
    start: Floats  # (3,)
    end: Floats  # (3,)
    radii: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Bend:
    """A quarter bend of round pipe: a tube of ``tube_radius`` round an arc of ``radius``.

    The arc runs from ``centre + radius·first`` to ``centre + radius·last``; ``first`` and
    ``last`` are unit vectors square to each other.
    """

    name: str
    centre: Floats  # (3,)
    first: Floats  # (3,)
    last: Floats  # (3,)
    radius: float  # m, of the centre line
    tube_radius: float  # m


@dataclass(frozen=True, kw_only=True)
class DriverSolid:
    """A driver in its panel.

    ``body`` lies behind the panel's inner face: basket, then magnet where its depth is
    stated.  ``terminals`` is the room of the solder tags beside the basket.  ``rear_air``
    is kept free behind the magnet.  ``cutout`` lies in the panel, ``flange`` on it.
    """

    body: tuple[Frustum, ...]
    cutout: Frustum
    flange: Frustum
    rear_air: Frustum
    terminals: Prism | None
    panel: str  # name of the panel it is in
    x: float  # centre of the cut-out, m from the left outer face
    s: float  # the same along the panel's outer face, up or forward, from its lower or rear edge


@dataclass(frozen=True, kw_only=True)
class VentSolid:
    """A vent, from the panel's outer face to the inner mouth, and the air kept free.

    ``pipe`` holds its outside piece by piece, ``bore`` its opening; both have one straight
    piece, or two with a bend between.  ``rims`` are the flares at either end, outer first, each as
    a cylinder as wide as its rim; the quarter round within has ``flare_radius``.  ``free_air``
    lies before the inner mouth, ``outside`` before the outer mouth where the space has to leave it.
    """

    pipe: tuple[Frustum | Bend, ...]
    bore: tuple[Frustum | Bend, ...]
    free_air: Frustum
    through: str  # name of the panel
    outside: Frustum | None = None
    rims: tuple[Frustum, ...] = ()
    flare_radius: float = 0.0  # m

    @property
    def radius(self) -> float:
        """Outer radius of the pipe, m."""
        first = self.pipe[0]
        assert isinstance(first, Frustum)
        return first.radii[0]

    @property
    def mouth(self) -> Floats:
        """Centre of the outer mouth (x, y, z)."""
        first = self.pipe[0]
        assert isinstance(first, Frustum)
        return first.start

    @property
    def inner_mouth(self) -> Floats:
        """Centre of the inner mouth (x, y, z)."""
        return self.free_air.start


@dataclass(frozen=True, kw_only=True)
class RadiatorSolid:
    """A passive radiator in its panel: ``body`` behind the panel's inner face, as wide as the ``cutout`` in it."""

    body: Frustum
    cutout: Frustum
    flange: Frustum
    panel: str
    x: float  # centre of the cut-out, m from the left outer face
    s: float  # the same along the panel's outer face, up or forward, from its lower or rear edge


@dataclass(frozen=True, kw_only=True)
class SlotSolid:
    """A slot vent along the bottom or the top, and the air kept free.

    ``boards`` close it towards the box: one along the width, and a second one beside its
    turn along the right side panel if it has one.  ``bore`` is its opening piece by piece: through the panel,
    along the width, along the right side panel.  ``mouth`` has the corners of the outer
    mouth on the outer face of the panel it goes ``through``, (4, 3) m.
    """

    boards: tuple[Prism, ...]
    bore: tuple[Prism, ...]
    free_air: Prism
    mouth: Floats
    through: str  # name of the panel
    outside: Prism | None = None


@dataclass(frozen=True, kw_only=True)
class CupSolid:
    """The terminal cup in its panel: ``body`` from the panel's outer face inward, ``flange`` on that face."""

    body: Frustum
    flange: Frustum
    panel: str


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """Everything of one design in the box's axes."""

    outer: Prism
    inner: Prism
    panels: tuple[Prism, ...]
    drivers: tuple[DriverSolid, ...]
    vents: tuple[VentSolid, ...]
    braces: tuple[Prism, ...]
    supports: tuple[Prism, ...]  # blocks that carry long vents
    cup: CupSolid | None
    radiators: tuple[RadiatorSolid, ...] = ()
    slot: SlotSolid | None = None


def arrangement(layout: Layout, i: int) -> Arrangement:
    """Place everything of design ``i`` of a layout; made for designs whose slacks are all ≥ 0."""
    return _Builder(layout, i).arrangement()


@dataclass
class _Builder:
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
        self.face: Face = face_of(self.wedge, self.contents.facing)
        self.drivers = int(self.contents.driver_count[0])
        self.vents = int(self.contents.vent_count[0])
        self.radiators = int(self.contents.radiator_count[0])
        self.braces = int(layout.brace_count[i])
        self.placement = int(layout.vent_placement[i])
        self.where = int(layout.vent_where[i])
        self.columns = int(layout.vent_columns[i])
        self.vent_length = float(layout.vent_length[i])
        self.pipe = 0.5 * float(self.contents.vent_outer[0])
        self.bore = 0.5 * float(self.contents.vent_inner[0])
        self.rim = 0.5 * float(self.contents.vent_rim[0])
        self.flare = float(self.contents.flare_radius[0])
        self.bend = float(self.contents.elbow_radius[0])
        self.turn = float(bent_turn_depth(self.contents, self.board)[0])
        self.mouth_panel = "bottom" if self.facing == DOWN else "baffle"
        self._fill_row()

    @property
    def width(self) -> float:
        return float(self.wedge.outer_width[0])

    @property
    def inward(self) -> Floats:
        """Unit vector square to the drivers' panel (the baffle, if they are in a side panel), into the box."""
        return np.array([0.0, -float(self.face.up[0, 1]), float(self.face.up[0, 0])])

    def on_panel(self, x: float, s: float, depth: float) -> Floats:
        y, z = self.face.at(np.array([s]), np.array([depth]))
        return np.array([x, float(y[0]), float(z[0])])

    # Across the width

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

    # Solids

    def arrangement(self) -> Arrangement:
        outer, inner = self.wedge.outer_section[0], self.wedge.inner_section[0]
        vents, slot = tuple(self._vents()), self._slot()
        return Arrangement(
            outer=Prism(name="outer", section=outer, x=(0.0, self.width)),
            inner=Prism(name="inner", section=inner, x=(self.board, self.width - self.board)),
            panels=self._panels(outer, inner),
            drivers=tuple(self._drivers()),
            vents=vents,
            braces=tuple(self._brace(number, x, inner, vents, slot) for number, x in enumerate(self.brace_x, start=1)),
            supports=tuple(self._supports(vents)),
            cup=self._cup(),
            radiators=tuple(self._radiator(number, x) for number, x in enumerate(self.radiator_x, start=1)),
            slot=slot,
        )

    def _panels(self, outer: Floats, inner: Floats) -> tuple[Prism, ...]:
        """Six panels: whole sides; bottom and top between them; back and baffle between those, bevelled."""
        between = (self.board, self.width - self.board)
        low, high = self.board, float(self.wedge.outer_height[0]) - self.board
        back_low, back_high = (_along(outer[0], outer[3], z) for z in (low, high))
        front_low, front_high = (_along(outer[1], outer[2], z) for z in (low, high))
        return (
            Prism(name="left side", section=outer, x=(0.0, self.board)),
            Prism(name="right side", section=outer, x=(self.width - self.board, self.width)),
            Prism(name="bottom", section=np.array([outer[0], outer[1], front_low, back_low]), x=between),
            Prism(name="top", section=np.array([back_high, front_high, outer[2], outer[3]]), x=between),
            Prism(name="back", section=np.array([back_low, inner[0], inner[3], back_high]), x=between),
            Prism(name="baffle", section=np.array([inner[1], front_low, front_high, inner[2]]), x=between),
        )

    def _drivers(self) -> list[DriverSolid]:
        rows = int(self.layout.driver_rows[self.i])
        first = float(self.layout.driver_s[self.i])
        pitch = float(self.contents.widest[0]) + self.gap
        solids = []
        for number in range(self.drivers):
            s = first + (number % rows) * pitch
            if self.facing == SIDEWAYS:
                solids.append(self._driver(number + 1, self.width, s, self._in_side_panel(s)))
            else:
                x = self.column_x[number // rows]
                solids.append(self._driver(number + 1, x, s, (self.on_panel(x, s, 0.0), self.inward)))
        return solids

    def _in_side_panel(self, z: float) -> tuple[Floats, Floats]:
        """Centre of a driver's hole in the right side panel, and the way it looks into the box."""
        things, rules = self.contents, self.layout.rules
        edge = side_panel_edge(
            things.inside_diameter,
            things.outer_diameter,
            board=self.board,
            gap=self.gap,
            round_over=rules.round_over,
        )
        y = side_middle(self.wedge, np.array([z]), edge)
        return np.array([self.width, float(y[0]), z]), np.array([-1.0, 0.0, 0.0])

    def _driver(self, number: int, x: float, s: float, axis: tuple[Floats, Floats]) -> DriverSolid:
        centre, inward = axis
        things = self.contents
        hole, magnet, outer = (
            0.5 * float(size[0]) for size in (things.cutout_diameter, things.magnet_diameter, things.outer_diameter)
        )
        neck, reach = float(things.neck(self.board)[0]), float(things.reach(self.board)[0])
        behind = reach + float(things.rear_gap[0])
        inside, narrow, rear, air, front = (
            centre + depth * inward for depth in (self.board, neck, reach, behind, -FLANGE_THICKNESS)
        )
        name = f"driver {number}"
        body = [Frustum(name=name, start=inside, end=narrow, radii=(hole, magnet))] if neck > self.board else []
        if reach > neck:
            body.append(Frustum(name=f"{name} magnet", start=narrow, end=rear, radii=(magnet, magnet)))
        return DriverSolid(
            body=tuple(body),
            cutout=Frustum(name=f"{name} cut-out", start=centre, end=inside, radii=(hole, hole)),
            flange=Frustum(name=f"{name} flange", start=front, end=centre, radii=(outer, outer)),
            rear_air=Frustum(name=f"{name} rear air", start=rear, end=air, radii=(magnet, magnet)),
            terminals=self._terminals(name, centre, inward, hole),
            panel="right side" if self.facing == SIDEWAYS else self.mouth_panel,
            x=x,
            s=s,
        )

    def _terminals(self, name: str, centre: Floats, inward: Floats, hole: float) -> Prism | None:
        """Room for the solder tags: the driver is turned so that they point along the width, or up in a side panel."""
        deep = float(self.contents.terminal_depth[0])
        if not deep > self.board:
            return None
        half = 0.5 * min(TERMINAL_WIDTH, float(self.contents.magnet_diameter[0]))
        out = float(np.sqrt(hole**2 - half**2))
        name = f"{name} terminals"
        if self.facing == SIDEWAYS:
            y, z = centre[1:]
            section = np.array([[y - half, z], [y + half, z], [y + half, z + out], [y - half, z + out]])
            return Prism(name=name, section=section, x=(self.width - deep, self.width - self.board))
        across = np.array([inward[2], -inward[1]])  # along the panel
        middle = centre[1:]
        corners = [(-half, self.board), (half, self.board), (half, deep), (-half, deep)]
        section = np.array([middle + s * across + d * inward[1:] for s, d in corners])
        return Prism(name=name, section=section, x=(float(centre[0]), float(centre[0]) + out))

    def _radiator(self, number: int, x: float) -> RadiatorSolid:
        things, s = self.contents, float(self.layout.radiator_s[self.i])
        hole, outer = (0.5 * float(size[0]) for size in (things.radiator_cutout, things.radiator_outer))
        reach = max(float(things.radiator_depth[0]), self.board)
        front, face, inside, rear = (self.on_panel(x, s, d) for d in (-FLANGE_THICKNESS, 0.0, self.board, reach))
        name = f"passive radiator {number}"
        return RadiatorSolid(
            body=Frustum(name=name, start=inside, end=rear, radii=(hole, hole)),
            cutout=Frustum(name=f"{name} cut-out", start=face, end=inside, radii=(hole, hole)),
            flange=Frustum(name=f"{name} flange", start=front, end=face, radii=(outer, outer)),
            panel=self.mouth_panel,
            x=x,
            s=s,
        )

    def _vents(self) -> list[VentSolid]:
        make = {SIDE: self._side_vent, STRAIGHT: self._straight_vent, BENT: self._bent_vent}.get(self.placement)
        return [make(number) for number in range(self.vents)] if make else []

    def _rims(self, name: str, mouth: Floats, inner: Floats, inward: Floats, along: Floats) -> tuple[Frustum, ...]:
        """Flares at the outer mouth, which looks ``inward``, and at the inner one, which looks ``along``."""
        if not self.flare:
            return ()
        ends = ((mouth, mouth + self.flare * inward), (inner - self.flare * along, inner))
        radii = (self.rim, self.rim)
        return tuple(Frustum(name=f"{name} flare", start=start, end=end, radii=radii) for start, end in ends)

    def _tube(self, name: str, start: Floats, end: Floats) -> tuple[Frustum, Frustum]:
        """Outside and opening of a straight piece of pipe."""
        return (
            Frustum(name=name, start=start, end=end, radii=(self.pipe, self.pipe)),
            Frustum(name=f"{name} bore", start=start, end=end, radii=(self.bore, self.bore)),
        )

    def _free_air(self, name: str, mouth: Floats, direction: Floats) -> Frustum:
        end = mouth + 2.0 * self.bore * direction
        return Frustum(name=f"{name} free air", start=mouth, end=end, radii=(self.rim, self.rim))

    def _side_vent(self, number: int) -> VentSolid:
        name = f"vent {number + 1}"
        across = np.array([1.0, 0.0, 0.0])
        mouth = np.array([0.0, *self._side_centre(number)])
        inner = mouth + self.vent_length * across
        pipe, bore = self._tube(name, mouth, inner)
        before = mouth - 2.0 * self.bore * across
        return VentSolid(
            pipe=(pipe,),
            bore=(bore,),
            free_air=self._free_air(name, inner, across),
            through="left side",
            outside=Frustum(name=f"{name} air outside", start=before, end=mouth, radii=(self.bore, self.bore)),
            rims=self._rims(name, mouth, inner, across, across),
            flare_radius=self.flare,
        )

    def _straight_vent(self, number: int) -> VentSolid:
        name = f"vent {number + 1}"
        level = number // self.columns if self.where == BESIDE else 0
        s = float(self.layout.vent_s[self.i]) + level * (2.0 * self.rim + self.gap)
        mouth = self.on_panel(self.vent_x[number], s, 0.0)
        inner = mouth + self.vent_length * self.inward
        pipe, bore = self._tube(name, mouth, inner)
        free_air = self._free_air(name, inner, self.inward)
        return VentSolid(
            pipe=(pipe,),
            bore=(bore,),
            free_air=free_air,
            through=self.mouth_panel,
            rims=self._rims(name, mouth, inner, self.inward, self.inward),
            flare_radius=self.flare,
        )

    def _bent_vent(self, number: int) -> VentSolid:
        name = f"vent {number + 1}"
        across = np.array([1.0, 0.0, 0.0])
        s = float(self.layout.vent_s[self.i]) + number * (2.0 * self.rim + self.gap)
        mouth = self.on_panel(self.board + float(bent_start(self.contents, gap=self.gap)[0]), s, 0.0)
        turn = mouth + self.turn * self.inward
        centre = turn + self.bend * across
        turned = centre + self.bend * self.inward
        inner = turned + self._leg * across
        first, first_bore = self._tube(name, mouth, turn)
        last, last_bore = self._tube(name, turned, inner)
        bends = [
            Bend(
                name=called,
                centre=centre,
                first=-across,
                last=self.inward,
                radius=self.bend,
                tube_radius=radius,
            )
            for called, radius in ((f"{name} elbow", self.pipe), (f"{name} elbow bore", self.bore))
        ]
        return VentSolid(
            pipe=(first, bends[0], last),
            bore=(first_bore, bends[1], last_bore),
            free_air=self._free_air(name, inner, across),
            through=self.mouth_panel,
            rims=self._rims(name, mouth, inner, self.inward, across),
            flare_radius=self.flare,
        )

    def _side_centre(self, number: int) -> tuple[float, float]:
        y, z, _ = side_vent_at(
            self.wedge,
            self.contents,
            number=number,
            columns=np.array([float(self.columns)]),
            low=bool(self.layout.vent_low[self.i]),
            at_back=bool(self.layout.vent_at_back[self.i]),
            gap=self.gap,
        )
        return float(y[0]), float(z[0])

    def _slot(self) -> SlotSolid | None:
        if self.placement not in (SLOT_SIDE, SLOT_BAFFLE):
            return None
        layout, board, width = self.layout, self.board, self.width
        channel = self._channel
        height, turn = float(channel.height[0]), float(layout.slot_turn[self.i])
        through_side = self.placement == SLOT_SIDE
        through = board if through_side else board * float(self.wedge.baffle_secant[0])
        end = width - board if turn else board + self.vent_length - through
        section, closing = self._level_section(0.0, height), self._level_section(height, height + board)
        leg = (width - board - height, width - board)
        boards = [Prism(name="slot board", section=closing, x=(board, leg[0] if turn else end))]
        bore = [Prism(name="slot", section=section, x=(board, end))]
        free_air = Prism(name="slot free air", section=section, x=(end, end + height))
        if turn:
            if turn > board + SAME:
                upright = self._level_section(height + board, height + turn)
                boards.append(Prism(name="slot board 2", section=upright, x=(leg[0] - board, leg[0])))
            bore.append(Prism(name="slot turn", section=self._level_section(height, height + turn), x=leg))
            beyond = self._level_section(height + turn, 2.0 * height + turn)
            free_air = Prism(name="slot free air", section=beyond, x=leg)
        if through_side:
            mouth = np.column_stack([np.zeros(len(section)), section])
            hole = Prism(name="slot mouth", section=section, x=(0.0, board))
            outside = Prism(name="slot air outside", section=section, x=(-height, 0.0))
        else:
            hole, outside = self._window(section, float(layout.slot_width[self.i])), None
            low, high = hole.section[1:3]
            left, right = hole.x
            mouth = np.array([[left, *low], [right, *low], [right, *high], [left, *high]])
        return SlotSolid(
            boards=tuple(boards),
            bore=(hole, *bore),
            free_air=free_air,
            mouth=mouth,
            through="left side" if through_side else "baffle",
            outside=outside,
        )

    @property
    def _channel(self) -> Channel:
        return Channel(self.wedge, self.contents.slot_height, bool(self.layout.vent_low[self.i]))

    def _level_section(self, start: float, end: float) -> Floats:
        """Section of the inside between two distances from the inner face of the panel the slot lies on, (4, 2)."""
        inner = self.wedge.inner_section[0]
        low, high = sorted(float(self._channel.z(k)[0]) for k in (start, end))
        back, front = (inner[0], inner[3]), (inner[1], inner[2])
        return np.array([_along(*back, low), _along(*front, low), _along(*front, high), _along(*back, high)])

    def _window(self, section: Floats, width: float) -> Prism:
        """Hole in the baffle as high as the channel ``section``, at its left end."""
        outer = self.wedge.outer_section[0]
        (_, low), (_, high) = section[1:3]
        ends = [section[1], _along(outer[1], outer[2], low), _along(outer[1], outer[2], high), section[2]]
        return Prism(name="slot mouth", section=np.array(ends), x=(self.board, self.board + width))

    def _brace(
        self, number: int, x: float, inner: Floats, vents: tuple[VentSolid, ...], slot: SlotSolid | None
    ) -> Prism:
        """A plate across the section, cut away by window, holes for pipes and the channel of a slot together."""
        target = float(self.layout.brace_window[self.i]) * shapely.Polygon(inner).area
        if slot and (len(slot.bore) > 2 or x < slot.free_air.x[1]):
            section = self._level_section(float(self._channel.taken[0]), float(self.wedge.inner_height[0]))
            target -= shapely.Polygon(inner).area - shapely.Polygon(section).area
            inner = section
        plate = shapely.Polygon(inner)
        holes = shapely.union_all([self._round(vent.inner_mouth[1:], self.rim) for vent in vents if _passes(vent, x)])
        small, large = 0.0, 1.0
        opening = holes
        for _ in range(60):
            scale = 0.5 * (small + large)
            window = shapely.affinity.scale(plate, scale, scale, origin="centroid")
            opening = shapely.union_all([window, holes])
            # What opens all round would fall out.
            opening = shapely.union_all([shapely.Polygon(piece.exterior) for piece in shapely.get_parts(opening)])
            if opening.area > target:
                large = scale
            else:
                small = scale
        rings = [piece for piece in shapely.get_parts(opening) if piece.area > SAME]
        return Prism(
            name=f"brace {number}",
            section=inner,
            x=(x, x + self.board),
            holes=tuple(np.asarray(ring.exterior.coords)[:-1] for ring in rings),
        )

    def _round(self, centre: Floats, radius: float) -> shapely.Polygon:
        """A pipe's hole in a plate, its corners on the outside."""
        return shapely.Point(centre).buffer(radius / np.cos(np.pi / ROUND), quad_segs=ROUND // 4)

    def _supports(self, vents: tuple[VentSolid, ...]) -> list[Prism]:
        """Blocks between each pipe along the width and the panel, or the pipe, it rests on."""
        count = int(self.layout.support_count[self.i])
        found: list[Prism] = []
        for number, vent in enumerate(vents):
            if not count:
                break
            section = self._block(number, vents)
            last = vent.pipe[-1]
            assert isinstance(last, Frustum)
            first = self.flare if len(vent.pipe) == 1 else 0.0
            start, end = max(float(last.start[0]), self.board, first), float(last.end[0]) - self.flare
            for place in range(1, count + 1):
                x = self._off_braces(start + (end - start) * place / count - self.board, start, end)
                found.append(Prism(name=f"support {len(found) + 1}", section=section, x=(x, x + self.board)))
        return found

    def _off_braces(self, wanted: float, start: float, end: float) -> float:
        """Left face of a block between ``start`` and ``end`` as near as may be to where it is wanted, off braces."""
        beside = [brace + side * self.board for brace in self.brace_x for side in (-1.0, 1.0)]
        within = [x for x in beside if start <= x <= end - self.board]
        free = [x for x in (wanted, *within) if all(abs(x - brace) >= self.board - SAME for brace in self.brace_x)]
        return min(free, key=lambda x: abs(x - wanted), default=wanted)

    def _block(self, number: int, vents: tuple[VentSolid, ...]) -> Floats:
        """Section of a block under vent ``number``, hollowed out for the pipes."""
        if self.placement == BENT:
            y, z = (np.array([value]) for value in vents[number].inner_mouth[1:])
            s, deep = self.face.of(y, z)
            ends = [(-self.pipe, self.board), (self.pipe, self.board), (self.pipe, deep[0]), (-self.pipe, deep[0])]
            corners = np.array([self.on_panel(0.0, float(s[0]) + along, float(depth))[1:] for along, depth in ends])
        else:
            at_y, at_z = block_at(
                self.wedge,
                self.contents,
                number=number,
                columns=np.array([float(self.columns)]),
                low=bool(self.layout.vent_low[self.i]),
                at_back=bool(self.layout.vent_at_back[self.i]),
                gap=self.gap,
            )
            corners = np.stack([at_y[0], at_z[0]], axis=-1)
        pipes = [self._round(vent.inner_mouth[1:], self.pipe) for vent in vents]
        inside = shapely.Polygon(self.wedge.inner_section[0])
        # On a grid far finer than any saw: a side shared with a panel would else leave points only.
        block = shapely.intersection(shapely.Polygon(corners), inside, grid_size=1e-9)
        block = block.difference(shapely.union_all(pipes))
        largest = max(shapely.get_parts(block), key=lambda piece: piece.area)
        return np.asarray(largest.exterior.coords)[:-1]

    def _cup(self) -> CupSolid | None:
        cup = self.layout.rules.cup
        if cup is None or np.isnan(self.layout.cup_y[self.i]):
            return None
        y, z = float(self.layout.cup_y[self.i]), float(self.layout.cup_z[self.i])
        face, inside, outside = (
            np.array([x, y, z]) for x in (self.width, self.width - cup.depth, self.width + FLANGE_THICKNESS)
        )
        hole, flange = 0.5 * cup.cutout_diameter, 0.5 * cup.flange_diameter
        return CupSolid(
            body=Frustum(name="terminal cup", start=face, end=inside, radii=(hole, hole)),
            flange=Frustum(name="terminal cup flange", start=outside, end=face, radii=(flange, flange)),
            panel="right side",
        )


def _passes(vent: VentSolid, x: float) -> bool:
    """Whether a vent along the width, or the free air before it, goes on beyond x."""
    axis = vent.free_air.end - vent.free_air.start
    return bool(abs(axis[0]) > 0.5 * np.linalg.norm(axis) and vent.free_air.end[0] > x)


def _along(low: Floats, high: Floats, z: float) -> Floats:
    part = (z - low[1]) / (high[1] - low[1])
    return np.array([low[0] + part * (high[0] - low[0]), z])


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
