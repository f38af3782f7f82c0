"""The command line: evaluate one stated design, search a scenario, compare groups of designs, open the explorer."""

from __future__ import annotations

import argparse
import io
import json
import math
import os
import signal
import socket
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, Self

from engine.document import nearest, written_in
from engine.errors import SearchImpossible, WedgefrontError, refusal
from engine.words.voice import Near, Voice

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console
    from rich.progress import TaskID

    from engine.scenario import Scenario
    from engine.search.runs import Progress as SearchProgress
    from engine.search.runs import Run

# What takes time to load is loaded where it is needed: --help and a message about a faulty file
# should not wait for the search, and Ctrl-C must be ours before half a library is there.

BAD_INPUT = 2
INTERRUPTED = 130

_EPILOG = """\
A first try, with a demo job that comes along:
  wedgefront open van-bench                the explorer in your browser, its search begun
  wedgefront search van-bench --out found  the front as files

Scenario and design files are TOML text; quantities carry their unit ("18 mm", "3/4 in",
"1.25 ft^3").  The README walks through one.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0, or 2 where the input is at fault."""
    # Until there is something to keep, Ctrl-C simply ends the program.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without × or – shows a question mark there
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except KeyboardInterrupt:
        print("wedgefront: stopped, nothing written", file=sys.stderr)
        return INTERRUPTED
    except WedgefrontError as error:
        print("\n".join(f"wedgefront: {line}" for line in str(error).splitlines()), file=sys.stderr)
        return BAD_INPUT
    except OSError as error:
        print(f"wedgefront: {error.filename or ''}: {error.strerror or error}", file=sys.stderr)
        return BAD_INPUT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="wedgefront",
        description=textwrap.fill(
            "Finds every subwoofer box worth building in an awkward vehicle space: from the measured space, the "
            "driver's data sheet, the amplifier and the pipe and board on the shelf to a front of designs in which "
            "nothing is beaten on everything.",
            width=78,
        ),
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"wedgefront {version('wedgefront')}")
    verbs = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    one = verbs.add_parser(
        "evaluate",
        help="work out one stated design: f3, excursion, impedance, maximum output at full power, a high-pass",
        description="Works out one box that you state in a file, by its sizes and parts or by its volume: no search.",
    )
    one.add_argument(
        "design",
        metavar="DESIGN.toml",
        type=Path,
        help="a box by its sizes: a job with a table [given]; or by its volume: driver, drive, box, vent or radiator",
    )
    one.add_argument("--json", action="store_true", help="print everything as JSON (SI units), curves included")
    _add_units(one)
    one.set_defaults(run=_evaluate)

    many = verbs.add_parser(
        "search",
        help="search a scenario and write its front of designs",
        description="Searches box size, slant, tuning, vents, driver choice and filter together and writes "
        "the front as front.csv, what cannot be built as left_out.csv and the record as run.json.  "
        "Ctrl-C stops early and keeps what was found.",
    )
    _add_scenario(many)
    many.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder to write to")
    _add_effort(many)
    _add_units(many)
    many.set_defaults(run=_search)

    _add_catalogue(verbs)
    _add_compare(verbs)
    _add_price(verbs)
    _add_sure(verbs)
    _add_wish(verbs)
    _add_sheet(verbs)
    _add_listen(verbs)
    pages = verbs.add_parser(
        "open",
        help="open the explorer in your browser",
        description="Opens the explorer: on its jobs, or on the one that is named, whose search it starts.",
    )
    pages.add_argument(
        "scenario", metavar="JOB", nargs="?",
        help="the name of a demo job, a scenario file, or a job that the explorer saved (.wedgefront)",
    )  # fmt: skip
    pages.add_argument("--port", type=_port, default=8501, metavar="N", help="port on this machine (default 8501)")
    pages.set_defaults(run=_open)
    return parser


def _add_catalogue(verbs: Any) -> None:
    many = verbs.add_parser(
        "catalogue",
        help="search a job with several hundred drivers from a CSV file, and say why which of them are out",
        description="Searches a job with the drivers of a CSV file in place of its own: what cannot be wired or fit is "
        "dropped first, then each gets a short search, then effort goes where it pays.  Writes the one front as a "
        "search does, drivers.csv with the reason for each driver, and job.toml with those on the front.  Where it "
        "was stopped or killed, the same command goes on.",
    )
    _add_scenario(many)
    many.add_argument(
        "--drivers", metavar="CATALOGUE.csv", type=Path, required=True,
        help="a line for each driver; columns are called as the fields of [[driver]], units in the cells or behind "
        "the names, such as fs (Hz)",
    )  # fmt: skip
    many.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder to write to, or to go on in")
    many.add_argument("--workers", type=_workers, metavar="N", help="processes side by side (default: one a core)")
    many.add_argument("--dask", metavar="ADDRESS", help="a Dask cluster that does it, such as tcp://host:8786")
    _add_effort(many, "the scenario's, but at least 30 000 a driver")
    _add_units(many)
    many.set_defaults(run=_catalogue)


def _add_compare(verbs: Any) -> None:
    from engine.insight.comparison import TRAITS

    pair = verbs.add_parser(
        "compare",
        help="compare one group of designs with another, such as one large driver with two small ones",
        description="Says where each of two groups of designs wins and by how much, at equal size, weight, cost and "
        "level.  Each group of a scenario is searched by itself, so that both fronts are whole; of a folder that a "
        "search wrote the designs on its one front are taken.",
    )
    pair.add_argument(
        "source", metavar="SCENARIO_OR_DIR", help="a scenario file, a demo job, or the folder a search wrote to"
    )
    pair.add_argument("--by", choices=tuple(TRAITS), default="drivers", help="what tells the groups apart")
    pair.add_argument("--a", metavar="GROUP", help='one group, such as "2 x compact 8"; needed where there are many')
    pair.add_argument("--b", metavar="GROUP", help="the other")
    _add_effort(pair)
    _add_units(pair)
    pair.set_defaults(run=_compare)


def _add_price(verbs: Any) -> None:
    worth = verbs.add_parser(
        "price",
        help="say what a little more room, a looser limit or the next part buys in each goal",
        description="Searches the job and each small change of it together, several times over, and says what 10 mm "
        "(half an inch) more of each dimension, a looser limit, one more vent or driver or the next pipe or amplifier "
        "buys along the whole front; with --design, what each limit that stops this design is worth.",
    )
    _add_scenario(worth)
    worth.add_argument(
        "--found", metavar="DIR", type=Path, help="with --design, the folder that a search of it wrote to"
    )
    worth.add_argument("--design", metavar="ID", help="one design of that front, such as D0012")
    _add_evaluations(worth, "how many designs to try of the job and of each change")
    _add_units(worth)
    worth.set_defaults(run=_price)


def _add_sure(verbs: Any) -> None:
    sure = verbs.add_parser(
        "sure",
        help="say what a front comes to as 9 of 10 built boxes reach it",
        description="Builds every design of a front that a search wrote many times over, with the tolerances of the "
        "job, and says which remain when each counts for what 9 of 10 boxes built like it reach.",
    )
    _add_scenario(sure)
    sure.add_argument("folder", metavar="DIR", type=Path, help="the folder that the search wrote to")
    sure.add_argument(
        "--out",
        metavar="FILE.csv",
        type=Path,
        help="write what 9, 5 and 1 of 10 boxes reach of every design (SI units)",
    )
    _add_units(sure)
    sure.set_defaults(run=_sure)


def _add_wish(verbs: Any) -> None:
    wish = verbs.add_parser(
        "wish",
        help="go from one design of a front to the next that somebody wishes for, and say what that costs",
        description="Goes from one design of a front that a search wrote to the one that comes nearest to what is "
        "wished for: more of one goal, another held, a third may give way, or a level for each.  Says what it costs, "
        "and of what cannot be had the best that the front has.  Goals are called as the columns of front.csv; the "
        "unit at the end may be left out.",
    )
    wish.add_argument("folder", metavar="DIR", type=Path, help="the folder that the search wrote to")
    wish.add_argument("--from", metavar="ID", dest="design", help="where it starts from (default: the balanced design)")
    for name, words in (("more", "should be better"), ("hold", "has to stay as good"), ("give", "may give way")):
        wish.add_argument(
            f"--{name}", metavar="GOAL", action="append", default=[], help=f"a goal that {words}; may be repeated"
        )
    wish.add_argument(
        "--at", metavar="GOAL=LEVEL", action="append", default=[],
        help='a level that a goal should reach, such as outer_volume="45 L"; may be repeated',
    )  # fmt: skip
    _add_units(wish)
    wish.set_defaults(run=_wish)


def _add_sheet(verbs: Any) -> None:
    sheet = verbs.add_parser(
        "sheet",
        help="write the customer's sheet of one to three designs as PDF and as a web page",
        description="Writes two pages in plain words of one to three designs of a front that a search wrote: a "
        "recommendation with its reason, what speaks for each box and what it gives up, pictures, levels, price and "
        "cautions.  The files are called after the job and the customer.",
    )
    _add_scenario(sheet)
    sheet.add_argument("folder", metavar="DIR", type=Path, help="the folder that the search wrote to")
    sheet.add_argument("designs", metavar="ID", nargs="+", help="one to three designs of that front, such as D0012")
    sheet.add_argument("--recommend", metavar="ID", help="the one of them that you recommend (default: the balanced)")
    sheet.add_argument("--shop", default="", metavar="NAME", help="the shop's name")
    sheet.add_argument("--customer", default="", metavar="NAME", help="the customer's name")
    sheet.add_argument("--note", default="", metavar="TEXT", help="what you add")
    sheet.add_argument("--logo", type=Path, metavar="FILE", help="the shop's logo, a PNG or SVG file")
    sheet.add_argument(
        "--price", action="append", default=[], metavar="ID=TEXT", help='what a design costs, such as D0012="890 EUR"'
    )
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the size of the pages")
    sheet.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder to write to")
    _add_units(sheet)
    sheet.set_defaults(run=_sheet)


def _add_listen(verbs: Any) -> None:
    hear = verbs.add_parser(
        "listen",
        help="write what designs of a front sound like as WAV files, for headphones",
        description="Plays a sound through designs of a front that a search wrote, in the vehicle where the job has a "
        "cabin, with their limits, and writes one WAV file each, all to one scale.  An indication for headphones: "
        "start low.",
    )
    _add_scenario(hear)
    hear.add_argument("folder", metavar="DIR", type=Path, help="the folder that the search wrote to")
    hear.add_argument("designs", metavar="ID", nargs="+", help="designs of that front, such as D0421 D0007")
    hear.add_argument("--sound", default="drum", metavar="SOUND", help="drum, bass, sweep, or a WAV file of your own")
    hear.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder to write to")
    hear.add_argument(
        "--alike", action="store_true", help="all as loud as the quietest; otherwise each at its own gain"
    )
    hear.add_argument(
        "--harder", type=_decibels, default=0.0, metavar="DB", help="drive all so much harder than set, 0 to 12 dB"
    )
    _add_units(hear)
    hear.set_defaults(run=_listen)


def _add_scenario(parser: argparse.ArgumentParser) -> None:
    from engine.formats.scenario import demo_scenarios

    demos = ", ".join(demo_scenarios())
    parser.add_argument("scenario", metavar="SCENARIO", help=f"a scenario file, or a demo job: {demos}")


def _add_effort(parser: argparse.ArgumentParser, usual: str = "the scenario's") -> None:
    parser.add_argument("--seed", type=_seed, default=1, metavar="N", help="same seed, same front (default 1)")
    _add_evaluations(parser, "how many designs to try", usual)


def _add_evaluations(parser: argparse.ArgumentParser, what: str, usual: str = "the scenario's") -> None:
    parser.add_argument("--evaluations", type=_count, metavar="N", help=f"{what} (default: {usual})")


def _add_units(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units of the printed table")


def _count(text: str) -> int:
    return _whole(text, least=1, most=10**12)


def _workers(text: str) -> int:
    return _whole(text, least=1, most=1024)


def _seed(text: str) -> int:
    return _whole(text, least=0, most=2**63)


def _port(text: str) -> int:
    return _whole(text, least=1, most=65535)


def _decibels(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= 12.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of decibels from 0 to 12")
    return value


def _whole(text: str, *, least: int, most: int) -> int:
    if not (text.isascii() and text.isdecimal()) or len(text) > 20 or not least <= int(text) <= most:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {least} to {most}")
    return int(text)


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
            print(f"wedgefront: {options.design}: {error.told(Voice(written_in(document)))}", file=sys.stderr)
            return BAD_INPUT
    else:
        result = evaluate(parse_design(document, **asked, folder=options.design.parent), **asked)
    if options.json:
        print(json.dumps(result, allow_nan=False))
    else:
        from explorer import printed

        console = _console()
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
    _check_folder(options.out)
    try:
        (result,) = _searched({"Searching": scenario}, **_effort(options))
    except SearchImpossible as error:
        return _impossible(path, error)
    from engine.formats.front import write_run
    from explorer import printed

    options.out.mkdir(parents=True, exist_ok=True)
    write_run(result, options.out)
    out = _console()
    for part in printed.search_report(scenario, result, units=options.units, folder=options.out, width=out.width):
        out.print(part)
    return 0


def _catalogue(options: argparse.Namespace) -> int:
    from explorer import printed
    from explorer.catalogue import search

    if options.dask and options.workers:
        raise refusal("--workers", "workers_of_cluster", value=str(options.workers), address=options.dask)
    path = _scenario_path(options.scenario)
    _check_folder(options.out)
    console = _progress_console()
    try:
        with _CancelOnInterrupt(console) as cancel:
            _made_ready(console)
            scenario, found = search(options, path, console=console, cancelled=cancel.asked)
    except SearchImpossible as error:
        return _impossible(path, error)
    except KeyboardInterrupt:
        print("wedgefront: stopped; the same command goes on from there", file=sys.stderr)
        return INTERRUPTED
    out = _console()
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

    out = _console()
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

    console = _progress_console()
    out = _console()
    with _CancelOnInterrupt(console) as cancel:
        _made_ready(console)
        how: dict[str, Any] = {"cancelled": cancel.asked, "helpers": helpers_for(scenario.evaluations)}
        with _ShareTold(console, "Pricing") as told:
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
        print("wedgefront: stopped before there was anything to tell", file=sys.stderr)
        return INTERRUPTED
    for part in report:
        out.print(part)
    return 0


def _made_ready(console: Console) -> None:
    """Compile what is not compiled yet."""
    from explorer.readiness import WORDS, compile_all, is_compiled

    if not is_compiled():
        console.print(f"{WORDS}.")
        compile_all()


def _sure(options: argparse.Namespace) -> int:
    from engine.formats.front import csv_text
    from engine.formats.scenario import read_scenario

    scenario = read_scenario(_scenario_path(options.scenario))
    front = _front_of(scenario, options.folder)
    from engine.files import write_whole
    from engine.insight.tolerance import SAMPLES, Spread, robust, spread_in_parts
    from engine.report.sure import front_table
    from engine.search.evaluator import Evaluator
    from explorer import printed
    from explorer.helpers import helpers_for

    console = _progress_console()
    _made_ready(console)
    with console.status(f"Building {len(front)} designs {SAMPLES} times over"):
        helpers = helpers_for(len(front) * SAMPLES)
        built = Spread.together(list(spread_in_parts(Evaluator(scenario), front, helpers=helpers)))
    safe, out = robust(front, built, scenario.goals), _console()
    for part in printed.sure_front_report(scenario, front, built, safe, units=options.units):
        out.print(part)
    if options.out is not None:
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
    out = _console()
    for part in printed.wish_report(granted, units=options.units):
        out.print(part)
    return 0


def _sheet(options: argparse.Namespace) -> int:
    from engine.formats.scenario import read_scenario
    from explorer.sheet_command import write_sheet

    scenario = read_scenario(_scenario_path(options.scenario))
    front = _front_of(scenario, options.folder)
    _check_folder(options.out)
    console = _progress_console()
    _made_ready(console)
    out = _console()
    for path in write_sheet(scenario, front, options):
        out.print(f"Written: {path}", markup=False, soft_wrap=True)
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

    sound = sound_called(options.sound)
    _check_folder(options.out)
    from explorer.listening import listen

    console = _progress_console()
    _made_ready(console)
    how: dict[str, Any] = {"alike": options.alike, "harder_db": options.harder, "units": options.units}
    with console.status(f"Playing {sound.name} through {len(rows)} designs"):
        told = list(listen(scenario, rows, sound, folder=options.out, **how))
    for line in told:
        print(line)
    return 0


def _effort(options: argparse.Namespace) -> dict[str, Any]:
    return {"seed": options.seed, "evaluations": options.evaluations}


def _impossible(path: Path, error: SearchImpossible) -> int:
    """Say why a scenario leaves nothing to find, in the units it is written in."""
    from engine.formats.scenario import read_document

    print(f"wedgefront: {path}: {error.told(Voice(written_in(read_document(path))))}", file=sys.stderr)
    return BAD_INPUT


def _searched(scenarios: Mapping[str, Scenario], *, seed: int, evaluations: int | None) -> list[Run]:
    """Search each of some scenarios with the effort asked for, telling how far it is under its name.

    Raises SearchImpossible.
    """
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from explorer.worker import helped

    console = _progress_console()
    found = []
    with _CancelOnInterrupt(console) as cancel:
        _made_ready(console)
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
                lines = None if console.is_terminal else _ProgressLines(console, name)
                if lines is not None:
                    console.print(f"{name}; Ctrl-C ends it and keeps what was found")

                def tell(now: SearchProgress, task: TaskID = task, lines: _ProgressLines | None = lines) -> None:
                    bar.update(task, completed=now.share, found=now.front_size)
                    if lines is not None:
                        lines.tell(now)

                effort: dict[str, Any] = {"seed": seed, "evaluations": evaluations}
                found.append(helped(scenario, **effort, progress=tell, cancelled=cancel.asked))
    return found


def _console() -> Console:
    """Where results go: as wide as the terminal, or 120 columns into a file or a pipe."""
    from rich.console import Console

    own_width = sys.stdout.isatty() or "COLUMNS" in os.environ
    return Console(width=None if own_width else 120, markup=False, emoji=False, highlight=False)


def _progress_console() -> Console:
    """How far it is, beside the output."""
    from rich.console import Console

    return Console(stderr=True, markup=False, emoji=False)


def _check_folder(folder: Path) -> None:
    """Refuse a place that could not be written to, before a search is spent on it."""
    existing = next(place for place in (folder, *folder.absolute().parents) if os.path.lexists(place))
    if not existing.is_dir():
        raise refusal("--out", "out_is_a_file", value=str(folder), existing=str(existing))
    for name in ("front.csv", "left_out.csv", "run.json"):
        if (folder / name).is_dir():
            raise refusal("--out", "out_is_blocked", value=str(folder), name=name)
    try:
        with tempfile.TemporaryFile(dir=existing):
            pass
    except OSError as error:
        raise refusal("--out", "out_unwritable", value=str(folder), reason=str(error.strerror)) from None


class _ProgressLines:
    """Progress for a log or a pipe, where no bar can be drawn: a line at each tenth, and as the front doubles."""

    def __init__(self, console: Console, name: str) -> None:
        self._console, self._name = console, name
        self._tenths, self._designs = -1, 0  # told so far

    def tell(self, now: SearchProgress) -> None:
        tenths = int(10.0 * now.share)
        if now.front_size and (tenths > self._tenths or now.front_size >= 2 * self._designs):
            self._tenths, self._designs = tenths, now.front_size
            self._console.print(f"{self._name}: {10 * tenths} %, {now.front_size} designs on the front")


class _ShareTold:
    """How far a piece of work is: a bar, or a line at each tenth where none can be drawn."""

    def __init__(self, console: Console, name: str) -> None:
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        self._console, self._name, self._tenths = console, name, 0
        parts = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
        terminal = console.is_terminal
        self._bar = Progress(*parts, TimeRemainingColumn(), console=console, transient=True, disable=not terminal)

    def __enter__(self) -> Self:
        self._bar.__enter__()
        self._task = self._bar.add_task(self._name, total=1.0)
        return self

    def __exit__(self, *raised: Any) -> None:
        self._bar.__exit__(*raised)

    def tell(self, share: float) -> None:
        self._bar.update(self._task, completed=share)
        if not self._console.is_terminal and int(10.0 * share) > self._tenths:
            self._tenths = int(10.0 * share)
            self._console.print(f"{self._name}: {10 * self._tenths} %")


class _CancelOnInterrupt:
    """The first Ctrl-C asks the search to stop and keep what it has; the second stops at once."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._asked = False

    def __enter__(self) -> Self:
        self._before = signal.signal(signal.SIGINT, self._on_interrupt)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)

    def asked(self) -> bool:
        return self._asked

    def _on_interrupt(self, _signal: int, _frame: FrameType | None) -> None:
        if self._asked:
            raise KeyboardInterrupt
        self._asked = True
        self._console.print("Stopping; what was found so far is kept.")


def _open(options: argparse.Namespace) -> int:
    command = [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        str(Path(__file__).with_name("app.py")),
        f"--server.port={options.port}",
        # Only this machine may look: a scenario can hold a customer's name.
        "--server.address=localhost",
        "--server.showEmailPrompt=false",
        "--browser.gatherUsageStats=false",
    ]
    if options.scenario:
        from engine.formats.scenario import read_scenario
        from explorer.job_file import is_job_file, read_job

        path = _scenario_path(options.scenario)
        # A faulty file is refused here, where its faults can be read.
        (read_job if is_job_file(path.name) else read_scenario)(path)
        command += ["--", str(path.resolve())]
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("localhost", options.port))
        except OSError as error:
            reason = str(error.strerror)
            raise refusal("--port", "port_in_use", value=str(options.port), reason=reason) from None
    print(f"The explorer opens at http://localhost:{options.port}  (Ctrl-C here closes it)")
    try:
        return subprocess.run(
            command, env={**os.environ, "STREAMLIT_SERVER_SHOW_EMAIL_PROMPT": "false"}, check=False
        ).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())
