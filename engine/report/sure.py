"""How sure a design or a front is, in words: what 9 of 10 boxes reach, which limits they keep, what matters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS, levels_among
from engine.insight.tolerance import MOST, SHARES, Robust, Spread
from engine.quantities import Units
from engine.report.wording import figure
from engine.scenario import Goals
from engine.tolerances import TOLERANCES
from engine.words.voice import listed

_TENTHS = round(10 * MOST)
# What a design that passes a limit does, as the end of "in 3 of 100".
_PASSES = {
    "excursion_ratio": "the cone passes Xmax",
    "radiator_ratio": "a passive radiator passes its Xmax",
    "vent_speed_m_s": "the air in the vents passes its limit",
}
_SURE, _LOWER = 0.995, 0.05  # a share that is all, dB that are none
_MATTERS = 0.3  # of what matters most, below which nothing is said of the next


def bands(built: Spread, box_kind: str, units: Units, currency: str = "") -> list[tuple[str, str, str, str]]:
    """Of each goal its name, what 9 of 10 boxes reach, what half of them and what 1 of 10, of one design."""
    told = []
    for key in built.figures:
        if GOALS[key].had_by(box_kind):
            safe, middle, best = (figure(key, each, units, currency) for each in built.band(key)[0])
            told.append((GOALS[key].label, safe, middle, best))
    return told


def headings() -> tuple[str, str, str]:
    """What stands above those three figures."""
    nine, half, one = (f"{round(10 * share)} of 10 are" for share in SHARES[::-1])
    return f"{nine} at least as good as", half, one


def told(built: Spread, swung: Mapping[str, Mapping[str, Floats]], row: Mapping[str, Any], units: Units) -> list[str]:
    """Sentences on one design: the level that is safe, the limits that are not, what it swings by."""
    said = []
    levels = [(key, float(built.reached(key)[0])) for key in levels_among(built.figures)]
    plays = [
        f"at least {figure(key, level, units)}{GOALS[key].label.removeprefix('Level')}"
        for key, level in levels
        if math.isfinite(level) and not GOALS[key].moves_with
    ]
    if plays:
        said.append(f"{_TENTHS} of 10 boxes built like this play {listed(plays)}.")
    if built.fit[0] < _SURE:
        said.append(f"{_of_100(1.0 - float(built.fit[0]))} do not go into their space, or their parts not into them.")
    fit = max(float(built.fit[0]), 1e-9)
    broken = []
    for chance in built.chances:
        goal, kept = GOALS[chance.key], float(chance.share[0]) / fit
        if goal.had_by(row["box_kind"]) and kept < _SURE:
            passes = _PASSES.get(chance.key, f"the figure is worse than the job allows: {goal.label}")
            broken.append(f"in {_of_100(1.0 - kept)} {passes}")
    if broken:
        lower = float(built.lower_db()[0])
        said.append(f"At this setting of the gain, {listed(broken)}, by a little.")
        if _LOWER <= lower < math.inf:
            said.append(f"Set {lower:.1f} dB lower, {_TENTHS} of 10 hold them all.")
    else:
        said.append("At this setting of the gain all of them hold their limits.")
    keys = [key for key in (*levels_among(built.figures), "f3_hz") if key in swung and not GOALS[key].moves_with]
    most = {key: _most(swung[key]) for key in keys}
    return said + [f"{GOALS[key].label} swings mostly by {things}." for key, things in most.items() if things]


def in_json(built: Spread, swung: Mapping[str, Mapping[str, Floats]], box_kind: str) -> dict[str, Any]:
    """The same as keys and numbers, SI: bands by goal (90 %, 50 %, 10 %), chances, what swings each goal by one σ."""
    keys = [key for key in built.figures if GOALS[key].had_by(box_kind)]
    return {
        "built_reach": {key: [_number(each) for each in built.band(key)[0]] for key in keys},
        "built_reach_shares": list(SHARES[::-1]),
        "built_fit_share": float(built.fit[0]),
        "built_hold_share": {each.key: float(each.share[0]) for each in built.chances if each.key in keys},
        "built_lower_db": _number(built.lower_db()[0]),
        "built_swing": {
            key: {name: _number(each[0]) for name, each in swung[key].items()} for key in keys if key in swung
        },
    }


def front_told(safe: Robust, built: Spread, goals: Goals, units: Units) -> list[str]:
    """Sentences on a front as 9 of 10 built boxes reach it; ``built`` is of the front that it was made of."""
    whole, kept = len(safe.misfits), built.take(safe.rows)
    said = [f"{len(safe.rows)} of {whole} designs remain, told by what {_TENTHS} of 10 boxes built like them reach."]
    left_out = [(int(safe.misfits.sum()), "does not go into its space, or its parts not into it")]
    for key, lost in safe.passing.items():
        worst = figure(key, goals.limits[key], units)
        left_out.append((int(lost.sum()), f"passes the limit of the job, {GOALS[key].label} {worst}"))
    said += [f"Of {number} more than 1 box in 10 {what}." for number, what in left_out if number]
    if safe.beaten:
        number = "1 is" if safe.beaten == 1 else f"{safe.beaten} are"
        said.append(f"{number} beaten by others once all are told so.")
    if len(safe.rows) and (lower := float(kept.lower_db().max())) >= _LOWER:
        half = _of_100(float(np.median(kept.held)))
        said.append(
            f"At the gain of the drawing, cone and vents keep their limits in {half} boxes of the middle one of these; "
            f"set {lower:.1f} dB lower, in {_TENTHS} of 10 boxes of each."
        )
    return said


def front_best(
    front: pd.DataFrame, safe: Robust, built: Spread, objectives: Sequence[str], units: Units, currency: str = ""
) -> list[tuple[str, str, str, str]]:
    """Of each goal its name, the best as drawn, the best that 9 of 10 boxes reach, and how far these mostly lie apart.

    The last is that of the middle one of the designs that remain; a dash where what is built is as drawn.
    """
    told = []
    for key in objectives:
        sort, given_up = GOALS[key].turn, math.nan
        best = [figure(key, sort * float((sort * each[key]).min()), units, currency) for each in (front, safe.front)]
        if key in built.figures:
            given_up = float(np.median(np.abs(safe.front[key] - built.nominal[key][safe.rows])))
        told.append((GOALS[key].label, best[0], best[1], figure(key, given_up, units, currency)))
    return told


FRONT_HEADINGS = ("Best as drawn", f"Best that {_TENTHS} of 10 reach", "Mostly apart by")


def front_table(front: pd.DataFrame, built: Spread, safe: Robust) -> pd.DataFrame:
    """A row a design of the front: whether it remains, what 9, 5 and 1 of 10 boxes reach, and the shares; SI."""
    fate = np.full(len(front), "beaten", dtype=object)
    fate[safe.rows] = "yes"
    fate[safe.misfits] = "does not go in"
    for key, lost in safe.passing.items():
        fate[lost] = f"passes {key}"
    table = pd.DataFrame({"id": front["id"].to_numpy(), "remains": fate})
    for key in built.figures:
        for share, reached in zip(SHARES[::-1], built.band(key).T, strict=True):
            table[f"{key}_{round(10 * share)}_of_10"] = reached
    table["fit_share"] = built.fit
    for chance in built.chances:
        table[f"{chance.key}_hold_share"] = chance.share
    table["lower_db"] = np.where(np.isfinite(lower := built.lower_db()), lower, np.nan)
    return table.round({name: 6 for name in table.columns if name not in ("id", "remains")})


def _most(swung: Mapping[str, Floats]) -> str:
    """What moves a goal most, and the next where that is not much less."""
    ranked = sorted(((float(each[0]), name) for name, each in swung.items() if each[0] > 0.0), reverse=True)
    if not ranked:
        return ""
    near = [TOLERANCES[name].thing for moved, name in ranked[:2] if moved >= _MATTERS * ranked[0][0]]
    return ", then by ".join(near)


def _of_100(share: float) -> str:
    return f"{max(round(100.0 * share), 1)} of 100"


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
