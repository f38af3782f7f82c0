"""The page As built and the command check: each test is a promise to the user."""

from __future__ import annotations

import io
import json
import re
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from engine.document import write_document
from engine.evaluate import systems_of
from engine.formats.design import parse_design
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.insight.reasons import balanced
from engine.measured.sweep import Sweep, sweep_text
from engine.measured.taken import in_box
from explorer.cli import main
from explorer.demo_fronts import folder_of, found_for
from explorer.session import Job, JobStore, as_document, pick
from tests.explorer.pages import Opener, job_of, sound, words_on
from tests.measured.test_verdict import VENTED

DEMO = "van-bench"


def files(folder: Path) -> tuple[Path, Path]:
    """A design and a sweep of it with a vent tuned 4 % low."""
    design, sweep = folder / "box.toml", folder / "sweep.csv"
    design.write_text(write_document(VENTED), encoding="utf-8")
    hz = np.geomspace(7.0, 400.0, 120)
    taken = in_box(Sweep(source="", frequency=hz, magnitude=hz), systems_of(parse_design(VENTED, source="")), times=1.0)
    z = taken.impedance({"tuning": np.array([0.96])}, "plain", hz)[0]
    noise = np.exp(0.002 * np.random.default_rng(1).normal(size=len(hz)))
    made = Sweep(source="", frequency=hz, magnitude=np.abs(z) * noise)
    sweep.write_text(sweep_text(made).replace(",", ";").replace(".", ","), encoding="utf-8")
    return design, sweep


def run(*arguments: str | Path) -> tuple[int, str, str]:
    with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()) as err:
        status = main([str(each) for each in arguments])
    return status, out.getvalue(), err.getvalue()


def test_a_design_file_and_a_sweep(tmp_path: Path) -> None:
    """Promise: tuning, what to cut, figures; in the user's units; as JSON with nothing beside it."""
    design, sweep = files(tmp_path)
    status, out, _ = run("check", design, sweep)
    assert status == 0
    said = re.sub(r"\s+", " ", out)
    assert re.search(r"tuned to \d\d\.\d\d Hz \(95 % sure between", said)
    assert "cut" in said
    assert "4.0 % lower" in said
    assert " in off the vent" in re.sub(r"\s+", " ", run("check", design, sweep, "--units", "us")[1])
    status, out, _ = run("check", design, sweep, "--json", "--hold", "vas")
    told = json.loads(out)
    assert status == 0
    assert told["tuning_hz"] == pytest.approx(0.96 * told["tuning_hz_foreseen"], rel=2e-3)
    assert told["mend"] == "vent"
    assert told["mend_change"] < 0.0
    assert not told["vas_m3_told"]


def test_bad_input_ends_with_2_and_every_reason(tmp_path: Path) -> None:
    """Promise: every file at fault is named, with the line; nothing goes to stdout."""
    design, sweep = files(tmp_path)
    broken = tmp_path / "broken.csv"
    lines = sweep.read_text(encoding="utf-8").splitlines()
    broken.write_text("\n".join([*lines[:4], "12;x", *lines[4:]]), encoding="utf-8")
    for arguments, words in (
        ((design, broken), r"broken\.csv: line 5, impedance"),
        ((design, tmp_path / "absent.csv"), "no such file"),
        ((design,), "expected a file with a sweep"),
        ((design, sweep, "--added-mass", "heavy", sweep), "such as 50 g"),
        ((design, sweep, "--in-series", "2"), "divides the 1 drivers"),
        ((folder_of(DEMO), "D9999", sweep), "D9999"),
    ):
        status, out, err = run("check", *arguments)
        assert (status, out) == (2, "")
        assert re.search(words, err), err


@pytest.fixture
def kept(state_directory: Path) -> str:
    """A stored job on a demo's front, with a pick."""
    document = as_document(read_document(demo_scenarios()[DEMO]))
    demo = found_for(document)
    assert demo is not None
    job = Job(id="built-job", source=f"{DEMO}.toml", document=document, found=replace(demo, came_with_demo=False))
    JobStore(state_directory).save(replace(job, id="without-pick"))
    pick(job, str(demo.front["id"].iloc[balanced(demo.front, tuple(demo.record["objectives"]))]))
    JobStore(state_directory).save(job)
    return job.id


def on_page(opened: Opener, job: str) -> AppTest:
    test = opened(None, job=job)
    return test.switch_page("views/as_built.py").run()


def press(test: AppTest, key: str) -> AppTest:
    test.button(key=key).click().run()
    sound(test)
    return test


def test_without_a_pick_the_page_says_what_to_do(opened: Opener, kept: str) -> None:
    test = on_page(opened, "without-pick")
    sound(test)
    assert "Pick the design that was built" in test.info[0].value


def test_a_sweep_is_told_kept_and_its_driver_put_into_the_job(opened: Opener, kept: str) -> None:
    """The whole way: a sweep, its verdict, the other designs, the driver into the job and back by undo."""
    test = press(on_page(opened, kept), "invented")
    shown = words_on(test)
    assert "The box is tuned to" in shown
    assert "How it plays" in shown
    assert len(test.get("vega_lite_chart")) == 1
    assert "stay on the front" in words_on(press(test, "others"))
    before, pick = job_of(test).document["driver"], job_of(test).pick
    assert pick is not None
    name = pick.row["driver"]
    press(test, "take-driver")
    after = job_of(test).document["driver"]
    changed = [one["name"] for one, other in zip(before, after, strict=True) if one != other]
    assert changed == [name]
    parse_scenario(job_of(test).document, source="job.toml")  # still a sound job
    press(test, "undo")
    assert job_of(test).document["driver"] == before
    press(test, "remove:box")
    assert job_of(test).sweeps == {}


def test_sweeps_lie_with_the_job(opened: Opener, kept: str, state_directory: Path) -> None:
    """A reload loses nothing: what was uploaded, and what is held known."""
    test = press(on_page(opened, kept), "invented")
    test.multiselect(key=f"held:{kept}").set_value(["vas"]).run()
    sound(test)
    job = JobStore(state_directory).load(kept)
    assert job is not None
    assert job.sweeps["box"]["name"] == "invented.csv"
    assert job.held == ["vas"]
    assert "held" in test.table[0].value["Measured"].tolist()
