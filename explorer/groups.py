"""Driver against driver, and any two groups of designs against each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd
import streamlit as st

from engine.facings import FACINGS
from engine.goals import GOALS
from engine.insight.comparison import TRAITS, Group, groups_of, in_words
from engine.insight.reasons import rivals
from engine.report.wording import figure
from engine.scenario import Scenario
from explorer import frame, panels
from explorer.chart_words import front_in_words
from explorer.charts import Look, Scene, fronts, plotted, spans
from explorer.choices import representative, usual_axes, worth_an_axis
from explorer.labels import thousands
from explorer.markdown import plain
from explorer.memory import memory
from explorer.misfits import one_of
from explorer.narrowing import passing, remembered
from explorer.session import SHORTLIST_MOST, Job, SearchResult, pick, shortlist
from explorer.specs import Spec, spec_of
from explorer.take_away import of_spec, take_away

PAIR_DRAWN = 250  # of each of two groups


def against(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """Driver against driver, one large against two small: what each comes to, and why the others do not fit."""
    look = frame.look(scenario.currency)
    table = rivals(found.front, tuple(scenario.goals.objectives))
    if len(table) + len(found.left_out) < 2:
        return
    st.subheader("Driver against driver")
    for group in panels.in_rows(list(table.to_dict("records")), 3):
        for column, rival in zip(st.columns(3), group, strict=False):
            with column.container(border=True, height="stretch"):
                rival_card(job, rival, scenario, look)
    if found.left_out:
        st.markdown("**What cannot be built here**, each at its nearest")
        one_of(job, found.document, found.left_out)


def rival_card(job: Job, rival: dict[Any, Any], scenario: Scenario, look: Look) -> None:
    """One driver and count: how many designs, the best of each goal, and a way to its all-rounder."""
    count, design = int(rival["driver_count"]), str(rival["balanced"])
    designs = "1 design" if rival["designs"] == 1 else f"{thousands(int(rival['designs']))} designs"
    best = "\n".join(
        f"- {GOALS[key].best}: {figure(key, rival[key], look.units, look.currency)}"
        for key in scenario.goals.objectives
        if not GOALS[key].opening  # 0 where there is no such thing
    )
    wired = f"{plain(rival['wiring'])}: {rival['load_ohm']:.3g} Ω, {rival['amplifier_power_w']:.0f} W"
    name = f"{count} × {plain(rival['driver'])}{FACINGS[rival['facing']].words}"
    st.markdown(f"**{name}**  \n{wired}  \n{designs}\n{best}")
    st.button("Pick its all-rounder", key=f"rival:{design}", on_click=pick, args=(job, design))
    st.button(
        "Put it on the shortlist",
        key=f"rival-short:{design}",
        disabled=len(job.shortlist) >= SHORTLIST_MOST,
        on_click=shortlist,
        args=(job, design),
    )


def one_against_another(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """Two groups of designs, of those that pass the filters: both fronts in one picture, and where each wins."""
    groups = {by: groups_of(found.front, by) for by in TRAITS}
    traits = [by for by, among in groups.items() if len(among) > 1]
    if not traits:
        return
    st.subheader("One against another")
    places = st.columns(3)

    def choice(place: int, label: str, options: Sequence[Any], named: Callable[[Any], str]) -> Any:
        key = f"compare:{place}:{len(options)}:{job.id}:{job.revision}"
        return places[place].selectbox(label, options, format_func=named, key=key)

    by = choice(0, "By", traits, lambda name: TRAITS[name].choice)
    first = choice(1, "Compare", groups[by], lambda group: group.name)
    second = choice(2, "With", [group for group in groups[by] if group != first], lambda group: group.name)
    look, two = frame.look(scenario.currency), (first, second)
    whole = whole_fronts(job, found, scenario, two)
    rows = [group.of(found.front) for group in two] if whole is None else whole
    kept_rows = [front[passing(front, job.filters)] for front in rows]
    for group, front in zip(two, kept_rows, strict=True):
        if front.empty:
            st.info(f"The filters keep no design of {plain(group.name)}. Loosen one, or clear them in the sidebar.")
            return
    objectives, names = list(scenario.goals.objectives), (first.name, second.name)
    both = pd.concat(kept_rows, ignore_index=True)
    keys = worth_an_axis(both, scenario.goals.objectives)
    axes = usual_axes(keys, [key for key in objectives if key in keys], job.axes)
    across, up = axes["x"], axes["y"]

    def made() -> tuple[dict[str, list[str]], Spec, str]:
        few_rows = [front.iloc[representative(front, objectives, most=PAIR_DRAWN)] for front in kept_rows]
        drawn = pd.concat(
            [
                plotted(front, list(dict.fromkeys([across, up, *objectives])), look, {}).assign(group=name)
                for front, name in zip(few_rows, names, strict=True)
            ]
        )
        scene = Scene(frame=drawn, spans=spans(both, [across, up], look.units), look=look)
        chart = fronts(scene, x=across, y=up, groups=names, objectives=objectives)
        told = in_words(kept_rows[0], kept_rows[1], names, objectives, units=look.units, currency=look.currency)
        both_told = [
            front_in_words(front, across, up, look, what=name) for front, name in zip(kept_rows, names, strict=True)
        ]
        return told, spec_of(chart), " ".join(both_told)

    told, chart, said = remembered(job, "pair", two, whole is None, across, up, look, make=made)
    left, right = st.columns(2, gap="medium")
    left.vega_lite_chart(chart, width="stretch", key=f"pair:{job.id}", alt=said)
    with left:
        take_away([of_spec("Two groups of designs", chart, look.ink)], key="pair")
    with right:
        for heading, sentences in told.items():
            st.markdown(f"**{heading}**\n" + "\n".join(f"- {plain(each)}" for each in sentences))


def whole_fronts(
    job: Job, found: SearchResult, scenario: Scenario, two: tuple[Group, Group]
) -> list[pd.DataFrame] | None:
    """The front of each group searched by itself, once somebody has asked for it and both searches have ended."""
    searches, names = frame.searches(), [f"{job.id}:{group.traits}" for group in two]
    last = memory().get("whole")
    if last is None or last[0] is not found:
        last = memory()["whole"] = (found, {})
    there: dict[str, pd.DataFrame] = last[1]
    running = False
    for name, group in zip(names, two, strict=True):
        task = searches.of(name)
        if task is not None and task.outcome is not None:
            there[name] = task.outcome.front
        elif task is not None and not task.finished:
            running = True
        elif task is not None:
            st.warning(f"Nothing was found of {plain(group.name)} by itself.")
        if task is not None and task.finished:
            searches.drop(name)
    if all(name in there for name in names):
        st.caption("Each was searched by itself: both fronts are whole.")
        return [there[name] for name in names]
    if running:
        whole_progress(names)
        return None
    st.caption("Both are taken from the one front above: what a group has that others beat is not on it.")
    st.button("Search each by itself", key="whole-fronts", on_click=start_whole, args=(found, scenario, names, two))
    return None


def start_whole(found: SearchResult, scenario: Scenario, names: list[str], two: tuple[Group, Group]) -> None:
    """Search each of two groups by itself, together with the effort of one search."""
    for name, group in zip(names, two, strict=True):
        frame.begin(name, group.only(scenario), found.document, evaluations=scenario.evaluations // 2)


@st.fragment(run_every=frame.POLL_SECONDS)
def whole_progress(names: list[str]) -> None:
    """The running searches of single groups, redrawn until they end."""
    tasks = [task for task in map(frame.searches().of, names) if task is not None]
    if all(task.finished for task in tasks):
        st.rerun()
    shares = [1.0 if task.finished else task.progress.share if task.progress else 0.0 for task in tasks]
    st.progress(sum(shares) / len(shares), text="Searching each by itself")
