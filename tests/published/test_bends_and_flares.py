"""Bends, flares and filling against potential flow solved by other means, and against their limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.sparse import coo_array
from scipy.sparse.linalg import spsolve

from engine.acoustics.bends import MITRE_SQUARES, elbow_centre_line, elbow_length, mitre_centre_line, mitre_length
from engine.acoustics.circuit import Systems
from engine.acoustics.filling import FILLINGS, MOST_COMPLIANCE
from engine.acoustics.flares import flared_end
from engine.parts import Driver


def corner_squares(cells: int) -> float:
    """Squares that an L of two legs, two squares long each, counts for, by finite differences; less the legs.

    Potential 1 and 0 on the ends, no flow through the walls: a cell is a node joined to its neighbours.
    """
    size = 3 * cells
    inside = np.zeros((size, size), dtype=bool)
    inside[:cells, :] = True
    inside[:, :cells] = True
    number = np.full((size, size), -1)
    number[inside] = np.arange(inside.sum())
    rows, columns, values = [], [], []
    right = np.zeros(inside.sum())
    diagonal = np.zeros(inside.sum())
    for one, other in (
        (number[:, :-1].ravel(), number[:, 1:].ravel()),
        (number[:-1, :].ravel(), number[1:, :].ravel()),
    ):
        both = (one >= 0) & (other >= 0)
        one, other = one[both], other[both]
        rows += [one, other]
        columns += [other, one]
        values += [-np.ones(len(one))] * 2
        np.add.at(diagonal, one, 1.0)
        np.add.at(diagonal, other, 1.0)
    # The ends lie half a cell beyond the last nodes, so they join with 2.
    high, low = number[:cells, -1], number[-1, :cells]
    diagonal[high] += 2.0
    diagonal[low] += 2.0
    right[high] = 2.0
    every = np.arange(len(diagonal))
    matrix = coo_array(
        (np.concatenate([*values, diagonal]), (np.concatenate([*rows, every]), np.concatenate([*columns, every])))
    ).tocsr()
    flow = float(np.sum(2.0 * (1.0 - spsolve(matrix, right)[high])))
    return 1.0 / flow - 4.0


def test_a_mitred_corner_counts_for_0_559_of_its_square() -> None:
    """Published value (Hall 1968: 0.559 squares [M]), and an independent solution by finite differences to 0.5 %."""
    assert pytest.approx(0.559, abs=5e-4) == MITRE_SQUARES
    coarse, fine = corner_squares(16), corner_squares(32)
    # The sharp corner leaves an error of step^(4/3) (Motz 1946): two grids take it off.
    extrapolated = fine + (fine - coarse) / (2.0 ** (4.0 / 3.0) - 1.0)
    assert extrapolated == pytest.approx(MITRE_SQUARES, rel=5e-3)
    assert mitre_length(legs=0.3, height=0.04) == pytest.approx(0.3 + 0.559 * 0.04, abs=1e-4)
    assert mitre_centre_line(legs=0.3, height=0.04) == pytest.approx(0.34)


def test_a_swept_bend_counts_for_the_short_way_round() -> None:
    """Independent implementation: 1/length = ∫dS/(angle·r)/S over the round section, by quadrature."""
    for sweep, bore in ((0.08, 0.04), (0.12, 0.03), (0.05, 0.049)):
        conductance, _ = quad(lambda x, R=sweep, a=bore: 2.0 * math.sqrt(a * a - x * x) / (R + x), -bore, bore)
        expected = 0.5 * math.pi * math.pi * bore**2 / conductance
        assert elbow_length(radius=sweep, diameter=2.0 * bore) == pytest.approx(expected, rel=1e-6)
    assert elbow_length(radius=1.0, diameter=1e-6) == pytest.approx(elbow_centre_line(radius=1.0))
    loss = [1.0 - elbow_length(radius=k, diameter=2.0) / elbow_centre_line(radius=k) for k in (2.0, 4.0)]
    assert loss == pytest.approx([0.067, 0.016], abs=1e-3)


def test_a_flare_in_its_limits() -> None:
    """Analytic: none is a flush end; a tiny one is all length; and it always shortens the duct by something."""
    assert flared_end(diameter=0.1, flare_radius=0.0) == pytest.approx(0.85 * 0.05)
    tiny = 1e-6
    flare = flared_end(diameter=0.1, flare_radius=tiny) - 0.85 * 0.05
    assert flare == pytest.approx(tiny * (1.0 - 0.85), rel=1e-3)
    radii = np.linspace(0.005, 0.08, 16)
    ends = flared_end(diameter=0.1, flare_radius=radii)
    assert np.all(ends < radii + 0.85 * 0.05)
    assert np.all(np.diff(ends) > 0.0)


def test_a_flare_is_the_horn_integral() -> None:
    """Independent implementation: scipy's quadrature of a²/a(x)² over the flare's depth."""
    a, r = 0.04, 0.03
    depth, _ = quad(lambda x: (a / (a + r - math.sqrt(r * r - x * x))) ** 2, 0.0, r)
    assert flared_end(diameter=2 * a, flare_radius=r) == pytest.approx(depth + 0.85 * a * a / (a + r), rel=1e-6)


def test_no_filling_passes_the_isothermal_limit() -> None:
    """Published limit [M+C]: compliance rises by γ = 1.40 at most, fc falls to 0.845 in a stiff box."""
    assert all(1.0 <= each.compliance <= MOST_COMPLIANCE for each in FILLINGS.values())
    driver = Driver(name="a", fs=1.0, qes=0.5, qms=5.0, vas=0.1, sd=0.05, re=4.0, xmax=0.01, rated_power=100.0)
    hollow = Systems.of(driver, volume=1e-5, voltage=1.0)
    filled = Systems.of(driver, volume=1e-5, voltage=1.0, filling=MOST_COMPLIANCE)
    assert filled.omega_b[0] / hollow.omega_b[0] == pytest.approx(0.84515, abs=1e-4)
