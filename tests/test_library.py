"""The engine as a library, a promise to the user: what README shows runs as it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def test_the_ten_lines_of_the_readme_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len([line for line in code.splitlines() if line]) <= 10
    monkeypatch.chdir(tmp_path)
    exec(compile(code, "README.md", "exec"), {})  # what a reader would do with it
    assert "dB" in capsys.readouterr().out
    assert (tmp_path / "box.svg").read_text(encoding="utf-8").startswith("<svg")
