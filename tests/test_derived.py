"""Figures worked out from a data sheet: what is left out comes back, and nothing that does not follow."""

from __future__ import annotations

import math
from typing import Any

import pytest

from engine.datasheet import CROSS_CHECKED, FULL_POWER, THIELE_SMALL, read_driver
from engine.derived import KEYS, as_stated, derive, derived_of
from engine.document import Reader
from engine.parts import Driver
from engine.quantities import parse

FIELDS = (*THIELE_SMALL, *CROSS_CHECKED, *FULL_POWER)
DRIVER = Driver(
    name="invented 10",
    fs=32.0,
    qes=0.511,
    qms=5.2,
    vas=29.4e-3,
    sd=330e-4,
    re=1.8,
    le=0.9e-3,
    xmax=0.01,
    rated_power=350,
)
ALL = {key: float(getattr(DRIVER, key)) for key in KEYS}


@pytest.mark.parametrize(
    "left_out",
    [("vas",), ("qes",), ("qms",), ("fs",), ("sd",), ("re",), ("qts", "bl"), ("mms", "cms", "bl", "qts"),
     ("vas", "cms"), ("qes", "bl"), ("vas", "qes"), ("fs", "qts"), ("qes", "qts")],
)  # fmt: skip
def test_what_a_sheet_leaves_out_comes_back(left_out: tuple[str, ...]) -> None:
    """Conservation: the driver model's own figures, some left out, are found again to rounding."""
    found = derive({key: value for key, value in ALL.items() if key not in left_out})
    assert {key: each.value for key, each in found.items()} == pytest.approx(
        {key: ALL[key] for key in left_out}, rel=1e-9
    )


def test_small_s_definitions_give_a_textbook_driver() -> None:
    """Independent arithmetic [C]: Mms = 1/((2π fs)² Cms), Cms = Vas/(ρc² Sd²), Bl² = 2π fs Mms Re/Qes (Small 1972)."""
    found = derive({"fs": 25.0, "vas": 0.1, "sd": 0.05, "re": 6.0, "qes": 0.4, "qms": 4.0})
    cms = 0.1 / (1.2041 * 343.2**2 * 0.05**2)
    mms = 1.0 / ((50.0 * math.pi) ** 2 * cms)
    assert found["mms"].value == pytest.approx(mms, rel=1e-4)
    assert found["bl"].value == pytest.approx(math.sqrt(50.0 * math.pi * mms * 6.0 / 0.4), rel=1e-4)
    assert found["qts"].value == pytest.approx(1.6 / 4.4, rel=1e-12)
    assert found["bl"].given == ("fs", "mms", "re", "qes")


@pytest.mark.parametrize(
    "stated", [{}, {"fs": 30.0}, {"vas": 0.03, "fs": 30.0}, {"qts": 0.5, "qms": 0.4}, {"qts": 0.5, "qms": 0.5}]
)
def test_nothing_is_made_up(stated: dict[str, float]) -> None:
    """Promise: what does not follow stays open, and a Qts above Qms gives no Qes."""
    assert derive(stated) == {}


SHEET: dict[str, Any] = {
    "fs": "32 Hz", "qms": 5.2, "sd": "330 cm^2", "mms": "130 g", "bl": "9.6 T m", "re": "1.8 ohm", "le": "0.9 mH",
    "xmax": "10 mm", "rated_power": "350 W",
}  # fmt: skip


def read(sheet: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    reader = Reader("sheet.toml")
    _, values = read_driver(reader, {"name": "x", **sheet}, "driver", (*FIELDS,))
    return values, [f"{fault.key} {fault.code}" for fault in reader.faults if not fault.code.startswith("unknown")]


def test_a_sheet_without_vas_and_qes_is_whole() -> None:
    """Promise: a file may leave out what follows from the rest."""
    values, faults = read(SHEET)
    assert not faults
    assert values["vas"] == pytest.approx(29.4e-3, rel=0.01)
    assert values["qes"] == pytest.approx(0.511, rel=0.01)


def test_what_does_not_follow_is_still_asked_for() -> None:
    _, faults = read({key: value for key, value in SHEET.items() if key != "mms"})
    assert faults == ["driver.qes missing_field", "driver.vas missing_field"]


def test_a_sheet_that_contradicts_itself_is_still_told_though_something_is_worked_out() -> None:
    _, faults = read({**SHEET, "qts": 0.3, "qes": 0.511})
    assert any(fault.startswith("driver.") and "sheet_disagrees" in fault for fault in faults)


def test_a_figure_worked_out_reads_back_within_its_four_digits() -> None:
    assert as_stated(0.0294123, "volume") == "29.41 L"
    assert parse(as_stated(0.0294123, "volume", "us"), "volume") == pytest.approx(0.0294123, rel=5e-4)
    assert as_stated(0.51149, "ratio") == 0.5115


def test_what_cannot_be_read_is_no_ground_for_anything() -> None:
    assert derived_of({**SHEET, "mms": "heavy", "sd": 330, "qms": "5.2"}, FIELDS) == {}
    assert "qts" not in derived_of({**SHEET, "qms": 10**400}, FIELDS)
