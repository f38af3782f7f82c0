"""The command line as its user meets it: real files, real mistakes, and real processes where these matter."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from engine.formats.front import FILES, read_front
from engine.formats.scenario import demo_scenarios
from engine.seal import SEAL
from explorer.cli import main
from explorer.demo_fronts import folder_of, stored_front

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


VAN = demo_scenarios()["van-bench"].read_text(encoding="utf-8")

ENVIRONMENT = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "COLUMNS": "120"}


def process(*arguments: object, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command line as a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "explorer.cli", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        cwd=cwd,
        env={**ENVIRONMENT, **environment},
    )


def wedgefront(
    *arguments: object, cwd: Path | None = None, encoding: str = "utf-8", **environment: str
) -> subprocess.CompletedProcess[str]:
    """The command line within this process, which need not load everything again; at a terminal of that encoding."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding, write_through=True) for _ in range(2))
    before = signal.getsignal(signal.SIGINT)
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        for name, value in {"COLUMNS": "120", **environment}.items():
            patch.setenv(name, value)
        patch.chdir(cwd or Path.cwd())
        try:
            code: Any = main([str(argument) for argument in arguments])
        except SystemExit as stop:
            code = stop.code
        finally:
            signal.signal(signal.SIGINT, before)
    said, told = (stream.buffer.getvalue().decode(encoding) for stream in (out, err))
    return subprocess.CompletedProcess(arguments, code, said, told)


def test_help_shows_the_commands_and_a_first_try() -> None:
    """User's promise: --help says what there is and what to type first."""
    text = wedgefront("--help").stdout
    for word in ("evaluate", "search", "open", "van-bench"):
        assert word in text


def test_evaluate_prints_json_and_nothing_else(tmp_path: Path) -> None:
    """File contract: with --json stdout is the JSON alone."""
    file = tmp_path / "design.toml"
    file.write_text(DESIGN)
    done = process("evaluate", file, "--json")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert json.loads(done.stdout)["tuning_hz"] == pytest.approx(32.0)


def test_evaluate_prints_a_table_in_either_units(tmp_path: Path) -> None:
    """User's promise: metric or US customary as asked."""
    file = tmp_path / "design.toml"
    file.write_text(DESIGN)
    metric, us = (wedgefront("evaluate", file, "--units", units).stdout for units in ("metric", "us"))
    assert re.search(r"Vent length +\d+ mm", metric)
    assert re.search(r"Vent length +(\d+ )?(\d+/\d+ )?in", us)
    assert re.search(r"Level at 40 Hz at that gain +[\d.]+ dB, distorted by (less than|about) \d+ %", metric)
    closed = DESIGN.replace('"vented"', '"closed"').split("[vent]", maxsplit=1)[0]
    file.write_text(closed)
    assert "dB, distortion unknown: no Bl or Cms at Xmax stated" in wedgefront("evaluate", file).stdout
    assert "damage hearing" in metric


PASSIVE = (
    DESIGN.replace('"vented"', '"radiator"').split("[vent]", maxsplit=1)[0]
    + """
largest_dimension = "30 in"
[radiator]
fs = "20 Hz"
qms = 8
vas = "60 L"
sd = "500 cm^2"
xmax = "10 mm"
tuning = "27 Hz"
[cabin]
file = "car.csv"
offset = "1 dB"
"""
)
MEASURED = "frequency,dB\n30,12\n40,8\n50,6\n60,3\n200,0\n"


def test_evaluate_tells_all_of_a_passive_radiator_in_a_car(tmp_path: Path) -> None:
    """User's promise: tuning, what is screwed on, the vehicle, heat, the high-pass with its cost, the model's ends."""
    (tmp_path / "box.toml").write_text(PASSIVE)
    (tmp_path / "car.csv").write_text(MEASURED)
    done = wedgefront("evaluate", tmp_path / "box.toml", cwd=tmp_path.parent)
    assert done.returncode == 0, done.stderr
    for pattern in (
        r"Tuning +27\.0 Hz",
        r"Mass to add to each radiator +\d+ g",
        r"f3 in the vehicle +\d+\.\d Hz",
        r"  in the vehicle +1\d\d\.\d dB",
        r"Coil's rise at maximum output, at most +\d+ K",
        r"Worst radiator excursion / Xmax, 10-200 Hz +\d\.\d\d",
        r"Gain at which every limit is held, share of the voltage +0\.\d\d *\n  set by +(Xmax|the \w+)",
        r"Level at 30 Hz at that gain +\d+\.\d dB",
        r"High-pass to play loudest at one gain:\s.*\sat\s\d+\.\d Hz:\sit\sthen\splays\s\d+\.\d\sdB\sat\s30\sHz,",
        r"f3\sis\sthen\s\d+\.\d\sHz,\s\d+\.\d\sHz",
        "What these figures do not cover",
        "In the vehicle below 30 Hz",
        "passive radiator would move",
        "damage hearing",
    ):
        assert re.search(pattern, done.stdout), pattern
    assert "Vent" not in done.stdout
    us = wedgefront("evaluate", tmp_path / "box.toml", "--units", "us").stdout
    assert re.search(r"Mass to add to each radiator +[\d.]+ oz", us)
    assert re.search(r"Coil's rise at maximum output, at most +\d+ °F", us)


CABIN_FAULTS = {
    "missing": (None, "car.csv: there is no such file"),
    "words": (MEASURED.replace("8", "eight"), "car.csv: line 3, level = eight: expected a level of -80 to 80 dB"),
    "in kHz": (MEASURED.replace("30,", "0.030,"), "car.csv: line 2, frequency = 0.030: expected a frequency"),
    "unsorted": (MEASURED.replace("60,", "45,"), "car.csv: line 5, frequency = 45: expected a frequency above"),
    "short": ("30,1\n40,2\n", "car.csv: has 2 points: expected at least 5"),
    "binary": ("\x00" * 50, "car.csv"),
}


@pytest.mark.parametrize("kind", CABIN_FAULTS)
def test_a_bad_measurement_is_refused_by_name_and_line(kind: str, tmp_path: Path) -> None:
    """User's promise: the same words from both commands, exit status 2, no traceback."""
    text, named = CABIN_FAULTS[kind]
    (tmp_path / "box.toml").write_text(PASSIVE)
    (tmp_path / "van.toml").write_text(
        VAN.replace('largest_dimension = "2.1 m"', 'file = "car.csv"').replace('leak = "12 Hz"', "")
    )
    if text is not None:
        (tmp_path / "car.csv").write_text(text)
    searched = ("search", tmp_path / "van.toml", "--out", tmp_path / "found", "--evaluations", 8_192)
    for arguments in (("evaluate", tmp_path / "box.toml"), searched):
        done = wedgefront(*arguments)
        assert done.returncode == 2
        assert named in done.stderr
        assert "Traceback" not in done.stderr


def test_search_writes_both_files_and_a_readable_end(tmp_path: Path) -> None:
    """User's promise: the front as files, and a table with the ends, a balanced design and the reasons."""
    done = wedgefront("search", "roadster", "--out", tmp_path / "found", "--evaluations", 20_000, "--units", "us")
    assert done.returncode == 0, done.stderr
    front = pd.read_csv(tmp_path / "found" / "front.csv")
    record = json.loads((tmp_path / "found" / "run.json").read_text())
    assert record["designs"] == len(front) > 10
    phrases = (
        "Loudest at 30 Hz",
        "Smallest box",
        "Balanced",
        "nothing passes a limit",
        "Why each is where it is",
        "would take",
        "Hz",
        "Outside, in",
    )
    for phrase in phrases:
        assert phrase in done.stdout


SEARCHING = re.compile(r"Searching: \d+ %, \d{3,} designs on the front")


def interrupted(folder: Path, *, waits_for: re.Pattern[str] | None, times: int = 1) -> subprocess.CompletedProcess[str]:
    """An endless search that is sent Ctrl-C once it has said something, or at once; again with its answer to that."""
    command = [sys.executable, "-m", "explorer.cli", "search", "van-bench", "--out", str(folder)]
    process = subprocess.Popen(
        [*command, "--evaluations", "90000000"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=ENVIRONMENT,
    )
    assert process.stderr is not None
    said = []
    for number in range(times):
        if waits_for is not None:
            for line in process.stderr:
                said.append(line)
                if (waits_for if number == 0 else re.compile("Stopping")).match(line):
                    break
        process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=600)
    return subprocess.CompletedProcess(command, process.returncode, out, "".join(said) + err)


def test_ctrl_c_keeps_what_was_found(tmp_path: Path) -> None:
    """User's promise: Ctrl-C ends the search early, writes the front so far, and says so."""
    done = interrupted(tmp_path, waits_for=SEARCHING)
    assert done.returncode == 0
    assert "(stopped early)" in done.stdout
    assert json.loads((tmp_path / "run.json").read_text())["stopped_by"] == "cancelled"
    assert len(read_front(tmp_path / "front.csv")) > 10


@pytest.mark.parametrize(("waits_for", "times"), [(None, 1), (re.compile("Searching;"), 1), (SEARCHING, 2)])
def test_ctrl_c_never_leaves_half_a_result(waits_for: re.Pattern[str] | None, times: int, tmp_path: Path) -> None:
    """User's promise: whenever Ctrl-C comes, both files or none, and no traceback."""
    folder = tmp_path / "found"
    done = interrupted(folder, waits_for=waits_for, times=times)
    assert done.returncode in (0, 2, 130, -signal.SIGINT)
    assert "Traceback" not in done.stderr
    there = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
    assert there in ([], ["front.csv", "left_out.csv", "run.json"])
    assert bool(there) == (done.returncode == 0)


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_nothing_is_cut_off_on_a_narrow_terminal(columns: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """User's promise: every figure can be read, however wide the terminal.

    The search comes to the front that is stored with the demo, which test_demo_fronts holds equal to a fresh one.
    """
    monkeypatch.setattr("engine.search.runs.run", lambda *_, **__: stored_front("hatch-seat-back"))
    done = wedgefront("search", "hatch-seat-back", "--out", tmp_path / "found", COLUMNS=str(columns))
    assert "…" not in done.stdout
    assert max(map(len, done.stdout.splitlines()[:-4])) <= columns
    front = pd.read_csv(tmp_path / "found" / "front.csv")
    assert f"{front['level_30_hz_db'].max():.1f} dB" in done.stdout


def test_what_the_user_wrote_is_printed_as_written(tmp_path: Path) -> None:
    """User's promise: brackets and colons in a title or a folder's name are text, not orders."""
    file = tmp_path / "odd.toml"
    file.write_text(VAN.replace("Thin wedge", "[/bold] [red]Thin :smile: wedge"))
    done = wedgefront("search", file, "--out", tmp_path / "my [box]", "--evaluations", 12_288)
    assert done.returncode == 0, done.stderr
    assert "[/bold] [red]Thin :smile: wedge" in done.stdout
    assert "my [box]/front.csv" in done.stdout.replace("\n", "")


def test_a_terminal_without_the_signs_shows_question_marks(tmp_path: Path) -> None:
    """User's promise: an ASCII terminal gets its report, too."""
    arguments = ("search", "van-bench", "--out", tmp_path / "found", "--evaluations", 12_288)
    done = wedgefront(*arguments, encoding="ascii")
    assert done.returncode == 0, done.stderr
    assert "1 ? shallow 10" in done.stdout


def test_small_budgets_and_seed_nought_warn_of_nothing(tmp_path: Path) -> None:
    """User's promise: no library's warnings on the terminal."""
    done = wedgefront("search", "van-bench", "--out", tmp_path, "--evaluations", 1_000, "--seed", 0)
    assert done.returncode == 0
    assert [line for line in done.stderr.splitlines() if not line.startswith("Searching")] == []


@pytest.mark.parametrize("port", ["0", "70000", "8o80"])
def test_a_port_that_is_none_is_refused(port: str) -> None:
    """User's promise: a port out of range is a message."""
    done = wedgefront("open", "--port", port)
    assert done.returncode == 2
    assert "65535" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_port_in_use_is_named() -> None:
    """User's promise: what is in the way is said before anything starts."""
    with socket.socket() as taken:
        taken.bind(("localhost", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = wedgefront("open", "--port", port)
    assert done.returncode == 2
    assert str(port) in done.stderr


def test_a_demo_s_misspelt_name_gets_a_suggestion() -> None:
    """User's promise: the demo jobs are listed, the nearest suggested."""
    done = wedgefront("open", "vanbench")
    assert done.returncode == 2
    assert 'did you mean "van-bench"?' in done.stderr


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
    "no driver fits": (
        VAN.replace('mounting_depth = "86 mm"', 'mounting_depth = "290 mm"'),
        "\n  closed box, 1 × shallow 10: the nearest one is short of depth behind the driver (",
    ),
    "space too small": (
        VAN.replace('"230 mm"', '"70 mm"')
        .replace('"110 mm", "480 mm"', '"60 mm", "120 mm"')
        .replace('"480 mm"', '"120 mm"'),
        "van.toml",
    ),
    "no TOML": ("title = [unclosed", "van.toml"),
    "huge integer": (VAN.replace("counts = [1]", f"counts = [{'1' * 5000}]"), "far too many digits"),
    "key twice": (VAN.replace('title = "', 'title = "Twice"\ntitle = "', 1), "stands there twice"),
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
    done = wedgefront("search", "van-bench", "--out", tmp_path / "found", "--evaluations", 50_000_000)
    assert done.returncode == 2
    assert "found" in done.stderr
    assert "Searching" not in done.stderr
    assert (tmp_path / "found").read_text() == "a file stands here"
    (tmp_path / "other" / "run.json").mkdir(parents=True)
    done = wedgefront("search", "van-bench", "--out", tmp_path / "other", "--evaluations", 50_000_000)
    assert done.returncode == 2
    assert "run.json" in done.stderr


def test_compare_says_who_wins_from_a_job_and_from_a_folder() -> None:
    """User's promise: one large driver against two small in sentences, each searched by itself or off one front."""
    searched = wedgefront(
        "compare", "hatch-seat-back", "--a", "2 x compact 8", "--b", "1 x long-throw 12", "--evaluations", 8_192
    )
    stored = wedgefront("compare", folder_of("roadster"), "--by", "driver", "--units", "us")
    for done, phrases in (
        (searched, ("2 × compact 8", "At equal cost of parts", "where the cost of parts may be", "EUR")),
        (
            stored,
            ("Both are taken from one front", "round 8 plays", "At equal outer volume", "It is ahead from", "ft³"),
        ),
    ):
        assert done.returncode == 0, done.stderr
        for phrase in phrases:
            assert phrase in " ".join(done.stdout.split())


def test_compare_refuses_what_it_cannot_compare_in_one_message(tmp_path: Path) -> None:
    """User's promise: a folder that is none, a front of something else, groups that are none: one line, status 2."""
    shutil.copytree(folder_of("roadster"), tmp_path / "found")
    (tmp_path / "found" / "run.json").write_text("{}")
    (tmp_path / "empty").mkdir()
    shutil.copytree(folder_of("roadster"), tmp_path / "torn")
    (tmp_path / "torn" / "front.csv").write_text("")
    shutil.copytree(tmp_path / "torn", tmp_path / "older")  # of before a search wrote what its files are known by
    record = json.loads((tmp_path / "older" / "run.json").read_text())
    unsealed = {key: value for key, value in record.items() if key not in (FILES, SEAL)}
    (tmp_path / "older" / "run.json").write_text(json.dumps(unsealed))
    for arguments, phrase in (
        ((tmp_path / "empty",), "run.json"),
        ((tmp_path / "found",), "run.json"),
        ((tmp_path / "torn",), "front.csv: is not as the search wrote it"),
        ((tmp_path / "older",), "front.csv: expected a table as a search writes it"),
        (("hatch-seat-back",), 'there are "1 x compact 8", "1 x long-throw 12", "2 x compact 8": name two of them'),
        (("hatch-seat-back", "--a", "3 x compact 8"), "there is no such group"),
        (("van-bench",), 'there is "1 x shallow 10" only'),
        (("no-such-job",), "nor a demo job"),
    ):
        done = wedgefront("compare", *arguments)
        assert done.returncode == 2
        assert phrase in done.stderr
        assert len(done.stderr.splitlines()) == 1


def test_sure_says_what_nine_of_ten_boxes_of_a_front_reach(tmp_path: Path) -> None:
    """User's promise: every design of the front has its bands in the file; the front of another job is one message."""
    out, found = tmp_path / "sure.csv", folder_of("van-bench")
    done = wedgefront("sure", "van-bench", found, "--out", out)
    assert done.returncode == 0, done.stderr
    front, table = (pd.read_csv(path) for path in (found / "front.csv", out))
    assert table["id"].tolist() == front["id"].tolist()
    remains = int((table["remains"] == "yes").sum())
    assert f"{remains} of {len(front)} designs remain" in " ".join(done.stdout.split())
    kept = table[table["remains"] == "yes"]
    assert (kept["level_40_hz_db_9_of_10"] <= kept["level_40_hz_db_1_of_10"]).all()
    assert kept["fit_share"].between(0.9, 1.0).all()
    other = wedgefront("sure", "roadster", found)
    assert other.returncode == 2
    assert "another job" in other.stderr
    assert len(other.stderr.splitlines()) == 1


def test_price_says_what_a_little_more_buys() -> None:
    """User's promise: every dimension with figure and uncertainty, and how far it is."""
    done = wedgefront("price", "van-bench", "--evaluations", 16_384)
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    for phrase in ("10 mm more width:", "10 mm more depth:", "One more vent:", "An amplifier of 1.5 times the power:"):
        assert phrase in told
    assert "Pricing: 50 %" in done.stderr


def test_price_of_a_design_says_what_its_limits_are_worth() -> None:
    """User's promise: each limit by itself, those that stop nothing named."""
    done = wedgefront("price", "van-bench", "--found", folder_of("van-bench"), "--design", "D0012")
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert told.startswith("D0012 of Thin wedge behind a van's bench: what would loosen it")
    for phrase in ("10 mm more width", "10 mm more depth", "nothing that shows."):
        assert phrase in told
    assert "Pricing: 50 %" in done.stderr


def test_price_refuses_what_it_cannot_price_in_one_message() -> None:
    """User's promise: no such job, a front of another job, a design that is not on it: one line, status 2."""
    found = folder_of("van-bench")
    for arguments, phrase in (
        (("no-such-job",), "nor a demo job"),
        (("van-bench", "--design", "D0012"), "say with --found"),
        (("roadster", "--found", found, "--design", "D0012"), "was found with another job"),
        (("van-bench", "--found", found, "--design", "D99"), "the front has no such design"),
    ):
        done = wedgefront("price", *arguments)
        assert done.returncode == 2
        assert phrase in done.stderr
        assert len(done.stderr.splitlines()) == 1


def test_wish_goes_to_the_next_design_and_says_what_it_costs() -> None:
    """User's promise: the same talk with a customer as on the page, from a folder that a search wrote."""
    folder = folder_of("roadster")
    done = wedgefront("wish", folder, "--from", "D0300", "--more", "level_40_hz", "--hold", "outer_volume_m3")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Louder at 40 Hz; hold outer volume (from D0300)")
    assert re.search(r"D\d{4} plays \d\.\d dB louder at 40 Hz than D\d{4}\.", done.stdout)
    us = wedgefront("wish", folder, "--from", "D0001", "--at", "outer_volume=0.9", "--units", "us").stdout
    assert "Outer volume 0.90 ft³ (from D0001)" in us
    assert " L " not in us


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "wish: say with --more"),
        (("--hold", "outer_volume"), "wish: say with --more"),
        (("--more", "outer_volum"), ('--more: outer_volum: is no goal of this front: expected one of level_30_hz_db, '
         'level_40_hz_db, level_50_hz_db, outer_volume_m3; did you mean "outer_volume_m3"?')),
        (("--more", "outer_volume", "--hold", "outer_volume_m3"), "--more: outer_volume_m3: is wished for in two ways"),
        (("--at", "outer_volume"), "--at: outer_volume: expected a goal and its level, such as"),
        (("--at", "outer_volume=45 kg"), '--at: outer_volume_m3 = 45 kg: the unit "kg" does not fit'),
        (("--from", "D9", "--more", "outer_volume"), "--from: D9: the front has no such design"),
    ],
)  # fmt: skip
def test_wish_refuses_what_it_cannot_take_in_one_message(arguments: tuple[str, ...], told: str) -> None:
    """User's promise: what is wrong, and what was expected."""
    done = wedgefront("wish", folder_of("roadster"), *arguments)
    assert done.returncode == 2
    assert done.stderr.startswith(f"wedgefront: {told}")
    assert done.stdout == ""
