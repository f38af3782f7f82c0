"""What is shipped: the wheel works away from the checkout, the lock names no place, imports run one way."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

# Rooms from the ground up: a room may import itself and what stands before it.
ROOMS = (
    (
        "engine.air",
        "engine.arrays",
        "engine.column",
        "engine.files",
        "engine.lock",
        "engine.file_names",
        "engine.markup",
        "engine.plain_text",
        "engine.quantities",
        "engine.field",
        "engine.registry",
        "engine.seal",
        "engine.steps",
        "engine.untrusted",
    ),
    ("engine.together", "engine.words", "engine.core", "engine.facings", "engine.kinds"),
    ("engine.errors", "engine.goals"),
    ("engine.constraint", "engine.polygon"),
    ("engine.parts", "engine.outline", "engine.derived"),
    ("engine.document", "engine.standing_room"),
    ("engine.datasheet", "engine.wiring"),
    ("engine.acoustics",),
    ("engine.packing",),
    ("engine.space",),
    ("engine.openings",),
    ("engine.space.layout",),
    ("engine.space.braces",),
    ("engine.space.ports", "engine.space.surroundings", "engine.space.arrangement"),
    ("engine.space.solids",),
    ("engine.constraints", "engine.columns", "engine.tolerances"),
    ("engine.scenario", "engine.stated_design"),
    ("engine.built",),
    ("engine.evaluate",),
    ("engine.search",),
    ("engine.insight",),
    ("engine.formats",),
    ("engine.workshop",),
    ("engine.formats.box",),
    ("engine.judged",),
    ("engine.given", "engine.build"),
    ("engine.measured",),
    ("engine.hearing",),
    ("engine.report",),
    ("explorer",),
)
FLOOR = {name: floor for floor, names in enumerate(ROOMS) for name in names}


def _room(module: str) -> str | None:
    found = [name for name in FLOOR if module == name or module.startswith(f"{name}.")]
    return max(found, key=len, default=None)


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


MODULES = sorted([*(ROOT / "engine").rglob("*.py"), *(ROOT / "explorer").rglob("*.py")])


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    """Architecture: no room imports one above it; the engine knows no screen."""
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    here = _room(module)
    for name in _imports(path):
        there = _room(name)
        if here and there and here != there:
            assert FLOOR[there] < FLOOR[here], f"{module} imports {name}"
    if module.startswith("engine"):
        foreign = {name.split(".")[0] for name in _imports(path)}
        assert "streamlit" not in foreign
        if not module.startswith("engine.report"):
            assert not foreign & {"altair", "vl_convert"}


def test_every_module_has_a_room() -> None:
    """Completeness: a new module is given its floor here."""
    for path in MODULES:
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        assert module == "engine" or _room(module), f"{module} stands on no floor"


def test_the_wheel_brings_the_demo_jobs(tmp_path: Path) -> None:
    """User's promise: installed from a wheel, far from the checkout, a demo job can be searched by name."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    installed = tmp_path / "installed"
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        archive.extractall(installed)
    assert not [name for name in names if name.startswith("tests/")]
    assert {f"scenarios/fronts/van-bench/{name}" for name in ("front.csv", "left_out.csv", "run.json")} <= set(names)
    assert {"scenarios/van-bench.toml", "explorer/app.py", "explorer/.streamlit/config.toml"} <= set(names)
    assert "scenarios/hatch-seat-back-cabin.csv" in names
    done = subprocess.run(
        [
            sys.executable,
            "-P",
            "-m",
            "explorer.cli",
            "search",
            "hatch-seat-back",
            "--out",
            str(tmp_path / "found"),
            "--evaluations",
            "1024",
        ],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed), "WEDGEFRONT_COMPILER": "off"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads((tmp_path / "found" / "run.json").read_text())["designs"] > 0


def test_what_the_readme_points_at_is_there() -> None:
    """User's promise: no dead picture or file in the README."""
    for target in re.findall(r"\]\(([^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8")):
        assert (ROOT / target).is_file(), target


def _pinned(lock: Path) -> dict[str, set[str]]:
    """Packages of a lock file with their versions, each checked to carry hashes and to name no place."""
    text = lock.read_text()
    assert "://" not in text
    assert "--index" not in text
    found: dict[str, set[str]] = {}
    for entry in re.split(r"\n(?=\S)", text.strip()):
        named = re.match(r"([a-z0-9.-]+)==(\S+)", entry)
        assert named, entry[:60]
        assert "--hash=sha256:" in entry, entry[:60]
        found.setdefault(named[1], set()).add(named[2])
    return found


PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
USERS, CONTRIBUTORS = ROOT / "requirements.lock", ROOT / "requirements-dev.lock"


@pytest.mark.parametrize(("lock", "extras"), [(USERS, ["build"]), (CONTRIBUTORS, ["build", "dev"])])
def test_the_locks_pin_with_hashes_and_name_no_place(lock: Path, extras: list[str]) -> None:
    """House rule: every requirement pinned with hashes, no index, no URL."""
    asked = [*PROJECT["dependencies"], *(name for extra in extras for name in PROJECT["optional-dependencies"][extra])]
    names = {re.split(r"[<>=\[]", requirement)[0] for requirement in asked} - {PROJECT["name"]}
    assert names <= set(_pinned(lock))


def test_users_get_what_was_tested_and_no_more() -> None:
    """User's promise: the users' lock is a part of the contributors', version by version, without their tools."""
    users, contributors = _pinned(USERS), _pinned(CONTRIBUTORS)
    assert users.items() <= contributors.items()
    assert not {"mypy", "playwright", "pytest", "ruff"} & set(users)
    assert not {"matplotlib", "pydeck", "autograd", "cma"} & set(contributors), "nothing here imports them"
