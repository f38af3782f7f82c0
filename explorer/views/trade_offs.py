"""Trade-offs: search, look over the front, pick a design and see how it plays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

import numpy as np
import pandas as pd
import streamlit as st
from numpy.typing import NDArray
from streamlit.delta_generator import DeltaGenerator

from engine.columns import COLUMNS
from engine.facings import FACINGS
from engine.goals import GOALS, levels_among
from engine.insight.comparison import TRAITS, Group, groups_of, in_words
from engine.insight.price import Price, prices
from engine.insight.reasons import balanced, extremes, rivals
from engine.kinds import KINDS
from engine.kinds.radiator import RADIATOR
from engine.quantities import Units
from engine.report import shortages
from engine.report.wording import figure, figure_of, heading
from engine.scenario import Goals, Scenario
from engine.search.practice import weighed
from engine.search.runs import Progress
from engine.words.voice import listed
from explorer import frame, panels
from explorer.charts import Look, Scene, bars, fronts, parallel, plotted, scatter, spans
from explorer.choices import (
    clicked,
    decimals,
    displayed,
    from_shown,
    kept,
    measurable,
    representative,
    slider_scale,
)
from explorer.demo_fronts import found_for
from explorer.inputs import hold
from explorer.labels import CHOICES, plain, sentence, thousands
from explorer.plainly import FormVoice
from explorer.readiness import readiness
from explorer.reading import lines, read
from explorer.session import DRIVERS, SHORTLIST_MOST, Chosen, Job, SearchResult, choose, row_of, rows_of, searched
from explorer.specs import Spec, spec_of
from explorer.worker import SearchTask

Made = TypeVar("Made")

POLL_SECONDS = 0.7
GROWN = 1.2  # times the designs tried when it was last drawn
AXES = ("x", "y", "colour")
PAIR_DRAWN = 250  # of each of two groups
NO_WIRING = "no way of joining the coils gives a load that the amplifier may drive"
VENTS = "vent_kind"
VENT_NAMES = {"": "No vent", "pipe": "Pipe", "slot": "Slot"}
FILTER_NAMES = {"box_kind": "Box", VENTS: "Vent", DRIVERS: "Drivers"}
BEYOND = "beyond_model"
AXIS_NAMES = {"x": "Across", "y": "Up", "colour": "Colour"}


def page() -> None:
    job = frame.present_job()
    st.header("Trade-offs")
    take_in(job)
    search_bar(job)
    if job.found is None:
        return
    scenario = read(job.found.document, job.source).scenario
    if scenario is None:
        st.warning("These designs were found with a scenario this version no longer reads. Search again.")
        return
    drop_strange_filters(job, job.found.front)
    places = front_view(job, job.found.front, scenario)
    if places is None:
        return
    # The front itself needs nothing worked out; what follows does.
    frame.await_ready()
    design = None if job.pick is None else frame.judged_designs().of(job.pick, job.source)
    if design is not None:
        with places.model_ends:
            panels.wired(design)
            panels.where_the_model_stops(design)
        with places.reasons:
            panels.reasons(design, job.units)
    against(job, job.found, scenario)
    one_against_another(job, job.found, scenario)
    price_of_space(job, job.found, scenario)
    if design is not None:
        panels.pick_view(job, design)


def take_in(job: Job) -> None:
    """Take over the outcome of a search that has ended; start the first one by itself.

    A demo job shows the front that came with it until then.
    """
    searches = frame.searches()
    task = searches.of(job.id)
    if task is not None and task.outcome is not None:
        outcome = task.outcome
        # What was narrowed down on a demo's stored front is asked of the full one too.
        filters = job.filters if job.found is not None and job.found.came_with_demo else {}
        job.found = SearchResult(outcome.front, outcome.record, task.document, rows_of(outcome.left_out))
        searches.drop(job.id)
        settle(job)
        job.filters = filters
    elif task is None and to_be_searched(job) and frame.reading().scenario is not None:
        if job.found is None:
            job.found = found_for(job.document)
            if job.found is not None:
                settle(job)
        start(job)


def to_be_searched(job: Job) -> bool:
    """Whether a search starts by itself: the job has no front yet, or only the short one that came with a demo."""
    return job.found is None or (job.found.came_with_demo and not job.changed_since_search)


def settle(job: Job) -> None:
    """After a search: a pick from the new front, no filters, axes that it has."""
    assert job.found is not None
    front = job.found.front
    clear_filters(job)
    objectives = tuple(job.found.record["objectives"])
    job.pick = Chosen(row_of(front, balanced(front, objectives)), job.found.document)


def start(job: Job) -> None:
    scenario = frame.reading().scenario
    if scenario is not None:
        frame.searches().start(job.id, SearchTask(scenario, job.document, ready=readiness().wait))


def search_bar(job: Job) -> None:
    """What the search is doing or came to, and the button to run it."""
    task = frame.searches().of(job.id)
    reading = frame.reading()
    if reading.faults:
        count = len(lines(reading.faults, job.units))
        things = "1 thing" if count == 1 else f"{count} things"
        st.warning(f"{things} in the job must be put right before a search can run.")
        st.page_link("views/space_parts.py", label="Go to Space & parts", icon=":material/straighten:")
        return
    if task is not None and not task.finished:
        progress(job)
        if searched(task.document) != searched(job.document):
            st.info("This search answers the job as it was before your last change. Search again when it has ended.")
        if job.found is not None:
            st.caption(below_in_words(job.found))
        return
    if task is not None and task.failure:
        failure = task.failure if isinstance(task.failure, str) else task.failure.told(FormVoice(job.units))
        st.error(plain(sentence(failure)))
        st.page_link("views/space_parts.py", label="Change it on Space & parts", icon=":material/straighten:")
    with st.container(horizontal=True, vertical_alignment="center"):
        if job.found is not None:
            st.markdown(outcome_words(job.found), width="stretch")
        label = "Search" if job.found is None else "Search again"
        kind: Any = "primary" if job.found is None or job.changed_since_search else "secondary"
        st.button(label, key="search", type=kind, icon=":material/search:", on_click=start, args=(job,))
    if job.found is not None:
        left_out(job.found, job.units)
    if job.changed_since_search:
        st.warning("The job has been changed since this search: the designs below answer the earlier one.")


def below_in_words(found: SearchResult) -> str:
    """What the designs on show are while a search runs."""
    if not found.came_with_demo:
        return "Until it ends, the designs below are those of the search before."
    return (
        f"So that there is something to look at, the {thousands(len(found.front))} designs below came with this demo, "
        f"found among {thousands(found.record['evaluations'])} tried. When the search ends, its own take their place; "
        "what you put on the shortlist stays."
    )


def outcome_words(found: SearchResult) -> str:
    """What a search came to, in a line."""
    record = found.record
    ended = " The search was stopped early." if record["stopped_by"] == "cancelled" else ""
    return (
        f"**{thousands(len(found.front))} designs**, none of them beaten on everything by another "
        f"– {thousands(record['evaluations'])} tried in {record['seconds']:.0f} s.{ended}"
    )


def left_out(found: SearchResult, units: Units) -> None:
    """What was asked for and is not on the front, with the reason."""
    unwired = [f"{name}: {NO_WIRING}" for name in found.record.get("drivers_without_wiring", [])]
    reasons = [*(shortages.left_out(entry, units) for entry in found.record.get("left_out", [])), *unwired]
    if reasons:
        with st.expander("Not on the front", icon=":material/block:"):
            st.markdown("\n".join(f"- {plain(sentence(reason))}" for reason in reasons))


@st.fragment(run_every=POLL_SECONDS)
def progress(job: Job) -> None:
    """The running search, redrawn by itself until it ends."""
    task = frame.searches().of(job.id)
    if task is None or task.finished:
        st.rerun()
    now = task.progress
    if now is None:
        text, share = "Getting ready…", 0.0
    else:
        text = f"Searching: {thousands(now.evaluations)} of {thousands(now.budget)} designs tried"
        share = now.share
    st.progress(share, text="Stopping…" if task.cancelled else text)
    st.button("Cancel and keep what was found", key="cancel", disabled=task.cancelled, on_click=task.cancel)
    if now is not None and now.front_size:
        growing(job, task, now)


def growing(job: Job, task: SearchTask, now: Progress) -> None:
    """The front as it stands while the search goes on, and the box that it would open with."""
    last = st.session_state.get("growing")
    # Drawn anew when a fifth more has been tried: drawing takes its time from the search.
    if last is None or last[0] is not task or now.evaluations >= GROWN * last[1]:
        goals, look = task.scenario.goals, frame.look(task.scenario.currency)
        found = now.front()
        keys = worth_an_axis(found, goals.objectives)
        objectives = [key for key in goals.objectives if key in keys]
        best: Any = found.iloc[balanced(found, goals.objectives)]
        marks = {best["id"]: "best"}
        shown = np.union1d(representative(found, objectives), np.flatnonzero(found["id"] == best["id"]))
        scene = Scene(
            frame=plotted(found.iloc[shown], keys, look, marks), spans=spans(found, keys, look.units), look=look
        )
        chosen = usual_axes(keys, objectives)
        told = [f"{GOALS[key].label} {figure_of(best, key, look.units, look.currency)}" for key in objectives]
        drivers = f"{best['driver_count']} × {plain(best['driver'])}"
        words = f"Best so far, all in all: {KINDS[best['box_kind']].label.lower()}, {drivers}. {listed(told)}."
        chart = spec_of(scatter(scene, **chosen, objectives=objectives))
        last = st.session_state["growing"] = (task, now.evaluations, words, chart)
    _, _, words, chart = last
    st.markdown(words)
    st.vega_lite_chart(
        chart, width="stretch", key=f"growing:{job.id}", alt="The front so far, two objectives against each other"
    )


def usual_axes(keys: list[str], objectives: list[str]) -> dict[str, str]:
    """What stands across, up and as colour where nobody has chosen: levels mostly go together, what they cost first."""
    levels = levels_among(objectives)
    spare = [*(key for key in objectives if key not in levels), *levels, *keys]
    return dict(zip(AXES, spare, strict=False))


def named(front: pd.DataFrame) -> dict[str, pd.Series[str]]:
    """What designs are told apart by in words: filter -> a name for each row."""
    counts = front["driver_count"].astype(int).astype(str)
    told: dict[str, pd.Series[str]] = {"box_kind": front["box_kind"], DRIVERS: counts + " × " + front["driver"]}
    # Boxes tell vented from unvented; only pipes beside slots need more.
    return told | {VENTS: front[VENTS]} if {"pipe", "slot"} <= set(front[VENTS]) else told


def passing(front: pd.DataFrame, wanted: dict[str, list[Any]]) -> NDArray[np.bool_]:
    """Which rows pass every filter, those by name included, (n,)."""
    passed = kept(front, wanted)
    for key, names in named(front).items():
        if key in wanted:
            passed &= names.isin(wanted[key]).to_numpy()
    return passed


def drop_strange_filters(job: Job, front: pd.DataFrame) -> None:
    """A filter by names of which the front has none would only hide everything."""
    for key, names in named(front).items():
        present = set(names)
        wanted = job.filters.get(key, [])
        if wanted and not present & set(wanted):
            del job.filters[key]


@dataclass(frozen=True)
class Places:
    """Where on the page what is worked out of the pick belongs."""

    model_ends: DeltaGenerator
    reasons: DeltaGenerator


def front_view(job: Job, front: pd.DataFrame, scenario: Scenario) -> Places | None:
    """The charts over the front, with the filters in the sidebar; None where the filters keep nothing."""
    look = frame.look(scenario.currency)
    keys = worth_an_axis(front, scenario.goals.objectives)
    with st.sidebar:
        filters(job, front, keys, look, scenario.goals)
    passed = front[passing(front, job.filters)]
    # A goal that is the same everywhere, such as vent air where all boxes are closed, is none to trade.
    objectives = [key for key in scenario.goals.objectives if key in keys]
    if passed.empty:
        st.info(
            f"None of {thousands(len(front))} designs passes all the filters. Loosen one, or clear them in the sidebar."
        )
        return None
    marks = panels.marks(job)
    drawn = few(job, passed, objectives, marks)
    count_line(front, passed, drawn)
    st.markdown("Start with one of these, or narrow the ranges at the left:")
    quick_picks(job, passed, tuple(objectives), look)
    chosen = axes(job, keys, objectives, look)

    def both() -> tuple[Spec, Spec]:
        scene = Scene(frame=plotted(drawn, keys, look, marks), spans=spans(passed, keys, look.units), look=look)
        front = scatter(scene, **chosen, objectives=objectives)
        return spec_of(front), spec_of(parallel(scene, objectives, colour=chosen["colour"]))

    scattered, side_by_side = remembered(job, "charts", keys, objectives, look, marks, chosen, make=both)
    left, right = st.columns([8, 5], gap="medium")
    with left:
        st.vega_lite_chart(
            scattered,
            width="stretch",
            key=f"scatter:{job.id}",
            on_select=lambda: take_click(job, f"scatter:{job.id}"),
            selection_mode=["pick"],
            alt="Designs of the front, two objectives against each other",
        )
        st.caption("Each mark is a design. Click one to see it; hover to read it.")
    with right:
        model_ends = panels.pick_card(job)
    reasons = st.container()
    st.subheader("All goals side by side")
    st.vega_lite_chart(
        side_by_side,
        width="stretch",
        key=f"parallel:{job.id}",
        on_select=lambda: take_click(job, f"parallel:{job.id}"),
        selection_mode=["pick"],
        alt="Every objective on an axis of its own; best at the top",
    )
    dotted = ", those with a passive radiator dotted" if (drawn["box_kind"] == RADIATOR.name).any() else ""
    st.caption(
        f"Each line is a design, better higher up; closed boxes are dashed{dotted}. Click a dot to pick its design."
    )
    return Places(model_ends, reasons)


def worth_an_axis(front: pd.DataFrame, objectives: tuple[str, ...]) -> list[str]:
    """The columns for axes and sliders; of two that differ by the same for all only one."""
    pairs = {key: GOALS[key].moves_with for key in map(str, front.columns) if key in GOALS and GOALS[key].moves_with}
    spare = {other if key in objectives else key for key, other in pairs.items()}
    keys = [key for key in measurable(front) if key not in spare or key in objectives]
    return keys or list(objectives)


def few(job: Job, passed: pd.DataFrame, objectives: list[str], marks: dict[str, str]) -> pd.DataFrame:
    """The designs to draw: those that stand for all that passed, and the marked ones in any case.

    The choice is kept while front and filters stay the same, so that a click is quick.
    """
    places = remembered(job, "few", objectives, make=lambda: representative(passed, objectives))
    marked = passed["id"].isin(list(marks)).to_numpy().nonzero()[0]
    return passed.iloc[np.union1d(places, marked)]


def remembered(job: Job, name: str, *asked: Any, make: Callable[[], Made]) -> Made:
    """What ``make`` makes of the designs that pass, kept while front, filters and ``asked`` stay the same."""
    wanted = (job.filters.copy(), *asked)
    last = st.session_state.get(name)
    if last is None or last[0] is not job.found or last[1] != wanted:
        last = st.session_state[name] = (job.found, wanted, make())
    made: Made = last[2]
    return made


def count_line(front: pd.DataFrame, passed: pd.DataFrame, drawn: pd.DataFrame) -> None:
    def number(table: pd.DataFrame) -> str:
        return thousands(len(table))

    words = f"**{number(passed)} of {number(front)} designs kept**"
    if len(drawn) < len(passed):
        words += f" – {number(drawn)} drawn, spread evenly over them"
    st.markdown(words)


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
        names = [panels.misfit_name(row) for row in found.left_out]
        chosen = st.segmented_control(
            "What cannot be built",
            list(range(len(names))),
            format_func=lambda number: plain(names[number]),
            default=0,
            required=True,
            key=f"misfit:{job.id}:{job.revision}",
            label_visibility="collapsed",
        )
        nearest = Chosen(found.left_out[int(chosen or 0)], found.document)
        design = frame.judged_designs().of(nearest, job.source)
        if design is not None:
            panels.misfit(design, found.document, job.units)


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
    axes = usual_axes(keys, [key for key in objectives if key in keys])
    across, up = (job.axes[axis] if job.axes.get(axis) in keys else axes.get(axis, keys[0]) for axis in AXES[:2])

    def made() -> tuple[dict[str, list[str]], Spec]:
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
        return told, spec_of(chart)

    told, chart = remembered(job, "pair", two, whole is None, across, up, look, make=made)
    left, right = st.columns(2, gap="medium")
    left.vega_lite_chart(
        chart, width="stretch", key=f"pair:{job.id}", alt="The fronts of both groups, two objectives against each other"
    )
    with right.container(height=440):
        for heading, sentences in told.items():
            st.markdown(f"**{heading}**\n" + "\n".join(f"- {plain(each)}" for each in sentences))


def whole_fronts(
    job: Job, found: SearchResult, scenario: Scenario, two: tuple[Group, Group]
) -> list[pd.DataFrame] | None:
    """The front of each group searched by itself, once somebody has asked for it and both searches have ended."""
    searches, names = frame.searches(), [f"{job.id}:{group.traits}" for group in two]
    last = st.session_state.setdefault("whole", {"found": found, "fronts": {}})
    if last["found"] is not found:
        last = st.session_state["whole"] = {"found": found, "fronts": {}}
    there: dict[str, pd.DataFrame] = last["fronts"]
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
        task = SearchTask(
            group.only(scenario), found.document, evaluations=scenario.evaluations // 2, ready=readiness().wait
        )
        frame.searches().start(name, task)


@st.fragment(run_every=POLL_SECONDS)
def whole_progress(names: list[str]) -> None:
    """The running searches of single groups, redrawn until they end."""
    tasks = [task for task in map(frame.searches().of, names) if task is not None]
    if all(task.finished for task in tasks):
        st.rerun()
    shares = [1.0 if task.finished else task.progress.share if task.progress else 0.0 for task in tasks]
    st.progress(sum(shares) / len(shares), text="Searching each by itself")


def price_of_space(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """What a little more room, a looser limit or more power buys along the front, once somebody asks."""
    st.subheader("What a little more would buy")
    searches, name = frame.searches(), f"{job.id}:price"
    task = searches.of(name)
    if task is not None and task.finished:
        if isinstance(task.failure, str):
            st.error(task.failure)
        elif task.failure or not (task.outcome or task.cancelled):
            st.warning("No design that can be built was found, so there is none to price more room by.")
        elif task.outcome:  # none where it was cancelled before the first seed was done
            st.session_state["priced"] = (found, task.outcome)
        searches.drop(name)
    elif task is not None:
        price_progress(name)
        return
    last = st.session_state.get("priced")
    if last is None or last[0] is not found:
        st.caption("The job and each small change of it are searched with equal effort, from several seeds.")
        st.button("Work it out", key="price", on_click=start_price, args=(name, found, scenario))
        return
    look, told = frame.look(scenario.currency), last[1]
    st.markdown("\n".join(f"- {plain(price.told(look.units, look.currency))}" for price in told))
    # One below the other, since the changes' names take half of the width.
    for key in scenario.goals.objectives:
        chart = spec_of(bars(price_table(told, key, look), key, look))
        st.vega_lite_chart(
            chart, width="stretch", key=f"price:{key}:{job.id}", alt=f"What each change buys: {GOALS[key].label}"
        )
    st.caption(
        "Along the front: the mean over its designs, one goal or another, all else as it was. At its best: the best in "
        "each goal. The lines show how far the seeds are from their mean. "
        "Longer searches find more: it buys at least this."
    )


def price_table(told: list[Price], key: str, look: Look) -> pd.DataFrame:
    """What each change buys in one goal, as its picture takes it."""
    rows = []
    for price in told:
        for where, at_end in (("along the front", False), ("at its best", True)):
            gain, spread = price.in_units(key, look.units, at_end=at_end)
            text = price.figure(key, look.units, at_end=at_end)
            words = {"change": price.change.words(look.units), "where": where, "text": text}
            rows.append({**words, "gain": gain, "least": gain - spread, "most": gain + spread})
    return pd.DataFrame(rows)


def start_price(name: str, found: SearchResult, scenario: Scenario) -> None:
    """Work out what a little more buys, beside whatever else runs."""

    def priced(job: Scenario, *, cancelled: Callable[[], bool], **_: Any) -> list[Price]:
        return prices(job, cancelled=cancelled)

    frame.searches().start(name, SearchTask(scenario, found.document, search=priced, ready=readiness().wait))


@st.fragment(run_every=POLL_SECONDS)
def price_progress(name: str) -> None:
    """The prices being worked out, redrawn until they are."""
    task = frame.searches().of(name)
    if task is None or task.finished:
        st.rerun()
    st.caption("Searching the job and each change of it…")
    st.button("Cancel", key="cancel-price", disabled=task.cancelled, on_click=task.cancel)


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


def shortlist(job: Job, design: str) -> None:
    """Put a design of the front on the shortlist, once."""
    assert job.found is not None
    chosen = choose(job.found, design)
    if chosen is not None and chosen not in job.shortlist and len(job.shortlist) < SHORTLIST_MOST:
        job.shortlist.append(chosen)


def axes(job: Job, keys: list[str], objectives: list[str], look: Look) -> dict[str, str]:
    """Which columns go where; the user's choice is kept with the job."""
    chosen = {}
    for column, (axis, default) in zip(st.columns(3), usual_axes(keys, objectives).items(), strict=True):
        present = job.axes.get(axis, default)
        key = f"axis:{axis}:{job.id}:{job.revision}"
        hold(key, present if present in keys else keys[0])
        chosen[axis] = column.selectbox(
            AXIS_NAMES[axis],
            keys,
            format_func=look.title,
            key=key,
            on_change=take_axis,
            args=(job, axis, key),
        )
    return chosen


def filters(job: Job, front: pd.DataFrame, keys: list[str], look: Look, asked: Goals) -> None:
    """Range sliders and kinds; what they say is kept in SI with the job."""
    st.caption("KEEP DESIGNS WITH")
    for key, names in named(front).items():
        options = sorted(names.unique())
        if len(options) > 1:
            widget = f"filter:{key}:{job.id}:{job.revision}"
            hold(widget, [option for option in options if option in job.filters.get(key, options)])
            st.pills(
                FILTER_NAMES[key],
                options,
                selection_mode="multi",
                format_func=partial(option_name, key),
                key=widget,
                on_change=take_kinds,
                args=(job, key, widget, options),
            )
    within_the_model(job, front)
    for key in keys:
        range_slider(job, front, key, look)
    with st.container(horizontal=True):
        st.button(
            "Within limits",
            key="within-limits",
            help="Only designs that stay within every Xmax and the vent air speed limit",
            on_click=stay_within_limits,
            args=(job, asked),
        )
        st.button("Clear", key="clear-filters", disabled=not job.filters, on_click=clear_filters, args=(job,))


def option_name(key: str, option: str) -> str:
    """What a filter by name calls one of its options."""
    if key == DRIVERS:
        return option
    return VENT_NAMES[option] if key == VENTS else CHOICES[option]


def within_the_model(job: Job, front: pd.DataFrame) -> None:
    """Leave out what the model does not fully cover, where that tells designs apart."""
    covered = int((front[BEYOND] == "").sum())
    if covered == len(front):
        return
    widget = f"filter:{BEYOND}:{job.id}:{job.revision}"
    hold(widget, BEYOND in job.filters)
    st.toggle(
        "Only designs the model fully covers",
        key=widget,
        disabled=covered == 0 and BEYOND not in job.filters,
        help=f"{thousands(covered)} of {thousands(len(front))}. The others pass a limit of the model: air too fast, a "
        "cone beyond Xmax, a standing wave or a vent's own resonance within the music band.",
        on_change=take_covered,
        args=(job, widget),
    )


def take_covered(job: Job, widget: str) -> None:
    job.filters.pop(BEYOND, None)
    if st.session_state[widget]:
        job.filters[BEYOND] = [""]


def range_slider(job: Job, front: pd.DataFrame, key: str, look: Look) -> None:
    column = COLUMNS[key]
    low, high, step = slider_scale(front[key], column, look.units)
    value = [low, high]
    for end, bound in enumerate(job.filters.get(key, [None, None])):
        if bound is not None:
            shown = round(float(displayed(bound, column, look.units)), decimals(step))
            value[end] = min(max(shown, low), high)
    widget = f"filter:{key}:{look.units}:{job.id}:{job.revision}"
    hold(widget, (value[0], value[1]))
    st.slider(
        heading(key, look.units, look.currency),
        low,
        high,
        step=step,
        format=f"%.{decimals(step)}f",
        key=widget,
        on_change=take_range,
        args=(job, key, widget, (low, high), look.units),
    )


def quick_picks(job: Job, front: pd.DataFrame, objectives: tuple[str, ...], look: Look) -> None:
    """Ways into the front for those who would rather not aim at a dot."""
    places = {"balanced": balanced(front, objectives), **extremes(front, objectives)}
    with st.container(horizontal=True):
        for key, place in places.items():
            row = front.iloc[place]
            why = weighed(front.iloc[[place]]) if key == "balanced" else None
            st.button(quick_label(key, row, look), key=f"quick:{key}", help=why, on_click=pick, args=(job, row["id"]))


def quick_label(key: str, row: Any, look: Look) -> str:
    if key == "balanced":
        return "Balanced"
    return f"{GOALS[key].best}: {figure_of(row, key, look.units, look.currency)}"


def pick(job: Job, design: str) -> None:
    """Make a design of the front the pick."""
    assert job.found is not None
    job.pick = choose(job.found, design) or job.pick


def take_click(job: Job, key: str) -> None:
    assert job.found is not None
    design = clicked(st.session_state.get(key), job.found.front)
    if design is not None:
        pick(job, design)


def take_axis(job: Job, axis: str, key: str) -> None:
    job.axes[axis] = st.session_state[key]


def take_kinds(job: Job, key: str, widget: str, options: list[str]) -> None:
    wanted = list(st.session_state[widget])
    job.filters.pop(key, None)
    if len(wanted) < len(options):
        job.filters[key] = wanted


def take_range(job: Job, key: str, widget: str, ends: tuple[float, float], units: Units) -> None:
    """Keep a slider's range in SI; an end left at its stop is open."""
    from_slider = st.session_state[widget]
    bounds = [
        None if value == stop else from_shown(value, COLUMNS[key], units)
        for value, stop in zip(from_slider, ends, strict=True)
    ]
    job.filters.pop(key, None)
    if bounds != [None, None]:
        job.filters[key] = bounds


def stay_within_limits(job: Job, asked: Goals) -> None:
    """Keep what breaks neither an Xmax nor the vent air speed limit, beside the other filters."""
    for goal in GOALS.records:
        if goal.mark is not None:
            most = goal.mark.most(asked) + goal.noticed  # the front keeps rounded figures, and many stand at the limit
            low, high = job.filters.get(goal.key, [None, None])
            job.filters[goal.key] = [low, most if high is None else min(high, most)]
    job.revision += 1


def clear_filters(job: Job) -> None:
    """Open every filter, the widgets' own memory included."""
    job.filters = {}
    job.revision += 1


page()
