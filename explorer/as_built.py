"""The sweeps of a job and what they come to, kept between reruns; the measured driver put into the job."""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from typing import Any

from engine.build import as_measured
from engine.errors import InputFaults, WedgefrontError
from engine.judged import JudgedDesign
from engine.measured.names import DRIVER
from engine.measured.sweep import Sweep, parse_sweep
from engine.measured.verdict import AsBuilt, Others, Sweeps, measured_driver, of_design
from engine.quantities import NotAQuantity, Units, parse, write
from engine.scenario import Build
from explorer.document import get, put
from explorer.reading import build_now
from explorer.session import Chosen, Document, Job, SearchResult

AMOUNTS = {"loaded": "added_mass", "closed": "volume"}  # what has to be known beside a sweep, as a kind of quantity
KEPT = 16
_FIGURES = 4  # significant ones that a measured figure is written with
# What a data sheet says besides, of which the measured figures say another thing.
_BESIDE = ("qts", "mms", "cms", "bl")
_COIL = ("inductance_kr", "inductance_xr", "inductance_ki", "inductance_xi", "l2", "r2", "inductance_exponent")


def amount_of(job: Job, of: str) -> float | None:
    """The mass or volume known beside a sweep, SI; None where it is not stated yet, or stated wrong."""
    try:
        amount = parse(job.sweeps[of]["amount"], AMOUNTS[of])
    except NotAQuantity:
        return None
    return amount if amount > 0.0 else None


def sweeps_of(job: Job) -> Sweeps:
    """The sweeps that a job keeps and that can be made use of."""
    read = {of: parse_sweep(each["text"], source=each["name"]) for of, each in job.sweeps.items()}

    def beside(of: str) -> tuple[Sweep, float] | None:
        amount = amount_of(job, of) if of in read else None
        return None if amount is None else (read[of], amount)

    return Sweeps(
        box=(read["box"],) if "box" in read else (), free=read.get("free"), loaded=beside("loaded"),
        closed=beside("closed"),
    )  # fmt: skip


class Checks:
    """What the sweeps of jobs came to, the last ones kept.  Every call may come from any thread."""

    def __init__(self) -> None:
        self._found: OrderedDict[tuple[Any, ...], AsBuilt | WedgefrontError] = OrderedDict()
        self._others: OrderedDict[tuple[Any, ...], Others] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, job: Job, chosen: Chosen, design: JudgedDesign) -> AsBuilt | WedgefrontError:
        """A chosen design held against the sweeps of a job, in the board as it was bought; or why it cannot be."""
        build = build_now(design, job)
        key = self._key(job, chosen, build)
        with self._lock:
            if key not in self._found:
                try:
                    bought = as_measured(design, board_thickness=build.board_thickness, baffle_layer=build.baffle_layer)
                    self._found[key] = of_design(bought, sweeps_of(job), hold=job.held)
                except (InputFaults, WedgefrontError) as error:
                    self._found[key] = error
            found: AsBuilt | WedgefrontError = _used(self._found, key)
            return found

    def others(self, job: Job, chosen: Chosen, found: SearchResult, done: AsBuilt) -> Others:
        """What that means for the front that the design is from."""
        assert done.design is not None, "only designs of a job are of a front"
        key = (*self._key(job, chosen, build_now(done.design, job)), json.dumps(found.record, sort_keys=True))
        with self._lock:
            if key not in self._others:
                self._others[key] = done.others(found.front)
            others: Others = _used(self._others, key)
            return others

    @staticmethod
    def _key(job: Job, chosen: Chosen, build: Build) -> tuple[Any, ...]:
        return chosen, build, json.dumps(job.sweeps, sort_keys=True), tuple(sorted(job.held))


def _used(kept: OrderedDict[tuple[Any, ...], Any], key: tuple[Any, ...]) -> Any:
    kept.move_to_end(key)
    while len(kept) > KEPT:
        kept.popitem(last=False)
    return kept[key]


def with_measured_driver(document: Document, done: AsBuilt, units: Units) -> Document:
    """The document with the figures of its driver as measured, those that the sweeps tell."""
    assert done.design is not None, "only designs of a job have their driver in it"
    name, scenario = done.design.row["driver"], done.design.scenario
    sheet = next(each.driver for each in scenario.candidates if each.driver.name == name)
    measured = measured_driver(sheet, done.fit, wired=done.stated.driver)
    items = get(document, ("driver",))
    for number, item in enumerate(items if isinstance(items, list) else []):
        if not isinstance(item, dict) or item.get("name") != name:
            continue
        place = ("driver", number)
        told = [key for key in DRIVER if key in done.fit.found and done.fit.found[key].told]
        for key in told:
            document = put(document, (*place, key), _written(key, getattr(measured, key), units))
        if told:
            for key in _BESIDE:
                document = put(document, (*place, key), None)
        if "le" in done.fit.found and done.fit.found["le"].told:
            for key in _COIL:
                document = put(document, (*place, key), None)
            document = put(document, (*place, "le"), _written("le", measured.le, units))
            match done.fit.coil:
                case "lossy":
                    exponent = round(measured.inductance_exponent, 3)
                    document = put(document, (*place, "inductance_exponent"), exponent)
                case "second":
                    for key in ("l2", "r2"):
                        document = put(document, (*place, key), _written(key, getattr(measured, key), units))
                case "plain" | "wright":
                    pass
    return document


_KINDS = {
    "fs": "frequency", "re": "resistance", "vas": "volume", "le": "inductance", "l2": "inductance", "r2": "resistance",
}  # fmt: skip


def _written(key: str, value: float, units: Units) -> str | float:
    """A figure as a file has it, to as many digits as are worth it."""
    if key not in _KINDS:
        return float(f"{value:.{_FIGURES}g}")
    number, _, unit = write(value, _KINDS[key], units).partition(" ")
    return f"{float(number):.{_FIGURES}g} {unit}"
