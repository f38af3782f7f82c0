"""The customer's sheet: one recommendation and up to three boxes, two pages that need nothing explained.

What stands on it is worked out here, once, as plain words, figures and pictures; :mod:`engine.report.sheet_pdf` and
:mod:`engine.report.sheet_html` only set it.  Figures are those of the front's rows.  What a workshop needs, cut-outs
and where braces go, is not on it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import pandas as pd

from engine import file_names
from engine.goals import GOALS, levels_among
from engine.insight.reasons import balanced, run_on
from engine.kinds import KINDS
from engine.openings import opening_of
from engine.quantities import Units
from engine.report.claims import Claim, claims, joined
from engine.report.logo import Logo
from engine.report.portrait import Portrait
from engine.report.sheet_figures import Chart, Line, bands_of, charts_of, explained, lines_of, rests_on
from engine.report.wording import drivers, figure, outside
from engine.search.front import undominated
from engine.search.practice import CRITERIA, broken
from engine.words.voice import listed

MOST_BOXES = 3
MOST_LETTERS = {"shop": 80, "customer": 80, "note": 600, "price": 40}  # of what a shop writes
_LEAST = 0.3  # dB, or 7 % of a size, weight or price: a lead that is worth a headline; chosen here
_TOLD = 2  # claims in a headline
_GIVEN_UP = 3  # claims in what a box gives up

CAUTIONS = (
    "A subwoofer can be loud enough to harm hearing for good, inside a closed car above all. Start low.",
    "A heavy box must be bolted to the body of the vehicle: loose, it becomes a missile in a crash.",
    "Before anything is screwed or cut: behind panels lie airbags, belt anchors, fuel and brake lines, wiring.",
    "The amplifier's supply needs a fuse at the battery and wiring by somebody licensed for it.",
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
    bands = bands_of(portraits, tolerance)
    return Sheet(
        title=title.strip(), shop=wishes.shop.strip(), customer=wishes.customer.strip(), note=wishes.note.strip(),
        logo=wishes.logo, day=f"{written.day} {written:%B %Y}", written=written,
        recommendation=_recommendation(best, portraits),
        reason=unbroken(_reason(best, portraits, units, usual=chosen is None)),
        boxes=tuple(_box(each, best, portraits, wishes, units) for each in portraits),
        charts=tuple(charts_of(portraits, bands, units)),
        lines=tuple(lines_of(portraits, bands, [_price(each, wishes, units) for each in portraits], units)),
        explained=tuple(explained(portraits)),
        cautions=CAUTIONS,
        rests_on=rests_on(portraits),
    )  # fmt: skip


def usual_choice(portraits: Sequence[Portrait]) -> int:
    """Which of some boxes is recommended unless somebody says otherwise: the balanced one, a place among them."""
    rows = pd.DataFrame([dict(portrait.row) for portrait in portraits])
    shared = [key for key in portraits[0].scenario.goals.objectives if key in rows and rows[key].notna().all()]
    return balanced(rows, tuple(shared)) if shared else 0


def file_name(title: str, customer: str, ending: str) -> str:
    """What a file of a job is called: after the job and the customer, or what else it is of."""
    return file_names.file_name(title, customer, ending=ending, usual="sheet")


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
    leads = [(other.letter, _leads(best, [other], units, 1.0, _TOLD)) for other in others]
    said += [f"Beside {letter} it {run_on(ahead)}." for letter, ahead in leads if ahead]
    if not others:
        key = "f3_cabin_hz" if best.cabin else "f3_hz"
        where = " in the vehicle" if best.cabin else ""
        said.append(f"It plays evenly down to {figure(key, best.row[key], units)}{where}.")
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


def _against(one: Portrait, other: Portrait, units: Units) -> tuple[Claim, ...]:
    return claims(one.row, other.row, units=units, currency=one.scenario.currency)


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
    every = [(each, other) for other in others for each in _against(this, other, units) if way * each.lead > 0.0]
    every.sort(key=lambda pair: -way * pair[0].lead)
    # What is little is only told where there is nothing else.
    found = [pair for pair in every if abs(pair[0].lead) >= _LEAST] or every[:1]
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
