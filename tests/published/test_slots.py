"""End corrections of rectangular mouths against computed values, images and a numerical integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from engine.acoustics.slots import equivalent_diameter, flush_end, full_width_end, hydraulic_diameter, mirrored_end

# [C] l over the root of the area, by aspect ratio; the circle of equal area has 8/(3·π^1.5) = 0.47890.
BY_ASPECT = [
    (1.0, 0.47320),
    (1.5, 0.46852),
    (2.0, 0.45976),
    (3.0, 0.44074),
    (4.0, 0.42338),
    (5.0, 0.40821),
    (8.0, 0.37291),
    (10.0, 0.35519),
    (15.0, 0.32244),
    (20.0, 0.29933),
]


@pytest.mark.parametrize(("aspect", "expected"), BY_ASPECT)
def test_flush_end_by_aspect_ratio(aspect: float, expected: float) -> None:
    """Computed values [C], to the digits printed, either way round."""
    height = 0.03
    root = math.sqrt(aspect) * height
    assert flush_end(width=aspect * height, height=height) / root == pytest.approx(expected, abs=5e-6)
    assert flush_end(width=height, height=aspect * height) / root == pytest.approx(expected, abs=5e-6)


def test_flush_end_is_rayleighs_integral() -> None:
    """Independent implementation: the mean of 1/(2π|r - r'|) over mouth and mouth, by quadrature."""
    p, q = 0.3, 0.1
    # The double area integral folds to one over the offset (x, y), weighted by the overlap left.
    value, _ = dblquad(lambda y, x: (p - x) * (q - y) / math.hypot(x, y), 0.0, p, 0.0, q, epsabs=1e-10)
    assert flush_end(width=p, height=q) == pytest.approx(4.0 * value / (2.0 * math.pi * p * q), rel=1e-6)


def test_the_circle_of_equal_area_is_too_long() -> None:
    """Trap: by 13 % at 4:1 and 35 % at 10:1 [C]."""
    for aspect, excess in ((4.0, 0.131), (10.0, 0.348)):
        circle = 8.0 / (3.0 * math.pi) * 0.5 * equivalent_diameter(width=aspect, height=1.0)
        assert circle / flush_end(width=aspect, height=1.0) - 1.0 == pytest.approx(excess, abs=1e-3)


def test_a_wall_is_a_mirror() -> None:
    """Independent implementation (images): by quadrature of the mouth, and its image behind the wall, on the mouth."""
    p, q = 0.3, 0.05
    # Offsets to the image lie between 0 and 2·q along the height, most of them at q.
    own, _ = dblquad(lambda y, x: (p - x) * (q - y) / math.hypot(x, y), 0.0, p, 0.0, q, epsabs=1e-11)
    below, _ = dblquad(lambda y, x: (p - x) * y / math.hypot(x, y), 0.0, p, 0.0, q, epsabs=1e-11)
    above, _ = dblquad(lambda y, x: (p - x) * (2.0 * q - y) / math.hypot(x, y), 0.0, p, q, 2.0 * q, epsabs=1e-11)
    alone, beside = 4.0 * own, 4.0 * own + 2.0 * (below + above)
    for along, expected in ((False, alone), (True, beside)):
        found = mirrored_end(width=p, height=q, along_width=along)
        assert found == pytest.approx(expected / (2.0 * math.pi * p * q), rel=1e-5)
    assert beside > 1.3 * alone


def test_full_width_end_in_its_limits() -> None:
    """Analytic: nothing where nothing widens; (h/π)·(3 - 2·ln(2πh/H)) for a narrow slot [C], to 1 % of it.

    ∫∫ ln over a strip and its image gives the constant: mean of -(2/π)·ln|2·sin(π(z - z')/2H)| and its image
    over the strip is (1/π)·(3 - 2·ln(2πh/H)) at h ≪ H.
    """
    assert full_width_end(0.4, 0.4) == pytest.approx(0.0, abs=1e-12)
    for ratio in (0.2, 0.1, 0.05):
        narrow = (3.0 - 2.0 * math.log(2.0 * math.pi * ratio)) / math.pi * ratio
        assert full_width_end(ratio, 1.0) == pytest.approx(narrow, rel=0.02)
    over_height = [full_width_end(height, 0.4) / height for height in np.linspace(0.02, 0.4, 20)]
    assert np.all(np.diff(over_height) < 0.0)


def test_what_a_slot_is() -> None:
    """Geometry: the circle of equal area, and four times the area over the perimeter."""
    assert 0.25 * math.pi * equivalent_diameter(width=0.3, height=0.03) ** 2 == pytest.approx(0.009)
    assert hydraulic_diameter(width=0.05, height=0.05) == pytest.approx(0.05)
    assert hydraulic_diameter(width=1e6, height=0.05) == pytest.approx(0.1)
