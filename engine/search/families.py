"""What a search may choose from: every box kind with its openings, driver, driver count and filter, as one list."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.circuit import driver_figures
from engine.acoustics.filling import FILLINGS
from engine.acoustics.filters import section_qs
from engine.errors import SearchImpossible
from engine.facings import FACINGS
from engine.parts import PassiveRadiator
from engine.scenario import BoxKind, FilterChoice, Scenario
from engine.wiring import Wiring, best_wiring
from engine.words.voice import Names, Part, Quantity

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# The columns of a front that name a family.
KEY = (
    "box_kind",
    "driver",
    "driver_count",
    "facing",
    "vent_kind",
    "radiator",
    "radiator_count",
    "filling",
    "filter_order",
    "filter_shape",
    "filter_q",
)
Key = tuple[str | int | float, ...]


@dataclass(frozen=True, kw_only=True)
class Family:
    """Designs that share everything but numbers.

    ``vent_kind`` is "pipe" or "slot" of a vented box, else "".  ``radiator`` is None and ``filling`` "" where
    a box of this kind has none.
    """

    box_kind: BoxKind
    wiring: Wiring
    facing: str
    vent_kind: str = ""
    radiator: PassiveRadiator | None = None
    radiator_count: int = 0
    filling: str = ""
    filter: FilterChoice

    @property
    def key(self) -> Key:
        """What a row of the front names it by, in the order of ``KEY``."""
        choice = self.filter
        return (
            self.box_kind,
            self.wiring.driver.name,
            self.wiring.count,
            self.facing,
            self.vent_kind,
            self.radiator.name if self.radiator else "",
            self.radiator_count,
            self.filling,
            choice.order,
            choice.shape if choice.order else "",
            0.0 if math.isnan(choice.q) else choice.q,
        )


@dataclass(frozen=True)
class Families:
    """All families of a scenario, and their figures as arrays to gather from by family number."""

    items: tuple[Family, ...]
    unwired: tuple[str, ...]  # driver and count that the amplifier may not drive, in words

    @cached_property
    def by_key(self) -> dict[Key, int]:
        return {family.key: number for number, family in enumerate(self.items)}

    @cached_property
    def acoustic(self) -> dict[str, Floats]:
        """What the circuit takes of each family's wired driver, (families,) each."""
        each = [driver_figures(family.wiring.driver) for family in self.items]
        return {name: np.array([figures[name] for figures in each]) for name in each[0]}

    def driver(self, figure: str) -> Floats:
        """A figure of each family's wired driver, (families,)."""
        return np.array([getattr(family.wiring.driver, figure) for family in self.items], dtype=float)

    def wiring(self, figure: str) -> Floats:
        """A figure of each family's wiring, (families,)."""
        return np.array([getattr(family.wiring, figure) for family in self.items], dtype=float)

    def radiator(self, figure: str) -> Floats:
        """A figure of each family's passive radiator, (families,); nan where it has none."""
        each = [family.radiator for family in self.items]
        return np.array([getattr(radiator, figure) if radiator else math.nan for radiator in each], dtype=float)

    @cached_property
    def radiator_count(self) -> Floats:
        return np.array([family.radiator_count for family in self.items], dtype=float)

    @cached_property
    def vented(self) -> Flags:
        return np.array([family.box_kind == "vented" for family in self.items])

    @cached_property
    def slotted(self) -> Flags:
        """Whether the vent is a slot of the box's own board."""
        return np.array([family.vent_kind == "slot" for family in self.items])

    @cached_property
    def tuned(self) -> Flags:
        """Whether the box has a tuning: vents or passive radiators."""
        return self.vented | (self.radiator_count > 0)

    @cached_property
    def facing(self) -> NDArray[np.int64]:
        return np.array([FACINGS[family.facing].code for family in self.items])

    @cached_property
    def filling(self) -> tuple[Floats, Floats]:
        """What multiplies the box's compliance, and the Q of its absorption, (families,) each."""
        each = [FILLINGS[family.filling or "none"] for family in self.items]
        return np.array([one.compliance for one in each]), np.array([one.qa for one in each])

    @cached_property
    def filter_order(self) -> NDArray[np.int64]:
        return np.array([family.filter.order for family in self.items])

    @cached_property
    def filter_qs(self) -> tuple[Floats, Floats]:
        """Q of the filter's sections of second order, (families,) each."""
        each = [
            section_qs(shape=family.filter.shape, order=family.filter.order, own_q=family.filter.q)
            for family in self.items
        ]
        return np.array([float(q) for q, _ in each]), np.array([float(q2) for _, q2 in each])

    @cached_property
    def filter_range(self) -> Floats:
        """Lowest and highest filter frequency, (families, 2) Hz."""
        return np.array([family.filter.frequency for family in self.items], dtype=float)


def families_of(scenario: Scenario) -> Families:
    """Every family the scenario allows.

    Raises
    ------
    SearchImpossible
        If the amplifier may drive none of the drivers, however they are wired, or if the kinds of box
        allowed all need parts that are not in stock.
    """
    boxes = list(_boxes(scenario))
    if not boxes:
        raise SearchImpossible("nothing_in_stock", kinds=Names(scenario.box.kinds))
    items: list[Family] = []
    unwired: list[str] = []
    for candidate in scenario.candidates:
        for count in candidate.counts:
            wiring = best_wiring(candidate.driver, count, scenario.amplifier)
            if wiring is None:
                unwired.append(f"{count} × {candidate.driver.name}")
                continue
            items += [
                Family(wiring=wiring, facing=facing, filter=choice, **box)
                for box in boxes
                for facing in scenario.box.facings
                for choice in scenario.filters
            ]
    if not items:
        raise SearchImpossible(
            "no_wiring",
            drivers=tuple(unwired),
            amplifier=scenario.amplifier.name,
            lowest_load=Quantity(scenario.amplifier.lowest_load, "resistance", figures=3),
            part=Part("amplifier"),
        )
    return Families(tuple(items), tuple(unwired))


def _boxes(scenario: Scenario) -> Iterator[dict[str, Any]]:
    """Each kind of box with each kind of opening or filling it may have."""
    for kind in scenario.box.kinds:
        if kind == "closed":
            for filling in scenario.box.fillings:
                yield {"box_kind": kind, "filling": filling}
        elif kind == "vented":
            if scenario.stock.pipes:
                yield {"box_kind": kind, "vent_kind": "pipe"}
            if scenario.stock.slot:
                yield {"box_kind": kind, "vent_kind": "slot"}
        else:
            for candidate in scenario.radiators:
                for count in candidate.counts:
                    yield {"box_kind": kind, "radiator": candidate.radiator, "radiator_count": count}
