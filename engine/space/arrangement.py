"""Exact solids of one design: panels, drivers, vents and braces at their places.

Axes of the box: x from the outer face of the left side panel across the width, y and z as
in ``wedge.py``.  Lengths in m.  For drawings and for checks with a geometry library; the
search never comes here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.space.layout import (
    BAFFLE,
    BESIDE,
    BRACE_WINDOW,
    SIDE,
    Contents,
    Layout,
    side_vent_at,
    vent_group,
)
from engine.space.row import Row, level_bays, row_of
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

FLANGE_THICKNESS = 0.005  # m, for the picture only
ROUND = 64  # corners of a pipe's hole in a brace, drawn round the pipe


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
class DriverSolid:
    """A driver: ``body`` behind the baffle's inner face, ``cutout`` in the baffle, ``flange`` on it."""

    body: Frustum
    cutout: Frustum
    flange: Frustum
    s: float  # centre up the outer face of the baffle
    x: float


@dataclass(frozen=True, kw_only=True)
class VentSolid:
    """A vent: ``pipe`` and ``bore`` from the panel's outer face to the inner mouth, and the air kept free.

    ``outside`` is the air before the outer mouth of a side vent.
    """

    pipe: Frustum
    bore: Frustum
    free_air: Frustum
    through: str  # name of the panel
    outside: Frustum | None = None


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """Everything of one design in the box's axes."""

    outer: Prism
    inner: Prism
    panels: tuple[Prism, ...]
    drivers: tuple[DriverSolid, ...]
    vents: tuple[VentSolid, ...]
    braces: tuple[Prism, ...]


def arrangement(layout: Layout, i: int) -> Arrangement:
    """Place everything of design ``i`` of a layout; made for designs whose slacks are all ≥ 0."""
    return _Builder(layout, i).arrangement()


@dataclass
class _Builder:
    layout: Layout
    i: int
    driver_x: list[float] = field(default_factory=list)
    brace_x: list[float] = field(default_factory=list)  # left face of each
    vent_x: list[float] = field(default_factory=list)  # of vents through the baffle

    def __post_init__(self) -> None:
        one = np.array([self.i])
        self.wedge: Wedges = self.layout.wedges.take(one)
        self.contents: Contents = self.layout.contents.take(one)
        self.board = self.wedge.board
        self.gap = self.layout.breathing_gap
        self.row: Row = row_of(
            inner_width=self.wedge.inner_width,
            board=self.board,
            brace_span=self.layout.brace_span,
            outer_diameter=self.contents.outer_diameter,
            inside_diameter=self.contents.inside_diameter,
            count=self.contents.driver_count,
            gap=self.gap,
        )
        self.drivers = int(self.contents.driver_count[0])
        self.vents = int(self.contents.vent_count[0])
        self.braces = int(self.row.braces[0])
        self.placement = int(self.layout.vent_placement[self.i])
        self.where = int(self.layout.vent_where[self.i])
        self.columns = int(self.layout.vent_columns[self.i])
        self._fill_row()

    @cached_property
    def up(self) -> Floats:
        """Unit vector (x, y, z) up the baffle."""
        slope, secant = float(self.wedge.baffle_slope[0]), float(self.wedge.baffle_secant[0])
        return np.array([0.0, slope / secant, 1.0 / secant])

    @cached_property
    def inward(self) -> Floats:
        """Unit vector square to the baffle, into the box."""
        return np.array([0.0, -self.up[2], self.up[1]])

    def on_baffle(self, x: float, s: float, depth: float) -> Floats:
        corner = np.array([x, float(self.wedge.bottom_depth[0]), 0.0])
        return corner + s * self.up + depth * self.inward

    # Across the width

    def _fill_row(self) -> None:
        if self.placement == BAFFLE and self.where == BESIDE:
            self._row_with_group()
        elif self.placement == SIDE and self.where == BESIDE:
            self._row_beside_run()
        else:
            counts = _spread(self.drivers, self.braces + 1)
            bays = self._bays(self._level(counts))
            self._drivers_in(bays, counts)
            if self.placement == BAFFLE:
                self._vents_in(bays)

    def _row_with_group(self) -> None:
        own, shared = vent_group(self.contents, columns=np.array([float(self.columns)]), gap=self.gap, board=self.board)
        # The roomier of the two ways, as the search judged it.
        separate = self.row.own_bay(own)[0] >= self.row.shared_bay(shared)[0]
        if separate:
            counts = [0, *_spread(self.drivers, self.braces)]
        else:
            counts = _spread(self.drivers, self.braces + 1)
            counts.sort()
            if counts[0] == 0:
                counts = [counts.pop(counts.index(min(c for c in counts if c))), *counts]
        group = float((own if separate else shared)[0])
        bays = self._bays(self._level(counts, in_first=group))
        taken = group if counts[0] else 0.0
        self._drivers_in([(bays[0][0] + taken, bays[0][1]), *bays[1:]], counts)
        pitch = float(self.contents.vent_outer[0]) + self.gap
        first = bays[0][0] + self.gap + 0.5 * float(self.contents.vent_outer[0])
        self.vent_x = [first + (number % self.columns) * pitch for number in range(self.vents)]

    def _row_beside_run(self) -> None:
        run = self._vent_length - self.board + float(self.contents.vent_inner[0])
        filled = sorted(count for count in _spread(self.drivers, self.braces + 1) if count)
        empty = self.braces + 1 - len(filled)
        counts = [0] * empty + filled
        widths = self._level(counts)
        first = float(sum(widths[:empty])) + empty * self.board  # inner left end of the first drivers' bay
        if first + widths[empty] - self._need(filled[0]) < run:
            # Narrow the bays beyond the first drivers' as far as the span of the others allows.
            others = float(self.row.room[0]) - (empty + 1) * float(self.row.span[0])
            needs = np.array([self._need(count) for count in filled[1:]])
            beyond = level_bays(needs, max(others, float(needs.sum()))) if len(needs) else needs
            before = level_bays(
                np.array([0.0] * empty + [self._need(filled[0])]),
                float(self.row.room[0]) - float(beyond.sum()),
            )
            widths = np.concatenate([before, beyond])
        bays = self._bays(widths)
        start = max(bays[empty][0], self.board + run)
        self._drivers_in([*bays[:empty], (start, bays[empty][1]), *bays[empty + 1 :]], counts)

    def _need(self, count: int) -> float:
        return 2.0 * float(self.row.half[0]) + (count - 1) * float(self.row.pitch[0]) if count else 0.0

    def _level(self, counts: list[int], in_first: float = 0.0) -> Floats:
        needs = np.array([self._need(count) for count in counts])
        needs[0] += in_first
        return level_bays(needs, float(self.row.room[0]))

    def _bays(self, widths: Floats) -> list[tuple[float, float]]:
        """Ends of the bays; the braces go between them."""
        bays, x = [], self.board
        for width in widths:
            bays.append((x, x + float(width)))
            x += float(width) + self.board
        self.brace_x = [end for _, end in bays[:-1]]
        return bays

    def _drivers_in(self, bays: list[tuple[float, float]], counts: list[int]) -> None:
        for (start, end), count in zip(bays, counts, strict=True):
            self.driver_x += _in_bay(start, end, count, pitch=float(self.row.pitch[0]), half=float(self.row.half[0]))

    def _vents_in(self, bays: list[tuple[float, float]]) -> None:
        """Vents in one row above or below the drivers: spread over equal bays, else all in the widest."""
        _, even = self.row.even_bay()
        widths = [end - start for start, end in bays]
        used = bays if int(even[0]) == len(bays) else [bays[int(np.argmax(widths))]]
        radius = 0.5 * float(self.contents.vent_outer[0])
        for (start, end), count in zip(used, _spread(self.vents, len(used)), strict=True):
            self.vent_x += _in_bay(start, end, count, pitch=2.0 * radius + self.gap, half=radius + self.gap)

    # Solids

    @property
    def _vent_length(self) -> float:
        return float(self.layout.vent_length[self.i])

    def arrangement(self) -> Arrangement:
        width = float(self.wedge.outer_width[0])
        outer, inner = self.wedge.outer_section[0], self.wedge.inner_section[0]
        vents = tuple(self._vents())
        return Arrangement(
            outer=Prism(name="outer", section=outer, x=(0.0, width)),
            inner=Prism(name="inner", section=inner, x=(self.board, width - self.board)),
            panels=self._panels(width, outer, inner),
            drivers=tuple(self._driver(number, x) for number, x in enumerate(self.driver_x, start=1)),
            vents=vents,
            braces=tuple(self._brace(number, x, inner, vents) for number, x in enumerate(self.brace_x, start=1)),
        )

    def _panels(self, width: float, outer: Floats, inner: Floats) -> tuple[Prism, ...]:
        """Six panels: whole sides; bottom and top between them; back and baffle between those, bevelled."""
        between = (self.board, width - self.board)
        low, high = self.board, float(self.wedge.outer_height[0]) - self.board
        back_low, back_high = (_along(outer[0], outer[3], z) for z in (low, high))
        front_low, front_high = (_along(outer[1], outer[2], z) for z in (low, high))
        return (
            Prism(name="left side", section=outer, x=(0.0, self.board)),
            Prism(name="right side", section=outer, x=(width - self.board, width)),
            Prism(name="bottom", section=np.array([outer[0], outer[1], front_low, back_low]), x=between),
            Prism(name="top", section=np.array([back_high, front_high, outer[2], outer[3]]), x=between),
            Prism(name="back", section=np.array([back_low, inner[0], inner[3], back_high]), x=between),
            Prism(name="baffle", section=np.array([inner[1], front_low, front_high, inner[2]]), x=between),
        )

    def _driver(self, number: int, x: float) -> DriverSolid:
        s = float(self.layout.driver_s[self.i])
        hole, magnet, outer = (
            0.5 * float(size[0])
            for size in (
                self.contents.cutout_diameter,
                self.contents.magnet_diameter,
                self.contents.outer_diameter,
            )
        )
        reach = max(float(self.contents.mounting_depth[0]), self.board)
        face, inside, rear, front = (
            self.on_baffle(x, s, depth) for depth in (0.0, self.board, reach, -FLANGE_THICKNESS)
        )
        name = f"driver {number}"
        return DriverSolid(
            body=Frustum(name=name, start=inside, end=rear, radii=(hole, magnet)),
            cutout=Frustum(name=f"{name} cut-out", start=face, end=inside, radii=(hole, hole)),
            flange=Frustum(name=f"{name} flange", start=front, end=face, radii=(outer, outer)),
            s=s,
            x=x,
        )

    def _vents(self) -> list[VentSolid]:
        if not self.vents:
            return []
        bore, outer = 0.5 * float(self.contents.vent_inner[0]), 0.5 * float(self.contents.vent_outer[0])
        solids = []
        for number, (mouth, direction) in enumerate(self._mouths(), start=1):
            inner_mouth = mouth + self._vent_length * direction
            name = f"vent {number}"
            solids.append(
                VentSolid(
                    pipe=Frustum(name=name, start=mouth, end=inner_mouth, radii=(outer, outer)),
                    bore=Frustum(name=f"{name} bore", start=mouth, end=inner_mouth, radii=(bore, bore)),
                    free_air=Frustum(
                        name=f"{name} free air",
                        start=inner_mouth,
                        end=inner_mouth + 2.0 * bore * direction,
                        radii=(outer, outer),
                    ),
                    through="left side" if self.placement == SIDE else "baffle",
                    outside=Frustum(
                        name=f"{name} air outside",
                        start=mouth - 2.0 * bore * direction,
                        end=mouth,
                        radii=(bore, bore),
                    )
                    if self.placement == SIDE
                    else None,
                )
            )
        return solids

    def _mouths(self) -> list[tuple[Floats, Floats]]:
        """Centre of each vent's outer mouth, and the direction of its axis into the box."""
        if self.placement == SIDE:
            across = np.array([1.0, 0.0, 0.0])
            return [(np.array([0.0, *centre]), across) for centre in self._side_centres()]
        pitch = float(self.contents.vent_outer[0]) + self.gap
        first = float(self.layout.vent_s[self.i])
        levels = [number // self.columns if self.where == BESIDE else 0 for number in range(self.vents)]
        return [
            (self.on_baffle(x, first + level * pitch, 0.0), self.inward)
            for x, level in zip(self.vent_x, levels, strict=True)
        ]

    def _side_centres(self) -> list[tuple[float, float]]:
        centres = []
        for number in range(self.vents):
            y, z, _ = side_vent_at(
                self.wedge,
                self.contents,
                number=number,
                columns=np.array([float(self.columns)]),
                low=bool(self.layout.vent_low[self.i]),
                at_back=bool(self.layout.vent_at_back[self.i]),
                gap=self.gap,
            )
            centres.append((float(y[0]), float(z[0])))
        return centres

    def _brace(self, number: int, x: float, inner: Floats, vents: tuple[VentSolid, ...]) -> Prism:
        """A plate across the section; window and holes for pipes together are ``BRACE_WINDOW`` of it."""
        plate = shapely.Polygon(inner)
        holes = shapely.union_all(
            [
                shapely.Point(vent.pipe.start[1:]).buffer(
                    vent.pipe.radii[0] / np.cos(np.pi / ROUND), quad_segs=ROUND // 4
                )
                for vent in vents
                if vent.through == "left side" and vent.free_air.end[0] > x
            ]
        )
        target = BRACE_WINDOW * plate.area
        small, large = 0.0, 1.0
        opening = holes
        for _ in range(60):
            scale = 0.5 * (small + large)
            window = shapely.affinity.scale(plate, scale, scale, origin="centroid")
            opening = shapely.union_all([window, holes])
            if opening.area > target:
                large = scale
            else:
                small = scale
        rings = [piece for piece in shapely.get_parts(opening) if piece.area > 0.0]
        return Prism(
            name=f"brace {number}",
            section=inner,
            x=(x, x + self.board),
            holes=tuple(np.asarray(ring.exterior.coords)[:-1] for ring in rings),
        )


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
