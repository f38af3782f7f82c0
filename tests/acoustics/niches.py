"""Finite-element solution of the air outside a box in a niche: what ``engine/acoustics/gap.py`` is held against.

Independent of the model: Laplace's equation in three dimensions (a niche is small against the wave) in the air between
a box and the floor, two side walls, a wall behind it that it touches and one before it, open above into a half space
that ends ``BEYOND`` away in p = 0.  Linear bricks, small at the edges of the layers and round ports; discs and mouths
are integrated over as such, across the bricks' edges.  With bricks half as large round ports a vent weighs 0.6 % more,
a cone 0.5 %.  A quarter of a minute each, so run by hand:

    python -m tests.acoustics.niches            # solve every niche of reference_niches.json again
    python -m tests.acoustics.niches NAME ...   # those whose name begins so

The niches stand in the record itself; a new one is added there without its ``inertance``.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import skfem
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, cg
from skfem.helpers import dot, grad

Floats = NDArray[np.float64]
Span = tuple[float, float, float]

RECORD = Path(__file__).with_name("reference_niches.json")
FINE, COARSE, FAR, BEYOND = 0.016, 0.03, 0.2, 0.8  # m: bricks at edges, in the layers, outside; how far outside goes
GROWTH = 1.35
AT_PORT, AWAY = 1.0 / 3.0, 0.4  # bricks at a port in parts of its radius, and how fast they grow away from it
ON_WALL = 1e-9  # m


@dataclass(frozen=True, kw_only=True)
class Port:
    """A cone or mouth in the box's front, its left or right side, or its top ("above").

    m from the left, in a side from the back, and up, in the top from the back.
    """

    side: str
    along: float
    up: float
    radius: float = 0.0  # of a disc
    length: float = 0.0  # of a rectangle
    height: float = 0.0

    def covers(self, along: Floats, up: Floats) -> NDArray[np.bool_]:
        along, up = along - self.along, up - self.up
        if self.radius:
            return np.asarray(along**2 + up**2 < self.radius**2)
        return np.asarray((np.abs(along) < 0.5 * self.length) & (np.abs(up) < 0.5 * self.height))


@dataclass(frozen=True, kw_only=True)
class NicheCase:
    """A box in its niche, m, and what its ports weigh: ``inertance`` (P, P) over density, 1/m, once it is solved.

    ``box`` is the name of one of ``reference_boxes``, whose cones, radiators and vents the ports then are in that
    order; "" where the niche stands for itself.
    """

    name: str
    width: float
    height: float
    depth: float
    ahead: float
    left: float
    right: float
    above: float
    ports: tuple[Port, ...]
    box: str = ""
    inertance: Floats | None = None

    @classmethod
    def read(cls, stated: dict[str, Any]) -> NicheCase:
        found = {**stated, "ports": tuple(Port(**each) for each in stated["ports"])}
        if "inertance" in stated:
            found["inertance"] = np.array(stated["inertance"])
        return cls(**found)


@cache
def niches() -> tuple[NicheCase, ...]:
    """Every niche of the record."""
    return tuple(NicheCase.read(one) for one in json.loads(RECORD.read_text(encoding="utf-8")))


def solve(niche: NicheCase) -> Floats:
    """Inertance over density between all ports, (P, P) 1/m."""
    top, front = niche.height + niche.above, niche.ahead
    walls = [sorted({-BEYOND, -niche.left, 0.0, niche.width, niche.width + niche.right, niche.width + BEYOND})]
    walls.append([-niche.depth - BEYOND, -niche.depth, 0.0, front, front + BEYOND])
    walls.append(sorted({0.0, niche.height, top, top + BEYOND}))
    spans = zip(*(_spans(niche, port) for port in niche.ports), strict=True)
    places = (_finer(_graded(each, inner=each[1:-1]), list(near)) for each, near in zip(walls, spans, strict=True))
    whole = skfem.MeshHex.init_tensor(*places)
    x, y, z = whole.p[:, whole.t].mean(axis=1)
    box = (x > 0.0) & (x < niche.width) & (y < 0.0) & (z < niche.height)
    within = (x > -niche.left) & (x < niche.width + niche.right) & (y > -niche.depth) & (y < front) & (z < top)
    mesh = whole.restrict(np.flatnonzero((within & ~box) | (z > top)))
    basis = skfem.Basis(mesh, skfem.ElementHex1())
    matrix = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    middle = mesh.p[:, mesh.facets].mean(axis=1)
    edge = np.zeros(middle.shape[1], dtype=bool)
    for axis, place in enumerate(middle):
        ends = (mesh.p[axis].min(), mesh.p[axis].max()) if axis < 2 else (mesh.p[axis].max(),)
        for end in ends:
            edge |= (np.abs(place - end) < ON_WALL) & (middle[2] > top)
    held = basis.get_dofs(np.flatnonzero(edge)).all()
    free = np.setdiff1d(np.arange(matrix.shape[0]), held)
    matrix = matrix[free][:, free].tocsr()
    scale = 1.0 / matrix.diagonal()
    loads = [_load(niche, port, mesh)[free] for port in niche.ports]
    found = []
    for load in loads:
        pressure, failed = cg(matrix, load, rtol=1e-7, M=LinearOperator(matrix.shape, matvec=lambda v: scale * v))
        assert not failed
        found.append([float(each @ pressure) for each in loads])
    return np.array(found)


def _load(niche: NicheCase, port: Port, mesh: skfem.MeshHex) -> Floats:
    """Mean over a port, as a functional."""
    places = {"front": (1, 0.0), "left": (0, 0.0), "right": (0, niche.width), "above": (2, niche.height)}
    axis, place = places[port.side]
    level = niche.height + ON_WALL

    def there(p: Floats) -> NDArray[np.bool_]:
        beside = ((p[1] < 0.0) if axis != 1 else True) & ((p[0] > 0.0) & (p[0] < niche.width) if axis else True)
        return np.asarray((np.abs(p[axis] - place) < ON_WALL) & beside & (p[2] < level))

    facets = skfem.FacetBasis(mesh, skfem.ElementHex1(), facets=mesh.facets_satisfying(there), intorder=12)

    def mean(v: Any, w: Any) -> Any:
        along = w.x[1] + niche.depth if axis == 0 else w.x[0]
        return port.covers(along, w.x[1] + niche.depth if axis == 2 else w.x[2]) * v

    load = skfem.LinearForm(mean).assemble(facets)
    return np.asarray(load / load.sum())


def _spans(niche: NicheCase, port: Port) -> tuple[Span, Span, Span]:
    """Where a port and the air before it lie along each axis, low and high, and how small bricks are there, m."""
    half = (port.radius,) * 2 if port.radius else (0.5 * port.length, 0.5 * port.height)
    size = min(half) * AT_PORT
    up = (port.up - half[1], port.up + half[1], size)
    if port.side == "front":
        return (port.along - half[0], port.along + half[0], size), (0.0, min(half), size), up
    if port.side == "above":
        back = tuple(place - niche.depth for place in up[:2])
        return (
            (port.along - half[0], port.along + half[0], size),
            (*back, size),
            (niche.height, niche.height + min(half), size),
        )
    along = port.along - niche.depth
    low = {"left": -min(half), "right": niche.width}[port.side]
    return (low, low + min(half), size), (along - half[0], along + half[0], size), up


def _finer(places: Floats, spans: list[Span]) -> Floats:
    """The places with steps halved until none is too long beside a port."""
    while True:
        middle, steps = 0.5 * (places[1:] + places[:-1]), np.diff(places)
        most = np.full(len(steps), np.inf)
        for low, high, size in spans:
            most = np.minimum(most, size + AWAY * np.maximum(np.maximum(low - middle, middle - high), 0.0))
        if not (long := steps > most).any():
            return places
        places = np.sort(np.concatenate([places, middle[long]]))


def _graded(walls: list[float], *, inner: list[float]) -> Floats:
    """Places from wall to wall, bricks at each of them no larger than a third of the room beside it."""
    rooms = [high - low for low, high in pairwise(walls)]
    sizes = [min([FINE, *(room / 3.0 for room in rooms[max(n - 1, 0) : n + 1])]) for n in range(len(walls))]
    found = [walls[0]]
    for n, (low, high) in enumerate(pairwise(walls)):
        within = inner[0] - ON_WALL <= low and high <= inner[-1] + ON_WALL
        most = COARSE if within else FAR
        steps = ([], [])
        ahead = [sizes[n] if low in inner else FAR, sizes[n + 1] if high in inner else FAR]
        while sum(map(sum, steps)) < high - low - 1e-12:
            side = int(ahead[1] < ahead[0])
            steps[side].append(ahead[side])
            ahead[side] = min(ahead[side] * GROWTH, most)
        whole = np.cumsum([*steps[0], *reversed(steps[1])])
        found += (low + (high - low) * whole / whole[-1]).tolist()
    return np.unique(np.round(found, 9))


def record(names: list[str]) -> None:
    """Solve the niches of the record whose names begin so, all without names, and write it anew."""
    records: list[dict[str, Any]] = json.loads(RECORD.read_text(encoding="utf-8"))
    for one in records:
        niche = NicheCase.read(one)
        if names and not niche.name.startswith(tuple(names)):
            continue
        began = time.perf_counter()
        one["inertance"] = np.round(solve(niche), 4).tolist()
        print(f"{niche.name:40s} {time.perf_counter() - began:5.0f} s  {one['inertance']}", flush=True)
        RECORD.write_text("[\n" + ",\n".join(json.dumps(each) for each in records) + "\n]\n", encoding="utf-8")


if __name__ == "__main__":
    record(sys.argv[1:])
