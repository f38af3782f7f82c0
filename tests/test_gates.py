"""One gate for each kind of output, held by reading the code: nothing writes past it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted([*(ROOT / "engine").rglob("*.py"), *(ROOT / "explorer").rglob("*.py")])

# What puts text out, by how it is called, and the files that may: each keeps what is not ours from having an effect.
GATES = {
    "escape": {"engine/markup.py"},
    "quoteattr": set(),
    "to_csv": {"engine/formats/cells.py"},
    "writer": set(),
    "DictWriter": set(),
    "add_text": {"engine/formats/dxf.py"},
    "add_mtext": set(),
    "compile_": {"engine/report/typeset.py"},  # Typst's
    "table": {"explorer/markdown.py"},  # Streamlit's; the reader's of a document has another owner
    "dataframe": set(),
    "data_editor": set(),
    "latex": set(),
    "print": {"explorer/terminal.py", "explorer/demo_fronts.py", "explorer/opening.py", "explorer/serving.py"},
    "Console": set(),
    "PlainConsole": {"explorer/terminal.py"},
}
OWNERS = {"table": "st", "dataframe": "st", "data_editor": "st", "latex": "st", "writer": "csv", "DictWriter": "csv"}
BARE = {"print", "escape", "compile_", "Console", "PlainConsole"}


def calls(path: Path) -> set[str]:
    """What of the above a file calls."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id in BARE:
            found.add(node.func.id)
        elif isinstance(node.func, ast.Attribute) and node.func.attr in set(GATES) - BARE:
            owner = OWNERS.get(node.func.attr)
            if owner is None or (isinstance(node.func.value, ast.Name) and node.func.value.id == owner):
                found.add(node.func.attr)
        found |= {"unsafe_allow_html" for word in node.keywords if word.arg == "unsafe_allow_html"}
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_put_out_past_its_gate(path: Path) -> None:
    """Architecture."""
    name = path.relative_to(ROOT).as_posix()
    assert [call for call in calls(path) if name not in GATES.get(call, set())] == []


def test_every_gate_is_used() -> None:
    """Completeness: what is listed is there, so that a renamed one is not let through."""
    for call, places in GATES.items():
        for place in places:
            assert call in calls(ROOT / place), (call, place)


def test_only_one_module_touches_the_session_state() -> None:
    """A promise of what is typed: a callback that touches it ends there where a newer run waits."""
    touching = {
        path.relative_to(ROOT).as_posix()
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "session_state"
    }
    assert touching == {"explorer/memory.py"}
