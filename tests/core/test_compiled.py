"""The compiler's cache and threads: old code never runs on, bytes are the same however the work is split."""

from __future__ import annotations

import ast
import os
import pickle
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.core import compiled
from engine.space import layout as laid
from tests.space.batches import boxes, contents, contents_of

ROOT = Path(__file__).parents[2]
CONSTANT = "CONSTANT = {value}\n"
TWICE = """
from engine.core.compiled import compiled
from engine.packing.constant import CONSTANT


@compiled
def times(number: float) -> float:
    return number * CONSTANT
"""
ASK = "from engine.core.compiled import digest; from engine.packing.times import times; print(digest(), times(2.0))"
PACKED = """
import pickle, sys
from engine.core import compiled
from tests.space.batches import mixed
found = {}
for seed in (700, 702, 703):
    laid_out = mixed(12, seed=seed, others=True).layout
    found[seed] = {name: laid_out.column(name) for name in laid_out.names} | laid_out.slacks
    ports = laid_out.across.ports
    found[seed] |= {f"port {name}": ports[name] for name in ports.dtype.names}
pickle.dump((compiled.ENABLED, found), sys.stdout.buffer)
"""
HELD = """
from numba.core.runtime import rtsys
from engine.formats.scenario import parse_scenario
from engine.search.front import misfits
from engine.search.problem import BoxProblem
from tests.benchmarks.before_after.jobs import jobs
import numpy as np
for name in ("every way", "slotted", "leaning"):
    problem = BoxProblem(parse_scenario(jobs()[name], source=name))
    X = problem.xl + np.random.default_rng(1).random((600, problem.n_var)) * (problem.xu - problem.xl)
    for _ in range(2):
        problem.evaluate(X, return_values_of=["F", "G"])
        misfits(problem.evaluator, problem.decode(X))
        made = rtsys.get_allocation_stats()
        print(made.mi_alloc, made.mi_alloc - made.mi_free)
"""


def run(code: str, where: Path, **environment: str) -> bytes:
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=where,
        env={**os.environ, **environment},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout


def test_an_edited_constant_in_an_imported_file_is_taken_up(tmp_path: Path) -> None:
    """User's promise: what runs is what the sources say; the compiler's own cache would have missed this."""
    place = tmp_path / "engine"
    for room in ("core", "packing"):
        (place / room).mkdir(parents=True)
        (place / room / "__init__.py").write_text("")
    (place / "__init__.py").write_text("")
    shutil.copy(ROOT / "engine/core/compiled.py", place / "core")
    (place / "packing/times.py").write_text(TWICE)
    told = []
    for value in (2.0, 5.0, 5.0):
        (place / "packing/constant.py").write_text(CONSTANT.format(value=value))
        told.append(run(ASK, tmp_path, XDG_CACHE_HOME=str(tmp_path / "cache")).decode().split())
    (first, four), (second, ten), again = told
    assert (four, ten) == ("4.0", "10.0")
    assert first != second
    assert again == [second, "10.0"]
    assert len(list((tmp_path / "cache/wedgefront/compiled").iterdir())) == 2


def test_what_compiled_code_is_made_of_names_the_cache() -> None:
    """User's promise: no compiled function, nor anything it takes from another file, is left out of the digest."""
    for source in sorted((ROOT / "engine").rglob("*.py")):
        tree = ast.parse(source.read_text())
        imports = [each for each in ast.walk(tree) if isinstance(each, ast.ImportFrom)]
        homes = {name.asname or name.name: each.module or "" for each in imports for name in each.names}
        for function in ast.walk(tree):
            decorators = (
                {*map(ast.unparse, function.decorator_list)} if isinstance(function, ast.FunctionDef) else set()
            )
            if isinstance(function, ast.FunctionDef) and decorators & {"compiled", "borrowing"}:
                names = {each.id for part in function.body for each in ast.walk(part) if isinstance(each, ast.Name)}
                taken = {homes[name] for name in names & set(homes) if homes[name].startswith("engine.")}
                paths = [ROOT / module.replace(".", "/") for module in taken]
                files = [source, *(path if path.is_dir() else path.with_suffix(".py") for path in paths)]
                places = [file.relative_to(ROOT / "engine").as_posix() for file in files]
                places = [place if place.endswith(".py") else f"{place}/" for place in places]
                assert all(place.startswith(compiled.SOURCES) for place in places), (function.name, places)


def test_what_compiled_code_makes_it_lets_go() -> None:
    """Conservation: arrays made are arrays freed, though those that functions borrow are not counted."""
    told = np.array([line.split() for line in run(HELD, ROOT, NUMBA_NRT_STATS="1").decode().splitlines()], dtype=int)
    assert told[-1, 0] > 1000
    np.testing.assert_array_equal(told[:, 1], 0)


def test_folders_of_earlier_sources_are_cleared(tmp_path: Path) -> None:
    """User's promise: of what earlier versions left a few stay, the latest used, and none that nobody used for long."""
    now = time.time()
    for age in range(compiled.KEPT + 4):
        folder = tmp_path / f"{age}"
        folder.mkdir()
        os.utime(folder, (now - 60.0 * age, now - 60.0 * age))
    old = tmp_path / "old"
    old.mkdir()
    os.utime(old, (now - compiled.UNUSED_FOR - 60.0,) * 2)
    mine = tmp_path / f"{compiled.KEPT + 3}"
    compiled.clear(tmp_path, keep=mine)
    left = {each.name for each in tmp_path.iterdir()}
    assert left == {mine.name, *(str(age) for age in range(compiled.KEPT))}


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """User's promise: where the user's folder cannot be made, one for this run takes its place."""
    (tmp_path / "taken").write_text("a file where the folder should be")
    monkeypatch.setattr(compiled.platformdirs, "user_cache_dir", lambda *_, **__: str(tmp_path / "taken"))
    monkeypatch.setattr(compiled.tempfile, "mkdtemp", lambda prefix: str(tmp_path / prefix))
    assert compiled.cache_folder() == (tmp_path / "wedgefront-compiled-", False)


@pytest.mark.parametrize("threads", [2, 3, 5])
def test_bytes_are_the_same_for_any_number_of_threads(threads: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Conservation: how designs are split over threads changes nothing of what comes of them."""
    count = 2000
    box, things = boxes(count, seed=5), contents(count, seed=6, plain=False)
    tuning = things.pop("tuning")

    def packed(pieces: int) -> bytes:
        def in_pieces(loop: Any, designs: int, *arguments: object) -> None:
            compiled.in_pieces(loop, designs, *arguments, threads=pieces)

        monkeypatch.setattr(laid, "in_pieces", in_pieces)
        rules = laid.Rules(breathing_gap=0.01, brace_span=0.4, c=343.2)
        found = laid.lay_out(box, contents_of(things), rules, tuning=tuning, free_width=1.15)
        columns = [found.column(name).tobytes() for name in found.names]
        return b"".join([*columns, found.packed.slacks.tobytes(), found.across.column_x.tobytes()])

    assert packed(threads) == packed(1)


def test_a_table_has_the_fields_of_its_row_and_no_others() -> None:
    """User's promise: a column that is missing or misspelt is told at once."""

    class Row:
        number: int = 3
        length: float = float("nan")

    found = compiled.table(Row, 2)
    assert found.number.tolist() == [3, 3]
    assert np.isnan(found[1].length)
    assert compiled.table(Row, 1, number=7, length=0.5)[0].tolist() == (7, 0.5)
    with pytest.raises(TypeError, match="other fields"):
        compiled.table(Row, 2, number=1)


def test_plain_python_packs_the_same() -> None:
    """Independent implementation: with the compiler off the same functions run as plain Python and agree."""
    enabled, quick = pickle.loads(run(PACKED, ROOT))
    disabled, plain = pickle.loads(run(PACKED, ROOT, WEDGEFRONT_COMPILER="off"))
    assert enabled
    assert not disabled
    for seed, columns in quick.items():
        for name, values in columns.items():
            np.testing.assert_allclose(plain[seed][name], values, rtol=1e-12, atol=1e-12, err_msg=f"{seed} {name}")
