"""Wishes beside the pick: one click a sentence, or a figure for each goal, to the next box; and steps back again."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
import streamlit as st

from engine.errors import InputFaults
from engine.formats.wished import read_wished
from engine.goals import GOALS
from engine.insight.wishes import Wishes, asked_in_words, in_words, nearest_wished
from engine.report.wording import figure_of, heading
from engine.scenario import Scenario
from explorer.labels import sentence
from explorer.markdown import plain
from explorer.memory import hold, memory, said
from explorer.narrowing import passing
from explorer.plainly import plainly
from explorer.session import Chosen, Job, SearchResult, choose

STEPS_KEPT = 30


@dataclass(frozen=True)
class Step:
    """One wish and what came of it: from a design to another, or to none."""

    asked: str
    told: tuple[str, ...]
    before: Chosen
    after: Chosen | None


@dataclass
class Talk:
    """What was wished for of one job, step by step, and what is to be held or may give way meanwhile."""

    steps: list[Step] = field(default_factory=list)
    hold: list[str] = field(default_factory=list)
    give: list[str] = field(default_factory=list)
    typed: dict[str, str] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)  # of what was typed, by goal


def talk_of(job: Job) -> Talk:
    """The talk about a job so far; it lasts as long as the tab."""
    talk: Talk = memory().setdefault(f"talk:{job.id}", Talk())
    return talk


def wishes(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """From the pick to the next box that somebody wishes for; draws nothing where the pick has not the job's goals."""
    keys = wishable(job, found.front, scenario)
    if job.pick is None or not keys:
        return
    talk, name = talk_of(job), plain(job.pick.row["id"])
    with st.container(border=True):
        st.markdown(f"**From {name}, make it …**")
        with st.container(horizontal=True):
            for key in keys:
                st.button(
                    GOALS[key].wished, key=f"wish:{key}", on_click=more, args=(job, found, scenario, key)
                )  # fmt: skip
        for kind, label in (("hold", "Hold"), ("give", "May give way")):
            widget = f"wish-{kind}:{job.id}"
            st.pills(
                label, keys, default=hold(widget, [key for key in getattr(talk, kind) if key in keys]),
                selection_mode="multi", wrap=True, format_func=lambda key: GOALS[key].label,
                key=widget, on_change=take_side, args=(job, kind, widget),
            )  # fmt: skip
        with st.popover("A figure for each …", icon=":material/edit:"):
            figures(job, found, scenario, keys)
        outcome(job, talk)


def wishable(job: Job, front: pd.DataFrame, scenario: Scenario) -> list[str]:
    """The goals that can be wished for: those of the job that the pick has and in which designs differ."""
    if job.pick is None:
        return []
    keys = [key for key in scenario.goals.objectives if key in front and np.ptp(front[key].to_numpy(float)) > 0.0]
    return keys if all(np.isfinite(float(job.pick.row.get(key, np.nan))) for key in keys) else []


def figures(job: Job, found: SearchResult, scenario: Scenario, keys: list[str]) -> None:
    """A wish typed for each goal; what is empty is free."""
    assert job.pick is not None
    talk = talk_of(job)
    st.caption("Type what you wish for, of as many as you like. What stays empty is free.")
    with st.form(f"levels:{job.id}", border=False):
        for key in keys:
            side = "at least" if GOALS[key].better == "max" else "at most"
            widget = f"level:{key}:{job.id}"
            st.text_input(
                f"{heading(key, job.units, scenario.currency)}, {side}",
                hold(widget, talk.typed.get(key, "")),
                key=widget,
                placeholder=f"now {figure_of(job.pick.row, key, job.units, scenario.currency)}",
            )
            if key in talk.faults:
                st.markdown(f":red[:material/error: {plain(talk.faults[key])}]")
        st.form_submit_button("Find the nearest", on_click=levels, args=(job, found, scenario, keys))


def outcome(job: Job, talk: Talk) -> None:
    """What came of the last wish, as long as it is about the pick, and the way back."""
    if not talk.steps:
        return
    last = talk.steps[-1]
    if job.pick == (last.after or last.before):
        # Put as an alert, it is read out at once.
        st.info(f"**{plain(last.asked)}**  \n" + "  \n".join(map(plain, last.told)))
    moved = [step for step in talk.steps if step.after is not None]
    if moved:
        path = [moved[0].before.row["id"], *(step.after.row["id"] for step in moved if step.after is not None)]
        st.button(
            f"Back to {plain(moved[-1].before.row['id'])}", key="wish-back", icon=":material/arrow_back:",
            help=f"So far: {plain(' → '.join(path))}", on_click=back, args=(job,),
        )  # fmt: skip


def more(job: Job, found: SearchResult, scenario: Scenario, key: str) -> None:
    """More of one goal, what is held held."""
    talk = talk_of(job)
    held, giving = (tuple(each for each in side if each != key) for side in (talk.hold, talk.give))
    ask(job, found, scenario, Wishes(more=(key,), hold=held, give=giving))


def levels(job: Job, found: SearchResult, scenario: Scenario, keys: list[str]) -> None:
    """The levels that were typed; what is wrong with them stands at its field."""
    talk = talk_of(job)
    talk.typed = {key: str(said(f"level:{key}:{job.id}")) for key in keys}
    talk.faults = {}
    try:
        stated = read_wished(talk.typed, source="", units=job.units, currency=scenario.currency)
    except InputFaults as faults:
        talk.faults = {fault.key: sentence(plainly(fault, job.units)) for fault in faults.faults}
        return
    if stated:
        ask(job, found, scenario, Wishes(levels=stated))


def ask(job: Job, found: SearchResult, scenario: Scenario, wished: Wishes) -> None:
    """Go to the design that comes nearest, of those that the filters keep, and keep what came of it."""
    assert job.pick is not None
    keys = wishable(job, found.front, scenario)
    kept = passing(found.front, job.filters)
    granted = nearest_wished(found.front, job.pick.row, wished, keys, kept=kept)
    said: dict[str, Any] = {"units": job.units, "currency": scenario.currency}
    after = None if granted.there is None else choose(found, granted.there["id"])
    talk = talk_of(job)
    step = Step(asked_in_words(wished, **said), tuple(in_words(granted, **said)), job.pick, after)
    talk.steps = [*talk.steps, step][-STEPS_KEPT:]
    job.pick = after or job.pick


def back(job: Job) -> None:
    """Undo the last wish that led anywhere."""
    talk = talk_of(job)
    while talk.steps:
        step = talk.steps.pop()
        if step.after is not None:
            job.pick = step.before
            return


def take_side(job: Job, kind: str, widget: str) -> None:
    """A goal is held or may give way, never both: what was said last counts."""
    talk = talk_of(job)
    chosen, other = list(said(widget)), "give" if kind == "hold" else "hold"
    setattr(talk, kind, chosen)
    setattr(talk, other, [key for key in getattr(talk, other) if key not in chosen])
