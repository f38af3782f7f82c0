"""The picking surface of a job: which front is on it, what is marked there, and the pick's curves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from engine.goals import GOALS
from engine.insight.reasons import balanced, extremes
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.quantities import Units
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait, lay_over
from engine.report.tracks import as_plain
from engine.report.wording import drivers, figure_of
from engine.scenario import Scenario
from engine.search.practice import weighed
from explorer import frame, panels
from explorer.chart_words import figures_in_words
from explorer.charts import Look, Scene, parallel, plotted, scatter, spans
from explorer.choices import AXES, representative, usual_axes, worth_an_axis
from explorer.live import behind, followed_in_words
from explorer.memory import memory
from explorer.narrowing import BEYOND, made_once, named, passing, remembered
from explorer.readiness import WORDS as READY_WORDS
from explorer.reading import read
from explorer.session import Chosen, Job, SearchResult, choose
from explorer.surface import acts, surface
from explorer.surface_acts import Fault, beside, do
from explorer.surface_data import STEPPED_MOST, bounds_shown, written
from explorer.take_away import Item, of_chart, of_curves
from explorer.traits import TRAITS, options_of
from explorer.worker import LiveTask, SearchTask

DRAWINGS_KEPT = 32
PICTURES = {"isometric": "Box", "section": "Side", "front": "Panel"}
TAB = "surface-tab"
FAULT = "surface-fault"
BEST = "Best so far"
WAIT = "Designs can be picked once the search has ended, or you have stopped it."


def on_the_surface(job: Job, found: SearchResult, scenario: Scenario, grown: pd.DataFrame | None = None) -> None:
    """The front of a job to pick from; ``grown`` is that of a search under way, which stands behind it."""
    look = frame.look(scenario.currency)
    front, goals = found.front, scenario.goals.objectives
    keys = worth_an_axis(front, goals)
    objectives = [key for key in goals if key in keys]
    passed = front[passing(front, job.filters)]
    base = job.previous if grown is None else SearchResult(grown, {}, found.document)
    _draw(
        job, front, keys, objectives, look,
        few=_few(job, front, passed, objectives),
        marks=panels.marks(job),
        behind=made_once("surface-behind", base, keys, look, make=lambda: _behind(base, objectives, keys, look)),
        quick=remembered(job, "quick", goals, look, make=lambda: quick_picks(passed, objectives, look)),
        pick=_pick(job, found, keys, look),
        limits=any(goal.mark is not None and goal.key in front for goal in GOALS.records),
           )  # fmt: skip


def growing_surface(job: Job, task: SearchTask, front: pd.DataFrame) -> None:
    """The front of a search under way, drawn as the one it comes to will be; nothing on it can be picked yet.

    The box that it would open with is marked and described by the surface itself, so that both are of one moment.
    """
    scenario = task.scenario
    look, goals = frame.look(scenario.currency), scenario.goals.objectives
    keys = worth_an_axis(front, goals)
    objectives = [key for key in goals if key in keys]
    base = task.base if isinstance(task, LiveTask) else None
    changed = followed_in_words(task.before, scenario, task.base, front) if isinstance(task, LiveTask) else []
    best: Any = front.iloc[balanced(front, goals)]
    lines = [f"{KINDS[best['box_kind']].label}, {drivers(best)}", *changed, WAIT]
    few = made_once("growing-few", front, make=lambda: representative(front, objectives, most=STEPPED_MOST))
    _draw(
        job, front, keys, objectives, look,
        few=few, marks={}, pick={"id": str(best["id"]), "there": True, "lines": lines},
        behind=made_once("growing-behind", base, keys, look, make=lambda: _behind(base, objectives, keys, look)),
        quick=[], limits=False, growing=BEST,
    )  # fmt: skip


def _draw(job: Job, front: pd.DataFrame, keys: list[str], objectives: list[str], look: Look, **more: Any) -> None:
    key = f"surface:{job.component_id}"
    axes = axes_of(job, keys, objectives)
    memory()[f"{key}:asked"] = (keys, look)
    surface(
        front=made_once(
            "surface-front", front, keys, objectives, look, make=lambda: written(front, keys, objectives, look)
        ),
        ink=look.ink,
        dark=look.dark,
        axes=axes,
        beside=beside(job.axes, keys, objectives, job.filters),
        ranges=bounds_shown(job.filters, keys, look),
        names={name: job.filters[name] for name in named(front) if name in job.filters},
        covered=BEYOND in job.filters,
        tab=memory().get(TAB, ""),
        fault=memory().get(FAULT),
        key=key,
        on_act=lambda: take(job, key),
        **more,
    )


def axes_of(job: Job, keys: list[str], objectives: list[str]) -> dict[str, str]:
    """What stands across, up, as colour and as shape."""
    usual = usual_axes(keys, objectives, job.axes)
    colour, shape = job.axes.get("colour", ""), job.axes.get("shape", "box_kind")
    return {
        **{axis: usual[axis] for axis in AXES},
        "colour": colour if colour in TRAITS or colour in keys else usual["colour"],
        "shape": shape if shape in TRAITS or shape in keys else "box_kind",
    }


def take(job: Job, key: str) -> None:
    """Do what was done on the surface."""
    keys, look = memory()[f"{key}:asked"]
    fault: Fault | None = None
    for act in acts(key):
        if act["does"] == "tab":
            memory()[TAB] = act["key"]
        elif job.found is not None:
            scenario = read(job.found.document, job.source).scenario
            if scenario is not None:
                fault = do(job, act, keys=keys, look=look, asked=scenario.goals)
    memory()[FAULT] = fault


def to_take_along(job: Job, found: SearchResult, scenario: Scenario) -> list[Item]:
    """The pictures of the surface as charts that stand by themselves, and the pick's curves; made when asked for."""
    look = frame.look(scenario.currency)
    keys = worth_an_axis(found.front, scenario.goals.objectives)
    objectives = [key for key in scenario.goals.objectives if key in keys]
    axes = axes_of(job, keys, objectives)
    drawn_by = {"colour": axes["colour"], "shape": axes["shape"]}
    passed = found.front[passing(found.front, job.filters)]
    marks = panels.marks(job)

    def scene() -> Scene:
        few = representative(passed, objectives)
        marked = passed["id"].isin(list(marks)).to_numpy().nonzero()[0]
        paper = replace(look, ink=LIGHT, dark=False)
        frame = plotted(passed.iloc[np.union1d(few, marked)], keys, paper, marks)
        traits = {key: options_of(key, found.front[key]) for key in TRAITS}
        return Scene(frame=frame, spans=spans(found.front, keys, look.units), look=paper, traits=traits)

    def front() -> alt.LayerChart:
        return scatter(scene(), x=axes["x"], y=axes["y"], objectives=objectives, **drawn_by)

    items = []
    if len(passed):
        items += [
            of_chart("The front", front, lambda: scene().frame),
            of_chart("All figures side by side", lambda: parallel(scene(), objectives, **drawn_by), lambda: passed),
        ]
    design = None if job.pick is None else judged_now(job, job.pick)
    return items if design is None else [*items, *of_curves([Portrait(design)], look.units)]


def quick_picks(passed: pd.DataFrame, objectives: Sequence[str], look: Look) -> list[tuple[str, str, str]]:
    """Ways into the front for those who would rather not aim at a dot: id, label, why."""
    if passed.empty:
        return []
    middle = balanced(passed, tuple(objectives))
    ways = [(str(passed["id"].iloc[middle]), "Balanced", weighed(passed.iloc[[middle]]))]
    for key, place in extremes(passed, tuple(objectives)).items():
        row: Any = passed.iloc[place]
        ways.append((str(row["id"]), f"{GOALS[key].best}: {figure_of(row, key, look.units, look.currency)}", ""))
    return ways


def _few(job: Job, front: pd.DataFrame, passed: pd.DataFrame, objectives: list[str]) -> list[int]:
    """Positions of the designs to step through, of those that pass."""

    def made() -> list[int]:
        places = np.flatnonzero(front["id"].isin(passed["id"]).to_numpy())
        return [int(place) for place in places[representative(passed, objectives, most=STEPPED_MOST)]]

    return remembered(job, "few", objectives, make=made)


def _behind(base: SearchResult | None, objectives: list[str], keys: list[str], look: Look) -> dict[str, list[float]]:
    faint = behind(base, objectives, [key for key in keys if base is not None and key in base.front], look)
    return {} if faint is None else {str(key): np.round(faint[key].to_numpy(float), 6).tolist() for key in faint}


def _pick(job: Job, found: SearchResult, keys: Sequence[str], look: Look) -> dict[str, Any] | None:
    """The pick as the surface takes it; its curves once what they are worked out by is compiled."""
    if job.pick is None:
        return None
    scenario = read(job.pick.document, job.source).scenario
    if scenario is None:
        return None
    name, there = job.pick.row["id"], job.pick == choose(found, job.pick.row["id"])
    what, *more = panels.told_of(job.pick.row, scenario, look.units)
    if not there:
        had = figures_in_words(job.pick.row, [key for key in found.record["objectives"] if key in job.pick.row], look)
        more.insert(0, f"Not on this front, where {name} may be another box. Your pick stays as it was found: {had}")
    told: dict[str, Any] = {"id": name, "there": there, "lines": [what, *more]}
    if not there:
        row: Any = job.pick.row
        told["figures"] = {key: figure_of(row, key, look.units, look.currency) for key in keys if key in row}
    design = judged_now(job, job.pick)
    if design is None:
        return told | {"waiting": f"{READY_WORDS}. The curves follow."}
    tab = memory().get(TAB, "")
    pictures = {
        view: {
            "tab": name,
            "words": f"{panels.VIEW_WORDS[view]}: {job.pick.row['id']}",
            "svg": _inked(design, view, look) if tab == view else "",
        }
        for view, name in PICTURES.items()
    }
    return told | {"curves": _curves(Portrait(design), look.units), "stamp": look.units, "pictures": pictures}


def judged_now(job: Job, chosen: Chosen) -> JudgedDesign | None:
    """A chosen design, judged; None as long as that needs something compiled, or where its scenario reads no more."""
    return frame.judged_designs().of(chosen, job.source) if frame.is_ready() else None


@lru_cache(maxsize=DRAWINGS_KEPT)
def _curves(portrait: Portrait, units: Units) -> str:
    drawing = lay_over([portrait], units=units, ink=LIGHT, hover=False)
    return json.dumps(as_plain(portrait, drawing), ensure_ascii=False)


def _inked(design: JudgedDesign, view: str, look: Look) -> str:
    return panels.inked(_drawing(design, view, look.units), look.ink)


@lru_cache(maxsize=DRAWINGS_KEPT)
def _drawing(design: JudgedDesign, view: str, units: Units) -> str:
    return design.drawing(view, units)
