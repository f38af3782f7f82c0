"""What a space leaves free for a box: stretches of its width, each with one free section.

A keep-out is in a box's way only where the box stands beside it.  So the width is looked at between every two places
where a box may end: an end of the free width, or an end of a keep-out.  Between two such places the free section is the
space's cross-section less the keep-outs in between, less what is kept free round the box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from engine.arrays import Floats
from engine.parts import Clearances, Space
from engine.space.runs import TOUCH, Run, runs_of

# At a corner that points into the space the margin's outline runs straight across this many
# margins away from it, or where its two sides meet if that is nearer.
MITRE_LIMIT = 2.0
SPECK = 1e-8  # m², pieces of the free section smaller than this are left out
SAME = 1e-8  # m, sections that differ by less than this are taken to be the same


@dataclass(frozen=True)
class Stretch:
    """A part of the space's width with one free section all along it.

    A box may stand anywhere between ``low`` and ``high`` (m from the space's left end) if
    its section lies in ``free``: margin, covering and clearances are taken off already.
    """

    low: float
    high: float
    free: shapely.MultiPolygon

    @property
    def width(self) -> float:
        return self.high - self.low

    @cached_property
    def pieces(self) -> tuple[shapely.Polygon, ...]:
        return tuple(self.free.geoms)

    @property
    def outlines(self) -> list[Floats]:
        """Corners (y, z) of every outline of the free section, those of holes in it too, each (K, 2)."""
        return [ring[:-1] for ring in _rings(self.free)]

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        return tuple(runs_of(self.pieces))

    @cached_property
    def tallest(self) -> float:
        """Height in m of the tallest run."""
        return max(run.last.high - run.first.low for run in self.runs)


def stretches_of(space: Space, *, covering: float) -> tuple[Stretch, ...]:
    """Every stretch a box can stand in, the widest first (then from the left); none if nothing is left.

    A stretch is left out where a wider one round it is as roomy.  A keep-out to the right of the box keeps
    ``clearance.right`` from it, one to the left ``clearance.left``; the margin and the covering (m, on every face of
    the box) come on top.  Square to the width the margin is kept from a keep-out all along the stretch, beyond its ends
    too: round the edges of a keep-out's two ends that is a little more than asked for.
    """
    kept_free, clearance = space.margin + covering, space.clearance
    section = shapely.Polygon(space.section)
    solids = [shapely.Polygon(keepout.section) for keepout in space.keepouts]
    # A box beside a keep-out ends here if it stands left of it, starts there if it stands right of it.
    ends = [keepout.across[0] - kept_free - clearance.right for keepout in space.keepouts]
    starts = [keepout.across[1] + kept_free + clearance.left for keepout in space.keepouts]
    first, last = kept_free + clearance.left, space.width - kept_free - clearance.right
    lows = {first, *(start for start in starts if first < start < last)}
    highs = {last, *(end for end in ends if first < end < last)}
    spans = [(low, high) for low in lows for high in highs if high - low > TOUCH]
    sections: dict[tuple[int, ...], shapely.MultiPolygon] = {}
    stretches: list[Stretch] = []
    for low, high in sorted(spans, key=lambda span: (-round(span[1] - span[0], 9), span[0])):
        beside = tuple(i for i in range(len(solids)) if ends[i] < high - TOUCH and starts[i] > low + TOUCH)
        if beside not in sections:
            sections[beside] = _free_section(section, [solids[i] for i in beside], kept_free, clearance)
        stretch = Stretch(low, high, sections[beside])
        if stretch.pieces and not any(_holds(wider, stretch) for wider in stretches):
            stretches.append(stretch)
    return tuple(stretches)


def _holds(wider: Stretch, stretch: Stretch) -> bool:
    """Whether every box that fits in a stretch fits in a wider one too."""
    if stretch.low < wider.low - TOUCH or stretch.high > wider.high + TOUCH:
        return False
    return bool(wider.free.buffer(SAME, join_style="mitre").covers(stretch.free))


def _free_section(
    section: shapely.Polygon, solids: Sequence[shapely.Polygon], kept_free: float, clearance: Clearances
) -> shapely.MultiPolygon:
    """The section less what stands in it, ``kept_free`` all round and the clearances, in one or more pieces."""
    left = section.difference(shapely.union_all(solids))
    inner = left.buffer(-kept_free, join_style="mitre", mitre_limit=MITRE_LIMIT)
    free = shapely.remove_repeated_points(shapely.make_valid(_cleared(inner, clearance)), 1e-9)
    # A collection may hold pieces that themselves are of several parts.
    parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(free)))
    return shapely.MultiPolygon([part for part in parts if part.geom_type == "Polygon" and part.area > SPECK])


def _cleared(free: shapely.Geometry, clearance: Clearances) -> shapely.Geometry:
    """The points of ``free`` from which a straight way as long as each clearance stays inside.

    Such a way leaves the area where it crosses an edge, so what each edge sweeps when it is moved against the way, a
    parallelogram, is taken away.  Sides are looked at one by one: none is kept free diagonally before two of them.
    """
    ways = np.array([(clearance.front, 0.0), (-clearance.back, 0.0), (0.0, clearance.top), (0.0, -clearance.bottom)])
    swept = []
    for ring in _rings(free):
        one, other = ring[:-1], ring[1:]
        for way in ways[np.any(ways != 0.0, axis=1)]:
            edge = other - one
            across = np.abs(edge[:, 0] * way[1] - edge[:, 1] * way[0]) > 1e-15
            quads = np.stack([one, other, other - way, one - way], axis=1)[across]
            swept += list(shapely.polygons(quads))
    return free.difference(shapely.union_all(swept)) if swept else free


def _rings(free: shapely.Geometry) -> list[Floats]:
    """Closed outlines of every polygon in a geometry, those of its holes too, each (K + 1, 2)."""
    pieces = [part for part in shapely.get_parts(shapely.get_parts(free)) if part.geom_type == "Polygon"]
    return [np.asarray(ring.coords) for piece in pieces for ring in (piece.exterior, *piece.interiors)]
