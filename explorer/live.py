"""A front that follows the job: searched on by itself when something in the job changes, drawn before the one it was.

What a page calls first is :func:`take_over` and :func:`keep_up`; :func:`beside` is the small picture beside the inputs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import streamlit as st

from engine.errors import SearchImpossible
from engine.insight.reasons import balanced
from engine.quantities import Units
from engine.report.shortages import misses
from engine.scenario import Scenario
from engine.search.runs import Progress
from engine.words.voice import first_down
from explorer import frame
from explorer.chart_words import front_in_words
from explorer.charts import Look, Scene, faint, spans
from explorer.choices import DRAWN_MOST, representative, usual_axes, worth_an_axis
from explorer.labels import sentence, thousands
from explorer.markdown import plain
from explorer.memory import memory
from explorer.plainly import FormVoice
from explorer.readiness import readiness
from explorer.reading import read
from explorer.session import Chosen, Job, SearchResult, row_of, rows_of, searched
from explorer.specs import Spec, small_spec
from explorer.what_changed import what_changed, what_it_did
from explorer.worker import LiveTask, SearchTask

SOON = 0.8  # s that a page waits for the front of a job that has just been changed
BESIDE = 120  # designs drawn beside the inputs
GROWN = 1.5  # times the designs tried when that was last drawn
DRAWN = "beside"


def take_over(job: Job) -> bool:
    """Take over the outcome of a search that has ended, a live one or not; whether there was one."""
    task = frame.searches().of(job.id)
    if task is None or task.outcome is None:
        return False
    if task.overdue:
        frame.notice("The search was ended after an hour. What it had found is kept.")
    outcome, earlier = task.outcome, job.found
    job.found = SearchResult(outcome.front, outcome.record, task.document, rows_of(outcome.left_out))
    frame.searches().drop_all(job.id)  # what is being worked out is of the front as it was
    if isinstance(task, LiveTask):
        job.previous = task.base
        follow_the_pick(job, task)
        return True
    job.previous = None
    # What was narrowed down on a demo's stored front is asked of the full one too.
    if earlier is None or not earlier.came_with_demo:
        job.filters = {}
    pick_all_rounder(job)
    return True


def pick_all_rounder(job: Job) -> None:
    """Make the balanced design of the front found the pick."""
    assert job.found is not None
    front = job.found.front
    job.pick = Chosen(row_of(front, balanced(front, tuple(job.found.record["objectives"]))), job.found.document)


def keep_up(job: Job) -> None:
    """Have the front follow the job where that has changed; what answered an earlier change is let go."""
    scenario, searches = frame.reading().scenario, frame.searches()
    task = searches.of(job.id)
    if scenario is None:
        return
    if job.found is None:
        let_go(task, job)
        return
    if not job.changed_since_search:
        if isinstance(task, LiveTask):
            searches.drop(job.id)
        return
    if task is not None and searched(task.document) == searched(job.document):
        return
    base = base_of(job.found, task)
    before = read(base.document, job.source).scenario
    if before is None:
        return
    pick = None if job.pick is None else pd.DataFrame([job.pick.row])
    live = LiveTask(scenario, job.document, base=base, before=before, pick=pick, ready=readiness().wait)
    searches.replace(job.id, live)


def begin_early(job: Job) -> None:
    """The same before the job is written to disk and anything drawn, unless an outcome has to be taken over first."""
    task = frame.searches().of(job.id)
    if task is None or task.outcome is None:
        keep_up(job)


def let_go(task: SearchTask | None, job: Job) -> None:
    """End a job's first search where it answers the job as it was and has found something to follow from."""
    now = None if task is None else task.progress
    if task is not None and now is not None and now.front_size and searched(task.document) != searched(job.document):
        task.cancel()


def base_of(found: SearchResult, task: SearchTask | None) -> SearchResult:
    """The front to go on from: what a search of that job has come to so far, if there is one, or the one found."""
    if task is None or isinstance(task, LiveTask) or searched(task.document) != searched(found.document):
        return found
    if task.outcome is not None:
        return SearchResult(task.outcome.front, task.outcome.record, task.document)
    now = task.progress
    front = None if now is None else now.front()
    return found if front is None or front.empty else SearchResult(front, found.record, task.document)


def follow_the_pick(job: Job, task: LiveTask) -> None:
    """After a change the pick is its own self on the new front, or the one nearest to that, or what it was."""
    assert job.found is not None
    became = task.followed
    if job.pick is None:
        pick_all_rounder(job)
        return
    name = plain(job.pick.row["id"])
    if became is not None and became.built:
        there = int(np.flatnonzero(job.found.front["id"] == became.row["id"])[0])
        job.pick = Chosen(row_of(job.found.front, there), task.document)
        if not became.same:
            frame.notice(
                f"Your pick {name} is beaten in the changed job: {plain(job.pick.row['id'])} comes nearest to it."
            )
        return
    lacks = "nothing in the job is of its kind"
    if became is not None:
        how, what = misses(became.row, job.units)
        lacks = f"{first_down(how)} {what}"
    frame.notice(f"Your pick {name} cannot be built in the changed job ({lacks}); it stays as it was found.")


def failure_in_words(failure: SearchImpossible | str, units: Units) -> str:
    """Why nothing came of a search, as a sentence on a page."""
    return plain(sentence(failure if isinstance(failure, str) else failure.told(FormVoice(units))))


def since(job: Job) -> str:
    """What was changed before the front on show was found, and what it did; empty where that is not known."""
    if job.previous is None or job.found is None:
        return ""
    before, after = (read(each.document, job.source).scenario for each in (job.previous, job.found))
    if before is None or after is None:
        return ""
    return in_words(before, after, job.previous, job.found.front)


def in_words(before: Scenario, after: Scenario, base: SearchResult, front: pd.DataFrame) -> str:
    """The same as Markdown."""
    *change, did = map(plain, followed_in_words(before, after, base, front))
    return " ".join([*(f"**{each}**" for each in change), did])


def followed_in_words(before: Scenario, after: Scenario, base: SearchResult, front: pd.DataFrame) -> list[str]:
    """What differs in a job from before, and what that did to the best in each goal, from ``base`` to a new front.

    A sentence each; only the last where nothing differs, as where the same was written otherwise.
    """
    look = frame.look(after.currency)
    change = what_changed(before, after, look.units)
    did = what_it_did(base.front, front, after.goals.objectives, look.units, look.currency)
    return [sentence(change), did] if change else [did]


def behind(
    base: SearchResult | None, shown: Sequence[str], keys: Sequence[str], look: Look, *, most: int = DRAWN_MOST
) -> Any:
    """The front of the job as it was, to stand behind one drawn with ``keys``: at most so many of its designs."""
    if base is None or not len(base.front):
        return None
    few = representative(base.front, [key for key in shown if key in base.front], most=most)
    drawn = [key for key in dict.fromkeys(keys) if key in base.front]  # one goal may stand on both axes
    return faint(base.front[drawn].iloc[few], keys, look.units)


def wider_spans(front: pd.DataFrame, base: SearchResult | None, keys: Sequence[str], look: Look) -> Any:
    """What axes reach over that hold a front and the one behind it."""
    found = spans(front, keys, look.units)
    if base is not None and len(base.front):
        for key, (low, high) in spans(base.front, [key for key in keys if key in base.front], look.units).items():
            found[key] = min(low, found[key][0]), max(high, found[key][1])
    return found


def beside(job: Job) -> None:
    """The front in little room, beside the inputs that it follows; nothing while an outcome has to be taken over."""
    task = frame.searches().of(job.id)
    if task is not None and task.outcome is not None:
        return
    running = task is not None and not task.finished
    st.fragment(picture, run_every=frame.POLL_SECONDS if running else None)(job)


def picture(job: Job) -> None:
    """What :func:`beside` shows, drawn anew by itself while a search runs."""
    task = frame.searches().of(job.id)
    if task is not None and task.outcome is not None:
        st.rerun()
    st.caption("FRONT")
    if frame.reading().faults:
        st.caption("It waits until the job is put right; what is drawn answers it as it was.")
    elif isinstance(task, LiveTask) and task.failure is not None:
        st.warning(failure_in_words(task.failure, job.units))
    if isinstance(task, LiveTask) and not task.finished:
        task.looked()
        now = task.await_front(SOON)
        show(job, growing(job, task, now) if now is not None and now.front_size else standing(job))
        task.drawn()
        tried = 0 if now is None else now.evaluations
        told = f"{thousands(tried)} more designs tried; faint: as it was." if tried else "Judging it again…"
        st.caption(told)
    else:
        show(job, standing(job))


@dataclass(frozen=True)
class Drawn:
    """A picture as it was drawn last: of what, how far that was, and with which words."""

    of: SearchTask | SearchResult
    stamp: tuple[int, int]
    units: Units
    words: str
    chart: Spec
    told: str  # what the picture tells, for whoever does not see it


def growing(job: Job, task: LiveTask, now: Progress) -> Drawn:
    """The front as it stands, drawn anew when it has grown."""

    def made() -> tuple[str, Spec, str]:
        front = now.front()
        return in_words(task.before, task.scenario, task.base, front), *drawn_small(front, task.base, task.scenario)

    return drawn_of(task, DRAWN, (now.evaluations, now.front_size), job.units, GROWN, make=made)


def standing(job: Job) -> Drawn | None:
    """The front found, as it is on show until a change has an answer; None where there is none."""
    found = job.found
    scenario = None if found is None else read(found.document, job.source).scenario
    if found is None or scenario is None:
        return None

    def made() -> tuple[str, Spec, str]:
        return since(job), *drawn_small(found.front, job.previous, scenario)

    return drawn_of(found, DRAWN, (0, 0), job.units, GROWN, make=made)


def drawn_of(
    of: SearchTask | SearchResult, name: str, stamp: tuple[int, int], units: Units, times: float, *,
    make: Callable[[], tuple[str, Spec, str]],
) -> Drawn:  # fmt: skip
    """Words and picture of something as the session has them by a name, made anew where that has grown so many times.

    ``stamp`` is how far it is: designs tried, and designs on its front.
    """
    last: Drawn | None = memory().get(name)
    if last is None or last.of is not of or last.units != units or has_grown(last.stamp, stamp, times):
        last = memory()[name] = Drawn(of, stamp, units, *make())
    return last


def has_grown(before: tuple[int, int], now: tuple[int, int], times: float) -> bool:
    """Whether it is worth drawing a front anew: evaluations and designs when it was drawn last, and now."""
    return now[0] >= times * before[0] if before[0] else now != before


def drawn_small(front: pd.DataFrame, base: SearchResult | None, scenario: Scenario) -> tuple[Spec, str]:
    """A front before the one that it goes on from, on the usual axes, its all-rounder marked; and the same in words."""
    look = frame.look(scenario.currency)
    keys = worth_an_axis(front, scenario.goals.objectives)
    objectives = [key for key in scenario.goals.objectives if key in keys]
    axes = usual_axes(keys, objectives)
    places = list(dict.fromkeys([axes["x"], axes["y"]]))
    best = balanced(front, scenario.goals.objectives)
    few = np.union1d(representative(front, objectives, most=BESIDE), [best])
    scene = Scene(
        frame=faint(front[places].iloc[few], places, look.units).assign(mark=np.where(few == best, "best", "")),
        spans=wider_spans(front, base, places, look),
        look=look,
        behind=behind(base, objectives, places, look, most=BESIDE),
    )
    told = front_in_words(front, axes["x"], axes["y"], look, marks={front["id"].iloc[best]: "the all-rounder"})
    if base is not None:
        told += " The front as it was stands faintly behind."
    return small_spec(scene, x=axes["x"], y=axes["y"]), told


def show(job: Job, drawn: Drawn | None) -> None:
    if drawn is None:
        return
    st.vega_lite_chart(drawn.chart, width="stretch", key=f"beside:{job.id}", alt=drawn.told)
    if drawn.words:
        st.caption(drawn.words)
