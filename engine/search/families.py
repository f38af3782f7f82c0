"""What a search may choose from: every box kind, driver, driver count and filter, as one numbered list."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.errors import SearchImpossible
from engine.scenario import BoxKind, Facing, FilterChoice, Scenario
from engine.space.contents import FACINGS
from engine.wiring import Wiring, best_wiring

Floats = NDArray[np.float64]
Key = tuple[str, str, int, str, int]  # box kind, driver, driver count, facing, order of the filter


@dataclass(frozen=True)
class Family:
    """Designs that share everything but numbers: box kind, driver, driver count, wiring, facing, filter."""

    box_kind: BoxKind
    wiring: Wiring
    facing: Facing
    filter: FilterChoice

    @property
    def key(self) -> Key:
        """What a row of the front names it by."""
        return self.box_kind, self.wiring.driver.name, self.wiring.count, self.facing, self.filter.order


@dataclass(frozen=True)
class Families:
    """All families of a scenario, and their figures as arrays to gather from by family number."""

    items: tuple[Family, ...]
    unwired: tuple[str, ...]  # driver and count that the amplifier may not drive, in words

    @cached_property
    def by_key(self) -> dict[Key, int]:
        return {family.key: number for number, family in enumerate(self.items)}

    def driver(self, figure: str) -> Floats:
        """A figure of each family's wired driver, (families,)."""
        return np.array([getattr(family.wiring.driver, figure) for family in self.items], dtype=float)

    def wiring(self, figure: str) -> Floats:
        """A figure of each family's wiring, (families,)."""
        return np.array([getattr(family.wiring, figure) for family in self.items], dtype=float)

    @cached_property
    def vented(self) -> NDArray[np.bool_]:
        return np.array([family.box_kind == "vented" for family in self.items])

    @cached_property
    def facing(self) -> NDArray[np.int64]:
        return np.array([FACINGS.index(family.facing) for family in self.items])

    @cached_property
    def filter_order(self) -> NDArray[np.int64]:
        return np.array([family.filter.order for family in self.items])

    @cached_property
    def filter_range(self) -> Floats:
        """Lowest and highest filter frequency, (families, 2) Hz."""
        return np.array([family.filter.frequency for family in self.items], dtype=float)


def families_of(scenario: Scenario) -> Families:
    """Every family the scenario allows.

    Raises
    ------
    SearchImpossible
        If the amplifier may drive none of the drivers, however they are wired, or if
        vented boxes are all that is allowed and no pipe is in stock.
    """
    kinds = [kind for kind in scenario.box.kinds if kind == "closed" or scenario.stock.pipes]
    if not kinds:
        raise SearchImpossible("only vented boxes are allowed, but [[stock.pipe]] lists no pipe: add a pipe size")
    items: list[Family] = []
    unwired: list[str] = []
    for candidate in scenario.candidates:
        for count in candidate.counts:
            wiring = best_wiring(candidate.driver, count, scenario.amplifier)
            if wiring is None:
                unwired.append(f"{count} × {candidate.driver.name}")
                continue
            items += [
                Family(kind, wiring, facing, choice)
                for kind in kinds
                for facing in scenario.box.facings
                for choice in scenario.filters
            ]
    if not items:
        raise SearchImpossible(
            f"no wiring of {', '.join(unwired)} gives a load that {scenario.amplifier.name} may drive "
            f"(lowest load {scenario.amplifier.lowest_load:g} ohm): "
            "add a load to [amplifier] or another driver"
        )
    return Families(tuple(items), tuple(unwired))
