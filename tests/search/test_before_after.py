"""The comparison of two checkouts, on this one alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from engine.formats.scenario import parse_scenario
from engine.openings import OPENINGS
from tests.benchmarks.before_after.__main__ import HERE, Comparison
from tests.benchmarks.before_after.jobs import jobs
from tests.benchmarks.before_after.side import Side


def test_its_jobs_hold_every_opening_facing_and_filling() -> None:
    """Promise to the user: nothing that a job can ask for is left out of the comparison."""
    read = [parse_scenario(document, source=name) for name, document in jobs().items()]
    assert len(read) >= 12
    assert {facing for job in read for facing in job.box.facings} == {"front", "down", "side"}
    assert {filling for job in read for filling in job.box.fillings} == {"none", "lined", "half", "full"}
    assert {kind for job in read for kind in job.box.kinds} == {opening.box_kind for opening in OPENINGS.records}
    assert {each.shape for job in read for each in job.filters} == {"butterworth", "linkwitz-riley", "own"}


def test_a_figure_or_a_limit_that_changed_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Promise to the user: a design judged twice is alike; one figure or one limit spoiled is not."""
    comparison = Comparison(HERE, tmp_path, designs=0, quick=True)
    side, job, out = Side(), str(comparison.jobs["every way"]), str(tmp_path / "found.npz")
    side.spread(job=job, count=200, seed=1, out=str(tmp_path / "X.npy"))
    side.judge(job=job, X=str(tmp_path / "X.npy"), out=out, hear_all=False)
    with np.load(out) as file:
        found = {name: file[name] for name in file.files}
    found["feasible"] = np.all([values <= 0.0 for name, values in found.items() if name.startswith("G ")], axis=0)
    comparison.compared("itself", found, found)
    assert comparison.well
    for name, other in (("number net_volume_m3", 1.0), ("G space", 1.0), ("text facing", "none")):
        spoiled = found[name].copy()
        spoiled[7] = other
        comparison.well = True
        comparison.compared("spoiled", found, {**found, name: spoiled})
        assert not comparison.well
        assert f"{name}: 1 differ" in capsys.readouterr().out
