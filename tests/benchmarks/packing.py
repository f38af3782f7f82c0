"""A second, slower way to put drivers, vents, braces and a cup into one box: places are tried one by one.

It knows boxes that are closed or vented by pipes without flares, and their rules, none of the formulas of the
layout: distances in the cross-section and on
the panels are measured with shapely on a grid of places.  What it finds is an arrangement to
be checked as solids, so it may be careless where the check is not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import brentq
from shapely import LineString, Point, Polygon

from engine.acoustics.vents import BOTH_ENDS
from engine.facings import DOWN, SIDEWAYS
from engine.openings.pipe.packing import SUPPORT_SPAN
from engine.openings.pipe.solids import vent
from engine.packing.contents import Contents, Rules
from engine.packing.placement import BENT, NONE, SIDE, STRAIGHT
from engine.space import roles
from engine.space.arrangement import driver, terminal_cup
from engine.space.bodies import Assembly, Bend, Body, Frustum, Prism, Thing, body_of, cylinder
from engine.space.wedge import Wedges
from tests.workshop.pieces import driver_sizes

Floats = NDArray[np.float64]

STEP = 0.008  # m, between places tried for vents and cup
DRIVER_PLACES = 15
EASE = 1e-6  # m kept beyond what is needed


@dataclass(frozen=True)
class Design:
    """One box, what is to go in (batches of one), and its surroundings."""

    wedge: Wedges
    contents: Contents
    rules: Rules
    panels: tuple[Body, ...]
    tuning: float
    brace_board: float  # m² of each brace, as the layout has it
    free_width: float
    driver_air: float


@dataclass(frozen=True)
class Row:
    """Places across the width: centres of columns of drivers, left faces of braces."""

    columns: tuple[float, ...]
    braces: tuple[float, ...]


class Packer:
    def __init__(self, design: Design) -> None:
        self.design = design
        self.things = {name: float(values[0]) for name, values in design.contents.sizes.items()}
        sizes = design.contents.drivers[design.contents.which[0]]
        self.gap, self.board = design.rules.breathing_gap, design.wedge.board
        self.width = float(design.wedge.outer_width[0])
        self.outer, self.inner = design.wedge.outer_section[0], design.wedge.inner_section[0]
        self.inside = Polygon(self.inner)
        self.facing = int(sizes.facing)
        corner, end = (0, 1) if self.facing == DOWN else (1, 2)
        self.origin, across = self.outer[corner], self.outer[end] - self.outer[corner]
        self.length = float(np.linalg.norm(across))
        self.up = across / self.length
        self.inward = np.array([-self.up[1], self.up[0]])
        self.panel = "bottom" if self.facing == DOWN else "baffle"
        walls = [LineString([self.inner[a], self.inner[(a + 1) % 4]]) for a in range(4)]
        self.own_wall = walls[corner]
        self.other_walls = shapely.union_all([wall for wall in walls if wall is not self.own_wall])
        self.panel_section = Polygon(
            next(panel.prisms[0].section for panel in design.panels if panel.panel == self.panel)
        )
        self.pipe, self.bore = 0.5 * self.things["vent_outer"], 0.5 * self.things["vent_inner"]
        self.drivers, self.vents = int(sizes.number), int(self.things["vent_count"])
        self.hole, self.magnet, self.flange = (0.5 * float(each) for each in (sizes.cutout, sizes.magnet, sizes.flange))
        self.wide, self.widest = max(self.hole, self.magnet), max(self.hole, self.magnet, self.flange)
        self.neck, self.reach, self.rear_gap = float(sizes.neck), float(sizes.reach), float(sizes.rear_gap)
        self.behind, self.displacement = self.reach + self.rear_gap, float(sizes.displacement)
        cup = design.rules.cup
        self.cup_depth = max(cup.depth - self.board, 0.0) if cup else 0.0

    # What has to be found

    def packings(self) -> Iterator[Assembly]:
        """Arrangements that seem to keep every rule."""
        ways = (SIDE, STRAIGHT, BENT) if self.vents else (NONE,)
        for in_column in range(1, self.drivers + 1):
            if math.ceil(self.drivers / in_column) == math.ceil(self.drivers / max(in_column - 1, 1)) and in_column > 1:
                continue
            stacks = list(self.stacks(in_column))
            for way in ways:
                yield from self.packed(way, in_column, stacks)

    def packed(self, way: int, in_column: int, stacks: list[tuple[float, ...]]) -> Iterator[Assembly]:
        if way == BENT and not self.things["elbow_radius"] > 0.0:
            return
        columns = 0 if self.facing == SIDEWAYS else math.ceil(self.drivers / in_column)
        for stack, row in product(stacks, list(self.rows(columns))):
            length = self.vent_length(len(row.braces), way) if self.vents else math.nan
            if self.vents and not length > self.board:
                continue
            for vents, braces in self.vent_places(way, length, stack, row):
                for cup in self.cup_places(way, length, stack, row, vents):
                    yield self.arrangement(way, length, in_column, stack, Row(row.columns, braces), vents, cup)
                    break

    # Drivers

    def at(self, s: float, depth: float) -> Floats:
        result: Floats = self.origin + s * self.up + depth * self.inward
        return result

    def outline(self, s: float, *ends: tuple[float, float]) -> Polygon:
        """A body's outline in the section: half widths and depths, from the panel inward."""
        right = [self.at(s + half, depth) for half, depth in ends]
        left = [self.at(s - half, depth) for half, depth in reversed(ends)]
        return Polygon([*right, *left])

    def basket(self, s: float) -> Polygon:
        return self.outline(s, (self.hole, self.board), (self.magnet, self.neck), (self.magnet, self.reach))

    def air_behind(self, s: float) -> Polygon:
        return self.outline(s, (self.magnet, self.reach), (self.magnet, self.behind + EASE))

    def stacks(self, in_column: int) -> Iterator[tuple[float, ...]]:
        """Places of the drivers of one column along their panel; heights in the side panel."""
        if self.facing == SIDEWAYS:
            yield from self.side_stacks()
            return
        pitch = 2.0 * self.widest + self.gap
        edge = self.flange + self.design.rules.round_over
        last = self.length - edge - (in_column - 1) * pitch
        for first in np.linspace(edge, last, DRIVER_PLACES) if last >= edge else ():
            stack = tuple(float(first) + number * pitch for number in range(in_column))
            if all(self.driver_fits(s) for s in stack):
                yield stack

    def driver_fits(self, s: float) -> bool:
        basket, hole = self.basket(s), self.outline(s, (self.hole, 0.0), (self.hole, self.board))
        return bool(
            self.inside.buffer(EASE).contains(shapely.union(basket, self.air_behind(s)))
            and basket.distance(self.other_walls) >= self.gap
            and self.panel_section.buffer(EASE).contains(hole)
        )

    def side_stacks(self) -> Iterator[tuple[float, ...]]:
        """Centres (as heights) for drivers one above the other, midway in the depth left at each height."""
        pitch = 2.0 * self.widest + self.gap
        heights = np.linspace(self.inner[0, 1], self.inner[2, 1], 4 * DRIVER_PLACES)
        for first in heights:
            stack = tuple(float(first) + number * pitch for number in range(self.drivers))
            if all(self.side_centre(z) is not None for z in stack):
                yield stack

    def side_centre(self, z: float) -> Floats | None:
        """The roomiest centre (y, z) for a driver in the side panel at one height."""
        level = self.inside.intersection(LineString([(-9.0, z), (9.0, z)]))
        if level.is_empty or level.length == 0.0:
            return None
        middle = np.asarray(level.interpolate(0.5, normalized=True).coords)[0]
        return middle if self.fits_beside(middle, self.wide + self.gap, self.flange) else None

    def fits_beside(self, centre: Floats, inside: float, flange: float) -> bool:
        point = Point(centre)
        return bool(
            self.inside.contains(point)
            and point.distance(self.inside.exterior) >= inside
            and point.distance(Polygon(self.outer).exterior) >= flange + self.design.rules.round_over
        )

    # Across the width

    def rows(self, columns: int) -> Iterator[Row]:
        """Columns in groups, packed to the left, the right or the middle, or evenly spread; braces between."""
        edge = max(self.board + self.wide + self.gap, self.flange + self.design.rules.round_over)
        near = 2.0 * self.widest + self.gap
        far = max(near, 2.0 * (self.wide + self.gap) + self.board)
        seen = set()
        for group in range(1, columns + 1):
            steps = [far if number % group == 0 else near for number in range(1, columns)]
            spare = self.width - 2.0 * edge - sum(steps)
            for left, between in ((0.0, 0.0), (1.0, 0.0), (0.5, 0.0), (0.5 / columns, 1.0 / columns)):
                places = edge + left * spare + np.concatenate([[0.0], np.cumsum(np.array(steps) + between * spare)])
                columns_at = tuple(float(place) for place in places)
                braces = self.braces(columns_at, ()) if spare >= -EASE else None
                if braces is not None and columns_at not in seen:
                    seen.add(columns_at)
                    yield Row(columns_at, braces)
        if not columns:
            taken = self.width - self.reach - self.gap
            braces = self.braces((), ((taken - self.board, self.width),))
            if braces is not None and self.behind <= self.width - self.board:
                yield Row((), braces)

    def braces(self, columns: tuple[float, ...], blocked: tuple[tuple[float, float], ...]) -> tuple[float, ...] | None:
        """Left faces of the fewest braces that leave no bay wider than the span, or than one driver needs."""
        keep = self.wide + self.gap
        zones = [(x - keep - self.board, x + keep) for x in columns] + list(blocked)
        cup = self.cup_depth + self.gap if self.design.rules.cup else 0.0
        zones += [(-1.0, self.board), (self.width - 2.0 * self.board - cup, self.width)]
        span = max(self.design.rules.brace_span, 2.0 * keep if columns else 0.0)
        found: list[float] = []
        start = self.board
        while self.width - self.board - start > span + EASE:
            place = start + span
            for low, high in sorted(zones, key=lambda zone: -zone[1]):
                if low < place < high:
                    place = low
            if place <= start:
                return None
            found.append(place)
            start = place + self.board
        return tuple(found)

    # Vents

    def vent_length(self, braces: int, way: int) -> float:
        """Length in m that tunes the air left, by bisection; nan where there is none."""
        wedge, things = self.design.wedge, self.things
        cup = self.design.rules.cup
        volume = float(wedge.gross_volume[0]) - self.drivers * self.displacement
        volume -= braces * self.design.brace_board * self.board
        volume -= 0.25 * math.pi * cup.cutout_diameter**2 * self.cup_depth if cup else 0.0
        bore, solid = math.pi * self.bore**2, math.pi * self.pipe**2
        wanted = self.vents * bore * (self.design.rules.c / (2.0 * math.pi * self.design.tuning)) ** 2
        correction = BOTH_ENDS * self.bore
        if way == BENT:
            # The air takes the short way round.
            sweep = things["elbow_radius"]
            correction -= 0.25 * math.pi * (sweep - math.sqrt(max(sweep**2 - self.bore**2, 0.0)))

        def excess(length: float) -> float:
            return (length + correction) * (volume - self.vents * solid * (length - self.board)) - wanted

        longest = 0.5 * (volume / (self.vents * solid) + self.board - correction)
        if not self.board < longest or excess(self.board) > 0.0 or excess(longest) < 0.0:
            return math.nan
        return float(brentq(excess, self.board, longest))

    def vent_places(
        self, way: int, length: float, stack: tuple[float, ...], row: Row
    ) -> Iterator[tuple[list[tuple[float, float]], tuple[float, ...]]]:
        """Places of the vents with the braces: (y, z) beside the width's axis, (x, s) on the drivers' panel."""
        if way == NONE:
            yield [], row.braces
        elif way == STRAIGHT:
            yield from self.straight_places(length, stack, row)
        elif way == SIDE:
            left = self.free_width_left - 2.0 * self.bore
            end = length + 2.0 * self.bore
            if left >= 0.0 and end <= self.width - self.board:
                yield from ((places, row.braces) for places in self.side_places(end, stack, row))
        else:
            yield from self.bent_places(length, stack, row)

    @property
    def free_width_left(self) -> float:
        beside = self.design.driver_air if self.facing == SIDEWAYS else 0.0
        return self.design.free_width - self.width - beside

    def in_the_way(self, end: float, stack: tuple[float, ...], row: Row) -> list[tuple[Polygon, float]]:
        """Outlines of what a thing along the width up to ``end`` may meet, and the gap to keep to each."""
        if self.facing == SIDEWAYS:
            return [(self.inside, self.gap)] if end > self.width - max(self.behind, self.reach + self.gap) else []
        beyond = min(row.columns) - self.wide - self.gap
        if end <= beyond:
            return []
        return [pair for s in stack for pair in ((self.basket(s), self.gap), (self.air_behind(s), 0.0))]

    def side_places(self, end: float, stack: tuple[float, ...], row: Row) -> Iterator[list[tuple[float, float]]]:
        low, high = self.inner.min(axis=0), self.inner.max(axis=0)
        grid = np.stack(
            np.meshgrid(np.arange(low[0], high[0], STEP), np.arange(low[1], high[1], STEP), indexing="ij"), axis=-1
        ).reshape(-1, 2)
        points = shapely.points(grid)
        free = shapely.contains(self.inside, points)
        free &= shapely.distance(self.inside.exterior, points) >= self.pipe + self.gap + EASE
        for outline, gap in self.in_the_way(end, stack, row):
            free &= shapely.distance(outline, points) >= self.pipe + gap + EASE
        places = grid[free]
        for order in (places[:, 1], -places[:, 1], places[:, 0], -places[:, 0]):
            chosen = _apart(places[np.argsort(order, kind="stable")], self.vents, 2.0 * self.pipe + self.gap)
            if chosen:
                yield chosen

    def panel_places(self, stack: tuple[float, ...], row: Row, s: list[float], x: Floats) -> Floats:
        """Places (x, s) on the drivers' panel that keep clear of the drivers there."""
        grid = np.array(list(product(x, s))).reshape(-1, 2)
        for column, along in product(row.columns, stack if self.facing != SIDEWAYS else ()):
            apart = np.hypot(grid[:, 0] - column, grid[:, 1] - along)
            grid = grid[apart >= self.widest + self.pipe + self.gap + EASE]
        return grid

    def straight_places(
        self, length: float, stack: tuple[float, ...], row: Row
    ) -> Iterator[tuple[list[tuple[float, float]], tuple[float, ...]]]:
        if length - self.board > SUPPORT_SPAN:
            return
        edge, end = self.pipe + self.design.rules.round_over, length + 2.0 * self.bore
        fits = []
        for s in np.arange(edge, self.length - edge, STEP):
            tube = self.outline(s, (self.pipe, self.board), (self.pipe, length))
            air = self.outline(s, (self.pipe, length), (self.pipe, end))
            hole = self.outline(s, (self.pipe, 0.0), (self.pipe, self.board))
            if (
                self.inside.buffer(EASE).contains(shapely.union(tube, air))
                and tube.distance(self.other_walls) >= self.gap
                and self.panel_section.buffer(EASE).contains(hole)
            ):
                fits.append(float(s))
        right = self.width - self.board - (max(self.behind, self.reach + self.gap) if self.facing == SIDEWAYS else 0.0)
        edge = self.board + self.pipe + self.gap
        places = self.panel_places(stack, row, fits, np.arange(edge, right - self.pipe - self.gap, STEP))
        clear = self.pipe + self.gap
        for held in (row.braces, None):
            grid = places
            for brace in held or ():
                grid = grid[(grid[:, 0] + clear <= brace) | (grid[:, 0] - clear >= brace + self.board)]
            for order in (grid[:, 0], -grid[:, 0], grid[:, 1], -grid[:, 1]):
                chosen = _apart(grid[np.argsort(order, kind="stable")], self.vents, 2.0 * self.pipe + self.gap)
                blocked = tuple((x - clear - self.board, x + clear) for x, _ in chosen)
                taken = ((self.width - self.reach - self.gap - self.board, self.width),)
                blocked += taken if self.facing == SIDEWAYS else ()
                braces = held if held is not None else self.braces(row.columns, blocked)
                if chosen and braces is not None and len(braces) == len(row.braces):
                    yield chosen, braces

    def bent_places(
        self, length: float, stack: tuple[float, ...], row: Row
    ) -> Iterator[tuple[list[tuple[float, float]], tuple[float, ...]]]:
        bend = self.things["elbow_radius"]
        leg = length - self.board - 0.5 * math.pi * bend
        mouth = self.board + self.gap + self.pipe
        end = mouth + bend + leg + 2.0 * self.bore
        if leg <= 0.0 or end > self.width - self.board or any(brace < mouth + bend for brace in row.braces):
            return
        edge = self.pipe + self.design.rules.round_over
        fits = []
        for s in np.arange(edge, self.length - edge, STEP):
            point = Point(self.at(float(s), self.board + bend))
            hole = self.outline(s, (self.pipe, 0.0), (self.pipe, self.board))
            elbow = self.outline(s, (self.pipe, self.board), (self.pipe, self.board + bend))
            if (
                self.inside.contains(point)
                and point.distance(self.other_walls) >= self.pipe + self.gap
                and elbow.distance(self.other_walls) >= self.gap
                and self.panel_section.buffer(EASE).contains(hole)
                and all(point.distance(outline) >= self.pipe + gap for outline, gap in self.in_the_way(end, stack, row))
            ):
                fits.append(float(s))
        places = self.panel_places(stack, row, fits, np.array([mouth]))
        for order in (places[:, 1], -places[:, 1]):
            chosen = _apart(places[np.argsort(order, kind="stable")], self.vents, 2.0 * self.pipe + self.gap)
            if chosen:
                yield chosen, row.braces

    # Cup

    def cup_places(
        self, way: int, length: float, stack: tuple[float, ...], row: Row, vents: list[tuple[float, float]]
    ) -> Iterator[Floats | None]:
        cup = self.design.rules.cup
        if cup is None:
            yield None
            return
        radius, left = 0.5 * cup.cutout_diameter, self.width - self.board - self.cup_depth - self.gap
        keep: list[tuple[Polygon, float]] = []
        if self.facing == SIDEWAYS:
            middle = [centre for z in stack if (centre := self.side_centre(z)) is not None]
            apart = max(self.wide + self.gap, self.flange + 0.5 * cup.flange_diameter + self.gap - radius)
            keep += [(Point(centre), apart) for centre in middle]
        elif max(row.columns) + self.wide > left:
            keep += [pair for s in stack for pair in ((self.basket(s), self.gap), (self.air_behind(s), 0.0))]
        bend = self.things["elbow_radius"]
        start = {SIDE: 0.0, BENT: 2.0 * self.board + self.gap + self.pipe - (0.5 * math.pi - 1.0) * bend - self.board}
        for one, other in vents:
            if way == STRAIGHT and one + self.pipe > left:
                end = length + 2.0 * self.bore
                keep.append((self.outline(other, (self.pipe, self.board), (self.pipe, end)), self.gap))
            elif way != STRAIGHT and start[way] + length + 2.0 * self.bore > left:
                centre = self.at(other, self.board + bend) if way == BENT else np.array([one, other])
                keep.append((Point(centre), self.pipe + self.gap))
        low, high = self.inner.min(axis=0), self.inner.max(axis=0)
        for y, z in product(np.arange(low[0], high[0], STEP), np.arange(low[1], high[1], STEP)):
            centre = np.array([y, z])
            if self.fits_beside(centre, radius + self.gap, 0.5 * cup.flange_diameter) and all(
                Point(centre).distance(outline) >= radius + gap + EASE for outline, gap in keep
            ):
                yield centre

    # Solids

    def arrangement(
        self,
        way: int,
        length: float,
        in_column: int,
        stack: tuple[float, ...],
        row: Row,
        vents: list[tuple[float, float]],
        cup: Floats | None,
    ) -> Assembly:
        made = [self.vent(number, way, length, place) for number, place in enumerate(vents, start=1)]
        between = (self.board, self.width - self.board)
        drivers = [self.driver(number, in_column, stack, row) for number in range(self.drivers)]
        blocks = enumerate(self.supports(way, length, made, row), start=1)
        return Assembly(
            outer=Prism(section=self.outer, x=(0.0, self.width)),
            inner=Prism(section=self.inner, x=between),
            bodies=(
                *self.design.panels,
                *(body for bodies in (*drivers, *made) for body in bodies),
                *(self.brace(number, x, way, made) for number, x in enumerate(row.braces, start=1)),
                *(
                    Body(name=f"support {k}", role=roles.BLOCK, thing=Thing("block", k), shapes=(block,))
                    for k, block in blocks
                ),
                *(self.cup_solid(cup) if cup is not None else ()),
            ),
        )

    def driver(self, number: int, in_column: int, stack: tuple[float, ...], row: Row) -> list[Body]:
        if self.facing == SIDEWAYS:
            s = stack[number]
            middle = self.side_centre(s)
            assert middle is not None
            centre, inward = np.array([self.width, *middle]), np.array([-1.0, 0.0, 0.0])
        else:
            s, x = stack[number % in_column], row.columns[number // in_column]
            centre, inward = np.array([x, *self.at(s, 0.0)]), np.array([0.0, *self.inward])
        sizes = driver_sizes(
            flange=2.0 * self.flange,
            cutout=2.0 * self.hole,
            magnet=2.0 * self.magnet,
            neck=self.neck,
            reach=self.reach,
            rear_gap=self.rear_gap,
        )
        panel = "right side" if self.facing == SIDEWAYS else self.panel
        return driver(number + 1, centre, inward, sizes, panel=panel, board=self.board)

    def vent(self, number: int, way: int, length: float, place: tuple[float, float]) -> list[Body]:
        across, inward = np.array([1.0, 0.0, 0.0]), np.array([0.0, *self.inward])
        bend = self.things["elbow_radius"]
        mouth = np.array([0.0, *place]) if way == SIDE else np.array([place[0], *self.at(place[1], 0.0)])
        axis = inward if way == STRAIGHT else across
        pieces: tuple[Frustum | Bend, ...]
        if way == BENT:
            turn = mouth + self.board * inward
            centre = turn + bend * across
            start = centre + bend * inward
            pieces = (
                cylinder(mouth, turn, self.pipe),
                Bend(centre=centre, first=-across, last=inward, radius=bend, tube_radius=self.pipe),
                cylinder(start, start + (length - self.board - 0.5 * math.pi * bend) * across, self.pipe),
            )
        else:
            pieces = (cylinder(mouth, mouth + length * axis, self.pipe),)
        return vent(
            number,
            pipe=pieces,
            bore=self.bore,
            air_radius=self.pipe,
            panel="left side" if way == SIDE else self.panel,
            passing=way != STRAIGHT,
            board=self.board,
            air_outside=way == SIDE,
        )

    def brace(self, number: int, x: float, way: int, vents: list[list[Body]]) -> Body:
        air = [body_of(bodies, roles.FREE_AIR).frusta[0] for bodies in vents]
        passing = [each for each in air if way != STRAIGHT and each.end[0] > x]
        holes = [Point(each.start[1:]).buffer(self.pipe + 2e-4) for each in passing]
        rings = shapely.get_parts(shapely.union_all(holes)) if holes else ()
        shape = Prism(
            section=self.inner,
            x=(x, x + self.board),
            holes=tuple(np.asarray(ring.exterior.coords)[:-1] for ring in rings),
        )
        return Body(name=f"brace {number}", role=roles.BRACE, thing=Thing("brace", number), shapes=(shape,))

    def supports(self, way: int, length: float, vents: list[list[Body]], row: Row) -> Iterator[Prism]:
        """Blocks from each pipe to the nearer of bottom and top, or to the panel it came through."""
        count = math.floor((length - self.board) / SUPPORT_SPAN) if vents and way != STRAIGHT else 0
        mouths = [body_of(bodies, roles.FREE_AIR).frusta[0].start[1:] for bodies in vents]
        pipes = shapely.union_all([Point(mouth).buffer(self.pipe + 2e-4) for mouth in mouths])
        for (bodies, mouth), place in product(zip(vents, mouths, strict=True), range(1, count + 1)):
            y, z = mouth
            if way == BENT:
                s = float((mouth - self.origin) @ self.up)
                block = self.outline(s, (self.pipe, self.board), (self.pipe, self.board + self.things["elbow_radius"]))
            else:
                low, high = self.inner[0, 1], self.inner[2, 1]
                block = shapely.box(y - self.pipe, min(z, low if z - low < high - z else z), y + self.pipe, z)
                if high - z <= z - low:
                    block = shapely.box(y - self.pipe, z, y + self.pipe, high)
            left = shapely.get_parts(block.intersection(self.inside).difference(pipes))
            if not len(left):
                continue
            section = max(left, key=lambda piece: piece.area)
            last = body_of(bodies, roles.PASSING_PIPE).frusta[-1]
            start, end = max(float(last.start[0]), self.board), float(last.end[0])
            x = start + (end - start) * place / count - self.board
            met = [brace for brace in row.braces if brace - self.board < x < brace + self.board]
            x = met[0] - self.board if met else x
            yield Prism(section=np.asarray(section.exterior.coords)[:-1], x=(x, x + self.board))

    def cup_solid(self, centre: Floats) -> list[Body]:
        cup = self.design.rules.cup
        assert cup is not None
        return terminal_cup(
            np.array([self.width, *centre]),
            np.array([-1.0, 0.0, 0.0]),
            panel="right side",
            board=self.board,
            hole=0.5 * cup.cutout_diameter,
            flange=0.5 * cup.flange_diameter,
            depth=cup.depth,
        )


def _apart(places: Floats, count: int, pitch: float) -> list[tuple[float, float]]:
    """The first ``count`` places that keep ``pitch`` from each other; none if there are not so many."""
    chosen: list[tuple[float, float]] = []
    while len(places) and len(chosen) < count:
        first = places[0]
        chosen.append((float(first[0]), float(first[1])))
        places = places[np.hypot(*(places - first).T) >= pitch]
    return chosen if len(chosen) == count else []
