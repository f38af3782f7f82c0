"""The air outside a box close to walls: finite elements of its layers, of whole niches, and limits in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skfem
from numpy.typing import NDArray
from skfem.helpers import dot, grad

from engine.acoustics import gap
from engine.acoustics.cavity import Inertance
from engine.acoustics.ends import PISTON_END, beside_plate, free_side, pistons
from engine.acoustics.gap import SQUARE, Mouths, Outside, outside, radius_of
from engine.acoustics.slots import mirrored_end
from engine.acoustics.strip import ABOVE, AHEAD, BELOW, LEFT, RIGHT, TRIM, Niche, corner_squares, edge_end
from engine.acoustics.validity import TUNED_TO
from engine.air import REFERENCE_AIR
from engine.parts import Openness
from tests.acoustics.niches import NicheCase, Port, niches
from tests.acoustics.reference_boxes import Box, Solved, peaks, solved
from tests.acoustics.test_thin_box import heard
from tests.acoustics.thin_boxes import thin
from tests.core.uncompiled import uncompiled

Floats = NDArray[np.float64]
SIDES = {"front": AHEAD, "left": LEFT, "right": RIGHT, "below": BELOW, "above": ABOVE}
AT_REST = 1e-3  # Hz
TOUCHING = 1e-9  # m
CLOSED = Openness()  # but for what is above


@pytest.fixture
def smooth(monkeypatch: pytest.MonkeyPatch) -> None:
    """Air without friction, as potential flow has it."""
    monkeypatch.setattr(gap, "VISCOSITY", 1e-15)


def niche(**sizes: float) -> Niche:
    """A batch of one; what is not stated touches."""
    names = ("width", "height", "depth", "bottom", "ahead", "left", "right", "above", "below")
    return Niche(**{name: np.array([sizes.get(name, TOUCHING)]) for name in names})


def mouths(*ports: Port, openings: tuple[bool, ...] = ()) -> Mouths:
    """A batch of one, all of them drivers unless said otherwise."""
    rows = []
    for port in ports:
        sides = (SQUARE * port.radius,) * 2 if port.radius else (port.length, port.height)
        radius = port.radius or float(radius_of(width=np.array(port.length), height=np.array(port.height)))
        rows.append((port.along, port.up, *sides, radius))
    along, up, length, height, radii = (np.array([column]) for column in zip(*rows, strict=True))
    return Mouths(
        side=np.array([[SIDES[port.side] for port in ports]]),
        opening=np.array([openings or (False,) * len(ports)]),
        along=along,
        up=up,
        length=length,
        height=height,
        radius=radii,
    )


def weighed(
    where: Niche, *ports: Port, openness: Openness = CLOSED, hz: float = AT_REST, openings: tuple[bool, ...] = ()
) -> Outside:
    return outside(niche=where, openness=openness, mouths=mouths(*ports, openings=openings), frequency=np.array([hz]))


def of_case(case: NicheCase) -> Floats:
    """What the model has for each port of a case, and between those that have air in common, (P, P) 1/m; else nan."""
    where = niche(
        **{name: max(getattr(case, name), TOUCHING) for name in ("width", "height", "depth", "ahead", "left", "right")},
        bottom=case.depth,
        above=case.above,
    )
    count = len(case.ports)
    found = np.full((count, count), np.nan)
    ports = [replace(port, along=port.along + case.left) if port.side == "above" else port for port in case.ports]
    for i, port in enumerate(ports):
        found[i, i] = weighed(where, port).inertance.driver[0]
        for j, other in enumerate(ports[:i]):
            if other.side == port.side or (other.side, port.side) == ("front", "left"):
                both = weighed(where, other, port, openings=(False, True))
                found[i, j] = found[j, i] = both.inertance.mutual[0]
    return found


@pytest.mark.parametrize("case", niches(), ids=lambda case: case.name)
def test_niches(smooth: None, case: NicheCase) -> None:
    """Independent implementation: every niche of the record, each port to 10 %, so between two of a layer.

    Between a cone before the box and a mouth in its side to 25 %.

    Layers of 10 to 150 mm before cones and vents, boxes in the middle, at an end, all round in the open.
    """
    assert case.inertance is not None
    found = of_case(case)
    own = np.diag(case.inertance)
    assert np.diag(found) == pytest.approx(own, rel=0.1)
    sides = np.array([port.side for port in case.ports])
    alike = sides == sides[:, np.newaxis]
    between = alike & ~np.eye(len(own), dtype=bool)
    assert found[between] == pytest.approx(case.inertance[between], rel=0.1)
    assert found[~alike] == pytest.approx(case.inertance[~alike], rel=0.25)


def test_most_niches_are_met_closely(smooth: None) -> None:
    """Independent implementation: all ports of all niches to 3 % rms, and to 6 % where more walls than one are near."""
    off = {case.name: np.diag(of_case(case)) / np.diag(np.array(case.inertance)) - 1.0 for case in niches()}
    assert math.sqrt(np.mean(np.concatenate(list(off.values())) ** 2)) < 0.03
    assert all(np.abs(each).max() < 0.06 for name, each in off.items() if name != "open all round")


def layer(
    width: float, height: float, depth: float, port: Port, *, top: float,
    ends: tuple[float, float] = (math.inf, math.inf), leak: float = 0.0,
) -> float:  # fmt: skip
    """Even part of the inertance of a port in one flat layer, 1/m, by finite elements in two dimensions.

    Closed below; ``top`` and ``ends`` are the lengths that its upper edge and its two ends go on for, inf: closed;
    ``leak`` is 1/(depth·length of the wall's openings), 1/m².
    """
    mesh = skfem.MeshQuad.init_tensor(np.linspace(0.0, width, 61), np.linspace(0.0, height, 41))
    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=8)
    matrix = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v)) + leak * u * v).assemble(basis)
    edges = [(lambda p: np.isclose(p[1], height), top)]
    edges += [(lambda p: np.isclose(p[0], 0.0), ends[0]), (lambda p: np.isclose(p[0], width), ends[1])]
    for there, length in edges:
        facets = skfem.FacetBasis(mesh, basis.elem, facets=mesh.facets_satisfying(there))
        matrix = matrix + skfem.BilinearForm(lambda u, v, w, over=1.0 / length: over * u * v).assemble(facets)
    load = skfem.LinearForm(lambda v, w: port.covers(w.x[0], w.x[1]) * v).assemble(basis)
    load /= load.sum()
    return float(load @ skfem.solve(matrix, load)) / depth


def even(where: Niche, depth: float, port: Port, **stated: Any) -> float:
    """The model's part that is even over the depth."""
    radius = port.radius or float(radius_of(width=np.array(port.length), height=np.array(port.height)))
    turning = beside_plate(radius, depth, pistons())
    return float(weighed(where, port, **stated).inertance.driver[0]) - turning


def top_end(width: float, depth: float, above: float) -> float:
    return edge_end(width, depth, above, False)


@pytest.mark.parametrize(("along", "up"), [(0.5, 0.2), (0.15, 0.3), (0.85, 0.12)])
def test_one_layer(smooth: None, along: float, up: float) -> None:
    """Independent implementation: before a seat, the box touching the trim on both sides, a cone to 1 %, a slot to 3 %.

    Closed, at rest and at 60 Hz; with a fifth of the seat open; with a tenth of what is above.
    """
    where = niche(width=1.0, height=0.42, depth=0.15, ahead=0.02, above=0.1)
    end = top_end(1.0, 0.02, 0.1)
    lid = TRIM * (1.0 / 0.1 - 1.0) * 0.02 / (0.15 + 0.02)
    square = (2.0 * math.pi * 60.0 / REFERENCE_AIR.c) ** 2
    for port in (
        Port(side="front", along=along, up=up, radius=0.1),
        Port(side="front", along=along, up=up, length=0.2, height=0.03),
    ):
        for expected, stated in (
            (layer(1.0, 0.42, 0.02, port, top=end), {}),
            (layer(1.0, 0.42, 0.02, port, top=end, leak=-square), {"hz": 60.0}),
            (layer(1.0, 0.42, 0.02, port, top=end, leak=0.25 / TRIM / 0.02), {"openness": Openness(front=0.2)}),
            (layer(1.0, 0.42, 0.02, port, top=end + lid), {"openness": Openness(top=0.1)}),
        ):
            assert even(where, 0.02, port, **stated) == pytest.approx(expected, rel=0.01 if port.radius else 0.03)


def test_below_a_box(smooth: None) -> None:
    """Independent implementation: a layer under a box on feet, closed at the back, open at the other edges, to 2 %."""
    where = niche(width=0.6, height=0.4, depth=0.25, bottom=0.3, below=0.05)
    port = Port(side="below", along=0.35, up=0.16, radius=0.1)
    ends = [mirrored_end(width=side, height=0.05, along_width=True) for side in (0.6, 0.3)]
    expected = layer(0.6, 0.3, 0.05, port, top=ends[0], ends=(ends[1], ends[1]))
    assert even(where, 0.05, port) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("openness", [Openness(top=0.05), Openness(top=0.0, front=0.3), Openness(top=0.02, left=0.4)])
def test_above_a_box(smooth: None, openness: Openness) -> None:
    """Independent implementation: the pocket under a lid, over box and the air beside it, to 2 %.

    Closed at the back, at its other edges and above as open as is stated.
    """
    where = niche(width=0.7, height=0.4, depth=0.2, bottom=0.25, ahead=0.05, left=0.1, right=0.06, above=0.08)
    port = Port(side="above", along=0.24, up=0.09, radius=0.05)
    walls = {side: TRIM * (1.0 / max(getattr(openness, side), 1e-3) - 1.0) for side in ("front", "left", "right")}
    wide, deep = 0.86, 0.15 + 0.05
    front, side = (mirrored_end(width=size, height=0.08, along_width=True) for size in (wide, deep))
    leak = openness.top / TRIM / (1.0 - openness.top) / 0.08
    ends = {each: side + walls[each] for each in ("left", "right")}
    expected = layer(wide, deep, 0.08, port, top=front + walls["front"], ends=(ends["left"], ends["right"]), leak=leak)
    assert even(where, 0.08, port, openness=openness) == pytest.approx(expected, rel=0.02)


def test_a_mouth_in_the_top_under_open_sky() -> None:
    """Analytic limits: nothing above and before the box leaves the flush end of free air, and of two what they have in
    common there; so does a lid far above that is open enough.  A shut one does not, and the nearer it is the less.
    """
    alone = PISTON_END / (math.pi * 0.04)
    port = Port(side="above", along=0.5, up=0.1, radius=0.04)

    def found(above: float, *ports: Port, **openness: float) -> float:
        where = niche(width=0.8, height=0.4, depth=0.25, bottom=0.25, ahead=0.05, left=0.1, right=0.1, above=above)
        return float(weighed(where, *ports, openness=Openness(**openness)).inertance.driver[0])

    other = replace(port, along=0.7)
    for above in (0.08, 3.0):
        assert found(above, port, front=1.0) == pytest.approx(alone)
        common = 1.0 / (2.0 * math.pi * 0.2)
        assert found(above, port, other, front=1.0) == pytest.approx(0.5 * (alone + common))
    assert found(3.0, port, top=0.9, front=1.0) == pytest.approx(alone, rel=0.02)
    assert found(0.08, port, top=0.1) > found(0.16, port, top=0.1) > 1.05 * alone


@pytest.mark.parametrize("ratio", [0.25, 1.0, 3.0])
def test_a_corner(ratio: float) -> None:
    """Independent implementation: potential flow round an L whose legs differ in width, by finite elements, to 1 %."""
    long, fine = 3.0 * max(1.0, ratio), np.linspace(0.0, 1.0, 31) ** 2
    across = np.unique(np.concatenate([-ratio * fine, long * fine]))
    up = np.unique(np.concatenate([-long * fine, fine]))
    mesh = skfem.MeshQuad.init_tensor(across, up)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.restrict(np.flatnonzero((middle[0] < 0.0) | (middle[1] > 0.0)))
    basis = skfem.Basis(mesh, skfem.ElementQuad2())
    matrix = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    ends = [
        basis.get_dofs(mesh.facets_satisfying(there)).all()
        for there in (lambda p: np.isclose(p[0], long), lambda p: np.isclose(p[1], -long))
    ]
    pressure = np.zeros(matrix.shape[0])
    pressure[ends[0]] = 1.0
    pressure = skfem.solve(*skfem.condense(matrix, x=pressure, D=np.concatenate(ends)))
    expected = 1.0 / float(pressure @ (matrix @ pressure)) - long - long / ratio
    assert corner_squares(ratio) == pytest.approx(expected, rel=0.01)


def test_in_the_open() -> None:
    """Analytic limit: no wall near, or a seat that is all open, leaves Rayleigh's piston in a large panel."""
    alone = PISTON_END / (math.pi * 0.1)
    port = Port(side="front", along=0.5, up=0.2, radius=0.1)
    free = niche(width=1.0, height=0.42, depth=0.3, ahead=30.0, left=30.0, right=30.0, above=30.0)
    assert weighed(free, port).inertance.driver[0] == pytest.approx(alone, rel=0.05)
    near = niche(width=1.0, height=0.42, depth=0.3, ahead=0.03, left=0.1, right=0.1, above=0.1)
    opened = weighed(near, port, openness=Openness(front=1.0)).inertance.driver[0]
    assert opened == pytest.approx(alone, rel=0.05)
    assert weighed(near, port).inertance.driver[0] > 2.0 * alone


def test_friction() -> None:
    """Analytic limits: 12·ν/depth² in a thin layer (Poiseuille), and a skin √(2ν/ω) of stuck air in a thick one."""
    port = Port(side="front", along=0.5, up=0.2, radius=0.1)
    for depth, hz in ((0.0005, 0.5), (0.05, 200.0)):
        where = niche(width=1.0, height=0.42, depth=0.15, ahead=depth, above=0.1)
        found, omega = weighed(where, port, hz=hz), 2.0 * math.pi * hz
        share = omega * found.friction.driver[0] / even(where, depth, port, hz=hz)
        thin = 12.0 * gap.VISCOSITY / depth**2 / 1.2  # of the mass, which is 6/5 of the air's there
        thick = omega * math.sqrt(2.0 * gap.VISCOSITY / omega) / depth
        assert share == pytest.approx(thin if depth < 0.001 else thick, rel=0.03)


def test_it_scales_and_turns() -> None:
    """Dimensional: all lengths doubled, all of it halves; symmetry: right is left, seen in a mirror."""
    sizes = {"width": 0.8, "height": 0.4, "depth": 0.2, "ahead": 0.03, "left": 0.08, "right": 0.05, "above": 0.06}
    twice = {name: 2.0 * size for name, size in sizes.items()}
    for side, radius in (("front", 0.1), ("left", 0.04)):
        small = weighed(niche(**sizes), Port(side=side, along=0.1, up=0.15, radius=radius))
        large = weighed(niche(**twice), Port(side=side, along=0.2, up=0.3, radius=2.0 * radius), hz=0.25 * AT_REST)
        assert large.inertance.driver[0] == pytest.approx(0.5 * small.inertance.driver[0])
    left = weighed(niche(**sizes), Port(side="left", along=0.1, up=0.15, radius=0.04))
    mirrored = {**sizes, "left": sizes["right"], "right": sizes["left"]}
    right = weighed(niche(**mirrored), Port(side="right", along=0.1, up=0.15, radius=0.04))
    assert right.inertance.driver[0] == pytest.approx(left.inertance.driver[0])


def test_a_batch_is_its_designs_one_by_one() -> None:
    """Vectorised: designs of several sorts together are what each is alone."""
    front, left = Port(side="front", along=0.4, up=0.2, radius=0.1), Port(side="left", along=0.1, up=0.1, radius=0.03)
    where = niche(width=0.8, height=0.4, depth=0.2, ahead=0.03, left=0.08, right=0.05, above=0.06)
    alone = [
        weighed(where, front, left, openings=(False, True), hz=40.0),
        weighed(where, front, front, openings=(False, True), hz=40.0),
    ]
    both = [mouths(front, other, openings=(False, True)) for other in (left, front)]
    joined = Mouths(*(np.concatenate(columns) for columns in zip(*both, strict=True)))
    twice = where.take(np.array([0, 0]))
    found = outside(niche=twice, openness=CLOSED, mouths=joined, frequency=np.full(2, 40.0))
    for name in ("driver", "mutual", "opening"):
        expected = [getattr(one.inertance, name)[0] for one in alone]
        assert getattr(found.inertance, name) == pytest.approx(expected)


def of_the_record() -> dict[str, Floats]:
    """What the model has for some niches."""
    return {case.name: of_case(case) for case in niches()[::3]}


def test_plain_python_gives_the_same(tmp_path: Path) -> None:
    """Independent implementation: the same functions run by Python itself, in a process where nothing is compiled."""
    plain = uncompiled(__name__, of_the_record.__name__, tmp_path)
    for name, expected in of_the_record().items():
        np.testing.assert_allclose(plain[name], expected, rtol=1e-9)


def boxed() -> list[tuple[Solved, NicheCase]]:
    """Niches round boxes whose insides are solved as well, braces included."""
    inside = {one.box.name: one for one in solved()}
    return [(inside[case.box], case) for case in niches() if case.box]


def beyond(box: Box, weights: Floats) -> Floats:
    """Means of what ports weigh beyond the open air, drivers and openings each moving alike, (2, 2) 1/m.

    ``weights`` (P, P) is of every port alone, nan between those that the model has nothing in common for.
    """
    count, known = len(box.cones), np.nan_to_num(weights)
    found = np.zeros((2, 2))
    found[0, 0] = known[:count, :count].mean() - float(free_side(np.array(box.sd))) / (count * box.sd**2)
    if len(weights) > count:
        found[0, 1] = found[1, 0] = known[:count, count:].mean()
        open_air = box.outer_end / box.opened if box.opened else 0.0
        if box.radiators:
            open_air = float(free_side(np.array(box.radiator_sd))) / (len(box.radiators) * box.radiator_sd**2)
        found[1, 1] = known[count:, count:].mean() - open_air
    return found


def in_niche(one: Solved, case: NicheCase) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Tuning and peaks of box and niche together, Hz: as the product hears them, and by finite elements."""
    assert case.inertance is not None
    added = beyond(one.box, of_case(case))
    sorts = {"driver": added[0, 0], "mutual": added[0, 1], "opening": added[1, 1]}
    outside = Inertance(**{name: np.array([each]) for name, each in sorts.items()})
    niched = InNiche(**vars(one), added=beyond(one.box, case.inertance))
    return heard(one.box, outside=outside), (niched.tuning, *peaks(niched.reactance, tuning=niched.tuning))


@pytest.mark.parametrize(("one", "case"), boxed(), ids=lambda each: getattr(each, "name", ""))
def test_boxes_in_niches(smooth: None, one: Solved, case: NicheCase) -> None:
    """Independent implementation: box, braces, gap and pocket by finite elements, tunings to 0.9 %, peaks to 0.7 %.

    Outside and inside meet in cones and mouths only.  What a tuning is said to be good to covers what it is off.
    """
    found, expected = in_niche(one, case)
    print(
        f"\n{case.box:42s}",
        " ".join(f"{100.0 * (a / b - 1.0):6.2f}" for a, b in zip(found, expected, strict=True)),
        "%",
        end="",
    )
    assert found[0] == pytest.approx(expected[0], rel=0.9 * TUNED_TO, nan_ok=True)
    assert found[1:] == pytest.approx(expected[1:], rel=0.007)


def test_enough_boxes_are_in_niches() -> None:
    """At least twelve, all with braces; every tuned one is tuned lower in its niche."""
    every = boxed()
    assert len(every) >= 12
    assert all(one.box.plates for one, _ in every)
    for one, case in every:
        if one.box.opened or one.box.radiators:
            assert case.inertance is not None
            assert InNiche(**vars(one), added=beyond(one.box, case.inertance)).tuning < one.tuning


@dataclass(frozen=True, kw_only=True)
class InNiche(Solved):
    """A solved box with what the air outside adds, of drivers and openings, (2, 2) 1/m.

    The record knows a vent by what the drivers see of it: its pole κ₀ and that pole's weight b₀.  With V the volume of
    the spring they tell what it weighs, m = 1/(V·κ₀²), and shares with the drivers, m·(1 - b₀·√V).
    """

    added: Floats

    @property
    def volume(self) -> float:
        return float(thin(self.box).volume[0])

    @property
    def mass(self) -> float:
        """Of a vent, over density, 1/m."""
        return float(1.0 / (self.volume * self.squares[0]))

    @property
    def tuning(self) -> float:
        if not self.box.opened:
            return super().tuning
        return super().tuning / math.sqrt(1.0 + self.added[1, 1] / self.mass)

    def at(self, frequency: Floats) -> Floats:
        z = super().at(frequency)
        if not self.box.opened:
            return z + self.added[: z.shape[1], : z.shape[1]]
        square = (2.0 * math.pi * np.atleast_1d(frequency) / REFERENCE_AIR.c) ** 2
        spring = 1.0 / (self.volume * square)
        own = self.mass - spring
        mutual = self.mass * (1.0 - abs(self.weights[0, 0]) * math.sqrt(self.volume)) - spring
        drivers = z[:, 0, 0] + mutual**2 / own + self.added[0, 0]
        return np.asarray(drivers - (mutual + self.added[0, 1]) ** 2 / (own + self.added[1, 1]))[:, None, None]


def test_above_a_box_as_below_it(smooth: None) -> None:
    """Analytic limit: between box and an open edge in front and beside, the layer above is the one below.

    Where nothing is near above it weighs what it does in a large panel, and so it does where all above is open.
    """
    sizes = {"width": 0.9, "depth": 0.3, "bottom": 0.3}
    free = Openness(front=1.0, top=0.0, left=1.0, right=1.0)
    for height in (0.02, 0.06, 0.15):
        above, below = (
            weighed(niche(**sizes, **{side: height}), Port(side=side, along=0.4, up=0.16, radius=0.1), openness=free)
            for side in ("above", "below")
        )
        assert above.inertance.driver == pytest.approx(below.inertance.driver, rel=1e-6)
    rayleigh = PISTON_END / (math.pi * 0.1)
    port = Port(side="above", along=0.4, up=0.16, radius=0.1)
    far = weighed(niche(**sizes, above=10.0), port, openness=free)
    assert far.inertance.driver == pytest.approx([rayleigh], rel=0.03)
    opened = weighed(niche(**sizes, above=0.06), port, openness=Openness(front=1.0, top=1.0, left=1.0, right=1.0))
    assert opened.inertance.driver == pytest.approx([rayleigh], rel=0.03)
    shut = weighed(niche(**sizes, above=0.06), port, openness=free)
    assert shut.inertance.driver > 1.1 * rayleigh
