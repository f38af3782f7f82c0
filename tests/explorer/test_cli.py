"""The command line as its user meets it: real processes, real files, real mistakes."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from engine.scenario import demo_scenarios

DESIGN = """
[driver]
fs = "30 Hz"
qes = 0.45
qms = 6.0
vas = "50 L"
sd = "340 cm^2"
re = "3.4 ohm"
le = "1 mH"
xmax = "10 mm"
rated_power = "300 W"
[drive]
voltage = "30 V"
[box]
kind = "vented"
volume = "40 L"
[vent]
count = 2
diameter = "3 in"
tuning = "32 Hz"
"""


def wedgefront(*arguments: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "explorer.cli", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "COLUMNS": "120"},
    )


def test_help_shows_the_commands_and_a_first_try() -> None:
    """User's promise: --help says what there is and what to type first."""
    text = wedgefront("--help").stdout
    for word in ("evaluate", "search", "open", "van-bench"):
        assert word in text


def test_evaluate_prints_json_and_nothing_else(tmp_path: Path) -> None:
    """File contract: with --json stdout is the JSON alone."""
    file = tmp_path / "design.toml"
    file.write_text(DESIGN)
    done = wedgefront("evaluate", file, "--json")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert json.loads(done.stdout)["tuning_hz"] == pytest.approx(32.0)


def test_evaluate_prints_a_table_in_either_units(tmp_path: Path) -> None:
    """User's promise: metric or US customary as asked."""
    file = tmp_path / "design.toml"
    file.write_text(DESIGN)
    metric, us = (wedgefront("evaluate", file, "--units", units).stdout for units in ("metric", "us"))
    assert re.search(r"Vent length +\d+ mm", metric)
    assert re.search(r"Vent length +[\d.]+ in", us)
    assert "damage hearing" in metric


def test_search_writes_both_files_and_a_readable_end(tmp_path: Path) -> None:
    """User's promise: the front as files, and a table with the ends, a balanced design and the reasons."""
    done = wedgefront("search", "roadster", "--out", tmp_path / "found", "--evaluations", 20_000, "--units", "us")
    assert done.returncode == 0, done.stderr
    front = pd.read_csv(tmp_path / "found" / "front.csv")
    record = json.loads((tmp_path / "found" / "run.json").read_text())
    assert record["designs"] == len(front) > 10
    phrases = ("Deepest bass", "Most output", "Balanced", "Why each is where it is", "would take", "Hz", "Outside, in")
    for phrase in phrases:
        assert phrase in done.stdout


def test_ctrl_c_keeps_what_was_found(tmp_path: Path) -> None:
    """User's promise: Ctrl-C ends the search early, writes the front so far, and says so."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "explorer.cli",
            "search",
            "van-bench",
            "--out",
            str(tmp_path),
            "--evaluations",
            "90000000",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    time.sleep(8)
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "(stopped early)" in out
    assert json.loads((tmp_path / "run.json").read_text())["stopped_by"] == "cancelled"
    assert len(pd.read_csv(tmp_path / "front.csv")) > 100


VAN = demo_scenarios()["van-bench"].read_text(encoding="utf-8")

SCENARIO_FAULTS = {
    "missing key": (VAN.replace('width = "1200 mm"\n', ""), "space.width"),
    "misspelt key": (VAN.replace("mounting_depth", "mountign_depth"), "mounting_depth"),
    "wrong unit": (VAN.replace('fs = "32 Hz"', 'fs = "32 mm"'), "driver[0].fs"),
    "bare number": (VAN.replace('fs = "32 Hz"', "fs = 32"), "driver[0].fs"),
    "negative": (VAN.replace('xmax = "10 mm"', 'xmax = "-10 mm"'), "driver[0].xmax"),
    "nan": (VAN.replace("qes = 0.511", "qes = nan"), "driver[0].qes"),
    "zero": (VAN.replace('vas = "29.4 L"', 'vas = "0 L"'), "driver[0].vas"),
    "huge": (VAN.replace('width = "1200 mm"', 'width = "1200 km"'), "space.width"),
    "crossing": (
        VAN.replace('["230 mm", "0 mm"], ["110 mm", "480 mm"]', '["110 mm", "480 mm"], ["230 mm", "0 mm"]'),
        "space.section",
    ),
    "no driver fits": (VAN.replace('mounting_depth = "86 mm"', 'mounting_depth = "290 mm"'), "depth behind the driver"),
    "space too small": (
        VAN.replace('"230 mm"', '"70 mm"')
        .replace('"110 mm", "480 mm"', '"60 mm", "120 mm"')
        .replace('"480 mm"', '"120 mm"'),
        "van.toml",
    ),
    "no TOML": ("title = [unclosed", "van.toml"),
    "empty": ("", "van.toml"),
}


@pytest.mark.parametrize("kind", SCENARIO_FAULTS)
def test_bad_scenarios_are_refused(kind: str, tmp_path: Path) -> None:
    """User's promise: a message that names the place, exit status 2, nothing written."""
    text, named = SCENARIO_FAULTS[kind]
    assert text != VAN
    file = tmp_path / "van.toml"
    file.write_text(text)
    done = wedgefront("search", file, "--out", tmp_path / "found", "--evaluations", 8_192)
    assert done.returncode == 2
    assert named in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["van.toml"]


@pytest.mark.parametrize(
    "content", [b"\x00\xff\xfe" * 500, b"# padding\n" * 1_000_000], ids=["binary", "ten megabytes"]
)
def test_files_that_are_no_text_or_far_too_long_are_refused(content: bytes, tmp_path: Path) -> None:
    """User's promise: as above, for both commands."""
    file = tmp_path / "odd.toml"
    file.write_bytes(content)
    for arguments in (("search", file, "--out", tmp_path / "found"), ("evaluate", file, "--json")):
        done = wedgefront(*arguments)
        assert done.returncode == 2
        assert "odd.toml" in done.stderr
        assert "Traceback" not in done.stderr
        assert done.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["odd.toml"]


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """User's promise: three mistakes, three lines."""
    file = tmp_path / "van.toml"
    file.write_text(VAN.replace('fs = "32 Hz"', "fs = 32").replace("qms = 5.2", "qms = -1").replace('"6 mm"', '"6 kg"'))
    lines = wedgefront("search", file, "--out", tmp_path / "found").stderr.splitlines()
    for place in ("driver[0].fs", "driver[0].qms", "space.margin"):
        assert sum(place in line for line in lines) == 1


@pytest.mark.parametrize(
    "arguments",
    [("search", "no-such-job", "--out", "x"), ("evaluate", "missing.toml"), ("open", "missing.toml")],
)
def test_missing_files_are_named(arguments: tuple[str, ...], tmp_path: Path) -> None:
    """User's promise: a file that is not there is named; nothing is written."""
    done = wedgefront(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert arguments[1] in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_an_output_place_that_cannot_be_written_is_refused_before_the_search(tmp_path: Path) -> None:
    """User's promise: no search is spent on a folder that cannot take the result."""
    (tmp_path / "found").write_text("a file stands here")
    began = time.monotonic()
    done = wedgefront("search", "van-bench", "--out", tmp_path / "found", "--evaluations", 50_000_000)
    assert done.returncode == 2
    assert "found" in done.stderr
    assert time.monotonic() - began < 60.0
    assert (tmp_path / "found").read_text() == "a file stands here"
