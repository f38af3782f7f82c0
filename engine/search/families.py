"""What a search may choose from: every box kind with its openings, driver, driver count and filter, as one list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.circuit import driver_figures
from engine.acoustics.filling import FILLINGS
from engine.acoustics.filters import section_qs
from engine.columns import COLUMNS
from engine.errors import SearchImpossible
from engine.facings import FACINGS
from engine.kinds import KINDS
from engine.openings import OPENINGS, making
from engine.openings.record import Fitting, Opening
from engine.parts import Amplifier
from engine.scenario import Candidate, FilterChoice, Scenario
from engine.wiring import Wiring, allowed, best_wiring, different, wirings
from engine.words.voice import Names, Quantity, TableName

Floats = NDArray[np.float64]
Key = tuple[str | int | float, ...]

FILTER_COLUMNS = ("filter_order", "filter_shape", "filter_q")  # the last of a family's key


def key_columns() -> tuple[str, ...]:
    """The columns of a front that name a family."""
    return (*group_columns(), "wiring", "baffle", "filling", *FILTER_COLUMNS)


def group_columns() -> tuple[str, ...]:
    """Those of them that name box kind, opening, driver, count and facing."""
    openings = [name for opening in OPENINGS.records for name in opening.key]
    return ("box_kind", "driver", "driver_count", "facing", "vent_kind", *dict.fromkeys(openings))


@dataclass(frozen=True, kw_only=True)
class Family:
    """Designs that share everything but numbers."""

    opening: Opening
    fitting: Fitting
    wiring: Wiring
    facing: str
    baffle: str
    filter: FilterChoice

    @property
    def box_kind(self) -> str:
        return self.opening.box_kind

    @property
    def columns(self) -> dict[str, str | int | float]:
        """What a row of the front names it by, by column."""
        choice = self.filter
        found = {name: "" if COLUMNS[name].kind == "text" else 0 for name in key_columns()}
        return found | {
            "box_kind": self.box_kind,
            "driver": self.wiring.driver.name,
            "driver_count": self.wiring.count,
            "wiring": self.wiring.words,
            "facing": self.facing,
            "baffle": self.baffle,
            "vent_kind": self.opening.vent_kind,
            **self.fitting.key,
            "filling": self.fitting.filling,
            "filter_order": choice.order,
            "filter_shape": choice.shape if choice.order else "",
            "filter_q": 0.0 if math.isnan(choice.q) else choice.q,
        }

    @property
    def key(self) -> Key:
        """The same as a tuple in the order of :func:`key_columns`."""
        return tuple(self.columns.values())


class _Figures(dict[str, Floats]):
    """Figures of what each family has, by name, each gathered when it is first asked for."""

    def __init__(self, each: Sequence[Any]) -> None:
        self._each = each

    def __missing__(self, figure: str) -> Floats:
        found = self[figure] = np.array([getattr(one, figure, math.nan) for one in self._each], dtype=float)
        return found


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
        return self._drivers[figure]

    def wiring(self, figure: str) -> Floats:
        """A figure of each family's wiring, (families,)."""
        return self._wirings[figure]

    def part(self, figure: str) -> Floats:
        """A figure of what each family's opening is fitted with, (families,); nan where that has none."""
        return self._parts[figure]

    @cached_property
    def _drivers(self) -> _Figures:
        return _Figures([family.wiring.driver for family in self.items])

    @cached_property
    def _wirings(self) -> _Figures:
        return _Figures([family.wiring for family in self.items])

    @cached_property
    def _parts(self) -> _Figures:
        return _Figures([family.fitting.part for family in self.items])

    @cached_property
    def part_count(self) -> Floats:
        """How many parts each family's opening is fitted with, (families,)."""
        return np.array([family.fitting.count for family in self.items], dtype=float)

    @cached_property
    def opening(self) -> NDArray[np.int64]:
        """Each family's opening as its number among the openings, (families,)."""
        return np.array([OPENINGS.code(family.opening.name) for family in self.items])

    @cached_property
    def kind(self) -> NDArray[np.int64]:
        """The code in ``KINDS`` of each family's kind of box, (families,)."""
        return np.array([KINDS.code(family.box_kind) for family in self.items])

    @cached_property
    def tuned(self) -> NDArray[np.bool_]:
        """Whether the box has a tuning, (families,)."""
        return np.array([KINDS[family.box_kind].tuned for family in self.items])

    @cached_property
    def facing(self) -> NDArray[np.int64]:
        return np.array([FACINGS[family.facing].code for family in self.items])

    @cached_property
    def filling(self) -> tuple[Floats, Floats]:
        """What multiplies the box's compliance, and the Q of its absorption, (families,) each."""
        each = [FILLINGS[family.fitting.filling or "none"] for family in self.items]
        return np.array([one.compliance for one in each]), np.array([one.qa for one in each])

    @cached_property
    def box(self) -> NDArray[np.int64]:
        """A number for each family, the same for those that differ in their filter only, (families,)."""
        keys = [family.key[: -len(FILTER_COLUMNS)] for family in self.items]
        numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
        return np.array([numbers[key] for key in keys])

    @cached_property
    def filter_order(self) -> NDArray[np.int64]:
        return np.array([family.filter.order for family in self.items])

    @cached_property
    def filter_qs(self) -> tuple[Floats, Floats]:
        """Q of the filter's sections of second order, (families,) each."""
        filters = (family.filter for family in self.items)
        q, q2 = zip(*(section_qs(shape=one.shape, order=one.order, own_q=one.q) for one in filters), strict=True)
        return np.array(q, dtype=float), np.array(q2, dtype=float)

    @cached_property
    def filter_range(self) -> Floats:
        """Lowest and highest filter frequency, (families, 2) Hz."""
        return np.array([family.filter.frequency for family in self.items], dtype=float)


def wired(candidate: Candidate, count: int, amplifier: Amplifier) -> list[Wiring]:
    """The wirings to try of so many drivers: the best of those that the job allows, or each of them."""
    choices = allowed(
        wirings(candidate.driver, count, amplifier),
        coils=candidate.coil_wirings,
        drivers=candidate.driver_wirings,
        load=candidate.load,
    )
    best = best_wiring(choices)
    return different(choices) if amplifier.each_wiring else [] if best is None else [best]


def families_of(scenario: Scenario) -> Families:
    """Every family the scenario allows.

    Raises SearchImpossible where the amplifier may drive none of the drivers, however they are wired, or where the
    kinds of box allowed all need parts that are not in stock.
    """
    boxes = [
        (opening, fitting)
        for kind in scenario.box.kinds
        for opening in making(kind)
        for fitting in opening.fittings(scenario)
    ]
    if not boxes:
        raise SearchImpossible("nothing_in_stock", kinds=Names(scenario.box.kinds))
    items: list[Family] = []
    unwired: list[str] = []
    for candidate in scenario.candidates:
        for count in candidate.counts:
            chosen = wired(candidate, count, scenario.amplifier)
            if not chosen:
                unwired.append(f"{count} × {candidate.driver.name}")
                continue
            shared = [(facing, baffle) for facing in scenario.box.facings for baffle in scenario.box.baffles]
            items += [
                Family(opening=opening, fitting=fitting, wiring=wiring, facing=facing, baffle=baffle, filter=choice)
                for opening, fitting in boxes
                for wiring in chosen
                for facing, baffle in shared
                for choice in scenario.filters
            ]
    items = [item for item in items if all(item.columns[name] == value for name, value in scenario.only.items())]
    if not items:
        raise SearchImpossible(
            "no_wiring",
            drivers=tuple(unwired),
            amplifier=scenario.amplifier.name,
            lowest_load=Quantity(scenario.amplifier.lowest_load, "resistance", figures=3),
            part=TableName("amplifier"),
        )
    return Families(tuple(items), tuple(unwired))
