"""The command that searches a catalogue, with real files, real processes and a real cluster on this machine."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from distributed import LocalCluster

from engine.formats.front import read_run
from engine.formats.scenario import read_scenario
from explorer.cli import main
from tests.invented_drivers import catalogue_text, invented_drivers

TRIED = 24_576
WRITTEN = ("front.csv", "left_out.csv", "drivers.csv", "job.toml")


@pytest.fixture(scope="module")
def drivers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("drivers") / "drivers.csv"
    path.write_text(catalogue_text(invented_drivers(5)[1:]), encoding="utf-8")
    return path


def asked(drivers: Path, out: Path, *more: object, tried: int = TRIED) -> list[str]:
    named: dict[str, object] = {"--drivers": drivers, "--out": out, "--evaluations": tried}
    return ["catalogue", "roadster", *(str(each) for pair in named.items() for each in pair), *map(str, more)]


def files(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in WRITTEN}


def tasks(folder: Path) -> dict[str, int]:
    """Every task kept, and when it was."""
    return {path.name: path.stat().st_mtime_ns for path in (folder / "tasks").glob("*.json")}


@pytest.fixture(scope="module")
def undisturbed(drivers: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Searched by one process from start to end."""
    out = tmp_path_factory.mktemp("undisturbed")
    assert main(asked(drivers, out, "--workers", 1)) == 0
    return out


def test_two_processes_write_the_same(
    drivers: Path, undisturbed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Promise to the user: the same bytes with two workers as with one; told meanwhile and at the end."""
    assert main(asked(drivers, tmp_path, "--workers", 2)) == 0
    assert files(tmp_path) == files(undisturbed)
    said = capsys.readouterr()
    assert "A short search of each: 4 of 4 drivers" in said.err
    assert "Round 1: " in said.err
    assert "on the front" in said.out
    assert str(tmp_path / "drivers.csv") in "".join(said.out.split())  # lines break where the screen ends


def test_a_cluster_writes_the_same(drivers: Path, undisturbed: Path, tmp_path: Path) -> None:
    """Promise to the user: a Dask cluster by its address comes to the same bytes."""
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp", dashboard_address=None
    ) as cluster:
        assert main(asked(drivers, tmp_path, "--dask", cluster.scheduler_address)) == 0
    assert files(tmp_path) == files(undisturbed)


def test_after_a_kill_nothing_done_is_done_again(drivers: Path, undisturbed: Path, tmp_path: Path) -> None:
    """Promise to the user: killed with -9 and started again, it goes on from what was finished, to the same bytes."""
    root = Path(__file__).parents[2]
    process = subprocess.Popen(
        [sys.executable, "-m", "explorer.cli", *asked(drivers, tmp_path, "--workers", 1)],
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONPATH": str(root), "COLUMNS": "200"},
    )
    assert process.stderr is not None
    for line in process.stderr:
        if "2 of 4 drivers" in line:
            break
    process.kill()
    process.communicate()
    before = tasks(tmp_path)
    assert len(before) >= 2
    assert not (tmp_path / "front.csv").exists()
    assert main(asked(drivers, tmp_path, "--workers", 1)) == 0
    after = tasks(tmp_path)
    assert {name: after[name] for name in before} == before
    assert len(after) > len(before)
    assert files(tmp_path) == files(undisturbed)


def test_a_finished_one_is_read_again(drivers: Path, undisturbed: Path) -> None:
    """Promise to the user: the same command on a finished folder searches nothing and writes the same."""
    before, written = tasks(undisturbed), files(undisturbed)
    assert main(asked(drivers, undisturbed)) == 0
    assert tasks(undisturbed) == before
    assert files(undisturbed) == written


def test_a_changed_input_is_refused(
    drivers: Path, undisturbed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Promise to the user: a folder goes on with what it was begun with, and says what is another."""
    other = tmp_path / "drivers.csv"
    other.write_text(drivers.read_text(encoding="utf-8").replace("invented 8", "an 8"), encoding="utf-8")
    assert main(asked(other, undisturbed, "--seed", 7)) == 2
    said = capsys.readouterr().err
    assert "begun with another job or list of drivers or seed: go on with that one, or take another folder" in said


def test_what_it_writes_is_what_others_read(undisturbed: Path) -> None:
    """Promise to the user: the front reads as a search's does, and the job with the drivers on it as a job's."""
    read = read_run(undisturbed)
    assert len(read.front) == read.record["designs"] > 0
    job = read_scenario(undisturbed / "job.toml")
    assert {each.driver.name for each in job.candidates} == set(read.front["driver"])
    table = pd.read_csv(undisturbed / "drivers.csv")
    assert set(table.loc[table["verdict"] == "on the front", "driver"]) == set(read.front["driver"])
    assert table["designs"].sum() == len(read.front)
    assert table["designs_tried"].sum() == read.record["evaluations"] <= TRIED


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--dask", "tcp://127.0.0.1:9"], "no cluster answers there"),
        (["--dask", "nowhere"], "no cluster answers there"),
        (["--dask", "tcp://127.0.0.1:9", "--workers", "2"], "has its own: leave it out"),
    ],
)
def test_a_cluster_that_is_none_is_told(
    drivers: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    """Promise to the user: one message, no traceback."""
    assert main(asked(drivers, tmp_path, *more)) == 2
    assert said in capsys.readouterr().err


def test_drivers_none_of_which_fits_are_told_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Promise to the user: no front, but the reason for each driver all the same."""
    (row,) = invented_drivers(2)[1:]
    path, out = tmp_path / "drivers.csv", tmp_path / "out"
    row |= {"outer_diameter": "600 mm", "cutout_diameter": "560 mm"}
    path.write_text(catalogue_text([row]), encoding="utf-8")
    assert main(asked(path, out)) == 2
    assert "of 1 drivers none goes into a box that can be built" in capsys.readouterr().err
    table = pd.read_csv(out / "drivers.csv")
    assert table["verdict"].tolist() == ["too large"]


def test_a_task_that_somebody_changed_is_refused(
    drivers: Path, undisturbed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Promise to the user: what cannot be read is named, with what to do about it."""
    (tmp_path / "tasks").mkdir()
    (tmp_path / "catalogue.json").write_bytes((undisturbed / "catalogue.json").read_bytes())
    kept: dict[str, Any] = json.loads((undisturbed / "tasks" / "00-0000.json").read_text(encoding="utf-8"))
    kept["rows"] = "none"
    (tmp_path / "tasks" / "00-0000.json").write_text(json.dumps(kept), encoding="utf-8")
    assert main(asked(drivers, tmp_path, "--workers", 1)) == 2
    assert "00-0000.json: is not as it was written: delete it" in capsys.readouterr().err
