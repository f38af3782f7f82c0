"""One job: what the scenario file says, read and validated as a whole."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from shapely import Polygon

from engine import polygon
from engine.air import REFERENCE_AIR, Air, air_at
from engine.datasheet import read_driver
from engine.document import Document, Reader, read_document, write_document
from engine.fields import FIELDS, TABLES
from engine.parts import Amplifier, Driver, Pipe, Space, Stock
from engine.quantities import show

__all__ = [
    "BoxChoices",
    "BoxKind",
    "Candidate",
    "FilterChoice",
    "Goals",
    "Scenario",
    "demo_scenarios",
    "parse_scenario",
    "read_document",
    "read_scenario",
    "write_document",
]

BoxKind = Literal["closed", "vented"]


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A driver to try, and how many of it."""

    driver: Driver
    counts: tuple[int, ...] = (1,)


@dataclass(frozen=True, kw_only=True)
class BoxChoices:
    """What is given of the box before the search: kinds, lean, losses, clearances."""

    kinds: tuple[BoxKind, ...] = ("closed", "vented")
    back_angle: float = 0.0  # rad from vertical, positive where the back leans forward going up
    ql: float = 7.0  # leakage Q of vented boxes
    breathing_gap: float = 0.010  # m, air kept free around basket, magnet and vents


@dataclass(frozen=True, kw_only=True)
class FilterChoice:
    """An infrasonic high-pass to try: Butterworth of ``order`` (0 = none), frequency range in Hz."""

    order: int = 0
    frequency: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Goals:
    """What is asked of the design."""

    music_band: tuple[float, float] = (25.0, 80.0)  # Hz
    vent_speed_limit: float = 17.0  # m/s, peak
    objectives: tuple[str, ...] = ("f3_hz", "output_db", "excursion_ratio", "vent_speed_m_s")
    limits: dict[str, float] = field(default_factory=dict)  # objective -> worst value accepted


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """A whole job.  ``bounds`` maps a variable of the search to (lowest, highest)."""

    title: str
    about: str = ""
    space: Space
    box: BoxChoices
    candidates: tuple[Candidate, ...]
    amplifier: Amplifier
    stock: Stock
    filters: tuple[FilterChoice, ...] = (FilterChoice(),)
    goals: Goals = Goals()
    bounds: dict[str, tuple[float, float]] = field(default_factory=dict)
    air: Air = REFERENCE_AIR
    currency: str = ""
    evaluations: int = 400_000
    digest: str = ""  # of the document it was read from


Tables = list[tuple[str, dict[str, Any]]]  # repeated tables, each with its place
SMALLEST_EXTENT = 0.05  # m; a space less deep or high than this was measured in another unit


def read_scenario(path: Path) -> Scenario:
    """The job a scenario file describes.  Raises InputFaults with every fault in it."""
    return parse_scenario(read_document(path), source=str(path))


def demo_scenarios() -> dict[str, Path]:
    """The demo jobs that come along: name -> file."""
    folder = Path(str(files("scenarios")))
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def parse_scenario(document: Document, *, source: str) -> Scenario:
    """The job that a document describes, keys as in a scenario file.

    ``source`` names the document in messages.  Raises InputFaults with every fault in it,
    each with the exact place, such as ``driver[0].fs`` or ``space.section[2][1]``.
    """
    return _Parser(document, source).scenario()


def digest_of(document: Document) -> str:
    """A fingerprint of what a document says, whatever the order of its keys."""
    canonical = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)
    return hashlib.sha256(canonical.encode()).hexdigest()


class _Parser:
    """Reads one document table by table; what is at fault comes back as None and is in the reader."""

    def __init__(self, document: Document, source: str) -> None:
        self.fields, self.inner = FIELDS, TABLES
        self.document = document
        self.reader = Reader(source)

    def scenario(self) -> Scenario:
        reader, document = self.reader, self.document
        top = reader.values(document, "", self.fields[""], self.inner[""])
        self._currency(top)
        space, door = self._one("space"), self._one("space.door")
        stock = self._one("stock")
        pipe_tables, driver_tables = self._many("stock.pipe"), self._many("driver")
        pipes = self._pipes(pipe_tables)
        box, goals, limits = self._one("box"), self._one("goals"), self._one("goals.limits")
        candidates = self._candidates(driver_tables, stock)
        amplifier = self._amplifier()
        filters = self._filters()
        air, bounds, search = self._one("air"), self._one("bounds"), self._one("search")
        self._check_space(space, stock)
        self._check_vents(box, pipes)
        self._check_objectives(goals, limits)
        asked = {*goals.get("objectives", ()), *limits}
        if "weight_kg" in asked:
            self._need(driver_tables, "mass", "weight_kg")
        self._check_money(top, "cost" in asked, driver_tables, pipe_tables)
        reader.finish()

        assert amplifier is not None
        goals["limits"] = limits
        if document["space"].get("door") is not None:
            space["door"] = (door["width"], door["height"])
        return Scenario(
            title=top["title"],
            about=top.get("about", ""),
            currency=top.get("currency", ""),
            space=Space(**space),
            box=BoxChoices(**box),
            candidates=tuple(candidates),
            amplifier=amplifier,
            stock=Stock(**stock, pipes=tuple(Pipe(**pipe) for pipe in pipes)),
            filters=filters,
            goals=Goals(**goals),
            bounds={name: (float(low), float(high)) for name, (low, high) in bounds.items()},
            air=air_at(temperature_k=air["temperature"], altitude_m=air["altitude"])
            if document.get("air") is not None
            else REFERENCE_AIR,
            evaluations=search["evaluations"],
            digest=digest_of(document),
        )

    def _one(self, path: str) -> dict[str, Any]:
        """The values of a table that stands once; its defaults where it stands nowhere."""
        parent: Mapping[str, Any] = self.document
        *above, key = path.split(".")
        for name in above:
            inner = parent.get(name)
            parent = inner if isinstance(inner, dict) else {}
        table = self.reader.table(parent, ".".join(above), key)
        if table is not None:
            return self.reader.values(table, path, self.fields[path], self.inner.get(path, ()))
        optional = [field for field in self.fields[path] if not field.required]
        return self.reader.values({}, path, optional)

    def _many(self, path: str) -> Tables:
        """The repeated tables at a path, each with its own place."""
        *above, key = path.split(".")
        parent: Any = self.document
        for name in above:
            parent = parent.get(name)
            if not isinstance(parent, dict):
                return []
        return self.reader.tables(parent, ".".join(above), key)

    def _currency(self, top: dict[str, Any]) -> None:
        currency = top.get("currency")
        if currency is None:
            return
        if re.fullmatch(r"[A-Z]{3}", currency):
            self.reader.currency = currency
        else:
            self.reader.fault("currency", "expected three capital letters, such as EUR or USD", currency)

    def _pipes(self, tables: Tables) -> list[dict[str, Any]]:
        reader, found = self.reader, []
        for place, table in tables:
            values = reader.values(table, place, self.fields["stock.pipe"])
            inner, outer = values.get("inner_diameter"), values.get("outer_diameter")
            if inner and outer and inner >= outer:
                reader.fault(
                    f"{place}.inner_diameter",
                    f"expected less than outer_diameter ({table['outer_diameter']})",
                    table["inner_diameter"],
                )
            found.append(values)
        self._check_names("stock.pipe", found)
        return found

    def _candidates(self, tables: Tables, stock: dict[str, Any]) -> list[Candidate]:
        reader, found, stated = self.reader, [], []
        board = stock.get("board_thickness", 0.0)
        for place, table in tables:
            driver, values = read_driver(reader, table, place, self.fields["driver"])
            stated.append(values)
            if driver is None:
                continue
            if driver.mounting_depth <= board:
                reader.fault(
                    f"{place}.mounting_depth",
                    f"expected more than the board's thickness ({self.document['stock']['board_thickness']})",
                    table["mounting_depth"],
                )
            found.append(Candidate(driver=driver, counts=tuple(sorted(values["counts"]))))
        self._check_names("driver", stated)
        return found

    def _check_names(self, path: str, tables: Sequence[Mapping[str, Any]]) -> None:
        """Designs name their parts, so no two may be called the same."""
        first: dict[str, int] = {}
        for number, table in enumerate(tables):
            name = table.get("name")
            if name is None:
                continue
            if name.casefold() in first:
                place = f"{path}[{first[name.casefold()]}]"
                self.reader.fault(f"{path}[{number}].name", f"expected another name than that of {place}", name)
            first.setdefault(name.casefold(), number)

    def _amplifier(self) -> Amplifier | None:
        reader = self.reader
        values = self._one("amplifier")
        loads: dict[float, float] = {}
        whole = True
        for place, table in self._many("amplifier.load"):
            load = reader.values(table, place, self.fields["amplifier.load"])
            if len(load) < 2:
                whole = False
            elif any(math.isclose(load["impedance"], other, rel_tol=0.01) for other in loads):
                reader.fault(f"{place}.impedance", "expected each load once", table["impedance"])
            else:
                loads[load["impedance"]] = load["power"]
        lowest = values.get("lowest_load")
        if whole and loads and lowest and max(loads) < lowest:
            reader.fault(
                "amplifier.load",
                f"expected at least one load of {lowest:g} ohm (lowest_load) or more",
                f"{max(loads):g} ohm at most",
            )
        if lowest is None or "name" not in values:
            return None
        return Amplifier(name=values["name"], loads=tuple(sorted(loads.items())), lowest_load=lowest)

    def _filters(self) -> tuple[FilterChoice, ...]:
        reader = self.reader
        found: list[FilterChoice] = []
        for place, table in self._many("filter"):
            values = reader.values(table, place, self.fields["filter"])
            kind = values.get("kind")
            if kind is None:
                continue
            for key in ("order", "frequency"):
                if kind == "none" and key in table:
                    reader.fault(f"{place}.{key}", 'a filter of kind "none" has none', table[key])
                if kind == "highpass" and table.get(key) is None:
                    reader.fault(f"{place}.{key}", "is missing: a high-pass needs order and frequency")
            choice = FilterChoice()
            if kind == "highpass" and "order" in values and "frequency" in values:
                choice = FilterChoice(order=values["order"], frequency=values["frequency"])
            elif kind == "highpass":
                continue
            if choice.order in [other.order for other in found]:
                what = f"of order {choice.order}" if choice.order else 'of kind "none"'
                reader.fault(place, f"expected one filter {what}; widen its frequency range instead")
            found.append(choice)
        return tuple(found) or (FilterChoice(),)

    def _check_space(self, space: dict[str, Any], stock: dict[str, Any]) -> None:
        """The outline must be one, and hold something once margin and board are off."""
        reader = self.reader
        section, width, margin = space.get("section"), space.get("width"), space.get("margin")
        if section is None:
            return
        wrong = polygon.faults_of(section)
        for words in wrong:
            reader.fault("space.section", words)
        if wrong:
            return
        for side, name in enumerate(("deep", "high")):
            extent = max(corner[side] for corner in section) - min(corner[side] for corner in section)
            if extent < SMALLEST_EXTENT:
                reader.fault(
                    "space.section",
                    f"expected a space at least {show(SMALLEST_EXTENT, 'length', 'metric')} {name}; "
                    "were inches typed as millimetres?",
                    f"{show(extent, 'length', 'metric')} {name}",
                )
                return
        if width is None or margin is None:
            return
        free = Polygon(section).buffer(-margin, join_style="mitre")
        if free.is_empty or width <= 2.0 * margin:
            reader.fault("space.margin", "leaves nothing of the space", self.document["space"]["margin"])
            return
        left, low, right, high = free.bounds
        board = stock.get("board_thickness")
        least = min(right - left, high - low, width - 2.0 * margin)
        if board is not None and least <= 2.0 * board:
            reader.fault(
                "stock.board_thickness",
                f"leaves no room inside a box: the space is {show(least, 'length', 'metric')} across "
                "where it is least, margin off",
                self.document["stock"]["board_thickness"],
            )

    def _check_vents(self, box: dict[str, Any], pipes: Sequence[Mapping[str, Any]]) -> None:
        stock = self.document.get("stock")
        if "vented" in box.get("kinds", ()) and not pipes and isinstance(stock, dict) and "pipe" not in stock:
            self.reader.fault("stock.pipe", 'is missing: vented boxes need a pipe size, or set box.kinds = ["closed"]')

    def _check_objectives(self, goals: dict[str, Any], limits: Mapping[str, Any]) -> None:
        reader = self.reader
        objectives = goals.get("objectives", ())
        if len(objectives) == 1:
            reader.fault("goals.objectives", "expected at least two objectives to trade", list(objectives))
        band = goals.get("music_band")
        if band is not None and band[0] == band[1]:
            reader.fault("goals.music_band", "expected a band: the highest above the lowest")

    def _check_money(self, top: dict[str, Any], cost_asked: bool, drivers: Tables, pipes: Tables) -> None:
        """Cost needs every price, and any price needs the currency."""
        stock = self.document.get("stock")
        board = stock.get("board_price") if isinstance(stock, dict) else None
        if cost_asked:
            self._need(drivers, "price", "cost")
            self._need(pipes, "price", "cost")
            if isinstance(stock, dict) and board is None:
                self.reader.fault("stock.board_price", 'is missing: "cost" among the goals needs it')
        priced = board is not None or any("price" in table for _, table in [*drivers, *pipes])
        if (cost_asked or priced) and "currency" not in top:
            self.reader.fault("currency", "is missing: prices need one, such as EUR")

    def _need(self, tables: Tables, key: str, goal: str) -> None:
        for place, table in tables:
            if table.get(key) is None:
                self.reader.fault(f"{place}.{key}", f'is missing: "{goal}" among the goals needs it')
