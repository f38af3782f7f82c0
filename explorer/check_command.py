"""The command ``wedgefront check``: a finished box held against its design."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from engine.build import as_measured
from engine.document import read_document, written_in
from engine.errors import Fault, InputFaults, refusal
from engine.formats.design import parse_design
from engine.formats.front import read_run
from engine.formats.given import is_given
from engine.formats.scenario import demo_scenarios
from engine.measured.sweep import Sweep, read_sweep
from engine.measured.verdict import AsBuilt, Sweeps, of_design, of_stated
from engine.quantities import NotAQuantity, parse
from explorer.build_command import pick_of
from explorer.demo_fronts import stored_front
from explorer.job_file import is_job_file, read_job


def checked(options: argparse.Namespace, ready: Callable[[], None]) -> tuple[AsBuilt, pd.DataFrame | None]:
    """What was asked for measured, of board as it was bought, and the front that it is from, if it is.

    Units that are not asked for are those of the job, and stand in ``options`` from then.
    ``ready`` makes ready what judging takes, once all that was named is read.
    Raises InputFaults with every fault of the sweeps, or of what they are held against.
    """
    how: dict[str, Any] = {"hold": options.hold, "tell": options.fit}
    front, stated = _front_of(options.source), None
    name, files = _split(options.sweeps) if front is not None else (None, options.sweeps)
    sweeps = _sweeps(options, files)
    if front is None:
        document = read_document(options.source)
        if not is_given(document):
            stated = parse_design(document, source=str(options.source), folder=options.source.parent)
    if stated is not None:
        options.units = options.units or written_in(document)
        if stated.count % options.in_series:
            raise refusal("--in-series", "not_so_in_series", value=str(options.in_series), count=stated.count)
        ready()
        return of_stated(stated, sweeps, in_series=options.in_series, **how), None
    asked = argparse.Namespace(source=options.source, design=name, job=options.job, units=options.units)
    judge = pick_of(asked)
    ready()
    design = judge()
    options.units = asked.units or written_in(dict(design.scenario.document))
    build = design.scenario.build
    bought = as_measured(design, board_thickness=build.board_thickness, baffle_layer=build.baffle_layer)
    return of_design(bought, sweeps, **how), front


def _front_of(path: Path) -> pd.DataFrame | None:
    """The front that is named: a folder's, a demo's, a saved job's; None where a file gives one box."""
    if path.is_dir():
        return read_run(path).front
    if is_job_file(path.name):
        found = read_job(path).found
        return None if found is None else found.front
    demo = str(path) in demo_scenarios() and not path.exists()
    return stored_front(str(path)).front if demo else None


def _split(words: list[str]) -> tuple[str | None, list[str]]:
    """The id of a design and the files behind it; no id where the first is a file."""
    return (None, words) if not words or Path(words[0]).is_file() else (words[0], words[1:])


def _sweeps(options: argparse.Namespace, files: list[str]) -> Sweeps:
    """All sweeps named, read; every fault of every file together."""
    faults: list[Fault] = []

    def sweep(path: Path | str) -> Sweep | None:
        try:
            return read_sweep(Path(path))
        except InputFaults as wrong:
            faults.extend(wrong.faults)
            return None

    def measured(option: str, kind: str) -> tuple[Sweep, float] | None:
        stated = getattr(options, option.strip("-").replace("-", "_"))
        if stated is None:
            return None
        amount = 0.0
        try:
            amount = parse(stated[0], kind)
        except NotAQuantity:
            faults.append(Fault(option, "", stated[0], "no_amount", _SAID[kind]))
        if not faults and not amount > 0.0:
            faults.append(Fault(option, "", stated[0], "no_amount", _SAID[kind]))
        found = sweep(stated[1])
        return None if found is None else (found, amount)

    if not files and options.free_air is None:
        raise refusal("SWEEP.csv", "no_sweep")
    box = [sweep(path) for path in files]
    found = Sweeps(
        box=tuple(each for each in box if each is not None),
        free=None if options.free_air is None else sweep(options.free_air),
        loaded=measured("--added-mass", "added_mass"), closed=measured("--test-box", "volume"),
    )  # fmt: skip
    if faults:
        raise InputFaults(faults)
    return found


_SAID = {"added_mass": {"example": "50 g"}, "volume": {"example": "30 L"}}
