"""A data sheet held against itself."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.air import REFERENCE_AIR
from engine.datasheet import CROSS_CHECKED, FULL_POWER, PASSIVE_RADIATOR, THIELE_SMALL, read_driver, read_radiator
from engine.document import Reader
from engine.errors import Fault
from engine.field import Field
from engine.parts import Driver
from engine.words.voice import Voice

FIELDS = (
    Field(key="name", kind="text", default="driver", help=""),
    *THIELE_SMALL,
    *CROSS_CHECKED,
    *FULL_POWER,
)

# Published value [P]: a 5.5-inch woofer's data sheet as quoted in a university coursework report; effective
# diameter 105 mm.  Its Vas matches with Small's air (1.18 kg/m³, 345 m/s) and no other.  The power is ours.
WOOFER = {
    "fs": "60.9 Hz",
    "re": "5.9 ohm",
    "qms": 3.35,
    "qes": 0.796,
    "qts": 0.643,
    "vas": "7.74 L",
    "sd": "86.59 cm^2",
    "le": "1.01 mH",
    "mms": "9.3 g",
    "cms": "0.735 mm/N",
    "bl": "5.13 T m",
    "xmax": "3.5 mm",
    "rated_power": "50 W",
}


def read(sheet: dict[str, Any]) -> tuple[Driver | None, list[Fault]]:
    reader = Reader("sheet.toml")
    driver, _ = read_driver(reader, sheet, "driver", FIELDS)
    return driver, reader.faults


def test_a_published_sheet_passes() -> None:
    """Published value [P], see WOOFER: the derived figures come within the printed digits and its air."""
    driver, faults = read(WOOFER)
    assert faults == []
    assert driver is not None
    assert driver.qts == pytest.approx(0.643, abs=0.0005)
    assert driver.bl == pytest.approx(5.13, rel=0.01)  # ρc² of our air and of theirs: 1 % apart
    assert driver.mms == pytest.approx(0.0093, rel=0.01)


MISTYPED = [
    ("fs", "69.0 Hz", {"fs"}),
    ("qes", 0.976, {"qes"}),
    ("qts", 0.463, {"qts"}),
    ("mms", "3.9 g", {"mms"}),
    ("cms", "0.375 mm/N", {"cms"}),
    ("bl", "5.31 T m", {"bl"}),
    ("re", "9.5 ohm", {"re", "bl"}),
    ("vas", "4.77 L", {"vas", "sd"}),
    ("sd", "68.59 cm^2", {"sd", "vas"}),
]


@pytest.mark.parametrize(("key", "value", "named"), MISTYPED)
def test_a_mistyped_figure_is_found(key: str, value: Any, named: set[str]) -> None:
    """Published value [P] with two digits swapped: a check that could not fail would let it by.

    ``named`` are the figures the rest of the sheet cannot clear, so every message must name them.
    """
    driver, faults = read(WOOFER | {key: value})
    assert driver is None
    assert faults
    for fault in faults:
        assert fault.key.startswith("driver.")
        words = f"{fault.key} {fault.wrong(Voice('metric'))}"
        assert all(name in words for name in named), words
        assert " % more)" in words or " % less)" in words


def test_the_message_says_which_relation_fails_and_by_how_much() -> None:
    """Analytic limit: bl = sqrt(2π·60.9·0.0093·5.9/0.796) = 5.136 T m, 14 % less than the 6.0 stated."""
    _, faults = read(WOOFER | {"bl": "6.0 T m"})
    assert "\n".join(map(str, faults)) == (
        "sheet.toml: driver.bl = 6.0 T m: fs, mms, re and qes give 5.14 T m (14 % less): "
        "the rest of the sheet agrees, so check bl and re; "
        "if the sheet is printed so, leave out bl or mms"
    )


def test_coarse_digits_excuse_what_they_hide() -> None:
    """Analytic limit: fs 60.40 Hz makes the mass 9.54 g in our air, 9.45 g in theirs.

    "9 g" may be anything up to 9.5 g, "9.0 g" may not.
    """
    sheet = {key: value for key, value in WOOFER.items() if key not in ("cms", "bl")} | {"fs": "60.40 Hz"}
    assert read(sheet | {"mms": "9 g"})[1] == []
    assert [fault.key for fault in read(sheet | {"mms": "9.0 g"})[1]] == ["driver.mms"]


@given(
    fs=st.floats(18.0, 80.0),
    mms=st.floats(0.02, 0.4),
    sd=st.floats(0.012, 0.12),
    re=st.floats(0.6, 12.0),
    qes=st.floats(0.2, 1.2),
    qms=st.floats(2.0, 12.0),
    own_air=st.sampled_from([1.0, 140_450 / REFERENCE_AIR.stiffness]),
)
def test_every_honest_sheet_passes(
    fs: float, mms: float, sd: float, re: float, qes: float, qms: float, own_air: float
) -> None:
    """Conservation law: a sheet worked out from one driver and rounded to three digits agrees with itself,
    in our reference air as in Small's (1.18 kg/m³, 345 m/s).
    """
    cms = 1.0 / ((2.0 * math.pi * fs) ** 2 * mms)
    bl = math.sqrt(2.0 * math.pi * fs * mms * re / qes)
    vas = own_air * REFERENCE_AIR.stiffness * sd**2 * cms
    plausible = 0.0005 < vas < 1.0 and 0.5 < bl < 100.0 and 5e-6 < cms < 5e-3
    sheet = {
        "fs": f"{fs:.3g} Hz",
        "qes": float(f"{qes:.2f}"),
        "qms": float(f"{qms:.3g}"),
        "qts": float(f"{qes * qms / (qes + qms):.2f}"),
        "vas": f"{1e3 * vas:.3g} L",
        "sd": f"{1e4 * sd:.3g} cm^2",
        "re": f"{re:.3g} ohm",
        "le": "1 mH",
        "mms": f"{1e3 * mms:.3g} g",
        "cms": f"{1e3 * cms:.3g} mm/N",
        "bl": f"{bl:.3g} T m",
        "xmax": "9 mm",
        "rated_power": "300 W",
    }
    _, faults = read(sheet)
    assert (faults == []) or not plausible


def test_a_wrong_unit_shows_in_the_moving_mass() -> None:
    """Analytic limit: mms ∝ sd²/vas, so square inches typed as square centimetres are a factor 42 off."""
    bare = {key: value for key, value in WOOFER.items() if key not in ("mms", "cms", "bl")}
    assert read(bare)[1] == []
    _, faults = read(bare | {"sd": "34 cm^2"})
    assert [fault.key for fault in faults] == ["driver.vas"]
    assert "moving mass" in str(faults[0])


def test_a_lossy_coil_needs_both_its_figures() -> None:
    """Regression pin."""
    assert [fault.key for fault in read(WOOFER | {"l2": "1 mH"})[1]] == ["driver.r2"]
    assert [fault.key for fault in read(WOOFER | {"r2": "1 ohm"})[1]] == ["driver.l2"]
    assert read(WOOFER | {"l2": "1 mH", "r2": "4 ohm"})[1] == []


WRIGHT = {"inductance_kr": 0.003, "inductance_xr": 0.7, "inductance_ki": 0.02, "inductance_xi": 0.7}


@pytest.mark.parametrize(
    ("stated", "at"),
    [
        ({"inductance_exponent": 0.6, "l2": "1 mH", "r2": "4 ohm"}, ["inductance_exponent"]),
        (WRIGHT, ["le"]),
        ({**WRIGHT, "le": "0 mH", "l2": "1 mH", "r2": "4 ohm"}, ["l2", "r2"]),
        ({**WRIGHT, "le": "0 mH", "inductance_exponent": 0.6}, ["inductance_exponent"]),
        ({"inductance_kr": 0.003}, ["inductance_xr", "le"]),
    ],
)
def test_ways_to_state_a_coil_that_exclude_each_other(stated: dict[str, Any], at: list[str]) -> None:
    """User's promise: which figures cannot stand together."""
    _, faults = read(WOOFER | stated)
    assert [fault.key for fault in faults] == [f"driver.{key}" for key in at]


def test_a_coil_stated_in_one_way_is_read() -> None:
    """Regression pin: Leach's exponent with le, or Wright's numbers without."""
    leach, _ = read(WOOFER | {"inductance_exponent": 0.6})
    wright, faults = read(WOOFER | WRIGHT | {"le": "0 mH"})
    assert faults == []
    assert leach is not None
    assert wright is not None
    assert (leach.le, leach.inductance_exponent) == (0.00101, 0.6)
    assert (wright.le, wright.inductance_kr, wright.inductance_xi) == (0.0, 0.003, 0.7)


def test_a_passive_radiator_implies_its_mass() -> None:
    """Analytic limit: mms = ρc²·sd²/(vas·(2π·fs)²), so Sd in another unit is a factor 42 off and is noticed."""
    name = Field(key="name", kind="text", default="radiator", help="")
    sheet = {"fs": "20 Hz", "qms": 8.0, "vas": "60 L", "sd": "340 cm^2", "xmax": "18 mm"}
    reader = Reader("sheet.toml")
    radiator, _ = read_radiator(reader, sheet, "radiator", (name, *PASSIVE_RADIATOR))
    assert radiator is not None
    expected = REFERENCE_AIR.stiffness * 0.034**2 / (0.06 * (2.0 * math.pi * 20.0) ** 2)
    assert radiator.mms == pytest.approx(expected)
    assert radiator.rms == pytest.approx(2.0 * math.pi * 20.0 * expected / 8.0)
    wrong, _ = read_radiator(reader, sheet | {"sd": "34 cm^2"}, "radiator", (name, *PASSIVE_RADIATOR))
    assert wrong is None
    assert [fault.key for fault in reader.faults] == ["radiator.vas"]
