"""Wishes as they are typed at a terminal: goals by their names, levels with their units, what is none refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from engine.document import nearest
from engine.errors import BLANK, refusal
from engine.formats.wished import read_wished
from engine.goals import GOALS
from engine.insight.reasons import balanced
from engine.insight.wishes import Wishes
from engine.quantities import Units, examples
from engine.words.voice import Near
from explorer.session import row_of

UNITS = ("_m_s", "_m3", "_db", "_kg", "_hz", "_m")  # that a name may leave out at its end


def wishes_of(
    goals: Sequence[str], *, more: Sequence[str], hold: Sequence[str], give: Sequence[str], at: Sequence[str],
    units: Units,
) -> Wishes:  # fmt: skip
    """What is wished for, of the ``goals`` of a front; ``at`` are levels such as ``outer_volume=45 L``.

    A goal is named by its column; the unit at its end may be left out.  Raises InputFaults where a name is none, a
    goal is named twice, a level is none, or nothing is asked for.
    """
    lists = {"more": more, "hold": hold, "give": give}
    named = {option: tuple(_goal(f"--{option}", name, goals) for name in names) for option, names in lists.items()}
    texts: dict[str, str] = {}
    seen = [key for keys in named.values() for key in keys]
    for stated in at:
        name, sign, level = stated.partition("=")
        key = _goal("--at", name.strip(), goals) if sign else ""
        if not sign or not level.strip():
            raise refusal("--at", "no_wished_level", value=stated, example=_example(key or goals[0], units))
        seen.append(key)
        texts[key] = level
    for key in seen:
        if seen.count(key) > 1:
            raise refusal(_option_of(key, named), "wished_twice", value=key)
    if not named["more"] and not texts:
        raise refusal("wish", "no_wish", example=f"--more {goals[0]}")
    return Wishes(**named, levels=read_wished(texts, source="--at", units=units))


def start_of(front: pd.DataFrame, design: str | None, goals: tuple[str, ...]) -> dict[str, Any]:
    """The design that wishes start from, by its id, or the balanced one.  Raises InputFaults where it is none."""
    if design is None:
        return row_of(front, balanced(front, goals))
    places = (front["id"] == design).to_numpy().nonzero()[0]
    if not len(places):
        raise refusal("--from", "no_design", value=design, designs=len(front))
    return row_of(front, int(places[0]))


def _goal(option: str, name: str, goals: Sequence[str]) -> str:
    """The goal that a name means: its key, or that without its unit."""
    for key in goals:
        if name in (key, *(key.removesuffix(unit) for unit in UNITS if key.endswith(unit))):
            return key
    known = tuple(goals)
    raise refusal(option, "no_goal", value=name or BLANK, known=known, near=Near("".join(nearest(name, known))))


def _option_of(key: str, named: dict[str, tuple[str, ...]]) -> str:
    return next((f"--{option}" for option, keys in named.items() if key in keys), "--at")


def _example(key: str, units: Units) -> str:
    kind = "price" if GOALS[key].kind == "money" else GOALS[key].kind
    level = GOALS[key].plausible[0] if kind in ("count", "ratio") else examples(kind, units)[1][0]
    return f'{key}="{level}"'
