"""One large driver against two small ones: which count of which goes into the space, what would have to give.

Asked of the largest box the space holds, closed, before any search.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import qmc

from engine.arrays import Floats
from engine.facings import FACINGS
from engine.kinds.closed import CLOSED
from engine.openings import variables
from engine.parts import Driver
from engine.scenario import Scenario
from engine.search.evaluator import SIZES, TOUCH, Designs, Evaluator
from engine.space.largest import LargestBox
from engine.space.layout import Layout
from engine.space.wedge import Wedges

REACH = 2.0  # m, more than anybody would add to a box
STEP = 0.001  # m
OTHERS = 8_192  # boxes tried where the largest will not do; a power of two keeps a Sobol sequence balanced
# What a builder could change of the box, and which outer sizes that changes.
CHANGES = {"width": ("outer_width",), "height": ("outer_height",), "depth": ("top_depth", "bottom_depth")}
WORSE = {"width": "wider", "height": "taller", "depth": "deeper"}


@dataclass(frozen=True)
class Contender:
    """A driver, how many of it and which way they face, tried in the largest box."""

    driver: Driver
    count: int
    facing: str
    box: LargestBox
    wedges: Wedges  # a batch of one
    layout: Layout
    slacks: dict[str, float]  # m left to each limit, tightest first, negative where it is broken
    # For each of CHANGES by how many metres the box could lose of it (negative: would need more of it) for them to fit
    # just so; None where that alone does not help.
    spare: dict[str, float | None]
    elsewhere: Wedges | None  # where they do not fit in the largest box: the largest of other boxes that they fit in

    @property
    def fits(self) -> bool:
        return min(self.slacks.values()) >= 0.0

    @property
    def name(self) -> str:
        return f"{self.count} × {self.driver.name}{FACINGS[self.facing].words}"


def contenders(scenario: Scenario) -> list[Contender]:
    """Every driver, count and facing that the amplifier can drive, each in the largest box for it.

    Where the space holds no box at all there are none.  Raises SearchImpossible as a search would.
    """
    evaluator = Evaluator(replace(scenario, box=replace(scenario.box, kinds=(CLOSED.name,))))
    first: dict[tuple[str, int, str], int] = {}
    for number, family in enumerate(evaluator.families.items):
        first.setdefault((family.wiring.driver.name, family.wiring.count, family.facing), number)
    tried = [_in_largest_box(evaluator, number) for number in first.values()]
    return [contender for contender in tried if contender is not None]


def _in_largest_box(evaluator: Evaluator, family: int) -> Contender | None:
    scenario, item = evaluator.scenario, evaluator.families.items[family]
    none, board = _closed(family, np.zeros((1, 4))), scenario.stock.board_thickness
    free = {"below": float(evaluator.below(none)[0]), "above": float(evaluator.above(none)[0])}
    saw = {"most_bevel": scenario.saw.most_bevel, "least_depth": scenario.box.least_depth}
    box = evaluator.envelope.largest(board=board, back_angle=scenario.box.back_angle, **free, **saw)
    if box is None:
        return None
    largest = np.array([getattr(box, name) for name in SIZES])
    # What a driver in the side panel or the cup needs beside the box is taken off the box's own width.
    largest[0] -= evaluator.beside(_closed(family, largest[np.newaxis]))[0]
    wedges, layout = _laid_out(evaluator, _closed(family, largest[np.newaxis]))
    slacks = {name: float(slack[0]) for name, slack in layout.slacks.items()}
    tightest_first = dict(sorted(slacks.items(), key=lambda each: each[1]))
    spare = {change: _spare(evaluator, family, largest, sizes) for change, sizes in CHANGES.items()}
    elsewhere = None if min(slacks.values()) >= 0.0 else _elsewhere(evaluator, family)
    what = (item.wiring.driver, item.wiring.count, item.facing)
    return Contender(*what, box, wedges, layout, tightest_first, spare, elsewhere)


def _elsewhere(evaluator: Evaluator, family: int) -> Wedges | None:
    """The largest of some thousand other boxes in the space that hold what the largest does not, or None."""
    scenario, least = evaluator.scenario, 2.0 * evaluator.scenario.stock.board_thickness
    width, height, depth = evaluator.envelope.extent
    share = qmc.Sobol(4, rng=np.random.default_rng(1)).random(OTHERS)
    designs = _closed(family, least + share * (np.array([width, height, depth, depth]) - least))
    wedges = evaluator.wedges(designs)
    fit = evaluator.fit(designs, wedges)
    layout = evaluator.layout(designs, wedges, fit, thorough=False)
    sawn = (evaluator.slant_violation(wedges) <= 0.0) & (wedges.thin_end >= scenario.box.least_depth)
    room = np.where(sawn & (fit.violation <= 0.0) & (layout.least >= 0.0), layout.net_volume, -np.inf)
    best = int(np.argmax(room))
    return wedges.take(np.array([best])) if np.isfinite(room[best]) else None


def _closed(family: int, sizes: Floats) -> Designs:
    """Closed boxes of a family, ``sizes`` (N, 4) as in ``SIZES``."""
    count = len(sizes)
    return Designs(
        family=np.full(count, family),
        **dict(zip(SIZES, sizes.T, strict=True)),
        tuning=np.full(count, np.nan),
        filter_hz=np.zeros(count),
        openings={variable.name: variable.none(count) for variable in variables()},
    )


def _laid_out(evaluator: Evaluator, designs: Designs) -> tuple[Wedges, Layout]:
    wedges = evaluator.wedges(designs)
    free_width = designs.outer_width + evaluator.beside(designs) + TOUCH
    return wedges, evaluator.layout_within(designs, wedges, free_width=free_width)


def _spare(evaluator: Evaluator, family: int, largest: Floats, sizes: Iterable[str]) -> float | None:
    """How much the box could lose, in whole millimetres, and still hold its contents; negative: needs more."""
    steps = np.arange(-REACH, REACH + 0.5 * STEP, STEP)
    batch = np.repeat(largest[np.newaxis], len(steps), axis=0)
    for name in sizes:
        batch[:, SIZES.index(name)] -= steps
    least = 2.0 * evaluator.scenario.stock.board_thickness
    possible = (batch > least).all(axis=1)
    batch = np.maximum(batch, least)
    _, layout = _laid_out(evaluator, _closed(family, batch))
    fits = possible & (layout.least >= 0.0)
    return round(float(steps[fits].max()), 6) if fits.any() else None
