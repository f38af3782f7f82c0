"""What the openings of braces weigh: against finite elements, a slit in closed form, and a duct cut into pieces."""

from __future__ import annotations

import math
from functools import partial
from itertools import pairwise

import numpy as np
import pytest
import skfem
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve
from skfem.helpers import dot, grad

from engine.acoustics.windows import Openings, crossing, edges, opening_inertance, weight

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]
Rectangle = tuple[float, float, float, float]  # from and to over the height, from and to over the depth, in parts

HEIGHT, DEPTH, RUN, BOARD = 0.36, 0.15, 0.5, 0.018
FORMS: dict[str, list[Rectangle]] = {
    "framed window": [(0.125, 0.875, 0.3, 0.7)],
    "window off the middle": [(0.4, 0.875, 0.25, 0.8)],
    "half-height rib": [(0.0, 0.5, 0.0, 1.0)],
    "strip": [(0.0, 0.425, 0.0, 1.0), (0.575, 1.0, 0.0, 1.0)],
    "two strips, one off the middle": [(0.0, 0.2, 0.0, 1.0), (0.35, 0.7, 0.0, 1.0), (0.85, 1.0, 0.0, 1.0)],
}


def openings_of(rectangles: list[Rectangle], *, height: float = HEIGHT, depth: float = DEPTH) -> Openings:
    low, high, rear, front = np.ascontiguousarray(np.array(rectangles).T)
    return Openings(low=low, high=high, rear=rear, front=front, area=(high - low) * (front - rear) * height * depth)


def found(rectangles: list[Rectangle], *, thickness: float = BOARD) -> float:
    return opening_inertance(openings_of(rectangles), HEIGHT, DEPTH, thickness, edges())


def at(end: float, places: Floats) -> Flags:
    return np.isclose(places[0], end)


def planes(marks: list[float], step: float) -> Floats:
    """At the marks and, evenly, between them."""
    marks = sorted({round(mark, 9) for mark in marks})
    pieces = [np.linspace(a, b, math.ceil((b - a) / step) + 1)[:-1] for a, b in pairwise(marks)]
    return np.array([*np.concatenate(pieces), marks[-1]])


def solved(rectangles: list[Rectangle]) -> float:
    """Inertance over density beyond the duct's own: bricks in a duct, the brace's left out, an even flow in and out."""
    x = planes([0.0, 0.5 * (RUN - BOARD), 0.5 * (RUN + BOARD), RUN], 0.045)
    y = planes([0.0, *(DEPTH * part for each in rectangles for part in each[2:]), DEPTH], 0.022)
    z = planes([0.0, *(HEIGHT * part for each in rectangles for part in each[:2]), HEIGHT], 0.03)
    mesh = skfem.MeshHex.init_tensor(x, y, z)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    board = np.abs(middle[0] - 0.5 * RUN) < 0.5 * BOARD
    for low, high, rear, front in rectangles:
        within = (middle[2] > low * HEIGHT) & (middle[2] < high * HEIGHT)
        board &= ~(within & (middle[1] > rear * DEPTH) & (middle[1] < front * DEPTH))
    mesh = mesh.remove_elements(np.flatnonzero(board))
    basis = skfem.Basis(mesh, skfem.ElementHex2())
    stiffness = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    load = np.zeros(basis.N)
    for end, sign in ((0.0, 1.0), (RUN, -1.0)):
        facets = mesh.facets_satisfying(partial(at, end), boundaries_only=True)
        patch = skfem.LinearForm(lambda v, w: 1.0 * v).assemble(skfem.FacetBasis(mesh, basis.elem, facets=facets))
        load += sign * patch / patch.sum()
    free = np.arange(1, basis.N)
    pressure = spsolve(stiffness[free][:, free].tocsc(), load[free])
    return float(pressure @ load[free]) - RUN / (HEIGHT * DEPTH)


@pytest.mark.parametrize("form", list(FORMS))
def test_openings_against_finite_elements(form: str) -> None:
    """Independent implementation: potential flow through a brace in a duct, on bricks, within 10 %."""
    ours, theirs = found(FORMS[form]), solved(FORMS[form])
    print(f"\n{form:32s} {ours:7.3f} {theirs:7.3f} 1/m", end="")
    assert ours == pytest.approx(theirs, rel=0.10)


@pytest.mark.parametrize("part", [0.15, 0.3, 0.5, 0.75])
def test_a_slit_in_a_thin_wall(part: float) -> None:
    """Analytic limit: half-closed ducts, 2/(πD)·ln csc(πb/2H) on either side of a thin wall (Rayleigh, from memory).

    The flow round square edges is not that round thin ones: 3 %.
    """
    exact = 2.0 / (math.pi * DEPTH) * math.log(1.0 / math.sin(0.5 * math.pi * part)) * 2.0
    assert found([(0.0, part, 0.0, 1.0)], thickness=0.0) == pytest.approx(exact, rel=0.03)
    # The same in the middle of a duct is half a duct twice, side by side.
    middle = found([(0.5 - 0.5 * part, 0.5 + 0.5 * part, 0.0, 1.0)], thickness=0.0)
    assert middle == pytest.approx(0.5 * exact, rel=0.03)


def test_nothing_in_the_way_weighs_nothing() -> None:
    """Analytic limit: open from wall to wall."""
    assert found([(0.0, 1.0, 0.0, 1.0)]) == pytest.approx(0.0, abs=1e-12)


def test_a_duct_in_pieces() -> None:
    """Independent implementation: a duct with masses in it, from the wave equation between them, exact in frequency."""
    width, area, k = 0.8, HEIGHT * DEPTH, 4.0
    braces, ports = np.array([0.25, 0.5]), [0.1, 0.4, 0.7]
    g = np.array([[crossing(port, brace, width, k) for brace in braces] for port in ports])
    ours = g @ weight(braces, np.array([3.0, 6.0]), width, area, k) @ g.T

    marks = [0.0, 0.1, 0.25, 0.4, 0.5, 0.7, width]

    def pressures(source: float, masses: dict[float, float]) -> dict[float, float]:
        """P over jωρ at every port for a unit flow into one; unknowns a·cos + b·sin in each piece."""
        count = len(marks) - 1
        matrix, right = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)

        def p(piece: int, at: float) -> Floats:
            row = np.zeros(2 * count)
            row[2 * piece : 2 * piece + 2] = math.cos(k * at), math.sin(k * at)
            return row

        def u(piece: int, at: float) -> Floats:  # -S·p'
            row = np.zeros(2 * count)
            row[2 * piece : 2 * piece + 2] = area * k * math.sin(k * at), -area * k * math.cos(k * at)
            return row

        rows = [u(0, 0.0), u(count - 1, width)]
        values = [0.0, 0.0]
        for piece, at in enumerate(marks[1:-1]):
            rows.append(p(piece, at) - p(piece + 1, at) - masses.get(at, 0.0) * u(piece, at))
            rows.append(u(piece + 1, at) - u(piece, at))
            values += [0.0, 1.0 if at == source else 0.0]
        matrix[:], right[:] = rows, values
        waves = np.linalg.solve(matrix, right)
        return {at: float(p(piece, at) @ waves) for piece, at in enumerate(marks[1:-1])}

    for i, source in enumerate(ports):
        with_masses, without = (pressures(source, masses) for masses in ({0.25: 3.0, 0.5: 6.0}, {}))
        for j, at in enumerate(ports):
            assert ours[i, j] == pytest.approx(with_masses[at] - without[at], rel=1e-9)


def test_at_rest_the_volume_beyond_decides() -> None:
    """Analytic limit: at a low frequency the part of a flow that passes is that of the volume on the other side."""
    g = [crossing(port, 0.2, 0.8, 1e-3) for port in (0.05, 0.7)]
    assert g == pytest.approx([0.75, -0.25], rel=1e-5)
