"""The command that searches a catalogue: who does the tasks, what is told meanwhile and at the end."""

from __future__ import annotations

import argparse
import math
import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as ProgressBar

from engine.document import write_document
from engine.errors import SearchImpossible, refusal
from engine.files import write_whole
from engine.formats.catalogue import job_with, read_catalogue
from engine.formats.front import csv_text, write_run
from engine.formats.kept import KeptTasks, kept_tasks
from engine.report.catalogue import table
from engine.scenario import Scenario
from engine.search.catalogue import Catalogued, CatalogueSearch, Found, Progress
from engine.search.runs import VERSION
from explorer.helpers import Helpers
from explorer.places import RUN, check_places
from explorer.stopping import undisturbed

TABLE, JOB = "drivers.csv", "job.toml"
MOST_LISTED = 100  # drivers that a job may list
GOES_ON = "the same command goes on from there"
CLUSTER_WAIT = 10  # s for a cluster to answer


class _KeptWhole:
    """Where tasks are kept, each put there whole, whatever signal comes meanwhile."""

    def __init__(self, kept: KeptTasks) -> None:
        self._kept = kept
        self.get, self.starts = kept.get, kept.starts

    def __contains__(self, name: object) -> bool:
        return name in self._kept

    def put(self, name: str, found: Found) -> None:
        with undisturbed(GOES_ON):
            self._kept.put(name, found)


@contextmanager
def workers(count: int, cluster: str) -> Iterator[Executor]:
    """Who does the tasks: so many processes of this machine, or the cluster at an address.

    Raises InputFaults where no cluster answers there, or what is needed to ask it is not installed.
    """
    if not cluster:
        processes = Helpers(count)
        try:
            yield processes
        finally:
            processes.shutdown(cancel_futures=True)
        return
    try:
        from distributed import Client
    except ImportError:
        raise refusal("--dask", "no_dask", value=cluster) from None
    try:
        client = Client(cluster, timeout=CLUSTER_WAIT, set_as_default=False)
    except (OSError, ValueError) as error:
        raise refusal("--dask", "no_cluster", value=cluster, reason=str(error)) from None
    with client:
        yield client.get_executor(pure=False)


def search(
    options: argparse.Namespace, path: Path, *, console: Console, cancelled: Callable[[], bool]
) -> tuple[Scenario, Catalogued]:
    """Search a job's space with the drivers of a catalogue, or go on where a search of them was stopped.

    Raises InputFaults where something of that is at fault, and SearchImpossible where no driver fits; what each is
    short of is then written all the same.
    """
    began = time.monotonic()
    scenario = read_catalogue(path, options.drivers)
    what = CatalogueSearch(scenario, seed=options.seed, evaluations=options.evaluations)
    inputs = {
        "job or list of drivers": scenario.digest,
        "seed": options.seed,
        "number of designs to try": what.budget,
        "version of wedgefront": VERSION,
    }
    check_places([options.out / name for name in (*RUN, TABLE, JOB)], replace=options.replace)
    crew = workers(options.workers or os.cpu_count() or 1, options.dask or "")
    with kept_tasks(options.out, inputs) as kept:
        with crew as executor, _told(console) as tell:
            try:
                found = what.run(executor, _KeptWhole(kept), progress=tell, cancelled=cancelled)
            except (BrokenExecutor, CancelledError):
                raise refusal(str(options.out), "workers_lost") from None
        found.run.record["seconds"] = round(time.monotonic() - began, 3)
        _write(scenario, found, options)
    return scenario, found


def _write(scenario: Scenario, found: Catalogued, options: argparse.Namespace) -> None:
    """Write what a catalogue came to.  Raises SearchImpossible where no driver fits."""
    verdicts = csv_text(table(found.verdicts, scenario, options.units))
    if found.run.front.empty:
        with undisturbed():
            write_whole({options.out / TABLE: verdicts})
        if found.run.record["stopped_by"] == "cancelled":
            raise SearchImpossible("none_tried")
        drivers = len(scenario.candidates)
        raise SearchImpossible("none_of_catalogue", drivers=drivers, table=str(options.out / TABLE))
    others = {TABLE: verdicts, JOB: write_document(job_with(scenario, survivors(found)))}
    with undisturbed():
        write_run(found.run, options.out, others)


@contextmanager
def _told(console: Console) -> Iterator[Callable[[Progress], None]]:
    """What tells how far it is: a bar, or lines into a log or a pipe, where none can be drawn."""
    if not console.is_terminal:
        console.print("Searching; Ctrl-C ends it and keeps what was found, the same command then goes on")
        yield _Lines(console).tell
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with ProgressBar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Searching", total=1.0)
        yield lambda now: bar.update(task, description=_words(now), completed=now.evaluations / now.budget)


def _words(now: Progress) -> str:
    stage = f"Round {now.stage}" if now.stage else "A short search of each"
    front = f", {now.front_size:,} designs on the front" if now.stage else ""
    return f"{stage}: {now.done} of {now.tasks} drivers{front}"


class _Lines:
    """A line as each stage begins, and at each quarter of it."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._last = -1, -1

    def tell(self, now: Progress) -> None:
        place = now.stage, 4 * now.done // now.tasks
        if place != self._last:
            self._last = place
            self._console.print(f"{_words(now)}, {now.evaluations:,} designs tried")


def survivors(found: Catalogued) -> list[str]:
    """The drivers on the front, those first that bring most that no other does; as many as a job may list."""
    there = [each for each in found.verdicts if each.code == "front"]
    there.sort(key=lambda each: 0.0 if math.isnan(each.share) else -each.share)
    return [each.driver for each in there[:MOST_LISTED]]
