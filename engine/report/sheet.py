"""The customer's sheet: one recommendation and up to three boxes, two pages that need nothing explained.

What stands on it is worked out here, once, as plain words, figures and pictures; :mod:`engine.report.sheet_pdf` and
:mod:`engine.report.sheet_html` only set it.  Figures are those of the front's rows.  What a workshop needs, cut-outs
and where braces go, is not on it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS, Goal, level_key, levels_among
from engine.insight.reasons import balanced
from engine.insight.tolerance import spread
from engine.kinds import KINDS
from engine.openings import opening_of
from engine.quantities import Units
from engine.report.claims import Claim, claims, joined
from engine.report.compared import guessed
from engine.report.curves import CHARTS
from engine.report.ink import LIGHT
from engine.report.levels import levels_chart
from engine.report.logo import Logo
from engine.report.pictures import chart_svg
from engine.report.portrait import Portrait, lay_over
from engine.report.wording import drivers, figure, figure_of, outside
from engine.search.front import undominated
from engine.search.practice import CRITERIA, broken
from engine.words.voice import listed

MOST_BOXES = 3
MOST_LETTERS = {"shop": 80, "customer": 80, "note": 600, "price": 40}  # of what a shop writes
CHART_WIDTH, CHART_HEIGHT = 330, 215
_LEAST = 0.3  # dB, or 7 % of a size, weight or price: a lead that is worth a headline; chosen here
_TOLD = 2  # claims in a headline
_GIVEN_UP = 3  # claims in what a box gives up

CAUTIONS = (
    "A subwoofer can be loud enough to harm hearing for good, inside a closed car above all. Start low.",
    "A heavy box must be bolted to the body of the vehicle: loose, it becomes a missile in a crash.",
    "Before anything is screwed or cut: behind panels lie airbags, belt anchors, fuel and brake lines, wiring.",
    "The amplifier's supply needs a fuse at the battery and wiring by somebody licensed for it.",
)

DECIBELS = (
    "Loudness is in decibels (dB): 3 dB more is a clear step, 10 dB more sounds about twice as loud. "
    "Pitch is in hertz (Hz): the lower, the deeper."
)
BUILT = (
    "Small figures: of ten boxes built like this from such drivers, nine are at least as good as the first, "
    "one as the second."
)


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """What a shop puts on the sheet besides boxes; all of it may be empty.

    ``recommended`` is a letter, empty for the usual one; ``prices`` are texts by letter.
    """

    shop: str = ""
    customer: str = ""
    note: str = ""
    logo: Logo | None = None
    recommended: str = ""
    prices: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Box:
    """One box on the sheet, in words and a picture (SVG text)."""

    letter: str
    name: str
    recommended: bool
    headline: str
    beside: str  # what the headline and what it gives up are told beside, empty where they say it themselves
    gives_up: str
    facts: tuple[tuple[str, str], ...]  # what it is, what of it
    price: str
    picture: str
    alt: str


@dataclass(frozen=True, kw_only=True)
class Chart:
    title: str
    caption: str
    svg: str


@dataclass(frozen=True)
class Cell:
    """A figure, beneath it what built boxes come to, and whether it is the best of its line."""

    figure: str
    band: str = ""
    best: bool = False


@dataclass(frozen=True)
class Line:
    """One line of the table: a question in plain words, what the figure says, a cell a box."""

    label: str
    small: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """All that stands on the sheet, in the order of reading."""

    title: str
    shop: str
    customer: str
    note: str
    logo: Logo | None
    day: str
    written: date
    recommendation: str
    reason: str
    boxes: tuple[Box, ...]
    charts: tuple[Chart, ...]
    lines: tuple[Line, ...]
    explained: tuple[str, ...]
    cautions: tuple[str, ...]
    rests_on: str


def sheet_of(
    portraits: Sequence[Portrait], *, title: str, wishes: Wishes, units: Units, written: date,
    tolerance: Mapping[str, float] | None = None,
) -> Sheet:  # fmt: skip
    """The sheet of one to three portraits, each with its letter.

    ``tolerance`` is what built boxes differ by, without it each job's own.  Raises ValueError for more portraits, none,
    or a recommended letter that is none of theirs.
    """
    if not 1 <= len(portraits) <= MOST_BOXES:
        raise ValueError(f"a sheet holds one to {MOST_BOXES} boxes, not {len(portraits)}")
    usual = portraits[usual_choice(portraits)]
    chosen = next((each for each in portraits if each.letter == wishes.recommended), None)
    if chosen is None and wishes.recommended:
        raise ValueError(f"no box {wishes.recommended!r} is on the sheet")
    best = chosen or usual
    bands = _bands(portraits, tolerance)
    return Sheet(
        title=title.strip(), shop=wishes.shop.strip(), customer=wishes.customer.strip(), note=wishes.note.strip(),
        logo=wishes.logo, day=f"{written.day} {written:%B %Y}", written=written,
        recommendation=_recommendation(best, portraits),
        reason=unbroken(_reason(best, portraits, units, usual=chosen is None)),
        boxes=tuple(_box(each, best, portraits, wishes, units) for each in portraits),
        charts=tuple(_charts(portraits, bands, units)),
        lines=tuple(_lines(portraits, bands, wishes, units)),
        explained=tuple(_explained(portraits)),
        cautions=CAUTIONS,
        rests_on=_rests_on(portraits),
    )  # fmt: skip


def usual_choice(portraits: Sequence[Portrait]) -> int:
    """Which of some boxes is recommended unless somebody says otherwise: the balanced one, a place among them."""
    rows = pd.DataFrame([dict(portrait.row) for portrait in portraits])
    shared = [key for key in portraits[0].scenario.goals.objectives if key in rows and rows[key].notna().all()]
    return balanced(rows, tuple(shared)) if shared else 0


def file_name(title: str, customer: str, ending: str) -> str:
    r"""What the sheet's file is called: after the job and the customer, in letters that any disk takes.

    >>> file_name("Van: bench / 10\"", "Ms Müller", "pdf")
    'van-bench-10-ms-müller.pdf'
    """
    words = re.sub(r"[^\w]+", "-", f"{title[:60]} {customer[:60]}".lower(), flags=re.UNICODE).strip("-_")
    return f"{words or 'sheet'}.{ending}"


def unbroken(text: str) -> str:
    r"""Text in which no line ends between a figure and its unit.

    >>> unbroken("is 3 7/16 in deeper than B").split(" ")
    ['is', '3\xa07/16\xa0in', 'deeper', 'than', 'B']
    """
    return re.sub(r"(?<=\d) (?=\d+/\d|[^\W\d]{1,3}\b(?! [a-z]*\d)|%|×)", "\N{NO-BREAK SPACE}", text)


def _recommendation(best: Portrait, portraits: Sequence[Portrait]) -> str:
    return f"Our recommendation: box {best.letter}" if len(portraits) > 1 else "Our recommendation"


def _reason(best: Portrait, portraits: Sequence[Portrait], units: Units, *, usual: bool) -> str:
    others = [each for each in portraits if each is not best]
    said = [lead(portraits)]
    for other in others:
        ahead = [claim.words for claim in _against(best, other, units) if claim.lead > 0.0][:_TOLD]
        if ahead:
            said.append(f"Beside {other.letter} it {listed(ahead)}.")
    if others and usual:
        said.append(_why_usual(best, others))
    return " ".join(said)


def _why_usual(best: Portrait, others: Sequence[Portrait]) -> str:
    """Why the balanced one is recommended, as it was chosen: good practice first, then how even it is."""
    lost = broken(pd.DataFrame([dict(each.row) for each in (best, *others)]))
    for number, criterion in enumerate(CRITERIA):
        lacking = [each.letter for each, breaks in zip(others, lost[1:, number], strict=True) if breaks]
        if lacking and not lost[0, number]:
            return f"Unlike {listed(lacking)}, {criterion.plainly}."
    return "Of these boxes it is the all-rounder: what it does worst is the least bad."


def lead(portraits: Sequence[Portrait]) -> str:
    """What may be said of all the designs at once: no more than their scenarios and figures bear out."""
    if len(portraits) == 1:
        return "It fits the space measured in the vehicle."
    if any(other.scenario.space != portraits[0].scenario.space for other in portraits):
        return "Each fits the space that was measured for it; the spaces differ."
    fits = "All of them fit the space measured in the vehicle"
    if any(other.scenario.goals != portraits[0].scenario.goals for other in portraits):
        return f"{fits}; they were sought with different goals."
    objectives = portraits[0].scenario.goals.objectives
    rows = pd.DataFrame([dict(portrait.row) for portrait in portraits])
    unbeaten = undominated(rows, objectives).all()
    return f"{fits}; each is better than the others at something." if unbeaten else f"{fits}."


def _against(one: Portrait, other: Portrait, units: Units) -> list[Claim]:
    found = claims(one.row, other.row, units=units, currency=one.scenario.currency)
    return [claim for claim in found if abs(claim.lead) >= _LEAST]


def _box(this: Portrait, best: Portrait, portraits: Sequence[Portrait], wishes: Wishes, units: Units) -> Box:
    row = this.row
    others = [each for each in portraits if each is not best] if this is best else [best]
    name = f"{KINDS[row['box_kind']].label}, {drivers(row)}"
    breathes = "none: the air is shut in" if KINDS[row["box_kind"]].opening == "none" else opening_of(row).instead
    return Box(
        letter=this.letter,
        name=KINDS[row["box_kind"]].label,
        recommended=this is best,
        headline=unbroken(_headline(this, others, units)),
        beside=_beside(others, best),
        gives_up=unbroken(_gives_up(this, others, units)),
        facts=(("Driver", drivers(row)), ("Outside", unbroken(outside(row, units))), ("Opening", breathes)),
        price=_price(this, wishes, units),
        picture=this.design.drawing("picture", units),
        alt=f"{name}, {outside(row, units)}, in the measured space",
    )


def _beside(others: Sequence[Portrait], best: Portrait) -> str:
    if len(others) != 1:
        return ""
    return f"beside {others[0].letter}{', our recommendation' if others[0] is best else ''}"


def _headline(this: Portrait, others: Sequence[Portrait], units: Units) -> str:
    """What speaks for a box, from differences; alone, its loudness and its room."""
    if not others:
        row = this.row
        levels = [key for key in levels_among(row) if not GOALS[key].moves_with]
        loud = [f"plays {figure(key, row[key], units)}{GOALS[key].label.removeprefix('Level')}" for key in levels[:1]]
        return joined([*loud, f"takes {figure('outer_volume_m3', row['outer_volume_m3'], units)} of room"])
    return joined(_leads(this, others, units, 1.0, _TOLD)) or f"Ahead of {listed(_letters(others))} in nothing"


def _gives_up(this: Portrait, others: Sequence[Portrait], units: Units) -> str:
    if not others:
        return ""
    return joined(_leads(this, others, units, -1.0, _GIVEN_UP)) or "Nothing that can be told apart"


def _leads(this: Portrait, others: Sequence[Portrait], units: Units, way: float, most: int) -> list[str]:
    """Its largest leads (``way`` 1) or lags (-1); beside several boxes the largest over each, on one matter each."""
    found = [
        (each, other) for other in others for each in _against(this, other, units) if way * each.lead > 0.0
    ]  # fmt: skip
    found.sort(key=lambda pair: -way * pair[0].lead)
    if len(others) == 1:
        return [claim.words for claim, _ in found[:most]]
    said: list[str] = []
    matters, letters = set(), set()
    for claim, other in found:
        if claim.matter not in matters and other.letter not in letters:
            matters.add(claim.matter)
            letters.add(other.letter)
            said.append(claim.beside(other.letter))
    return said


def _letters(portraits: Sequence[Portrait]) -> list[str]:
    return [portrait.letter for portrait in portraits]


def _price(this: Portrait, wishes: Wishes, units: Units) -> str:
    """What the shop asks; where it says nothing, what the parts cost where the job knows."""
    if asked := wishes.prices.get(this.letter, "").strip():
        return asked
    cost = float(this.row["cost"])
    if not math.isfinite(cost):
        return ""
    return f"{figure('cost', cost, units, this.scenario.currency)} for parts, without work"


def _bands(portraits: Sequence[Portrait], tolerance: Mapping[str, float] | None) -> list[dict[str, Floats]]:
    """By goal what 90 %, 50 % and 10 % of boxes built like each reach, (3,); those of one job in one go."""
    found: dict[str, dict[str, Floats]] = {}
    for evaluator in dict.fromkeys(portrait.design.evaluator for portrait in portraits):
        own = [portrait for portrait in portraits if portrait.design.evaluator is evaluator]
        known = evaluator.scenario.tolerance if tolerance is None else tolerance
        built = spread(evaluator, pd.DataFrame([dict(each.row) for each in own]), exact=True, tolerance=known)
        for number, portrait in enumerate(own):
            found[portrait.letter] = {key: built.band(key)[number] for key in built.figures}
    return [found[portrait.letter] for portrait in portraits]


def _charts(
    portraits: Sequence[Portrait], bands: Sequence[Mapping[str, Floats]], units: Units
) -> list[Chart]:  # fmt: skip
    drawing = lay_over(portraits, units=units, ink=LIGHT, hover=False)
    # What rings by itself is no matter of the customer's.
    quiet = [replace(trace, first_mode_hz=math.nan, vent_resonance_hz=math.nan) for trace in drawing.traces]
    drawing = replace(drawing, traces=quiet)
    cabin = all(portrait.cabin for portrait in portraits)
    keys = list(dict.fromkeys(
        level_key(hz, cabin=cabin) for portrait in portraits for hz in portrait.scenario.goals.levels
    ))  # fmt: skip
    where = "in the vehicle" if cabin else "at 1 m in the open"
    guess = " (estimate)" if any(guessed(GOALS[key], each.scenario) for key in keys for each in portraits) else ""
    title = f"Loudness {where}{guess} (dB)"
    levels = levels_chart(portraits, bands, keys, title=title, ink=LIGHT)
    name = "cabin_response" if cabin and not drawing.lone else "response"
    response = CHARTS[name][1](drawing)
    of_all = "each box" if len(portraits) > 1 else "the box"
    return [
        Chart(
            title="How loud at three pitches" if len(keys) == 3 else "How loud at each pitch",
            caption="Higher is louder. The line through a mark: of ten boxes built like it nine come out above its "
            "lower end, one above its upper.",
            svg=chart_svg(levels, width=CHART_WIDTH, height=CHART_HEIGHT),
        ),
        Chart(
            title=f"From the lowest tones up{f', {where}' if name == 'cabin_response' else ''} (response)",
            caption=f"Loudness against pitch, as {of_all} is used. Where a line falls away at the left, the deep bass "
            "fades; the small diamond (f3) is where it has lost half its power.",
            svg=chart_svg(response, width=CHART_WIDTH, height=CHART_HEIGHT),
        ),
    ]


def _lines(
    portraits: Sequence[Portrait], bands: Sequence[Mapping[str, Floats]], wishes: Wishes, units: Units
) -> list[Line]:
    lines, said = [], set()
    for key in goals_told(portraits):
        goal = GOALS[key]
        cells = [
            _cell(portrait, band, key, units) if goal.had_by(portrait.row["box_kind"]) else Cell(goal.absent[0])
            for portrait, band in zip(portraits, bands, strict=True)
        ]
        values = [goal.turn * float(portrait.row.get(key, math.nan)) for portrait in portraits]
        best = min((value for value in values if math.isfinite(value)), default=math.nan)
        shared = len(portraits) > 1 and not all(value == best for value in values)
        told = [
            Cell(cell.figure, cell.band, best=shared and value == best)
            for cell, value in zip(cells, values, strict=True)
        ]
        label, small = goal.meaning
        named = f"{label} (f3)" if "f3" in goal.label else label
        guess = any(guessed(goal, portrait.scenario) for portrait in portraits)
        small = f"{small} – an estimate" if guess else small
        lines.append(Line(named, "" if small in said else small, tuple(told)))
        said.add(small)
    prices = [_price(portrait, wishes, units) for portrait in portraits]
    return [*lines, Line("Price", "", tuple(Cell(price or "ask us") for price in prices))] if any(prices) else lines


def goals_told(portraits: Sequence[Portrait]) -> list[str]:
    """The goals in the table: levels, where each plays evenly, room and weight, and what else was sought."""
    levels = [key for portrait in portraits for key in levels_among(portrait.row)]
    in_open = [key for key in levels if not GOALS[key].moves_with]
    in_vehicle = [key for key in levels if GOALS[key].moves_with]
    sought = [key for portrait in portraits for key in portrait.scenario.goals.objectives]
    keys = dict.fromkeys([*in_open, *in_vehicle, "f3_hz", "outer_volume_m3", "weight_kg", *sought])
    keys.pop("cost", None)  # the price
    return [key for key in keys if any(math.isfinite(float(each.row.get(key, math.nan))) for each in portraits)]


def _cell(portrait: Portrait, band: Mapping[str, Floats], key: str, units: Units) -> Cell:
    currency = portrait.scenario.currency
    shown = figure_of(portrait.row, key, units, currency) + _remark(portrait, GOALS[key])
    if key not in band:
        return Cell(shown)
    safe, _, best = (figure(key, float(each), units, currency) for each in band[key])
    return Cell(shown) if safe == best else Cell(shown, f"{safe} to {best}")


def _remark(portrait: Portrait, goal: Goal) -> str:
    """That a design goes past a limit, where it is judged at full power."""
    if goal.mark is None or not float(portrait.row[goal.key]) > goal.mark.most(portrait.scenario.goals) + goal.noticed:
        return ""
    return f" – {goal.mark.beyond}"


def _explained(portraits: Sequence[Portrait]) -> list[str]:
    said = [
        DECIBELS,
        BUILT,
    ]
    ends = [(each.letter, " ".join(each.design.model_ends)) for each in portraits if each.design.model_ends]
    said += [f"{letter}: {words}" if len(portraits) > 1 else words for letter, words in ends]
    return said


def _rests_on(portraits: Sequence[Portrait]) -> str:
    """What the figures rest on, in small print."""
    ways = {}
    for goals in (portrait.scenario.goals for portrait in portraits):
        if goals.use.full_drive:
            ways["full"] = "Figures are at the amplifier's full power, whatever limits that breaks."
        else:
            fed = f"from {goals.fed_from:g} Hz up"
            ways[fed] = f"Each box is turned down, one setting of the gain, until it passes no limit {fed}."
    return f"All figures are calculated, not measured. {' '.join(ways.values())} {_vehicle(portraits)}"


def _vehicle(portraits: Sequence[Portrait]) -> str:
    """What levels in the vehicle rest on."""
    origins = {portrait.cabin for portrait in portraits}
    if origins == {""}:
        return "Levels are at 1 m in half space (a box on open ground), without the vehicle's own gain."
    words = {
        "estimate": " Figures in the vehicle are estimated from the cabin's size: a real one differs by several dB.",
        "measured": " Figures in the vehicle rest on what was measured in it.",
        "": "",
    }
    return "Levels are at 1 m in half space (a box on open ground), unless they say “in the vehicle”." + "".join(
        words[origin] for origin in sorted(origins)
    )
