"""What the explorer's tests share: an invented front that needs no search."""

from __future__ import annotations

import shutil
import threading
import traceback
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from playwright.sync_api import Browser
from streamlit.runtime.scriptrunner import ScriptRunner
from streamlit.runtime.scriptrunner_utils.script_run_context import RunLocation, ThreadState
from streamlit.testing.v1 import AppTest

from engine.columns import COLUMNS
from engine.document import write_document
from engine.formats.scenario import demo_scenarios, read_document
from engine.search.runs import Run
from explorer import frame
from explorer.demo_fronts import stored_front
from explorer.session import new_id
from explorer.worker import SearchTask
from tests.explorer.browsing import launched
from tests.explorer.pages import APP, FIRST_DEMO, PATIENCE, Opener, job_of, remembered, restart, searched, sound


def invented_front(count: int, seed: int = 7) -> pd.DataFrame:
    """A front-shaped table with every column; figures are invented and trade off roughly."""
    rng = np.random.default_rng(seed)
    closed = rng.random(count) < 0.25
    radiating = ~closed & (np.arange(count) % 5 == 4)
    f3 = rng.uniform(24.0, 48.0, count)
    volume = rng.uniform(0.03, 0.07, count)

    def open_only(values: object) -> np.ndarray:
        return np.where(closed, np.nan, values)

    def vented_only(values: object) -> np.ndarray:
        return np.where(closed | radiating, np.nan, values)

    frame = pd.DataFrame(
        {
            "id": [f"D{number:04d}" for number in range(1, count + 1)],
            "box_kind": np.where(closed, "closed", np.where(radiating, "radiator", "vented")),
            "driver": np.where(rng.random(count) < 0.5, "Ten", "Twelve"),
            "driver_count": 1,
            "driver_rows": 1,
            "facing": "front",
            "baffle": "single",
            "wiring": "coils in series",
            "load_ohm": 4.0,
            "amplifier_power_w": 400.0,
            "outer_width_m": rng.uniform(0.6, 0.9, count),
            "outer_height_m": rng.uniform(0.35, 0.5, count),
            "top_depth_m": 0.15,
            "bottom_depth_m": 0.30,
            "back_angle_deg": 0.0,
            "baffle_angle_deg": 10.0,
            "gross_volume_m3": 1.2 * volume,
            "net_volume_m3": volume,
            "filling": np.where(closed, "half", "none"),
            "tuning_hz": open_only(0.95 * f3),
            "tuning_within_hz": open_only(0.01 * f3),
            "tuning_lumped_hz": open_only(0.98 * f3),
            "vent_kind": np.where(closed | radiating, "", "pipe"),
            "vent_count": np.where(closed | radiating, 0, 2),
            "vent_diameter_m": vented_only(0.0508),
            "vent_outer_diameter_m": vented_only(0.0603),
            "vent_length_m": vented_only(0.335),
            "pipe_outlet": np.where(closed | radiating, "", "usual"),
            "vent_placement": np.where(closed | radiating, "none", "through side"),
            "slot_width_m": np.nan,
            "slot_height_m": np.nan,
            "slot_turn_m": np.nan,
            "vent_flare_m": vented_only(0.0),
            "radiator": np.where(radiating, "Tray", ""),
            "radiator_count": np.where(radiating, 1, 0),
            "radiator_added_mass_kg": np.where(radiating, 0.12, np.nan),
            "radiator_ratio": np.where(radiating, rng.uniform(0.3, 1.2, count), 0.0),
            "notch_hz": np.where(radiating, 12.0, np.nan),
            "filter_shape": np.where(closed, "", "butterworth"),
            "filter_order": np.where(closed, 0, 2),
            "filter_q": open_only(0.7071),
            "filter_hz": open_only(22.0),
            "f3_hz": f3,
            "f3_box_hz": f3 - 1.0,
            "f3_cabin_hz": np.nan,
            "output_cabin_db": np.nan,
            "level_30_hz_db": 96.0 - 0.3 * (f3 - 24.0) + 60.0 * volume,
            "level_40_hz_db": 99.0 + 60.0 * volume,
            "level_50_hz_db": 101.0 + 0.2 * (f3 - 24.0),
            "power_share": rng.uniform(0.2, 1.0, count),
            "gain_limited_by": "excursion",
            "gain_limited_hz": 20.0,
            "coil_rise_k": 60.0,
            "compression_db": 1.2,
            "first_mode_hz": 231.0,
            "vent_resonance_hz": vented_only(410.0),
            "model_to_hz": 120.0,
            "beyond_model": np.where(rng.random(count) < 0.3, "fast air", ""),
            "output_db": 104.0 + 0.4 * (f3 - 24.0) + 60.0 * volume,
            "excursion_ratio": rng.uniform(0.4, 1.4, count),
            "vent_speed_m_s": np.where(closed | radiating, 0.0, rng.uniform(4.0, 24.0, count)),
            "vent_mach": vented_only(0.04),
            "outer_volume_m3": 1.4 * volume,
            "outer_depth_m": 0.30,
            "bevel_angles": 1.0,
            "weight_kg": rng.uniform(15.0, 30.0, count),
            "cost": np.nan,
            "brace_count": 1,
            "output_limited_by": "excursion",
            "support_count": 0,
            "box_across_m": 0.1,
            "box_forward_m": 0.02,
            "box_up_m": 0.0,
            "brace_form": "framed window",
            "brace_free_m2": 0.02,
            "brace_air_m_s": 4.0,
            "cone_air_m": 0.05,
            "cone_air_kg": 0.006,
            "short_of": "",
            "short_by_m": np.nan,
        }
    )
    assert set(COLUMNS) <= set(frame.columns)
    return frame


@pytest.fixture
def front() -> pd.DataFrame:
    return invented_front(900)


def written_small_job(folder: Path) -> Path:
    """A demo job without all that a job can do without, its search so short that a test can wait for it."""
    document = read_document(demo_scenarios()["van-bench"])
    for table, key in (("space", "clearance"), ("space", "keepout"), ("stock", "terminal_cup")):
        del document[table][key]
    document["search"] = {"evaluations": 12_000}
    path = folder / "small-job.toml"
    path.write_text(write_document(document), encoding="utf-8")
    return path


@pytest.fixture
def small_job(tmp_path: Path) -> Path:
    return written_small_job(tmp_path)


def opened_on(scenario: Path | None, job: str) -> AppTest:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["app.py", *([] if scenario is None else [str(scenario)])])
        test = AppTest.from_file(str(APP), default_timeout=PATIENCE)
        if job:
            test.query_params["job"] = job
        return test.run()


@pytest.fixture(autouse=True)
def callbacks_give_way_to_nothing(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A promise of every callback on every page: it does all of what was asked for, whatever is asked for meanwhile.

    Streamlit ends a callback where that touches anything at which a run gives way to a newer one that waits.
    """
    gave_way: list[str] = []
    original = ScriptRunner._maybe_handle_execution_control_request

    def noted(self: ScriptRunner) -> None:
        if ThreadState.get().run_location is RunLocation.CALLBACK:
            gave_way.extend(
                str(each) for each in traceback.extract_stack() if each.filename.startswith(str(APP.parent))
            )
        original(self)

    monkeypatch.setattr(ScriptRunner, "_maybe_handle_execution_control_request", noted)
    yield
    assert gave_way == []


@pytest.fixture
def opened(small_job: Path, state_directory: Path) -> Iterator[Opener]:
    """Open the explorer on a scenario file, as the command line would; searches end with the test."""
    tests: list[AppTest] = []

    def open_page(scenario: Path | None = small_job, job: str = "") -> AppTest:
        tests.append(opened_on(scenario, job))
        return tests[-1]

    yield open_page
    for test in tests:
        if "job" in remembered(test):
            frame.searches().drop(job_of(test).id)


@pytest.fixture
def editing(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opener]:
    """Open the explorer on a scenario file and go to Space & parts; the search waits for the end of the test."""
    over = threading.Event()

    def held(*_: object, **__: object) -> Run:
        over.wait(PATIENCE)
        return stored_front(FIRST_DEMO)

    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=held))

    def open_page(*scenario: Path) -> AppTest:
        test = opened(*scenario)
        sound(test)
        return test.switch_page("views/space_parts.py").run()

    yield open_page
    over.set()


@pytest.fixture(scope="session")
def first_visit(tmp_path_factory: pytest.TempPathFactory) -> tuple[AppTest, Path]:
    """A first visit to the small job once its search has ended, to look at only; and the folder it left on disk."""
    folder = tmp_path_factory.mktemp("searched")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WEDGEFRONT_STATE", str(folder / "state"))
        test = searched(opened_on(written_small_job(folder), ""))
    return test, folder / "state" / job_of(test).id


@pytest.fixture
def opened_searched(opened: Opener, first_visit: tuple[AppTest, Path], state_directory: Path) -> Callable[[], AppTest]:
    """Open the explorer on the small job as it is once searched; each test has a job of its own."""

    def open_copy() -> AppTest:
        job = new_id()
        shutil.copytree(first_visit[1], state_directory / job)
        return opened(job=job)

    return open_copy


@pytest.fixture
def judged_afresh() -> Iterator[None]:
    """Judged designs, which are kept for the whole process, are worked out anew in a test that changes how."""
    restart()
    yield
    restart()


@pytest.fixture(scope="module")
def browser(program: Callable[[str], str]) -> Iterator[Browser]:
    """A browser for the pages of a module's tests, each in a context of its own."""
    with launched(program("chromium")) as browser:
        yield browser
