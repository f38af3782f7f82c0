"""What may be typed on the command line: every command with its options, read and checked one by one."""

from __future__ import annotations

import argparse
import math
import sys
import textwrap
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any, NoReturn

from engine.plain_text import shown

_EPILOG = """\
A first try, with a demo job that comes along:
  wedgefront open van-bench                the explorer in your browser, its search begun
  wedgefront search van-bench --out found  the front as files

Scenario and design files are TOML text; quantities carry their unit ("18 mm", "3/4 in",
"1.25 ft^3").  The README walks through one.
"""


def options_of(arguments: Sequence[str] | None) -> argparse.Namespace:
    """What was typed, with the name of the command as ``command``; ends the program where it is at fault."""
    return _parser().parse_args(arguments)


class _Parser(argparse.ArgumentParser):
    """Says what it cannot take in letters, whatever was typed.  Raises OSError where nobody takes what it says."""

    def error(self, message: str) -> NoReturn:
        super().error(shown(message))

    def _print_message(self, message: str, file: Any = None) -> None:  # not passing over what fails
        stream = sys.stderr if file is None else file
        stream.write(message)
        stream.flush()


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
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
    verbs = parser.add_subparsers(title="commands", metavar="COMMAND", dest="command", required=True)

    one = verbs.add_parser(
        "evaluate",
        help="work out one stated design: f3, excursion, impedance, maximum output at full power, a high-pass",
        description="Works out one box that you state in a file, by its sizes and parts or by its volume: no search.",
    )
    one.add_argument(
        "design",
        metavar="DESIGN.toml",
        type=_path,
        help="a box by its sizes: a job with a table [given]; or by its volume: driver, drive, box, vent or radiator",
    )
    one.add_argument("--json", action="store_true", help="print everything as JSON (SI units), curves included")
    _add_units(one)

    many = verbs.add_parser(
        "search",
        help="search a scenario and write its front of designs",
        description="Searches box size, slant, tuning, vents, driver choice and filter together and writes "
        "the front as front.csv, what cannot be built as left_out.csv and the record as run.json.  "
        "Ctrl-C stops early and keeps what was found.",
    )
    _add_scenario(many)
    _add_out(many)
    _add_effort(many)
    _add_units(many)

    _add_catalogue(verbs)
    _add_compare(verbs)
    _add_price(verbs)
    _add_sure(verbs)
    _add_wish(verbs)
    _add_sheet(verbs)
    _add_build(verbs)
    _add_listen(verbs)
    _add_check(verbs)
    pages = verbs.add_parser(
        "open",
        help="open the explorer in your browser",
        description="Opens the explorer: on its jobs, or on the one that is named, whose search it starts.",
    )
    pages.add_argument(
        "scenario", metavar="JOB", nargs="?", type=_named,
        help="the name of a demo job, a scenario file, or a job that the explorer saved (.wedgefront)",
    )  # fmt: skip
    pages.add_argument(
        "--port", type=_port, metavar="N", help="port on this machine (default 8501, or the next that is free)"
    )
    pages.add_argument(
        "--host", metavar="ADDRESS",
        help="let other computers in too, at this address of yours or at all of them (0.0.0.0); needs a password",
    )  # fmt: skip
    pages.add_argument(
        "--password-file", type=Path, metavar="FILE",
        help="with --host: a file whose first line is the password; else the environment variable WEDGEFRONT_PASSWORD "
        "has it, or it is asked for",
    )  # fmt: skip
    pages.add_argument(
        "--browser",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="open a browser there (the default where there is a screen), or only print the address",
    )
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
        "--drivers", metavar="CATALOGUE.csv", type=_path, required=True,
        help="a line for each driver; columns are called as the fields of [[driver]], units in the cells or behind "
        "the names, such as fs (Hz)",
    )  # fmt: skip
    _add_out(many, "the folder to write to, or to go on in")
    many.add_argument("--workers", type=_workers, metavar="N", help="processes side by side (default: one a core)")
    many.add_argument("--dask", metavar="ADDRESS", help="a Dask cluster that does it, such as tcp://host:8786")
    _add_effort(many, "the scenario's, but at least 30 000 a driver")
    _add_units(many)


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
        "source",
        metavar="SCENARIO_OR_DIR",
        type=_named,
        help="a scenario file, a demo job, or the folder a search wrote to",
    )
    pair.add_argument("--by", choices=tuple(TRAITS), default="drivers", help="what tells the groups apart")
    pair.add_argument("--a", metavar="GROUP", help='one group, such as "2 x compact 8"; needed where there are many')
    pair.add_argument("--b", metavar="GROUP", help="the other")
    _add_effort(pair)
    _add_units(pair)


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
        "--found", metavar="DIR", type=_path, help="with --design, the folder that a search of it wrote to"
    )
    worth.add_argument("--design", metavar="ID", help="one design of that front, such as D0012")
    _add_evaluations(worth, "how many designs to try of the job and of each change, twice over")
    _add_units(worth)


def _add_sure(verbs: Any) -> None:
    sure = verbs.add_parser(
        "sure",
        help="say what a front comes to as 9 of 10 built boxes reach it",
        description="Builds every design of a front that a search wrote many times over, with the tolerances of the "
        "job, and says which remain when each counts for what 9 of 10 boxes built like it reach.",
    )
    _add_scenario(sure)
    _add_found(sure)
    sure.add_argument(
        "--out",
        metavar="FILE.csv",
        type=_path,
        help="write what 9, 5 and 1 of 10 boxes reach of every design (SI units)",
    )
    _add_replace(sure)
    _add_units(sure)


def _add_wish(verbs: Any) -> None:
    wish = verbs.add_parser(
        "wish",
        help="go from one design of a front to the next that somebody wishes for, and say what that costs",
        description="Goes from one design of a front that a search wrote to the one that comes nearest to what is "
        "wished for: more of one goal, another held, a third may give way, or a level for each.  Says what it costs, "
        "and of what cannot be had the best that the front has.  Goals are called as the columns of front.csv; the "
        "unit at the end may be left out.",
    )
    _add_found(wish)
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


def _add_sheet(verbs: Any) -> None:
    sheet = verbs.add_parser(
        "sheet",
        help="write the customer's sheet of one to three designs as PDF and as a web page",
        description="Writes two pages in plain words of one to three designs of a front that a search wrote: a "
        "recommendation with its reason, what speaks for each box and what it gives up, pictures, levels, price and "
        "cautions.  The files are called after the job and the customer.",
    )
    _add_scenario(sheet)
    _add_found(sheet)
    sheet.add_argument("designs", metavar="ID", nargs="+", help="one to three designs of that front, such as D0012")
    sheet.add_argument("--recommend", metavar="ID", help="the one of them that you recommend (default: the balanced)")
    sheet.add_argument("--shop", default="", metavar="NAME", help="the shop's name")
    sheet.add_argument("--customer", default="", metavar="NAME", help="the customer's name")
    sheet.add_argument("--note", default="", metavar="TEXT", help="what you add")
    sheet.add_argument("--logo", type=_path, metavar="FILE", help="the shop's logo, a PNG or SVG file")
    sheet.add_argument(
        "--price", action="append", default=[], metavar="ID=TEXT", help='what a design costs, such as D0012="890 EUR"'
    )
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the size of the pages")
    _add_out(sheet)
    _add_units(sheet)


def _add_build(verbs: Any) -> None:
    from engine.scenario import JOINT_ORDERS

    one = verbs.add_parser(
        "build",
        help="write a pick as boards to cut, with all that it takes to put the box together",
        description="Writes one design as a folder: box.json has every board with the corners of both faces, every "
        "bevel as a saw is set, every hole, and every part, from which the box can be put together again.  The "
        "folder is written whole or not at all; what is not of an earlier build is not replaced unless asked for.",
    )
    one.add_argument(
        "source", metavar="FRONT_OR_DESIGN", type=_named,
        help="the folder that a search wrote, a demo job, a job that the explorer saved (.wedgefront), or a file that "
        "gives one box by its sizes",
    )  # fmt: skip
    one.add_argument(
        "design", metavar="ID", nargs="?", help="a design of that front, such as D0012 (of a saved job: its pick)"
    )
    one.add_argument("--job", metavar="SCENARIO", help="the job that the folder was searched for, if it does not say")
    _add_out(one)
    one.add_argument("--joints", metavar="ORDER", help=f"{' or '.join(JOINT_ORDERS)} (default: the job's)")
    for name, what in (
        ("board-thickness", "the board that was bought, as measured"),
        ("baffle-layer", "a second layer of the baffle, as measured"),
        ("glue-strip", "square strips glued into the inner corners, by their side"),
    ):
        one.add_argument(f"--{name}", metavar="SIZE", help=f'{what}, such as "17.6 mm" (default: the job\'s)')
    one.add_argument(
        "--paper", choices=("a4", "letter"), help="the size of printed pages (default: Letter with US units, else A4)"
    )
    _add_own_units(one)


def _add_listen(verbs: Any) -> None:
    hear = verbs.add_parser(
        "listen",
        help="write what designs of a front sound like as WAV files, for headphones",
        description="Plays a sound through designs of a front that a search wrote, in the vehicle where the job has a "
        "cabin, with their limits, and writes one WAV file each, all to one scale.  An indication for headphones: "
        "start low.",
    )
    _add_scenario(hear)
    _add_found(hear)
    hear.add_argument("designs", metavar="ID", nargs="+", help="designs of that front, such as D0421 D0007")
    hear.add_argument("--sound", default="drum", metavar="SOUND", help="drum, bass, sweep, or a WAV file of your own")
    _add_out(hear)
    hear.add_argument(
        "--alike", action="store_true", help="all as loud as the quietest; otherwise each at its own gain"
    )
    hear.add_argument(
        "--harder", type=_decibels, default=0.0, metavar="DB", help="drive all so much harder than set, 0 to 12 dB"
    )
    _add_units(hear)


def _add_check(verbs: Any) -> None:
    from engine.measured.names import LOSSES, PRIORS

    check = verbs.add_parser(
        "check",
        help="hold the finished box against its design by a sweep of its impedance, and say what mends it",
        description="Reads sweeps of impedance as instruments write them (CSV: frequency, impedance, perhaps phase), "
        "finds tuning, losses and driver by least squares, and says how far off the box is, what to cut or add, what "
        "it plays, and what that means for the other designs.  Measure outside the car, at a low level, all "
        "drivers as wired.",
    )
    check.add_argument(
        "source", metavar="DESIGN_OR_FRONT", type=_path,
        help="a design file, as evaluate takes it or as a pick is saved; or the folder that a search wrote to, a saved "
        "job, a demo job",
    )  # fmt: skip
    check.add_argument(
        "sweeps", metavar="[ID] SWEEP.csv", nargs="*",
        help="of a front the design, such as D0012; then one or more sweeps of the finished box",
    )  # fmt: skip
    check.add_argument("--job", metavar="SCENARIO", help="the scenario that a front was searched for (a demo is known)")
    check.add_argument("--free-air", metavar="FILE.csv", type=_path, help="a sweep of one driver alone, in free air")
    check.add_argument(
        "--added-mass", metavar=("MASS", "FILE.csv"), nargs=2, help='the same with a mass on its cone, such as "50 g"'
    )
    check.add_argument(
        "--test-box", metavar=("VOLUME", "FILE.csv"), nargs=2,
        help='the same in a closed box without leaks, the driver in it, such as "30 L"',
    )  # fmt: skip
    check.add_argument(
        "--in-series", type=_drivers, default=1, metavar="N",
        help="of a design stated by its volume, how many of its drivers are in series (default 1)",
    )  # fmt: skip
    check.add_argument(
        "--hold", action="append", default=[], choices=tuple(PRIORS), metavar="FIGURE",
        help=f"a figure that is held as foreseen: {', '.join(PRIORS)}; may be repeated",
    )  # fmt: skip
    check.add_argument(
        "--fit", action="append", default=[], choices=LOSSES, metavar="LOSS",
        help="a loss that is fitted whatever the sweep says of it: ql, qa or qp; may be repeated",
    )  # fmt: skip
    check.add_argument("--json", action="store_true", help="print everything as JSON (SI units), curves included")
    _add_own_units(check)


def _add_scenario(parser: argparse.ArgumentParser) -> None:
    from engine.formats.scenario import demo_scenarios

    demos = ", ".join(demo_scenarios())
    parser.add_argument("scenario", metavar="SCENARIO", type=_named, help=f"a scenario file, or a demo job: {demos}")


def _add_found(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="DIR", type=_path, help="the folder that the search wrote to")


def _add_out(parser: argparse.ArgumentParser, what: str = "the folder to write to") -> None:
    parser.add_argument("--out", metavar="DIR", type=_path, required=True, help=what)
    _add_replace(parser)


def _add_replace(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--replace", action="store_true", help="replace files of the same names whoever wrote them")


def _add_effort(parser: argparse.ArgumentParser, usual: str = "the scenario's") -> None:
    parser.add_argument("--seed", type=_seed, default=1, metavar="N", help="same seed, same front (default 1)")
    _add_evaluations(parser, "how many designs to try", usual)


def _add_evaluations(parser: argparse.ArgumentParser, what: str, usual: str = "the scenario's") -> None:
    parser.add_argument("--evaluations", type=_count, metavar="N", help=f"{what} (default: {usual})")


def _add_own_units(parser: argparse.ArgumentParser) -> None:
    """For what goes to the workshop: a job in inches gives papers in inches without being asked."""
    parser.add_argument(
        "--units", choices=("metric", "us"), help="units of all that is told and printed (default: those of the job)"
    )


def _add_units(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units of the printed table")


def _named(text: str) -> str:
    if not text.strip():
        raise argparse.ArgumentTypeError("is empty: expected a path or a name")
    return text


def _path(text: str) -> Path:
    return Path(_named(text))


def _count(text: str) -> int:
    return _whole(text, least=1, most=10**12)


def _workers(text: str) -> int:
    return _whole(text, least=1, most=1024)


def _drivers(text: str) -> int:
    return _whole(text, least=1, most=64)


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
