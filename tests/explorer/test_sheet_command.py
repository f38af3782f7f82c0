"""``wedgefront sheet``, promises to the user: two files called after job and customer; faults are told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

import scenarios
from explorer.cli import main
from tests.report.sheets import pages_of, png

FOUND = str(Path(scenarios.__file__).parent / "fronts" / "van-bench")
NAME = "thin-wedge-behind-a-van-s-bench-ms-example"


def test_it_writes_the_sheet_as_pdf_and_as_a_web_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "logo.png").write_bytes(png())
    asked = ["sheet", "van-bench", FOUND, "D0001", "D0100", "--customer", "Ms Example", "--shop", "Invented Sound"]
    asked += ["--recommend", "D0100", "--price", "D0001=890 EUR", "--logo", str(tmp_path / "logo.png")]
    assert main([*asked, "--paper", "letter", "--out", str(tmp_path / "out")]) == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [f"{NAME}.html", f"{NAME}.pdf"]
    first, _ = pages_of((tmp_path / "out" / f"{NAME}.pdf").read_bytes())
    for words in ("Our recommendation: box B", "890 EUR", "For Ms Example", "Invented Sound"):
        assert words in first
    assert f"{NAME}.pdf" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (["D0001", "D9999"], "D9999: the front has no such design"),
        (["D0001", "D0002", "D0003", "D0004"], "one to three boxes"),
        (["D0001", "--recommend", "D0002"], "none of the boxes of the sheet: expected one of D0001"),
        (["D0001", "--price", "890 EUR"], "such as D0001=890 EUR"),
        (["D0001", "--price", "D0002=890 EUR"], "none of the boxes of the sheet"),
        (["D0001", "--note", "x" * 601], "600 letters at most"),
        (["D0001", "--logo", __file__], "no picture that can be a logo"),
        (["D0001", "--logo", "there-is-none.png"], "No such file"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(
    asked: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sheet", "van-bench", FOUND, *asked, "--out", str(tmp_path / "out")]) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
