"""What designs reach in the space of goals, and which to start from, compiled.

Apart from the rest of the search, since it names the compiler's cache.
"""

from __future__ import annotations

import numpy as np

from engine.arrays import Flags, Floats, Indices
from engine.core.compiled import compiled


@compiled
def reach(F: Floats, points: Floats, beyond: Flags, gained: Floats) -> None:
    """Take the points that any of F is as good as off those ``beyond``, and add what each has ``gained`` of them."""
    reaching = np.empty(len(F), np.intp)
    for point in range(len(points)):
        if not beyond[point]:
            continue
        count = 0
        for design in range(len(F)):
            reaches = True
            for goal in range(F.shape[1]):
                if F[design, goal] > points[point, goal]:
                    reaches = False
                    break
            if reaches:
                reaching[count] = design
                count += 1
        for place in range(count):
            gained[reaching[place]] += 1.0 / count
        beyond[point] = count == 0


@compiled
def best_by(
    F: Floats, weights: Floats, first: Indices, count: Indices, start: Indices, stride: Indices, drawn: int,
    worst: Flags, best: Indices,
) -> None:  # fmt: skip
    """The ``best`` (n,), by ``weights`` (n, k), of so many ``drawn`` of the ``count`` (n,) of F from the ``first``.

    It has the least of its weighted objectives' sum, or where ``worst`` (n,) says so of the worst of them.

    They are drawn from a ``start`` (n,) on in steps of a ``stride`` (n,), both below the count, round and round.
    """
    for place in range(len(best)):
        row = start[place]
        least = np.inf
        for _ in range(drawn):
            total = 0.0
            for goal in range(F.shape[1]):
                part = weights[place, goal] * F[first[place] + row, goal]
                total = max(total, part) if worst[place] else total + part
            if total < least:
                least = total
                best[place] = first[place] + row
            row += stride[place]
            if row >= count[place]:
                row -= count[place]
