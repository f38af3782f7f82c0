"""What designs reach in the space of goals, compiled: apart from the rest of the search, since it names the cache."""

from __future__ import annotations

import numpy as np

from engine.arrays import Flags, Floats
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
