"""The command ``wedgefront build``: a pick as boards, drawings and files to build it from."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import tomli

from engine.build import built
from engine.document import Document, Reader, read_document, written_in
from engine.errors import refusal
from engine.formats.fields import FIELDS
from engine.formats.front import JOB, read_run
from engine.formats.given import is_given, parse_given
from engine.formats.scenario import demo_scenarios, parse_scenario, read_scenario
from engine.given import judge_given
from engine.judged import JudgedDesign
from engine.report.folder import Asked, files_of, write_folder
from engine.scenario import Scenario
from engine.workshop.board import Box
from explorer.demo_fronts import stored_front
from explorer.job_file import is_job_file, read_job
from explorer.places import check_places
from explorer.session import Job, searched
from explorer.stopping import undisturbed


def write_build(options: argparse.Namespace, ready: Callable[[], None]) -> tuple[JudgedDesign, Box, list[Path]]:
    """Write what was asked for; gives the design as judged with the board as measured, its box, and the files.

    Units that are not asked for are those that the job is written in, or shown in, and stand in ``options`` from then.
    ``ready`` makes ready what judging takes, once nothing that was typed is refused.
    Raises InputFaults where there is no such design or something is in the way, SearchImpossible where the amplifier
    may drive a given box's drivers in no way, and OSError.
    """
    stated, judge = _stated(options), pick_of(options)
    ready()
    picked = judge()
    options.units = options.units or written_in(dict(picked.scenario.document))
    design, box = built(picked, replace(picked.scenario.build, **stated))
    options.paper = options.paper or ("letter" if options.units == "us" else "a4")
    written = datetime.now().astimezone().date()
    files = files_of(Asked(box=box, design=design, units=options.units, paper=options.paper, written=written))
    check_places([options.out / name for name in files], replace=True)  # folders; of the rest the build knows its own
    with undisturbed():
        write_folder(files, options.out, replace=options.replace)
    return design, box, [options.out / name for name in files]


def _stated(options: argparse.Namespace) -> dict[str, Any]:
    """What the command says of how it is built, SI.  Raises InputFaults."""
    table = {field.key: text for field in FIELDS["build"] if (text := getattr(options, field.key, None)) is not None}
    reader = Reader("build")
    values = reader.values(table, "", FIELDS["build"])
    reader.finish(table)
    return {key: values[key] for key in table}


def pick_of(options: argparse.Namespace) -> Callable[[], JudgedDesign]:
    """What judges the design that is named: one of a front, or the one that a file gives.

    Raises InputFaults where there is none, before anything is judged.
    """
    source, path = str(options.source), Path(options.source)
    if source in demo_scenarios() and not path.exists():
        scenario = read_scenario(demo_scenarios()[source])
        return _of_front(scenario, stored_front(source).front, options, source)
    if path.is_dir():
        return _of_front(_job_of(path, options), read_run(path).front, options, source)
    if is_job_file(path.name):
        return _of_job(path, options)
    document = read_document(path)
    if not is_given(document):
        raise refusal(source, "build_needs_sizes" if "box" in document and "space" not in document else "build_no_pick")
    if options.design is not None:
        raise refusal("ID", "build_one", value=options.design)
    return partial(judge_given, parse_given(document, source=source, folder=path.parent), source=source)


def _of_job(path: Path, options: argparse.Namespace) -> Callable[[], JudgedDesign]:
    """Of a job that the explorer saved: the pick, or another design of its front."""
    job = read_job(path)
    if job.found is None:
        raise refusal(str(path), "build_no_pick")
    options.units = options.units or job.units
    source, pick = str(path), job.pick
    if options.design is None and pick is not None:
        return partial(JudgedDesign.of, parse_scenario(_as_now(job, pick.document), source=source), pick.row)
    scenario = parse_scenario(_as_now(job, job.found.document), source=source)
    return _of_front(scenario, job.found.front, options, source)


def _as_now(job: Job, found_for: Document) -> Document:
    """The job as it is now, where a search would go by it as by the one that a design was found for; else that one."""
    return job.document if searched(job.document) == searched(found_for) else found_for


def _of_front(
    scenario: Scenario, front: pd.DataFrame, options: argparse.Namespace, source: str
) -> Callable[[], JudgedDesign]:
    number = 0
    if options.design is not None:
        (found,) = (front["id"] == options.design).to_numpy().nonzero()
        if not len(found):
            raise refusal("ID", "no_design", value=options.design, designs=len(front))
        number = int(found[0])
    elif len(front) != 1:
        example = str(front["id"].iloc[0]) if len(front) else ""
        raise refusal(source, "build_which", designs=len(front), example=example)
    return partial(JudgedDesign.of, scenario, _row(front, number))


def _row(front: pd.DataFrame, number: int) -> dict[str, Any]:
    return {str(key): value for key, value in front.iloc[number].items()}


def _job_of(folder: Path, options: argparse.Namespace) -> Scenario:
    """The job that a folder was searched for: as it says itself, or as it is named.

    Raises InputFaults where it is another one, or nobody says which.
    """
    record = read_run(folder).record
    if options.job is not None:
        path = demo_scenarios().get(options.job, Path(options.job))
        scenario = read_scenario(path)
    elif isinstance(text := record.get(JOB), str):
        try:
            scenario = parse_scenario(tomli.loads(text), source=str(folder / "run.json"))
        except tomli.TOMLDecodeError:
            raise refusal(str(folder / "run.json"), "no_record") from None
    else:
        demos = map(read_scenario, demo_scenarios().values())
        known = next((demo for demo in demos if demo.digest == record.get("scenario_sha256")), None)
        if known is None:
            raise refusal(str(folder), "build_needs_job")
        scenario = known
    if record.get("scenario_sha256") != scenario.digest:
        raise refusal(str(folder / "run.json"), "other_job")
    return scenario
