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
from engine.evaluate import Result, evaluate
from engine.formats.given import Given
from engine.judged import JudgedDesign
from engine.quantities import write
from engine.search.evaluator import Designs, Evaluator
from engine.search.front import designs_of, judged
from engine.space.pieces import pieces_of
from engine.space.sizes import inside_of
from engine.words.voice import Quantity

LUMPED = (3.0, 300.0)  # Hz, within which the lumped tuning is looked for
TRIED = 512  # tunings at once
ROUNDS = 4  # of which each looks between two neighbours of the one before: to 1e-10 of the tuning
SAME_PLACE = 1e-4  # m; nobody builds closer
SAME_SHARE = 1e-3  # of a length or mass
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
        column, wanted = given.aim
        lumped, ends = _lumped_tunings(evaluator, designs, column, wanted)
        if not lumped.size:
            kind = COLUMNS[column].kind
            said = {end: Quantity(figure, kind) for end, figure in zip(("low", "high"), ends, strict=True)}
            key = "given.tuning" if column == "tuning_hz" else f"given.{given.opening.built[0]}"
            raise refusal(source, "no_such_tuning", key=key, value=write(wanted, kind), **said)
        # A slot can be equally long at two tunings, wider at one of them, and pipes may lie in two ways for one tuning:
        # what is cut tells which is meant, else it is the higher one.
        meant = -1
        if given.cut is not None:
            column, wanted = given.cut
            apart = np.abs(_reached(evaluator, _at(designs, lumped), column) - wanted)
            meant = int(np.nanargmin(apart[::-1]) + 1) * -1
        designs = _at(designs, lumped[[meant]])
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


def _lumped_tunings(
    evaluator: Evaluator, design: Designs, column: str, wanted: float
) -> tuple[Floats, tuple[float, float]]:
    """The lumped tunings in Hz, rising, at which a column of the front comes to ``wanted``, SI.

    Besides the least and the most that it comes to, nan where the box cannot be tuned at all.
    """
    tunings = np.geomspace(*LUMPED, TRIED)
    reached = _reached(evaluator, _at(design, tunings), column)
    known = reached[np.isfinite(reached)]
    ends = (float(known.min()), float(known.max())) if known.size else (math.nan, math.nan)
    starts = np.flatnonzero((reached[:-1] - wanted) * (reached[1:] - wanted) <= 0.0)
    found = []
    for low, high in zip(tunings[starts], tunings[starts + 1], strict=True):
        for _ in range(ROUNDS):
            within = np.geomspace(low, high, TRIED)
            off = _reached(evaluator, _at(design, within), column) - wanted
            crossed = np.flatnonzero(off[:-1] * off[1:] <= 0.0)
            if not crossed.size:
                break
            low, high = within[crossed[0]], within[crossed[0] + 1]
        found.append(0.5 * (low + high))
    return np.array(found), ends


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
        if not abs(float(design.row[column]) - cut) <= max(SAME_PLACE, SAME_SHARE * cut):
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
    """Figures and curves of a given box: those of :func:`engine.evaluate.evaluate`, and of the box itself.

    ``short_of`` names the constraints that it breaks (keys of :data:`engine.constraints.CONSTRAINTS`), ``short_by`` by
    how much, in m where they are lengths; ``goes_together`` says whether its solids keep every clearance, and
    ``clearances_missed`` which not.  ``built_otherwise`` are the pieces ``otherwise`` than its file has them, see
    :func:`moved`.
    """
    row, wedges = design.row, design.judgement.wedges
    inside = {name: float(size[0]) for name, size in inside_of(wedges).items()}
    lean = math.degrees(inside.pop("baffle_angle"))
    short = design.shortfalls
    box: dict[str, Any] = {
        **{key: row[key] for key in _BOX},
        **{f"{name}_m": size for name, size in inside.items()},
        "baffle_angle_deg": lean,
        "wiring_reason": design.wired,
        "board_thickness_m": wedges.board,
        "baffle_thickness_m": float(wedges.front[0]),
        "short_of": [each.constraint for each in short],
        "short_by": [each.by for each in short],
        "goes_together": design.inspection.ok,
        "clearances_missed": list(design.inspection.sentences("metric")),
        "built_otherwise": list(otherwise),
    }
    return {**box, **evaluate(design.stated, source=source)}


_BOX = (
    "box_kind", "driver", "driver_count", "driver_rows", "facing", "baffle", "wiring", "load_ohm", "amplifier_power_w",
    "outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "back_angle_deg", "gross_volume_m3",
    "net_volume_m3", "vent_count", "vent_placement", "brace_count", "support_count",
)  # fmt: skip
