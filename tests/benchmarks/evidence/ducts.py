"""Boxes whose vents lie outside them, solved here and now by finite elements on bricks.

The ducts leave the left side, flush with it inside and square, which is the box that the thin-box correction was asked
for with: nothing of theirs takes room inside.  A ``Box`` says so with ``inside`` 0 and a ``board`` as thick as
the duct is long.  Quadratic bricks from planes x, planes z and layers from back to baffle; the tuning comes out
0.03 % higher than with bricks a third as large.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import skfem
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse.linalg import splu
from skfem.helpers import dot, grad

from tests.acoustics.reference_boxes import Box, Solved

Floats = NDArray[np.float64]

FINE = 0.34  # of a duct's side, bricks at its edges
GROWTH = 0.35
TERMS = 8  # powers of K⁻¹M that reduce the system
ON_WALL = 1e-9
AREA = 3.2e-3  # m², one duct
LENGTH = 0.3  # m
CONE = 0.085  # m


def ducted(*, name: str, width: float, bottom_depth: float, top_depth: float, heights: tuple[float, ...]) -> Box:
    """A box 0.42 m high with a duct of 32 cm² at each of some ``heights`` (m), half way between back and baffle."""
    tall = 0.42

    def depth(z: float) -> float:
        return bottom_depth + (top_depth - bottom_depth) * z / tall

    return Box(
        name=name,
        width=width,
        height=tall,
        bottom_depth=bottom_depth,
        top_depth=top_depth,
        back_slope=0.0,
        mouths=tuple((0.0, 0.5 * depth(z), z) for z in heights),
        bore=math.sqrt(AREA / math.pi),
        outer=math.sqrt(AREA / math.pi),
        inside=0.0,
        board=LENGTH,
        cones=((0.65 * width, depth(0.5 * tall), 0.5 * tall),),
        cone=CONE,
    )


def solve(box: Box) -> Solved:
    """Poles of the air as a square piston in the baffle meets it, the ducts ending in p = 0."""
    side, reach = math.sqrt(math.pi) * box.bore, box.board + box.outer_end
    (x, _, z) = box.cones[0]
    half = 0.5 * math.sqrt(box.sd)
    tall = half / math.hypot(1.0, box.baffle_slope)
    holes = [(y / box.depth(up), up, 0.5 * side / box.depth(up)) for _, y, up in box.mouths]
    rims = sorted({up + sign * 0.5 * side for _, up, _ in holes for sign in (-1, 1)})
    sides = sorted({round(part + sign * deep, 12) for part, _, deep in holes for sign in (-1, 1)})
    across = _planes([-reach, 0.0, x - half, x + half, box.width], around=[0.0], fine=FINE * side)
    up = _planes(sorted({0.0, *rims, z - tall, z + tall, box.height}), around=rims, fine=FINE * side)
    fine = FINE * side / (0.5 * (box.bottom_depth + box.top_depth))
    layers = _planes([0.0, *sides, 1.0], around=sides, fine=fine)
    mesh = skfem.MeshHex.init_tensor(across, layers, up)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    there = middle[0] > 0.0
    for part, height, deep in holes:
        there |= (np.abs(middle[2] - height) < 0.5 * side) & (np.abs(middle[1] - part) < deep)
    mesh = mesh.remove_elements(np.flatnonzero(~there))
    part = mesh.p.copy()
    depth = box.bottom_depth + (box.top_depth - box.bottom_depth) * part[2] / box.height
    mesh = skfem.MeshHex(np.stack([part[0], box.back_slope * part[2] + part[1] * depth, part[2]]), mesh.t)
    basis = skfem.Basis(mesh, skfem.ElementHex2())
    stiffness = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    mass = skfem.BilinearForm(lambda u, v, w: u * v).assemble(basis)
    outer = mesh.boundary_facets()
    corners = part[:, mesh.facets[:, outer]]
    centre = corners.mean(axis=1)
    end = outer[np.abs(corners[0] + reach).max(axis=0) < ON_WALL]
    front = np.abs(corners[1] - 1.0).max(axis=0) < ON_WALL
    piston = outer[front & (np.abs(centre[0] - x) < half) & (np.abs(centre[2] - z) < tall)]
    patch = skfem.LinearForm(lambda v, w: 1.0 * v).assemble(skfem.FacetBasis(mesh, basis.elem, facets=piston))
    free = np.setdiff1d(np.arange(basis.N), basis.get_dofs(end).all())
    stiffness, mass = stiffness[free][:, free].tocsc(), mass[free][:, free].tocsc()
    factor = splu(stiffness, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}, diag_pivot_thresh=0.0)
    load = (patch / patch.sum())[free]
    space = [factor.solve(load)]
    for _ in range(TERMS - 1):
        space.append(factor.solve(mass @ space[-1]))
    whole, _ = np.linalg.qr(np.column_stack([each / np.linalg.norm(each) for each in space]))
    squares, vectors = eigh(whole.T @ (stiffness @ whole), whole.T @ (mass @ whole))
    return Solved(
        box=box,
        unknowns=len(free),
        squares=squares,
        weights=vectors.T @ (whole.T @ load)[:, np.newaxis],
        modes=np.array([]),
    )


def _planes(marks: list[float], *, around: list[float], fine: float) -> Floats:
    """Planes at the marks and between them, ``fine`` apart at some and coarser away from them."""
    planes: list[float] = []
    for start, end in pairwise(marks):
        places = [start]
        while places[-1] < end - ON_WALL:
            here = places[-1]
            ahead = here + fine + GROWTH * _near(here, around)
            places.append(here + min(ahead - here, fine + GROWTH * _near(ahead, around)))
        stretch = (end - start) / (places[-1] - start)
        planes += [start + (place - start) * stretch for place in places[:-1]]
    return np.array([*planes, marks[-1]])


def _near(place: float, around: list[float]) -> float:
    return max(min(abs(place - each) for each in around), 0.0)
