"""Whether a list of corners is a usable outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from engine.errors import Finding, finding

Corner = tuple[float, float]


def faults_of(corners: Sequence[Corner]) -> list[Finding]:
    """What keeps ``corners`` (in order, not closed) from being a simple polygon; empty if nothing.

    Corners are numbered from 1, the way people count them on a sketch.
    """
    n = len(corners)
    if n < 3:
        return [finding("few_corners", count=n)]
    if corners[0] == corners[-1]:
        return [finding("last_corner_first")]
    pairs = list(combinations(range(n), 2))
    if repeated := [(i, j) for i, j in pairs if corners[i] == corners[j]]:
        return [finding("corner_twice", one=i + 1, other=j + 1) for i, j in repeated]
    far = max(corners, key=lambda corner: math.dist(corners[0], corner))
    if all(abs(_side(corners[0], far, p)) <= 1e-9 * math.dist(corners[0], far) ** 2 for p in corners):
        return [finding("corners_on_a_line")]
    return [
        finding("outline_crosses", one=i + 1, one_end=(i + 1) % n + 1, other=j + 1, other_end=(j + 1) % n + 1)
        for i, j in pairs
        if _meet(corners, i, j)
    ]


def _meet(corners: Sequence[Corner], i: int, j: int) -> bool:
    """Whether edges i and j have a point in common other than a corner they share by being neighbours."""
    n = len(corners)
    a, b, c, d = corners[i], corners[(i + 1) % n], corners[j], corners[(j + 1) % n]
    if b == c or d == a:
        middle, one, other = (b, a, d) if b == c else (a, b, c)
        along = sum((p - m) * (q - m) for m, p, q in zip(middle, one, other, strict=True))
        return _side(one, middle, other) == 0.0 and along > 0.0
    if _side(a, b, c) * _side(a, b, d) < 0.0 and _side(c, d, a) * _side(c, d, b) < 0.0:
        return True
    return any(_on(a, b, p) for p in (c, d)) or any(_on(c, d, p) for p in (a, b))


def _side(a: Corner, b: Corner, p: Corner) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _on(a: Corner, b: Corner, p: Corner) -> bool:
    between = min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])
    return between and _side(a, b, p) == 0.0
