"""Finite-element solution of the air in a box with its vents: what ``engine/acoustics/cavity.py`` is held against.

Independent of the model: the full three-dimensional Helmholtz equation in the prism, the bores or
the slot and the air round them, on curved quadratic tetrahedra.  Walls, pipes and a held cone are
rigid; each vent goes on for its outer end correction beyond the panel and ends there in p = 0.
Deterministic: one thread, no random numbers.  2 to 20 s a box.

Run by hand, never by the suite, because gmsh is no dependency of this project:

    python -m pip install gmsh scikit-fem
    python -m tests.acoustics.finite_elements            # solve every box of reference_boxes.json again
    python -m tests.acoustics.finite_elements NAME ...   # those whose name begins so

The boxes stand in the record itself; a new one is added there with its ``box`` alone.

Axes as in ``cavity.py``: x from the inner face of the left side, y forward and z up from the
inner bottom back corner.
"""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import gmsh
import numpy as np
import skfem
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem.helpers import dot, grad

from engine.air import REFERENCE_AIR
from tests.acoustics.reference_boxes import RECORD, Box, Place, Plate

Floats = NDArray[np.float64]
Facets = NDArray[np.intp]

FINENESS = 12.0  # elements a bore's radius, at the mouth's rim; the tuning falls by 0.01-0.03 % from 12 to 18
ON_WALL = 1e-6  # m
PLATE = 0.014  # m, elements in a brace's openings
TERMS = 6  # powers of K⁻¹M that reduce the system (Padé about k = 0), exact to 1e-9 below twice the tuning
SHIFT = 1.0  # rad²/m², keeps a closed room's matrix from being singular


@dataclass(frozen=True, kw_only=True)
class Solution:
    """The poles of a room: mean p over port i is jωρ·Σ b_i·b_j/(κ² - k²)·U_j."""

    unknowns: int
    squares: Floats
    weights: Floats


def solve(box: Box, *, fineness: float = FINENESS) -> Solution:
    """Poles of a box as its drivers, and its radiators, meet them."""
    basis, on_boundary = _mesh(box, fineness=fineness, coarsest=0.05)
    stiffness, mass = _matrices(basis)
    held = np.array([], dtype=np.int64)
    if box.slot or box.mouths:
        ends = [on_boundary(*end) for end in _ends(box)]
        held = basis.get_dofs(np.concatenate(ends)).all()
    free = np.setdiff1d(np.arange(stiffness.shape[0]), held)
    loads = []
    for kind, places, radius in _pistons(box):
        load = np.zeros(stiffness.shape[0])
        for place in places:
            facets = on_boundary(place, _into(box, kind), radius)
            patch = skfem.LinearForm(lambda v, w: 1.0 * v).assemble(
                skfem.FacetBasis(basis.mesh, basis.elem, facets=facets, intorder=4)
            )
            load += patch / patch.sum() / len(places)
        loads.append(load[free])
    stiffness, mass = stiffness[free][:, free].tocsc(), mass[free][:, free].tocsc()
    factor = _factor(stiffness if held.size else stiffness + SHIFT * mass)
    block = factor(np.column_stack([mass @ np.ones(len(free)), *loads]))
    space = [block]
    for _ in range(TERMS - 1):
        block = factor(mass @ block)
        block = block / np.sqrt((block * (mass @ block)).sum(axis=0))
        space.append(block)
    whole, _ = np.linalg.qr(np.column_stack([each / np.linalg.norm(each, axis=0) for each in space]))
    squares, vectors = eigh(whole.T @ (stiffness @ whole), whole.T @ (mass @ whole))
    return Solution(unknowns=len(free), squares=squares, weights=vectors.T @ (whole.T @ np.column_stack(loads)))


def rigid_modes(box: Box, *, count: int) -> Floats:
    """Lowest modes of the closed empty room, Hz, without the one at 0."""
    empty = Box(
        name="",
        width=box.width,
        height=box.height,
        bottom_depth=box.bottom_depth,
        top_depth=box.top_depth,
        back_slope=box.back_slope,
    )
    basis, _ = _mesh(empty, fineness=1.0, coarsest=0.06)
    stiffness, mass = _matrices(basis)
    inverse = LinearOperator(stiffness.shape, matvec=_factor(stiffness + mass))
    start = np.ones(stiffness.shape[0]) + basis.doflocs[0] + basis.doflocs[2] ** 2
    squares = eigsh(stiffness, k=count + 1, M=mass, sigma=-1.0, OPinv=inverse, v0=start, return_eigenvectors=False)
    return np.asarray(np.sqrt(np.sort(squares)[1:]) * REFERENCE_AIR.c / (2.0 * math.pi))


def _pistons(box: Box) -> Iterator[tuple[str, tuple[Place, ...], float]]:
    yield box.cone_kind, box.cones, box.cone
    if box.radiators:
        yield box.radiator_kind, box.radiators, box.radiator


def _into(box: Box, kind: str) -> Place:
    """Unit vector into the box from the panel of a kind of port."""
    secant = math.hypot(1.0, box.baffle_slope)
    inward = (0.0, -1.0 / secant, box.baffle_slope / secant)
    up = (0.0, 0.0, 1.0)
    known = {"across": (1.0, 0.0, 0.0), "square": inward, "face": inward, "upward": up, "bottom": up}
    return known.get(kind, (-1.0, 0.0, 0.0))


def _ends(box: Box) -> Iterator[tuple[Place, Place, float]]:
    """Outer ends of the vents: a point, the way in, a radius round it that holds the end and no other wall."""
    if box.slot is None:
        into = _into(box, box.vent_kind)
        for mouth in box.mouths:
            yield tuple(np.subtract(mouth, np.multiply(box.vent_length + box.outer_end, into))), into, box.bore
        return
    z = 0.5 * box.slot.height if box.slot.low else box.height - 0.5 * box.slot.height
    beyond = box.board + box.outer_end
    if box.slot.through == "side":
        yield (-beyond, box.back_slope * z + 0.5 * box.depth(z), z), (1.0, 0.0, 0.0), 1.0
    else:
        yield (0.5 * box.window, box.bottom_depth + beyond, z), (0.0, -1.0, 0.0), 1.0


def _matrices(basis: skfem.Basis) -> tuple[csr_matrix, csr_matrix]:
    stiffness = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    mass = skfem.BilinearForm(lambda u, v, w: u * v).assemble(basis)
    return stiffness, mass


def _factor(matrix: csr_matrix) -> Callable[[Floats], Floats]:
    """Solver of a symmetric positive matrix."""
    options = {"SymmetricMode": True}
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options).solve


Boundary = Callable[[Sequence[float] | Floats, Sequence[float] | Floats, float], Facets]


def _mesh(box: Box, *, fineness: float, coarsest: float) -> tuple[skfem.Basis, Boundary]:
    """Quadratic tetrahedra of the box's air, and a finder of the facets in a disc on its boundary."""
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        _shape(box)
        _sizes(box, fineness=fineness, coarsest=coarsest)
        gmsh.model.mesh.generate(3)
        gmsh.model.mesh.setOrder(2)
        tags, places, _ = gmsh.model.mesh.getNodes()
        _, _, nodes = gmsh.model.mesh.getElements(3)
    finally:
        gmsh.finalize()
    number = np.zeros(int(tags.max()) + 1, dtype=np.intp)
    number[tags] = np.arange(len(tags))
    corners = np.concatenate([number[each].reshape(-1, 10) for each in nodes])
    used, corners = np.unique(corners, return_inverse=True)
    corners = corners.reshape(-1, 10)[:, [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]  # the order of mid-edge nodes differs
    mesh = skfem.MeshTet2(places.reshape(-1, 3)[used].T.copy(), corners.T.copy(), sort_t=False)
    basis = skfem.Basis(mesh, skfem.ElementTetP2(), intorder=4)
    outer = mesh.boundary_facets()
    points = mesh.p[:, mesh.facets[:, outer]]

    def in_disc(centre: Sequence[float] | Floats, normal: Sequence[float] | Floats, radius: float) -> Facets:
        away = points - np.asarray(centre)[:, np.newaxis, np.newaxis]
        flat = np.abs(np.einsum("i,ijk->jk", np.asarray(normal), away)).max(axis=0) < ON_WALL
        near = np.sqrt((away**2).sum(axis=0)).max(axis=0) < radius * 1.0005
        found = np.asarray(outer[flat & near])
        assert len(found), "no facets there: is the disc on a wall?"
        return found

    return basis, in_disc


def _shape(box: Box) -> None:
    shape = gmsh.model.occ
    rise = box.height * box.back_slope
    section = [(0.0, 0.0), (box.bottom_depth, 0.0), (rise + box.top_depth, box.height), (rise, box.height)]
    corners = [shape.addPoint(0.0, y, z) for y, z in section]
    edges = [shape.addLine(corners[n], corners[(n + 1) % 4]) for n in range(4)]
    front = shape.addPlaneSurface([shape.addCurveLoop(edges)])
    air = [each for each in shape.extrude([(2, front)], box.width, 0.0, 0.0) if each[0] == 3]
    pieces = []
    into = _into(box, box.vent_kind)
    for mouth in box.mouths:
        start = np.subtract(mouth, np.multiply(box.inside + 0.1 * box.outer, into))
        pipe = shape.addCylinder(*start, *np.multiply(box.inside + 0.1 * box.outer, into), box.outer)
        air, _ = shape.cut(air, [(3, pipe)])
    for mouth in box.mouths:
        axis = np.multiply(box.vent_length + box.outer_end, into)
        pieces.append((3, shape.addCylinder(*np.subtract(mouth, axis), *axis, box.bore)))
    if box.slot:
        air = _slotted(box, air)
    for plate in box.plates:
        air = _braced(box, plate, air)
    for kind, places, radius in _pistons(box):
        for place in places:
            normal = _into(box, kind)
            beside = [0.0, 1.0, 0.0] if abs(normal[0]) > 0.9 else [1.0, 0.0, 0.0]
            pieces.append((2, shape.addDisk(*place, radius, radius, zAxis=list(normal), xAxis=beside)))
    if pieces:
        shape.fragment(air, pieces)
    shape.synchronize()


def _braced(box: Box, plate: Plate, air: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The air without a plate across it, whose pipes are cut out already."""
    shape, x, low, high = gmsh.model.occ, plate.x, box.plate_from, box.height + 0.1

    def prism(corners: Sequence[tuple[float, float]], start: float, length: float) -> tuple[int, int]:
        points = [shape.addPoint(start, *corner) for corner in corners]
        lines = [shape.addLine(points[n], points[(n + 1) % len(points)]) for n in range(len(points))]
        end = shape.addPlaneSurface([shape.addCurveLoop(lines)])
        return next(each for each in shape.extrude([(2, end)], length, 0.0, 0.0) if each[0] == 3)

    low = low or -0.1
    plates = [prism(((-2.0, low), (2.0, low), (2.0, high), (-2.0, high)), x, plate.thickness)]
    tools = [prism(box.corners(opening), x - 0.01, plate.thickness + 0.02) for opening in plate.openings]
    wide = plate.thickness + 0.02
    passing = [mouth for mouth in box.mouths if box.passed(plate, mouth)]  # whose bore is air
    tools += [(3, shape.addCylinder(x - 0.01, y, z, wide, 0.0, 0.0, box.outer)) for _, y, z in passing]
    plates, _ = shape.cut(plates, tools)
    whole, _ = shape.cut(air, plates)
    return whole


def _slotted(box: Box, air: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The air without the slot's boards and with what lies beyond its outer mouth."""
    slot, shape = box.slot, gmsh.model.occ
    assert slot is not None
    far, thick = 2.0, slot.height + slot.board

    def up(low: float, high: float) -> tuple[float, float]:
        """Lower end and height of what lies so far from the panel that carries the slot."""
        return (low if slot.low else box.height - high), high - low

    def board(x: float, width: float, low: float, high: float) -> None:
        nonlocal air
        z, tall = up(low, high)
        air, _ = shape.cut(air, [(3, shape.addBox(x, -far, z, width, 2.0 * far, tall))])

    board(-0.1, slot.length + 0.1, slot.height, thick)
    if slot.turn:
        board(slot.length - slot.board, slot.board, slot.height, slot.turn)
    z, tall = up(0.0, slot.height)
    beyond = box.board + box.outer_end
    if slot.through == "baffle":
        stub = (3, shape.addBox(0.0, box.bottom_depth, z, box.window, beyond, tall))
    else:
        level = [(box.back_slope * at, at) for at in (z, z + tall)]
        corners = [level[0], (level[0][0] + box.depth(z), z), (level[1][0] + box.depth(z + tall), z + tall), level[1]]
        points = [shape.addPoint(-beyond, *corner) for corner in corners]
        lines = [shape.addLine(points[n], points[(n + 1) % 4]) for n in range(4)]
        end = shape.addPlaneSurface([shape.addCurveLoop(lines)])
        stub = next(each for each in shape.extrude([(2, end)], beyond, 0.0, 0.0) if each[0] == 3)
    whole, _ = shape.fuse(air, [stub])
    return whole


def _sizes(box: Box, *, fineness: float, coarsest: float) -> None:
    """Elements small at the rims of mouths and cones, growing from there."""
    field = gmsh.model.mesh.field
    fields = []

    def add(size: str) -> None:
        fields.append(field.add("MathEval"))
        field.setString(fields[-1], "F", size)

    u, v, w = _into(box, box.vent_kind)
    for x, y, z in box.mouths:
        along = f"((x-({x}))*({u})+(y-({y}))*({v})+(z-({z}))*({w}))"
        squared = f"((x-({x}))^2+(y-({y}))^2+(z-({z}))^2)"
        rim = f"Sqrt((Sqrt(Fabs({squared}-{along}^2))-{0.5 * (box.bore + box.outer)})^2+{along}^2)"
        add(f"{box.bore / fineness}+0.35*{rim}")
    for x, z, height in _edges(box):
        add(f"{0.6 * height / fineness}+0.3*Sqrt((x-({x}))^2+(z-({z}))^2)")
    if box.slot and box.slot.through == "baffle":
        x, y = box.window, box.bottom_depth
        add(f"{0.6 * box.window / fineness}+0.3*Sqrt((x-({x}))^2+(y-({y}))^2)")
    for plate in box.plates:
        x = f"Max(Fabs(x-{plate.x + 0.5 * plate.thickness})-{0.5 * plate.thickness},0)"
        add(f"{PLATE}+0.6*{x}")
    for _, places, radius in _pistons(box):
        for x, y, z in places:
            away = f"abs(sqrt((x-({x}))^2+(y-({y}))^2+(z-({z}))^2)-{radius})"
            add(f"{radius / 5.0}+0.3*{away}")
    if fields:
        least = field.add("Min")
        field.setNumbers(least, "FieldsList", fields)
        field.setAsBackgroundMesh(least)
    gmsh.option.setNumber("Mesh.MeshSizeMax", coarsest)
    gmsh.option.setNumber("Mesh.MeshSizeExtendFromBoundary", 0)
    gmsh.option.setNumber("Mesh.MeshSizeFromPoints", 0)
    gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 14)


def _edges(box: Box) -> Iterator[tuple[float, float, float]]:
    """Square edges (x, z) that a slot's air goes round, and the slot's height."""
    slot = box.slot
    if slot is None:
        return
    ends = [(slot.length, level) for level in (slot.height, slot.height + slot.board)]
    if slot.turn:
        ends = [(slot.length - across, slot.turn) for across in (0.0, slot.board)] + [(slot.length, slot.height)]
    for x, z in ends:
        yield x, z if slot.low else box.height - z, slot.height


def record(names: Sequence[str]) -> None:
    """Solve the boxes of the record whose names begin so, all without names, and write it anew."""
    records: list[dict[str, Any]] = json.loads(RECORD.read_text(encoding="utf-8"))
    for one in records:
        box = Box.read(one["box"])
        if names and not box.name.startswith(tuple(names)):
            continue
        began = time.process_time()
        found = solve(box)
        keep = np.abs(found.weights).max(axis=1) > 1e-6 * np.abs(found.weights).max()
        one["unknowns"] = found.unknowns
        one["squares"] = found.squares[keep].tolist()
        one["weights"] = found.weights[keep].tolist()
        one["modes"] = rigid_modes(box, count=4).tolist()
        print(f"{box.name:40s} {found.unknowns:6d} unknowns {time.process_time() - began:5.1f} s", flush=True)
        RECORD.write_text("[\n" + ",\n".join(json.dumps(one) for one in records) + "\n]\n", encoding="utf-8")


if __name__ == "__main__":
    record(sys.argv[1:])
