"""A front that follows the job (promises to the user): by itself, the newest change first, nothing lost on the way."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.errors import SearchImpossible
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.runs import Progress, Run
from explorer import frame, live, worker
from explorer.demo_fronts import stored_front
from explorer.helpers import resting
from explorer.markdown import plain
from explorer.session import Job, SearchResult
from explorer.worker import LiveTask, Searches, SearchTask
from tests.explorer.pages import FIRST_DEMO, PATIENCE, job_of, searched, sound, surface_on, typing, words_on


@pytest.fixture(scope="module")
def van() -> Scenario:
    return read_scenario(demo_scenarios()[FIRST_DEMO])


@pytest.fixture(scope="module")
def base(van: Scenario) -> SearchResult:
    found = stored_front(FIRST_DEMO)
    return SearchResult(found.front, found.record, dict(van.document))


def task_of(van: Scenario, base: SearchResult, search: Callable[..., Any]) -> LiveTask:
    return LiveTask(van, {"title": "changed"}, base=base, before=van, search=search)


class Stages:
    """A search that tells its progress whenever it is let on."""

    def __init__(self) -> None:
        self.on, self.told = threading.Semaphore(0), threading.Semaphore(0)

    def __call__(self, scenario: Scenario, *, progress: Any, cancelled: Callable[[], bool], **_: Any) -> Run:
        number = 0
        while not cancelled():
            with resting():
                self.on.acquire(timeout=PATIENCE)
            number += 1
            progress(Progress(1_000 * number, 1_000_000, 3, lambda: stored_front(FIRST_DEMO).front))
            self.told.release()
        return stored_front(FIRST_DEMO)


class Clock:
    """Seconds that go by when a test says so."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def monotonic(self) -> float:
        return self.seconds


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(worker, "time", clock)
    return clock


@pytest.fixture
def begun(van: Scenario, base: SearchResult, clock: Clock) -> tuple[LiveTask, Stages]:
    """A live search that has begun, and what lets it on."""
    stages = Stages()
    task = task_of(van, base, stages)
    task.start()
    return task, stages


def test_a_live_search_waits_while_nobody_looks_and_goes_on_when_somebody_does(
    begun: tuple[LiveTask, Stages], clock: Clock
) -> None:
    task, stages = begun
    stages.on.release()
    assert stages.told.acquire(timeout=PATIENCE)
    assert task.await_front(PATIENCE) is not None
    clock.seconds += worker.UNSEEN + 1.0
    stages.on.release()
    assert not stages.told.acquire(timeout=0.3)  # told, and kept there
    task.looked()
    assert stages.told.acquire(timeout=PATIENCE)
    clock.seconds += worker.GIVEN_UP + 1.0
    stages.on.release()
    assert task.wait(PATIENCE)
    assert task.cancelled
    assert task.outcome is not None


def test_a_live_search_goes_on_once_its_first_front_is_drawn(
    begun: tuple[LiveTask, Stages], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The picture that somebody waits for has the interpreter for itself."""
    monkeypatch.setattr(worker, "DRAWING", PATIENCE)
    task, stages = begun
    stages.on.release()
    assert task.await_front(PATIENCE) is not None
    assert not stages.told.acquire(timeout=0.3)  # told, and kept there
    task.drawn()
    assert stages.told.acquire(timeout=PATIENCE)
    stages.on.release()
    assert stages.told.acquire(timeout=PATIENCE)  # once is enough
    task.cancel()
    stages.on.release()
    assert task.wait(PATIENCE)


def test_a_cancelled_one_does_not_wait_for_anybody(begun: tuple[LiveTask, Stages], clock: Clock) -> None:
    task, stages = begun
    clock.seconds = worker.UNSEEN + 1.0
    stages.on.release()
    assert not stages.told.acquire(timeout=0.3)
    task.cancel()
    assert task.wait(PATIENCE)


def test_the_newest_change_wins(van: Scenario, base: SearchResult) -> None:
    searches, stages = Searches(), Stages()
    tasks = [task_of(van, base, stages) for _ in range(3)]
    for task in tasks:
        searches.replace("job", task)
    assert [task.cancelled for task in tasks] == [True, True, False]
    assert searches.of("job") is tasks[-1]
    searches.drop("job")
    stages.on.release(2 * len(tasks))
    assert all(task.wait(PATIENCE) for task in tasks)


def test_two_jobs_have_a_live_search_each(van: Scenario, base: SearchResult) -> None:
    searches, stages = Searches(), Stages()
    one, other = (task_of(van, base, stages) for _ in range(2))
    searches.replace("one", one)
    searches.replace("other", other)
    assert not one.cancelled
    searches.drop("one")
    assert (one.cancelled, other.cancelled) == (True, False)
    searches.drop("other")
    stages.on.release(4)
    assert one.wait(PATIENCE)
    assert other.wait(PATIENCE)


def test_a_change_goes_on_from_what_a_full_search_has_come_to(van: Scenario, base: SearchResult) -> None:
    full = SearchTask(van, dict(van.document), search=Stages())
    assert live.base_of(base, full) is base
    more = stored_front(FIRST_DEMO).front.iloc[:7]
    full.progress = Progress(9_000, 1_000_000, 7, lambda: more)
    assert live.base_of(base, full).front is more
    full.outcome = stored_front(FIRST_DEMO)
    assert live.base_of(base, full).front is full.outcome.front
    assert live.base_of(base, SearchTask(van, {"space": {}}, search=Stages())) is base


@pytest.fixture
def changing(opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch) -> Iterator[AppTest]:
    """Space & parts of the small job, once that has been searched; no search waits to be looked at."""
    monkeypatch.setattr(worker, "UNSEEN", PATIENCE)
    test = opened_searched()
    sound(test)
    yield test.switch_page("views/space_parts.py").run()
    frame.searches().drop(job_of(test).id)


def test_a_first_search_that_ends_beside_the_inputs_is_taken_over_there(opened: Callable[[], AppTest]) -> None:
    """Space & parts shows its front, and what is being typed stays, also where the first search ended there."""
    test = opened()
    test.switch_page("views/space_parts.py").run()
    job = job_of(test)
    revision = job.revision
    searched(test)
    assert job.pick is not None
    assert frame.searches().of(job.id) is None
    assert job.revision == revision


def test_what_is_worked_out_of_a_front_ends_with_it(changing: AppTest, van: Scenario, base: SearchResult) -> None:
    """A price or a spread that was asked for of an earlier front is not told of the new one."""
    job = job_of(changing)
    beside, other = (SearchTask(van, {}, search=Stages()) for _ in range(2))
    frame.searches().replace(f"{job.id}:price", beside)
    frame.searches().replace("another-job:price", other)
    typing(changing, "space.width").set_value("1240 mm").run()
    searched(changing)
    assert (beside.cancelled, other.cancelled) == (True, False)
    assert frame.searches().of(f"{job.id}:price") is None
    frame.searches().drop("another-job:price")


def live_task(test: AppTest) -> LiveTask:
    task = frame.searches().of(job_of(test).id)
    assert isinstance(task, LiveTask)
    return task


def test_the_front_follows_a_change_by_itself(changing: AppTest) -> None:
    job = job_of(changing)
    assert job.found is not None
    before, pick, shortlist = job.found, job.pick, list(job.shortlist)
    typing(changing, "space.width").set_value("1240 mm").run()
    task = live_task(changing)
    assert task.base is before
    assert task.await_front(PATIENCE) is not None
    changing.run()
    assert "Free width" in words_on(changing)
    assert plain("more (1240 mm)") in words_on(changing)
    changing.switch_page("views/trade_offs.py").run()
    searched(changing)
    assert job.previous is before
    assert job.found is not before
    assert not job.changed_since_search
    assert job.shortlist == shortlist
    assert job.pick is not None
    assert pick is not None
    assert job.pick.row["id"] in set(job.found.front["id"])
    assert (job.pick.row["box_kind"], job.pick.row["driver"]) == (pick.row["box_kind"], pick.row["driver"])
    shown = words_on(changing)
    assert plain("more (1240 mm)") in shown
    assert "faintly behind" in shown


def test_the_front_is_judged_again_before_the_job_is_written_and_drawn_before_all_else(
    changing: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What follows a change has begun when its page has not, and is what is seen first of it."""
    job, happened = job_of(changing), list[str]()
    save, show, sidebar = frame.save, live.show, frame.sidebar

    def saved(**how: bool) -> None:
        happened.append("written, judging" if isinstance(frame.searches().of(job.id), LiveTask) else "written")
        save(**how)

    def shown(*what: Any) -> None:
        happened.append("front")
        show(*what)

    def framed(*where: Any) -> None:
        happened.append("menu")
        sidebar(*where)

    monkeypatch.setattr(frame, "save", saved)
    monkeypatch.setattr(live, "show", shown)
    monkeypatch.setattr(frame, "sidebar", framed)
    typing(changing, "space.width").set_value("1240 mm").run()
    assert happened[:3] == ["written, judging", "front", "menu"]


def test_what_has_ended_is_taken_over_before_a_change_goes_on_from_it(changing: AppTest) -> None:
    job = job_of(changing)
    typing(changing, "space.width").set_value("1240 mm").run()
    ended = live_task(changing)
    assert ended.wait(PATIENCE)
    typing(changing, "space.width").set_value("1250 mm").run()
    assert job.found is not None
    assert ended.outcome is not None
    assert job.found.front is ended.outcome.front
    assert live_task(changing).base is job.found


def test_what_is_being_typed_outlives_the_end_of_a_live_search(changing: AppTest) -> None:
    """Widgets that a page knows by the job's revision keep what is in them."""
    job = job_of(changing)
    revision = job.revision
    typing(changing, "space.width").set_value("1240 mm").run()
    assert live_task(changing).wait(PATIENCE)
    changing.run()
    assert not job.changed_since_search
    assert job.revision == revision


def test_the_same_written_otherwise_is_not_told_as_a_change(changing: AppTest) -> None:
    job, width = job_of(changing), typing(changing, "space.width").value
    assert width.endswith(" mm")
    typing(changing, "space.width").set_value(f"{float(width.removesuffix(' mm')) / 10:g} cm").run()
    searched(changing)
    assert job.previous is not None
    shown = words_on(changing)
    assert "****" not in shown
    assert "At best" in shown or "No goal's best has moved" in shown


def test_a_change_taken_back_has_the_front_it_had(changing: AppTest) -> None:
    job = job_of(changing)
    before, width = job.found, typing(changing, "space.width").value
    typing(changing, "space.width").set_value("1240 mm").run()
    task = live_task(changing)
    typing(changing, "space.width").set_value(width).run()
    assert task.cancelled
    assert frame.searches().of(job.id) is None
    assert job.found is before


def test_faults_leave_the_front_as_it_was(changing: AppTest) -> None:
    job = job_of(changing)
    before = job.found
    typing(changing, "space.width").set_value("twelve hundred").run()
    sound(changing)
    assert frame.searches().of(job.id) is None
    assert job.found is before
    assert "waits until the job is put right" in words_on(changing)


def test_what_the_job_is_called_starts_nothing(changing: AppTest) -> None:
    job = job_of(changing)
    changing.segmented_control(key=f"group:{job.id}").set_value("Job").run()
    typing(changing, "title").set_value("Another name").run()
    assert frame.searches().of(job.id) is None


def test_a_change_in_which_nothing_fits_says_so_and_keeps_the_front(changing: AppTest) -> None:
    job = job_of(changing)
    before, pick = job.found, job.pick
    typing(changing, "space.width").set_value("100 mm").run()
    task = live_task(changing)
    assert task.wait(PATIENCE)
    assert isinstance(task.failure, SearchImpossible)
    changing.run()
    sound(changing)
    assert (job.found, job.pick) == (before, pick)
    assert [each.value for each in changing.warning]


def test_a_pick_that_cannot_be_built_any_more_is_kept_and_told(changing: AppTest) -> None:
    job: Job = job_of(changing)
    pick = job.pick
    assert pick is not None
    typing(changing, "space.width").set_value(f"{1e3 * pick.row['outer_width_m'] - 20.0:.0f} mm").run()
    searched(changing)
    assert job.pick == pick
    assert [each.value for each in changing.warning if "cannot be built in the changed job" in each.value]
    assert job.found is not None
    assert job.found.front["outer_width_m"].max() < pick.row["outer_width_m"]
    changing.switch_page("views/trade_offs.py").run()
    sound(changing)
    told = surface_on(changing)["pick"]
    assert not told["there"]
    (said,) = [line for line in told["lines"] if line.startswith("Not on this front")]
    assert f"level at 30 Hz {pick.row['level_30_hz_db']:.1f} dB" in said
    assert told["figures"]["level_30_hz_db"] == f"{pick.row['level_30_hz_db']:.1f} dB"
