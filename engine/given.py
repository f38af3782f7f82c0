"""A given box worked out as the designs of a search are: what lies where in it, the air it holds, how it plays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.figures import FIGURES_GRID
from engine.arrays import Floats
from engine.columns import COLUMNS
from engine.errors import refusal
from engine.evaluate import Result, evaluate, unsure_in_the_vehicle
from engine.formats.given import Given
from engine.judged import JudgedDesign
from engine.quantities import write
from engine.search.evaluator import Designs, Evaluator
from engine.search.front import designs_of, judged
from engine.space.pieces import pieces_of
from engine.space.sizes import LEAN, inside_of
from engine.words.voice import Quantity

LUMPED = (3.0, 300.0)  # Hz, within which the lumped tuning is looked for
TRIED = 512  # tunings at once
ROUNDS = 4  # of which each looks between two neighbours of the one before: to 1e-10 of the tuning
SAME_PLACE = 1e-4  # m, and as little of a mass in kg; nobody builds closer
SAME_SHARE = 1e-3  # of a length, mass or tuning
NAME = "given"  # in place of the number of a design of a front


def judge_given(given: Given, *, source: str) -> JudgedDesign:
    """A given box judged exactly; ``source`` is what faults call it, such as its file's name.

    Raises SearchImpossible where the amplifier may drive its drivers in no way, and InputFaults where its parts leave
    no air in it or it cannot be tuned as stated.
    """
    evaluator = Evaluator(given.scenario)
    family = evaluator.families.items[0]
    blank = {key: "" if column.kind == "text" else math.nan for key, column in COLUMNS.items()}
    row = {**blank, **family.columns, **given.row}
    designs = designs_of(evaluator, pd.DataFrame([row]))
    if given.aim is not None:
        designs = _at(designs, _lumped_tuning(evaluator, designs, given, source=source))
    judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
    if not len(judgement.heard):
        raise refusal(source, "no_air_left", key="given")
    (told,) = judged(evaluator, designs, judgement).to_dict("records")
    return JudgedDesign(
        evaluator=evaluator,
        row={"id": NAME, **{str(key): told[key] for key in told}},
        designs=designs,
        judgement=judgement,
    )


def _lumped_tuning(evaluator: Evaluator, design: Designs, given: Given, *, source: str) -> Floats:
    """The lumped tuning in Hz of a given box, (1,).  Raises InputFaults where none makes of it what is stated.

    A slot can be equally long at two tunings, wider at one of them, and pipes or braces may lie in two ways for one
    tuning: what is cut tells which is meant, else it is the higher one.
    """
    assert given.aim is not None, "the caller sees to it"
    column, wanted = given.aim
    if given.cut not in (None, given.aim):
        both = _lumped_tunings(evaluator, design, *given.cut)[0]
        off = np.abs(_reached(evaluator, _at(design, both), column) - wanted)
        if np.any(off <= _same(wanted)):
            return both[[np.nanargmin(off)]]
    lumped, (code, low, high) = _lumped_tunings(evaluator, design, column, wanted)
    if not lumped.size:
        kind = COLUMNS[column].kind
        said = {"low": Quantity(low, kind, figures=4), "high": Quantity(high, kind, figures=4)}
        key = "given.tuning" if column == "tuning_hz" else f"given.{given.opening.built[0]}"
        raise refusal(source, code, key=key, value=write(wanted, kind), **said)
    if given.cut is None:
        return lumped[[-1]]
    column, wanted = given.cut
    apart = np.abs(_reached(evaluator, _at(design, lumped), column) - wanted)
    return lumped[[len(lumped) - 1 - np.nanargmin(apart[::-1])]]


def _lumped_tunings(
    evaluator: Evaluator, design: Designs, column: str, wanted: float
) -> tuple[Floats, tuple[str, float, float]]:
    """The lumped tunings in Hz, rising, at which a column of the front comes to ``wanted``, SI.

    And, where there is none, the code of the fault, with the least and the most that it comes to, nan where the box
    cannot be tuned at all; or with what it comes to before and after another way of pipes or braces makes it jump past
    ``wanted``.
    """

    def reached(tunings: Floats) -> Floats:
        return _reached(evaluator, _at(design, tunings), column)

    def crossed(tunings: Floats, found: Floats) -> list[tuple[float, float]]:
        starts = np.flatnonzero((found[:-1] - wanted) * (found[1:] - wanted) <= 0.0)
        return list(zip(tunings[starts], tunings[starts + 1], strict=True))

    first = np.geomspace(*LUMPED, TRIED)
    spans = crossed(first, whole := reached(first))
    for _ in range(ROUNDS):
        within = (np.geomspace(*span, TRIED) for span in spans)
        spans = [narrower for each in within for narrower in crossed(each, reached(each))]
    found = np.array([0.5 * (low + high) for low, high in spans])
    true = found[np.abs(reached(found) - wanted) <= _same(wanted)]
    if spans and not true.size:
        return true, ("tuning_jumps", *sorted(reached(np.array(spans[-1])).tolist()))
    known = whole[np.isfinite(whole)]
    ends = (float(known.min()), float(known.max())) if known.size else (math.nan, math.nan)
    return true, ("no_such_tuning", *ends)


def _same(wanted: float) -> float:
    """How far a length, mass or tuning may be off for the same."""
    return max(SAME_PLACE, SAME_SHARE * abs(wanted))


def _at(design: Designs, tunings: Floats) -> Designs:
    """A design with several lumped tunings, (N,) Hz."""
    return replace(design.take(np.zeros(len(tunings), dtype=np.intp)), tuning=tunings)


def _reached(evaluator: Evaluator, designs: Designs, column: str) -> Floats:
    """A column of designs that differ in tuning, (N,); nan where they cannot be tuned so."""
    wedges = evaluator.wedges(designs)
    fit = evaluator.fit(designs, wedges)
    layout = evaluator.layout(designs, wedges, fit)
    if column != "tuning_hz":
        return np.asarray(evaluator.columns(designs, layout)[column], dtype=float)
    found = np.full(len(designs), np.nan)
    # So high that even a hole is too long, no vent makes it, whatever the model says of the air around.
    heard = np.flatnonzero((layout.net_volume > 0.0) & ~(layout.vent_length <= 0.0))
    some, laid = designs.take(heard), layout.take(heard)
    with np.errstate(all="ignore"):
        found[heard] = evaluator.acoustics(some, laid, evaluator.air(some, laid, fit.take(heard))).systems.tuning
    return found


def moved(given: Given, design: JudgedDesign) -> list[str]:
    """Names of pieces that its file has otherwise than they are worked out here, or that one of the two lacks.

    Nothing where the file says nothing of what is built.
    """
    told = []
    if given.cut is not None:
        column, cut = given.cut
        if not abs(float(design.row[column]) - cut) <= _same(cut):
            told.append(COLUMNS[column].inner_label)
    if not given.built:
        return told
    there, here = ({piece.name: piece for piece in pieces} for pieces in (given.built, pieces_of(design.bodies)))
    return told + [
        name
        for name in {**there, **here}
        if name not in there or name not in here or not there[name].is_at(here[name], within=SAME_PLACE)
    ]


def evaluate_given(design: JudgedDesign, *, source: str, otherwise: Sequence[str] = ()) -> Result:
    """Figures and curves of a given box: those of :func:`engine.evaluate.evaluate` at its gain, and of the box itself.

    ``short_of`` names the constraints that it breaks (keys of :data:`engine.constraints.CONSTRAINTS`), ``short_by`` by
    how much, in m where they are lengths; ``goes_together`` says whether its solids keep every clearance, and
    ``clearances_missed`` which not.  ``built_otherwise`` are the pieces ``otherwise`` than its file has them, see
    :func:`moved`.
    """
    row, wedges = design.row, design.judgement.wedges
    inside = {name: float(size[0]) for name, size in inside_of(wedges).items()}
    short = design.shortfalls
    box: dict[str, Any] = {
        **{key: row[key] for key in _BOX},
        **{f"{name}_m": size for name, size in inside.items() if name != LEAN},
        "wiring_reason": design.wired,
        "board_thickness_m": wedges.board,
        "baffle_thickness_m": float(wedges.front[0]),
        "short_of": [each.constraint for each in short],
        "short_by": [each.by for each in short],
        "goes_together": design.inspection.ok,
        "clearances_missed": list(design.inspection.sentences("metric")),
        "built_otherwise": list(otherwise),
    }
    # Where the model stops is told of the box in its space, of which a stated design knows nothing.
    stops = {key: _known(row[key]) for key in ("model_to_hz", "tuning_within_hz")}
    ends = [*design.model_ends, *unsure_in_the_vehicle(design.stated)]
    figures = evaluate(design.stated, source=source, use=design.evaluator.use)
    return {**box, **figures, **stops, "beyond_model": ends}


def _known(figure: Any) -> float | None:
    return float(figure) if math.isfinite(figure) else None


_BOX = (
    "box_kind", "driver", "driver_count", "driver_rows", "facing", "baffle", "wiring", "load_ohm", "amplifier_power_w",
    "outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "back_angle_deg", "baffle_angle_deg",
    "gross_volume_m3", "net_volume_m3", "vent_count", "vent_placement", "brace_count", "support_count",
)  # fmt: skip
