"""What the command line prints: tables and sentences for a person at a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pandas as pd
from rich import box
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from engine.acoustics.filters import SHAPES
from engine.goals import GOALS
from engine.insight.changes import Change
from engine.insight.comparison import Group, best_of, in_words
from engine.insight.price import Price, figure_of
from engine.insight.reasons import balanced, extremes
from engine.insight.tolerance import Robust, Spread
from engine.insight.wishes import Granted, asked_in_words
from engine.insight.wishes import in_words as granted_in_words
from engine.insight.worth import Worth, in_sentences
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.measured.verdict import AsBuilt, Others
from engine.quantities import MISSING, Units, show, show_sawn, show_set_out, small_mass
from engine.report import measured
from engine.report.catalogue import table as drivers_table
from engine.report.given import boxes_in_words, missed_in_words, sizes_in_words
from engine.report.portrait import Portrait
from engine.report.shortages import left_out
from engine.report.sure import FRONT_HEADINGS, bands, front_best, front_told, headings, told
from engine.report.wording import MUCH_DISTORTION, as_used, figure, unit
from engine.report.wording import figure_of as figure_in
from engine.scenario import Scenario
from engine.search.catalogue import Catalogued
from engine.search.evaluator import Evaluator
from engine.search.practice import weighed
from engine.search.runs import Run
from engine.words.voice import listed
from engine.workshop.alike import told_together
from engine.workshop.board import Box

WIDE = 110  # columns that the picks need side by side
BALANCED = "balanced"

# The figures of one design, in the order a builder asks for them: key, label, kind of quantity.  The labels have room
# for what they are taken at.
_EVALUATED = (
    ("f3_hz", "-3 dB frequency (f3)", "frequency"),
    ("f3_box_hz", "f3 without the high-pass", "frequency"),
    ("f3_cabin_hz", "f3 in the vehicle", "frequency"),
    ("tuning_hz", "Tuning", "frequency"),
    ("tuning_within_hz", "  good to within", "frequency"),
    ("vent_length_m", "Vent length", "length"),
    ("radiator_added_mass_kg", "Mass to add to each radiator", "added mass"),
    ("radiator_notch_hz", "Radiator's notch", "frequency"),
    ("output_db", "Mean maximum output over the music band", "level"),
    ("output_cabin_db", "  in the vehicle", "level"),
    ("reference_db", "Level well above f3 at full drive, 1 m, half space", "level"),
    ("coil_rise_k", "Coil's rise{loudest}, at most", "temperature_difference"),
    ("compression_worst_db", "Compression{loudest}, at most", "level"),
    ("excursion_ratio", "Worst excursion / Xmax{worst}", "ratio"),
    ("excursion_worst_hz", "  at", "frequency"),
    ("radiator_ratio", "Worst radiator excursion / Xmax{worst}", "ratio"),
    ("radiator_worst_hz", "  at", "frequency"),
    ("vent_speed_m_s", "Worst vent air speed{worst}", "speed"),
    ("vent_speed_worst_hz", "  at", "frequency"),
    ("model_to_hz", "Box and vent are small against a wave up to", "frequency"),
    ("gain", "Gain at which every limit is held, share of the voltage", "ratio"),
    ("gain_limited_by", "  set by", "limit"),
    ("gain_limited_hz", "  at", "frequency"),
)

_LIMITED_BY = {
    "amplifier": "the amplifier",
    "thermal": "the driver's rated power",
    "excursion": "Xmax",
    "vent": "air speed in the vent",
    "passive radiator": "the passive radiator's Xmax",
}

_HEARING = (
    "These levels can damage hearing within minutes: measure and listen with protection "
    "(NIOSH recommends no more than 15 minutes a day at 100 dBA)."
)


def _amount(value: float, kind: str, units: Units) -> str:
    """A figure of an evaluated design as text."""
    match kind:
        case "ratio":
            return f"{value:.2f}"
        case "level":
            return f"{value:.1f} dB"
        case "length":  # of a vent, to be cut
            return show_sawn(value, units)
        case "added mass":
            return small_mass(value, units) or "none"
    return show(value, kind, units)


def evaluation_report(result: Mapping[str, object], *, units: Units) -> Iterator[RenderableType]:
    """One evaluated design: its figures, the high-pass it asks for, and what none of it covers."""
    table = Table(show_header=False, box=None, pad_edge=False)
    full = {"loudest": " at maximum output", "worst": f", {result['worst_from_hz']:g}-200 Hz"}
    at = dict.fromkeys(full, " at the gain below") if result["at_gain"] else full
    for key, label, kind in _EVALUATED:
        value = result[key]
        if isinstance(value, float):
            table.add_row(label.format(**at), _amount(value, kind, units))
        elif isinstance(value, str):
            table.add_row(label, _LIMITED_BY[value])
        elif key == "f3_hz":
            table.add_row(label, f"none: {result['f3_reason']}")
    told = (_list(result, key) for key in ("level_hz", "level_db", "level_distortion"))
    for hz, level, bent in zip(*told, strict=True):
        table.add_row(f"Level at {hz:g} Hz at that gain", f"{_amount(level, 'level', units)}, {_distorted(bent)}")
    yield table
    yield f"High-pass to play loudest at one gain: {_advised(result)}."
    beyond = result["beyond_model"]
    if isinstance(beyond, list) and beyond:
        yield Text("What these figures do not cover", "bold")
        for told in beyond:
            yield f"  {told}"
    yield _HEARING


def given_report(design: JudgedDesign, otherwise: Sequence[str], *, units: Units) -> Iterator[RenderableType]:
    """A box that is given by its sizes: these outside and inside, what it holds, and whether it can be built so."""
    sizes = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("", "Width", "Height", "Depth at the top", "Depth at the bottom"):
        sizes.add_column(heading)
    outside, inside = sizes_in_words(design, units)
    sizes.add_row("Outside", *outside)
    sizes.add_row("Inside", *inside)
    yield sizes
    yield from boxes_in_words(design, units)
    if missed := missed_in_words(design, units):
        yield Text("It cannot be built or used so", "bold")
        yield from (f"  {each}" for each in missed)
    else:
        yield "It can be built so: every clearance is kept."
    if otherwise:
        yield f"Worked out here otherwise than the file has it built: {', '.join(otherwise)}."


def build_report(design: JudgedDesign, made: Box, files: Sequence[Path], *, units: Units) -> Iterator[RenderableType]:
    """What a pick is built of: its boards with the rectangle each is sawn from, what to mind, and the files."""
    yield Text(f"{made.title}, {design.row['id']}: {len(made.boards)} boards, {made.joints}", "bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("Board", "Thick", "Sawn from", "Bevels", "Cuts"):
        table.add_column(heading)
    for board in made.boards:
        bevels = dict.fromkeys(f"{abs(math.degrees(edge.bevel)):.1f}°" for edge in board.edges if edge.bevel)
        sizes = " × ".join(show_set_out(size, units) for size in board.blank)
        cuts = ", ".join(dict.fromkeys(cut.name for cut in board.cuts))
        table.add_row(board.name, show_sawn(board.thickness, units), sizes, ", ".join(bevels), cuts)
    yield table
    (chamber,) = made.chambers
    inside, net = (show(volume, "volume", units) for volume in (chamber.inside_volume, chamber.net_volume))
    yield f"Inside, boards off: {inside}; air left: {net}. The {made.last} goes on last."
    if glued := sum(board.volume for board in made.boards if board.role == "strip"):
        yield f"Glue strips take {show(glued, 'volume', units)} of it, of which the design's figures do not know."
    yield from (f"Mind: short of {each.told(units)}." for each in design.shortfalls)
    yield from (f"Mind: {each.sentence(units)}." for each in told_together(made.cautions))
    yield from (f"Written: {path}" for path in files)


def sure_report(design: JudgedDesign, *, units: Units) -> Iterator[RenderableType]:
    """How sure the figures of a box that is given by its sizes are."""
    yield Text("How sure", "bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("", *headings()):
        table.add_column(heading)
    built, swung = design.sure()
    for line in bands(built, design.row["box_kind"], units, design.scenario.currency):
        table.add_row(*line)
    yield table
    yield from (f"  {each}" for each in told(built, swung, design.row, units))


def sure_front_report(
    scenario: Scenario, front: pd.DataFrame, built: Spread, safe: Robust, *, units: Units
) -> Iterator[RenderableType]:
    """What a front comes to as 9 of 10 built boxes reach it."""
    yield Text.assemble((scenario.title, "bold"), ": as built")
    yield from front_told(safe, built, scenario.goals, units)
    if safe.front.empty:
        return
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    table.add_column("")
    for heading in FRONT_HEADINGS:
        table.add_column(heading, justify="right")
    for row in front_best(front, safe, built, scenario.goals.objectives, units, scenario.currency):
        table.add_row(*row)
    yield table


def _distorted(ratio: float) -> str:
    """A tone's distortion, which nobody hears in the bass while it is small; 0 where no part that bends is known."""
    if ratio <= 0.0:
        return "distortion unknown: no Bl or Cms at Xmax stated"
    least = 100.0 * MUCH_DISTORTION
    return f"distorted by {'about ' if ratio >= MUCH_DISTORTION else 'less than '}{max(100.0 * ratio, least):.0f} %"


def _list(result: Mapping[str, object], key: str) -> list[float]:
    """A list of numbers among the results."""
    values = result[key]
    return [each for each in values if isinstance(each, float)] if isinstance(values, list) else []


def _advised(result: Mapping[str, object]) -> str:
    """The high-pass with which it plays loudest at one gain, and what it does."""
    hz, f3, bare = (result[key] for key in ("filter_recommended_hz", "f3_recommended_hz", "f3_box_hz"))
    if not isinstance(hz, float):
        return str(result["filter_recommended_reason"])
    q = result["filter_recommended_q"]
    name = SHAPES[str(result["filter_recommended_shape"])].with_q(q if isinstance(q, float) else math.nan)
    cost = ""
    if isinstance(f3, float) and isinstance(bare, float):
        moved = f"{abs(f3 - bare):.1f} Hz {'above' if f3 >= bare else 'below'}"
        cost = f"; f3 is then {f3:.1f} Hz, {moved} that without one"
    levels = zip(_list(result, "level_hz"), _list(result, "level_recommended_db"), strict=True)
    plays = listed([f"{level:.1f} dB at {at:g} Hz" for at, level in levels])
    return f"{name} of order {result['filter_recommended_order']} at {hz:.1f} Hz: it then plays {plays}{cost}"


def search_report(
    scenario: Scenario, result: Run, *, units: Units, folder: Path, width: int
) -> Iterator[RenderableType]:
    """The front in a few lines, for a terminal of ``width`` columns: its ends, a balanced design, and the reasons."""
    front, record = result.front, result.record
    ended = "" if record["stopped_by"] == "budget" else " (stopped early)"
    yield Text.assemble(
        (scenario.title, "bold"),
        f": {record['evaluations']:,} designs tried in {record['seconds']:.1f} s{ended}. ",
        "One stands" if len(front) == 1 else f"{len(front):,} stand",
        " on the front: ",
        "it is the best in every goal, so there is nothing to trade."
        if len(front) == 1
        else "none of them is beaten on everything.",
    )
    if record["drivers_without_wiring"]:
        unwired = ", ".join(record["drivers_without_wiring"])
        yield f"Left out: {unwired}; no wiring of the coils gives a load the amplifier may drive."
    for entry in record["left_out"]:
        yield f"Not on the front: {left_out(entry, units)}."
    picks = _named(front, scenario.goals.objectives)
    figures = _picks_table if width >= WIDE else _picks_list
    yield figures(front, picks, scenario, units)
    yield Text("Why each is where it is", "bold")
    designs = JudgedDesign.batch(Evaluator(scenario), [dict(front.iloc[position]) for position in picks])
    for design, keys in zip(designs, picks.values(), strict=True):
        names = " and ".join(_name(key) for key in keys)
        yield f"{names} ({design.row['id']}): {_limits(design, units)}. {Portrait(design).distorts(units)}"
        yield f"  {_goes_together(design, units)}"
        sentences = design.why(units)
        if BALANCED in keys:
            yield f"  {weighed(front[front['id'] == design.row['id']])}"
        # An end is explained by what keeps it from going further, the balanced design on every goal.
        told_of = sentences if BALANCED in keys else keys
        for key in told_of:
            if told := sentences.get(key) or GOALS[key].absent[1]:
                yield f"  {told}"
    yield (
        f"Written: {folder / 'front.csv'} (all {len(front):,} designs), "
        f"{folder / 'left_out.csv'} (what cannot be built, and why) and {folder / 'run.json'}."
    )
    yield _HEARING


def comparison_report(
    groups: Sequence[Group], fronts: Sequence[pd.DataFrame], objectives: Sequence[str], *,
    units: Units, currency: str, whole: bool,
) -> Iterator[RenderableType]:  # fmt: skip
    """Two groups of designs side by side, and where each wins; ``whole`` says that each was searched by itself."""
    if not whole:
        yield "Both are taken from one front: what a group has that others beat is not on it."
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    table.add_column("")
    for group in groups:
        table.add_column(Text(group.name), justify="right")
    table.add_row("Designs on its front", *(f"{len(front):,}" for front in fronts))
    for key in objectives:
        table.add_row(GOALS[key].best, *(figure(key, best_of(front, key), units, currency) for front in fronts))
    yield table
    first, second = fronts
    names = (groups[0].name, groups[1].name)
    for heading, sentences in in_words(first, second, names, objectives, units=units, currency=currency).items():
        yield Text(heading, "bold")
        yield from (f"  {sentence}" for sentence in sentences)
    yield _HEARING


def catalogue_report(
    scenario: Scenario, found: Catalogued, *, units: Units, folder: Path, width: int
) -> Iterator[RenderableType]:
    """A catalogue: the ends of the front, the drivers on it, and how many others are out for which kind of reason."""
    front, record = found.run.front, found.run.record
    there = [verdict for verdict in found.verdicts if verdict.code == "front"]
    ended = "" if record["stopped_by"] == "budget" else " (stopped early: the same command goes on)"
    yield Text.assemble(
        (scenario.title, "bold"),
        f": {len(found.verdicts):,} drivers, {record['evaluations']:,} designs tried{ended}. "
        f"{len(front):,} designs with {len(there):,} of the drivers stand on the front: "
        "none of them is beaten on everything.",
    )
    picks = _named(front, scenario.goals.objectives)
    yield (_picks_table if width >= WIDE else _picks_list)(front, picks, scenario, units)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for heading in ("Driver", "", "Tried"):
        table.add_column(heading, justify="right" if heading == "Tried" else "left")
    told = drivers_table(found.verdicts, scenario, units)
    shown = told.head(len(there))
    for driver, reason, tried in zip(shown["driver"], shown["reason"], shown["designs_tried"], strict=True):
        table.add_row(Text(str(driver)), Text(str(reason)), f"{tried:,}")
    yield table
    counts = told["verdict"].iloc[len(there) :].value_counts()
    if len(counts):
        others = ", ".join(f"{count} {words}" for words, count in counts.items())
        yield f"The others: {others}. Why each is: {folder / 'drivers.csv'}."
    yield (
        f"Written: {folder / 'front.csv'}, {folder / 'left_out.csv'}, {folder / 'run.json'}, "
        f"{folder / 'drivers.csv'} (all drivers) and {folder / 'job.toml'} (the job with those on the front, to open)."
    )
    yield _HEARING


def price_report(scenario: Scenario, found: Sequence[Price], *, units: Units) -> Iterator[RenderableType]:
    """What a little more of each thing buys, in sentences, the most telling figures first as a table."""
    yield Text.assemble((scenario.title, "bold"), ": what a little more buys, better counted positive")
    for heading, at_end in (("Along the front", False), ("At its best", True)):
        yield _gains(heading, [(each.change, each.gained(at_end=at_end)) for each in found], scenario, units)
    yield from (price.told(units, scenario.currency) for price in found)
    yield (
        "Along the front is the mean over its designs: one goal or another, all else as it was. At its best is the "
        "best in each goal. ± is the most that one repeat by itself, or half of the effort, tells otherwise. "
        "Longer searches find more: it buys at least this."
    )


def worth_report(scenario: Scenario, found: Sequence[Worth], *, name: str, units: Units) -> Iterator[RenderableType]:
    """What each limit that stops a design is worth, in sentences and as a table."""
    yield Text.assemble((name, "bold"), f" of {scenario.title}: what would loosen it, all other goals as good")
    yield _gains("", [(each.change, each.gained) for each in found], scenario, units)
    yield from in_sentences(found, units, scenario.currency)


def check_report(done: AsBuilt, others: Others | None, *, units: Units) -> Iterator[RenderableType]:
    """A finished box beside its design: what was found, what to do, what it plays, what that means for the others."""
    name = "The box" if done.design is None else f"{done.design.row['id']} of {done.design.scenario.title}"
    yield Text(f"{name}, as built", "bold")
    yield measured.seen(done, units)
    yield from measured.told(done, units)
    yield _plain_table(measured.HEADINGS, measured.parameters(done, units))
    if done.design is None:
        yield _plain_table(*measured.evaluated(done, units))
    else:
        yield Text("What it plays, at the gain promised", "bold")
        yield _plain_table(*measured.standing(done, units, done.design.scenario.currency))
        yield from measured.limits_told(done, units)
    if others is not None:
        yield Text("What this says of the other designs", "bold")
        yield from measured.others_told(done, others, units)
    yield measured.CAUTIONS


def _plain_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in headings:
        table.add_column(heading)
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def wish_report(granted: Granted, *, units: Units) -> Iterator[RenderableType]:
    """What came of wishes from one design, in sentences, both designs side by side."""
    yield Text(f"{asked_in_words(granted.wishes, units=units)} (from {granted.here['id']})", "bold")
    yield from granted_in_words(granted, units=units)
    if granted.there is not None:
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
        table.add_column("")
        for row in (granted.here, granted.there):
            table.add_column(str(row["id"]), justify="right")
        for key in granted.objectives:
            both = (figure_in(row, key, units) for row in (granted.here, granted.there))
            table.add_row(GOALS[key].label, *both)
        yield table


def _gains(heading: str, found: Sequence[tuple[Change, pd.DataFrame]], scenario: Scenario, units: Units) -> Table:
    """What each change buys in each goal."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    table.add_column(heading)
    for key in scenario.goals.objectives:
        table.add_column(f"{GOALS[key].heading}\n{unit(key, units, scenario.currency)}".strip(), justify="right")
    for change, gained in found:
        table.add_row(change.words(units), *(figure_of(gained, key, units) for key in scenario.goals.objectives))
    return table


def _named(front: pd.DataFrame, objectives: tuple[str, ...]) -> dict[int, list[str]]:
    """Row positions worth showing, each with the goals it is best in; one may be best in several."""
    picks: dict[int, list[str]] = {}
    for key, position in extremes(front, objectives).items():
        picks.setdefault(position, []).append(key)
    picks.setdefault(balanced(front, objectives), []).append(BALANCED)
    return picks


def _name(key: str) -> str:
    return "Balanced" if key == BALANCED else GOALS[key].best


def _limits(design: JudgedDesign, units: Units) -> str:
    """How far it is turned down, which limits hold its output back, and over how much of the music band."""
    told = [
        f"{_LIMITED_BY[limit]} over {100.0 * share:.0f} %"
        for limit, share in design.limit_shares.items()
        if share >= 0.005
    ]
    used = as_used(design.row, design.scenario.goals, units)
    return f"{used} Maximum output is limited by {', by '.join(told)} of the music band"


def _goes_together(design: JudgedDesign, units: Units) -> str:
    """What the check of its solids says of a design."""
    found = design.inspection
    if found.ok:
        return f"Measured as solids, it goes together: {len(found.findings)} clearances kept."
    return f"Measured as solids, it does not go together: {'; '.join(found.sentences(units))}."


def _cells(row: pd.Series, size_unit: str, units: Units) -> tuple[str, str, str]:
    """Box, outside and vents or passive radiators of a design, each in two lines."""

    def plain(key: str) -> str:
        return figure(key, row[key], units).removesuffix(size_unit).strip()

    outside = (
        f"{plain('outer_width_m')} × {plain('outer_height_m')}\n× {plain('top_depth_m')}/{plain('bottom_depth_m')}"
    )
    breathes = MISSING
    if KINDS[row["box_kind"]].opening == "radiator":
        added = small_mass(float(row["radiator_added_mass_kg"]), units)
        breathes = f"{row['radiator_count']} × {row['radiator']}\n{added or 'nothing'} added"
    elif row["vent_kind"] == "slot":
        breathes = f"slot {plain('slot_height_m')} × {plain('slot_width_m')}\n{plain('vent_length_m')}"
    elif row["vent_count"]:
        breathes = f"{row['vent_count']} × {plain('vent_diameter_m')}\n{plain('vent_length_m')}"
    return f"{KINDS[row['box_kind']].short}\n{row['driver_count']} × {row['driver']}", outside, breathes


def _picks_table(front: pd.DataFrame, picks: dict[int, list[str]], scenario: Scenario, units: Units) -> Table:
    """The picks side by side, for a wide terminal."""
    size_unit = unit("outer_width_m", units)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for heading in (
        "",
        "Box",
        f"Outside, {size_unit}\nwidth × height\n× depth top/bottom",
        f"Vents, {size_unit}\ncount × bore\nlength\nor radiators",
    ):
        table.add_column(heading)
    for key in scenario.goals.objectives:
        table.add_column(GOALS[key].heading, justify="right", no_wrap=True)
    for position, keys in picks.items():
        row = front.iloc[position]
        figures = (figure(key, row[key], units, scenario.currency) for key in scenario.goals.objectives)
        cells = ("\n".join([*map(_name, keys), row["id"]]), *_cells(row, size_unit, units), *figures)
        table.add_row(*map(Text, cells), end_section=True)
    return table


def _picks_list(front: pd.DataFrame, picks: dict[int, list[str]], scenario: Scenario, units: Units) -> Table:
    """The picks one below the other, for a narrow terminal."""
    size_unit = unit("outer_width_m", units)
    table = Table(box=None, show_header=False, pad_edge=False)
    for position, keys in picks.items():
        row = front.iloc[position]
        kind, outside, breathes = (cell.replace("\n", ", ") for cell in _cells(row, size_unit, units))
        lines = {
            "Box": kind,
            f"W × H × depth top/bottom, {size_unit}": outside.replace(", ×", " ×"),
            f"Vents × bore, length, {size_unit}, or radiators": breathes,
            **{
                GOALS[key].heading.replace("\n", " "): figure(key, row[key], units, scenario.currency)
                for key in scenario.goals.objectives
            },
        }
        table.add_row(Text(" and ".join(map(_name, keys)), "bold"), Text(row["id"]))
        for number, (label, text) in enumerate(lines.items(), start=1):
            table.add_row(Text(f"  {label}"), Text(text), end_section=number == len(lines))
    return table
