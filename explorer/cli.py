"""The command line: evaluate one stated design, search a scenario, compare groups of designs, open the explorer."""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from engine.document import nearest, written_in
from engine.errors import SearchImpossible, WedgefrontError, refusal
from engine.words.voice import Near, Voice
from explorer.options import options_of
from explorer.places import RUN, check_folder, check_places
from explorer.stopping import left_alone, undisturbed
from explorer.terminal import (
    CancelOnInterrupt,
    OutputFailed,
    ProgressLines,
    ShareTold,
    hold_standard_places,
    let_go_of_output,
    made_ready,
    out_console,
    progress_console,
    say,
    tell_data,
)

if TYPE_CHECKING:
    import pandas as pd
    from rich.progress import TaskID

    from engine.scenario import Scenario
    from engine.search.runs import Progress as SearchProgress
    from engine.search.runs import Run

# What takes time to load is loaded where it is needed: --help and a message about a faulty file
# should not wait for the search, and Ctrl-C must be ours before half a library is there.

BAD_INPUT = 2
INTERRUPTED = 130
NOBODY_READS = 141  # as a shell has it of a program whose reader has gone


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0, or 2 where the input, a file's place or the output is at fault."""
    hold_standard_places()
    if sys.stdout is None:
        return _refused("the output is closed: send it to a file or a pipe, or to /dev/null")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without × or – shows a question mark there
    try:
        status = _run(arguments)
        sys.stdout.flush()
    except (OutputFailed, OSError) as failed:
        error = failed.__cause__ or failed
        status = NOBODY_READS
        if not isinstance(error, BrokenPipeError):
            status = _refused(f"the output cannot be written: {getattr(error, 'strerror', None) or error}")
    else:
        return status
    let_go_of_output()
    return status


def _run(arguments: Sequence[str] | None) -> int:
    """Do what was typed and tell what is wrong with it.  Raises OutputFailed, and BrokenPipeError."""
    try:
        options = options_of(arguments)
    except SystemExit as told:  # what help there is, or what cannot be taken
        return BAD_INPUT if told.code else 0
    try:
        Path.cwd()
    except OSError:
        return _refused("the folder you are in is not there any more: go to another one first")
    try:
        return _COMMANDS[options.command](options)
    except WedgefrontError as error:
        return _refused(str(error))
    except BrokenPipeError:  # no file has one
        raise
    except OSError as error:
        where = "" if error.filename is None else f"{error.filename}: "
        return _refused(f"{where}{error.strerror or error}")


def _refused(why: str) -> int:
    say(why)
    return BAD_INPUT


def _scenario_path(name: str) -> Path:
    """A demo job by its name, or a file by its path.  Raises InputFaults where there is neither."""
    from engine.formats.scenario import demo_scenarios

    demos, path = demo_scenarios(), Path(name)
    if name in demos:
        return demos[name]
    if not path.exists() and path.parent == Path() and not path.suffix:
        raise refusal(name, "no_demo", known=tuple(demos), near=Near("".join(nearest(name, demos))))
    return path


def _evaluate(options: argparse.Namespace) -> int:
    from engine.document import read_document
    from engine.evaluate import evaluate
    from engine.formats.design import parse_design
    from engine.formats.given import is_given

    document, design = read_document(options.design), None
    asked: dict[str, Any] = {"source": str(options.design)}
    if is_given(document):
        from engine.formats.given import parse_given
        from engine.given import evaluate_given, judge_given, moved
        from engine.report.sure import in_json

        given = parse_given(document, **asked, folder=options.design.parent)
        try:
            design = judge_given(given, **asked)
            otherwise = moved(given, design)
            result = evaluate_given(design, **asked, otherwise=otherwise)
            result |= in_json(*design.sure(), design.row["box_kind"])
        except SearchImpossible as error:
            say(f"{options.design}: {error.told(Voice(written_in(document)))}")
            return BAD_INPUT
    else:
        result = evaluate(parse_design(document, **asked, folder=options.design.parent), **asked)
    if options.json:
        tell_data(json.dumps(result, allow_nan=False))
    else:
        from explorer import printed

        console = out_console()
        for part in printed.given_report(design, otherwise, units=options.units) if design else ():
            console.print(part)
        for part in printed.evaluation_report(result, units=options.units):
            console.print(part)
        for part in printed.sure_report(design, units=options.units) if design else ():
            console.print(part)
    return 0


def _search(options: argparse.Namespace) -> int:
    from engine.formats.scenario import read_scenario

    path = _scenario_path(options.scenario)
    scenario = read_scenario(path)
    check_folder(options.out)
    check_places([options.out / name for name in RUN], replace=options.replace)
    try:
        (result,) = _searched({"Searching": scenario}, **_effort(options))
    except SearchImpossible as error:
        return _impossible(path, error)
    from engine.formats.front import write_run
    from explorer import printed

    with undisturbed():
        write_run(result, options.out, document=dict(scenario.document))
    out = out_console()
    for part in printed.search_report(scenario, result, units=options.units, folder=options.out, width=out.width):
        out.print(part)
    return 0


def _catalogue(options: argparse.Namespace) -> int:
    from explorer import printed
    from explorer.catalogue import search

    if options.dask and options.workers:
        raise refusal("--workers", "workers_of_cluster", value=str(options.workers), address=options.dask)
    path = _scenario_path(options.scenario)
    check_folder(options.out)
    console = progress_console()
    try:
        with CancelOnInterrupt(console) as cancel:
            made_ready(console)
            scenario, found = search(options, path, console=console, cancelled=cancel.asked)
    except SearchImpossible as error:
        return _impossible(path, error)
    out = out_console()
    for part in printed.catalogue_report(scenario, found, units=options.units, folder=options.out, width=out.width):
        out.print(part)
    return 0


def _compare(options: argparse.Namespace) -> int:
    from engine.formats.front import read_run
    from engine.formats.scenario import demo_scenarios, read_scenario
    from engine.insight.comparison import groups_in, groups_of, two_of

    folder, names = Path(options.source), (options.a, options.b)
    if options.source not in demo_scenarios() and folder.is_dir():
        stored = read_run(folder)
        two = two_of(groups_of(stored.front, options.by), *names)
        objectives, currency, fronts = stored.record["objectives"], "", [group.of(stored.front) for group in two]
        whole = False
    else:
        path = _scenario_path(options.source)
        scenario = read_scenario(path)
        try:
            two = two_of(groups_in(scenario, options.by), *names)
            runs = _searched({f"Searching {group.name}": group.only(scenario) for group in two}, **_effort(options))
        except SearchImpossible as error:
            return _impossible(path, error)
        objectives, currency, fronts = scenario.goals.objectives, scenario.currency, [run.front for run in runs]
        whole = True
    from explorer import printed

    out = out_console()
    shown = {"units": options.units, "currency": currency, "whole": whole}
    for part in printed.comparison_report(two, fronts, objectives, **shown):
        out.print(part)
    return 0


def _price(options: argparse.Namespace) -> int:
    from engine.formats.scenario import read_scenario

    path = _scenario_path(options.scenario)
    scenario = read_scenario(path)
    row = None if options.design is None else _found_before(scenario, options)
    from engine.insight.price import prices
    from engine.insight.worth import worths
    from explorer import printed
    from explorer.helpers import helpers_for

    console = progress_console()
    out = out_console()
    with CancelOnInterrupt(console) as cancel:
        made_ready(console)
        how: dict[str, Any] = {"cancelled": cancel.asked, "helpers": helpers_for(scenario.evaluations)}
        with ShareTold(console, "Pricing") as told:
            if row is None:
                try:
                    found = prices(scenario, evaluations=options.evaluations, progress=told.tell, **how)
                except SearchImpossible as error:
                    return _impossible(path, error)
                report = printed.price_report(scenario, found, units=options.units) if found else None
            else:
                worth = worths(scenario, row, progress=told.tell, **how)
                shown = {"name": options.design, "units": options.units}
                report = printed.worth_report(scenario, worth, **shown) if worth else None
    if report is None and not cancel.asked():
        raise refusal(str(path), "no_price")
    if report is None:
        say("stopped before there was anything to tell")
        return INTERRUPTED
    for part in report:
        out.print(part)
    return 0


def _sure(options: argparse.Namespace) -> int:
    from engine.formats.front import csv_text
    from engine.formats.scenario import read_scenario

    scenario = read_scenario(_scenario_path(options.scenario))
    front = _front_of(scenario, options.folder)
    if options.out is not None:
        check_folder(options.out.parent)
        check_places([options.out], replace=options.replace)
    from engine.files import write_whole
    from engine.insight.tolerance import SAMPLES, Spread, robust, spread_in_parts
    from engine.report.sure import front_table
    from engine.search.evaluator import Evaluator
    from explorer import printed
    from explorer.helpers import helpers_for

    console = progress_console()
    made_ready(console)
    with console.status(f"Building {len(front)} designs {SAMPLES} times over"):
        helpers = helpers_for(len(front) * SAMPLES)
        built = Spread.together(list(spread_in_parts(Evaluator(scenario), front, helpers=helpers)))
    safe, out = robust(front, built, scenario.goals), out_console()
    for part in printed.sure_front_report(scenario, front, built, safe, units=options.units):
        out.print(part)
    if options.out is not None:
        with undisturbed():
            options.out.parent.mkdir(parents=True, exist_ok=True)
            write_whole({options.out: csv_text(front_table(front, built, safe))})
        out.print(f"Written to {options.out}.")
    return 0


def _wish(options: argparse.Namespace) -> int:
    from engine.formats.front import read_run
    from engine.insight.wishes import nearest_wished
    from explorer import printed, wished

    stored = read_run(options.folder)
    keys = tuple(stored.record["objectives"])
    wishes = wished.wishes_of(
        keys, more=options.more, hold=options.hold, give=options.give, at=options.at, units=options.units
    )
    granted = nearest_wished(stored.front, wished.start_of(stored.front, options.design, keys), wishes, keys)
    out = out_console()
    for part in printed.wish_report(granted, units=options.units):
        out.print(part)
    return 0


def _sheet(options: argparse.Namespace) -> int:
    from engine.formats.scenario import read_scenario
    from explorer.sheet_command import write_sheet

    scenario = read_scenario(_scenario_path(options.scenario))
    front = _front_of(scenario, options.folder)
    check_folder(options.out)
    console = progress_console()
    made_ready(console)
    out = out_console()
    for path in write_sheet(scenario, front, options):
        out.print(f"Written: {path}", markup=False, soft_wrap=True)
    return 0


def _build(options: argparse.Namespace) -> int:
    from explorer import printed
    from explorer.build_command import write_build

    check_folder(options.out)
    console = progress_console()
    try:
        design, box, files = write_build(options, partial(made_ready, console))
    except SearchImpossible as error:
        return _impossible(Path(options.source), error)
    out = out_console()
    for part in printed.build_report(design, box, files, units=options.units):
        out.print(part, markup=False, soft_wrap=True)
    return 0


def _front_of(scenario: Scenario, folder: Path) -> pd.DataFrame:
    """The front that a search of the scenario wrote to a folder.  Raises InputFaults where it is another job's."""
    from engine.formats.front import read_run

    stored = read_run(folder)
    if stored.record.get("scenario_sha256") != scenario.digest:
        raise refusal(str(folder / "run.json"), "other_job")
    return stored.front


def _found_before(scenario: Scenario, options: argparse.Namespace) -> dict[str, Any]:
    """The row of a design that a search of the scenario wrote.  Raises InputFaults where there is none."""
    if options.found is None:
        raise refusal("--design", "no_folder", value=options.design)
    return _row_of(_front_of(scenario, options.found), options.design, "--design")


def _row_of(front: pd.DataFrame, name: str, asked: str) -> dict[str, Any]:
    """The row of a design by its id.  Raises InputFaults where the front has none."""
    rows = front[front["id"] == name]
    if rows.empty:
        raise refusal(asked, "no_design", value=name, designs=len(front))
    return {str(key): value for key, value in rows.iloc[0].items()}


def _listen(options: argparse.Namespace) -> int:
    from engine.formats.scenario import read_scenario

    scenario = read_scenario(_scenario_path(options.scenario))
    front = _front_of(scenario, options.folder)
    rows = [_row_of(front, name, "ID") for name in dict.fromkeys(options.designs)]
    from engine.hearing.wav import sound_called
    from explorer.listening import listen

    sound = sound_called(options.sound)
    check_folder(options.out)
    console = progress_console()
    made_ready(console)
    how: dict[str, Any] = {
        "alike": options.alike,
        "harder_db": options.harder,
        "units": options.units,
        "replace": options.replace,
    }
    with console.status(f"Playing {sound.name} through {len(rows)} designs"):
        told = list(listen(scenario, rows, sound, folder=options.out, **how))
    out = out_console()
    for line in told:
        out.print(line, soft_wrap=True)
    return 0


def _check(options: argparse.Namespace) -> int:
    from engine.report import measured
    from explorer import printed
    from explorer.check_command import checked

    console = progress_console()
    try:
        with console.status("Reading the sweeps and judging the box"):
            done, front = checked(options, partial(made_ready, console))
            others = None if front is None else done.others(front)
    except SearchImpossible as error:
        return _impossible(options.source, error)
    if options.json:
        tell_data(json.dumps(measured.in_json(done, others), allow_nan=False))
        return 0
    out = out_console()
    for part in printed.check_report(done, others, units=options.units):
        out.print(part)
    return 0


def _effort(options: argparse.Namespace) -> dict[str, Any]:
    return {"seed": options.seed, "evaluations": options.evaluations}


def _impossible(path: Path, error: SearchImpossible) -> int:
    """Say why a scenario leaves nothing to find, in the units it is written in, and of what was tried the nearest."""
    from engine.formats.scenario import read_document
    from engine.report.shortages import left_out
    from engine.search.nearest import NothingFeasible

    units = written_in(read_document(path))
    say(f"{path}: {error.told(Voice(units))}")
    for entry in error.left_out if isinstance(error, NothingFeasible) else ():
        say(left_out(entry, units), before="  ")
    return BAD_INPUT


def _searched(scenarios: Mapping[str, Scenario], *, seed: int, evaluations: int | None) -> list[Run]:
    """Search each of some scenarios with the effort asked for, telling how far it is under its name.

    Raises SearchImpossible.
    """
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from explorer.worker import helped

    console = progress_console()
    found = []
    with CancelOnInterrupt(console) as cancel:
        made_ready(console)
        with Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.percentage:>3.0f} %  {task.fields[found]} designs on the front"),
            TimeRemainingColumn(),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        ) as bar:
            for name, scenario in scenarios.items():
                task = bar.add_task(name, total=1.0, found=0)
                lines = None if console.is_terminal else ProgressLines(console, name)
                if lines is not None:
                    console.print(f"{name}; Ctrl-C ends it and keeps what was found")

                def tell(now: SearchProgress, task: TaskID = task, lines: ProgressLines | None = lines) -> None:
                    bar.update(task, completed=now.share, found=now.front_size)
                    if lines is not None:
                        lines.tell(now)

                effort: dict[str, Any] = {"seed": seed, "evaluations": evaluations}
                found.append(helped(scenario, **effort, progress=tell, cancelled=cancel.asked))
    return found


def _open(options: argparse.Namespace) -> int:
    try:
        with left_alone():  # the server closes by Ctrl-C in its own way
            return _opened(options)
    except KeyboardInterrupt:
        say("stopped")
        return INTERRUPTED


def _opened(options: argparse.Namespace) -> int:
    from explorer.opening import open_explorer

    if not options.scenario:
        return open_explorer(options, ())
    from engine.formats.scenario import read_scenario
    from explorer.job_file import is_job_file, read_job

    path = _scenario_path(options.scenario)
    # A faulty file is refused here, where its faults can be read.
    (read_job if is_job_file(path.name) else read_scenario)(path)
    return open_explorer(options, (str(path.resolve()),))


_COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "evaluate": _evaluate, "search": _search, "catalogue": _catalogue, "compare": _compare, "price": _price,
    "sure": _sure, "wish": _wish, "sheet": _sheet, "build": _build, "listen": _listen, "check": _check, "open": _open,
}  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
