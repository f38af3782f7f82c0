"""Text with units to SI and back."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.document import Reader
from engine.field import Field
from engine.quantities import (
    KINDS,
    PRICE_KINDS,
    NotAQuantity,
    Units,
    _registry,
    currency_in,
    display_unit,
    from_display,
    half_unit,
    parse,
    show,
    to_display,
    with_unit,
    write,
)

# Published values: exact by definition (international yard and pound agreement, 1959: 1 in = 25.4 mm,
# 1 lb = 0.45359237 kg), so equality is asked for to the last digit a float holds.
DEFINED = [
    ("18 mm", "length", 0.018),
    ("2 3/8 in", "length", 0.060325),
    ("2-3/8 in", "length", 0.060325),
    ("18 1/2 in", "length", 0.4699),
    ("3/4 in", "length", 0.01905),
    ("2½ in", "length", 0.0635),
    ('10.25"', "length", 0.26035),
    ("1.5e1 mm", "length", 0.015),
    ("-12 mm", "length", -0.012),
    ("1 ft", "length", 0.3048),
    ("3' 11\"", "length", 1.1938),
    ("3'-11\"", "length", 1.1938),
    ("3 ft 11 in", "length", 1.1938),
    ("3 Feet 11 Inches", "length", 1.1938),
    ("-3' 11 1/2\"", "length", -1.2065),
    ("2′ 0½″", "length", 0.6223),
    ('11"', "length", 0.2794),
    ("3'", "length", 0.9144),
    ("120 CM", "length", 1.2),
    ("18 Mm", "length", 0.018),
    ("4 IN", "length", 0.1016),
    ("1.25 ft^3", "volume", 0.03539605824),
    ("1.25 ft³", "volume", 0.03539605824),
    ("1.25 cu ft", "volume", 0.03539605824),
    ("20 L", "volume", 0.02),
    ("20 litres", "volume", 0.02),
    ("500 cm2", "area", 0.05),
    ("51 in^2", "area", 0.03290316),
    ("9 lb", "mass", 4.08233133),
    ("120 g", "mass", 0.12),
    ("34 Hz", "frequency", 34.0),
    ("56 ft/s", "speed", 17.0688),
    ("1.4 mH", "inductance", 0.0014),
    ("3.4 Ω", "resistance", 3.4),
    ("3.4 ohms", "resistance", 3.4),
    ("12.5 T m", "force_factor", 12.5),
    ("12.5 Tm", "force_factor", 12.5),
    ("12.5 N/A", "force_factor", 12.5),
    ("210 µm/N", "compliance", 0.00021),
    ("4.1 N s/m", "mechanical_resistance", 4.1),
    ("68 degF", "temperature", 293.15),
    ("20 °C", "temperature", 293.15),
    ("180 deg", "angle", math.pi),
    ("740 kg/m^3", "density", 740.0),
    ("112 dB", "level", 112.0),
    ("1013.25 hPa", "pressure", 101325.0),
]


def refused(text: str, kind: str, currency: str | None = None) -> str:
    """What is said of a text that is no quantity of a kind."""
    with pytest.raises(NotAQuantity):
        parse(text, kind, currency=currency)
    reader = Reader("file")
    reader.currency = currency
    assert reader.value(text, "key", Field(key="key", kind=kind, help="")) is None
    (fault,) = reader.faults
    return str(fault)


@pytest.mark.parametrize(("text", "kind", "value"), DEFINED)
def test_units_are_worth_what_they_are_defined_as(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == value


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("18", "length", 'a bare number: expected a length such as "18 mm"'),
        ("3/4", "length", "a bare number"),
        ("1,5 mm", "length", "with a point"),
        ("1,000 W", "power", "with a point"),
        ("1 000 mm", "length", "finite number"),
        ("1.2.3 mm", "length", "finite number"),
        ("1e999 mm", "length", "finite number"),
        ("nan mm", "length", "finite number"),
        ("inf mm", "length", "finite number"),
        ("mm", "length", "finite number"),
        ("", "length", "finite number"),
        ("2/0 in", "length", "0 below the line"),
        ("18 kg", "length", 'the unit "kg" does not fit: expected a length'),
        ("18 mm^2", "length", "does not fit"),
        ("18 smoots", "length", "does not fit"),
        ("18 mm**999999", "length", "does not fit"),
        ("18 __import__('os')", "length", "does not fit"),
        ("5 ms", "length", "does not fit"),
        ("2000 rpm", "frequency", "does not fit"),
        ("18 %", "angle", "does not fit"),
        ("18 mm" + " " * 9 + "m" * 90, "length", "nothing longer"),
    ],
)
def test_anything_else_is_refused_with_what_was_expected(text: str, kind: str, words: str) -> None:
    """Regression pin of the messages: they are what the user reads."""
    assert words in refused(text, kind)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("120 EUR", "price", 120.0),
        ("38 EUR/m^2", "price_per_area", 38.0),
        ("6 EUR/m", "price_per_length", 6.0),
        ("3 EUR/ft", "price_per_length", 3 / 0.3048),
        ("2 EUR/ft^2", "price_per_area", 2 / 0.3048**2),
        ("€220", "price", 220.0),
        ("220 €", "price", 220.0),
        ("EUR 220", "price", 220.0),
        ("220 eur", "price", 220.0),
        ("€ 12.50", "price", 12.5),
        ("€38/m²", "price_per_area", 38.0),
        ("€3 / ft", "price_per_length", 3 / 0.3048),
    ],
)
def test_prices(text: str, kind: str, value: float) -> None:
    """Published value (definition of the foot)."""
    assert parse(text, kind, currency="EUR") == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("6 EUR", "price_per_length"),
        ("6 EUR/m", "price"),
        ("6 EUR/m", "price_per_area"),
        ("120 marbles", "price"),
        ("€220 €", "price"),
    ],
)
def test_a_price_for_another_thing_is_refused(text: str, kind: str) -> None:
    """Regression pin."""
    assert "does not fit: expected a price" in refused(text, kind, currency="EUR")


@pytest.mark.parametrize("text", ["120 USD", "$120", "usd 120", "£120"])
def test_a_price_in_another_currency_is_refused(text: str) -> None:
    """User's promise: the message says which currency the job has."""
    assert "one currency, here EUR" in refused(text, "price", currency="EUR")


@pytest.mark.parametrize("text", ["$220", "220 $", "220$", "US$ 220", "USD220", "220 usd", "$220.00"])
def test_a_dollar_stands_before_or_behind(text: str) -> None:
    """User's promise."""
    assert parse(text, "price", currency="USD") == 220.0
    assert parse("$220", "price", currency="CAD") == 220.0
    assert currency_in(text) == "USD"


@pytest.mark.parametrize(
    ("text", "ounces"),
    [("6 lb 4 oz", 100), ("6lb4oz", 100), ("6 lbs, 4 1/2 oz", 100.5), ("6 pounds 4 ounces", 100), ("6 lb 4", 100)],
)
def test_pounds_go_with_ounces(text: str, ounces: float) -> None:
    """Published value (definition of the pound, 1/16 of which is an ounce)."""
    assert parse(text, "mass") == pytest.approx(ounces * 0.45359237 / 16.0, rel=1e-14)


def test_a_pound_has_no_sixteenth_ounce() -> None:
    """User's promise: a slip is told rather than carried over."""
    assert "less than 16 ounces" in refused("6 lb 16 oz", "mass")


@pytest.mark.parametrize("text", ["5'3", "5' 3", "5 ft 3", "5 ft 3 in", "5'-3\""])
def test_what_follows_feet_is_inches(text: str) -> None:
    """User's promise, with the inch sign or without."""
    assert parse(text, "length") == pytest.approx(63 * 0.0254, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "kind", "units", "said"),
    [
        ("18", "length", "metric", "18 mm"),
        ("3/4", "length", "us", "3/4 in"),
        ("29 1/2", "length", "us", "29 1/2 in"),
        (" 1.25 ", "volume", "us", "1.25 ft^3"),
        ("35", "volume", "metric", "35 L"),
        ("9", "mass", "us", "9 lb"),
        ("120", "moving_mass", "us", "120 g"),
        ("120", "moving_mass", "metric", "120 g"),
        ("4", "added_mass", "us", "4 oz"),
        ("32", "frequency", "us", "32 Hz"),
        ("-3", "level", "metric", "-3 dB"),
        ("300", "power", "us", "300 W"),
        ("1.4", "inductance", "us", "1.4 mH"),
        ("68", "temperature", "us", "68 degF"),
        ("220", "price", "us", "220 USD"),
        ("38", "price_per_area", "us", "38 USD/ft^2"),
        ("6", "price_per_length", "metric", "6 USD/m"),
        ("$220", "price", "us", "$220"),
        ("18 mm", "length", "us", "18 mm"),
        ("12,5", "length", "metric", "12,5"),
        ("a few", "length", "metric", "a few"),
    ],
)
def test_a_bare_number_takes_the_unit_of_its_kind(text: str, kind: str, units: Units, said: str) -> None:
    """User's promise for forms; what is no bare number stays as it was typed."""
    assert with_unit(text, kind, units, currency="USD") == said


def test_a_bare_price_stays_one_where_no_currency_is_known() -> None:
    """User's promise: no currency is made up."""
    assert with_unit("220", "price", "us") == "220"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_moving_mass_is_in_grams_everywhere(units: Units) -> None:
    """Common practice: every data sheet prints it so."""
    assert show(0.0853, "moving_mass", units) == "85 g"


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", KINDS)
@given(value=st.floats(1e-6, 1e6))
def test_what_is_written_reads_back(kind: str, units: str, value: float) -> None:
    """Conservation law: writing and reading lose nothing beyond 1e-9.  Absolute zero is no weather."""
    value += 200.0 if kind == "temperature" else 0.0
    assert parse(write(value, kind, units), kind) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", PRICE_KINDS)
@given(value=st.floats(1e-2, 1e6))
def test_prices_read_back(kind: str, units: str, value: float) -> None:
    """Conservation law."""
    assert parse(write(value, kind, units, currency="USD"), kind, currency="USD") == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_display_scales_agree_with_pint(kind: str) -> None:
    """Independent implementation: our constants against pint's unit definitions."""
    ureg = _registry()
    for unit in filter(None, (KINDS[kind].metric, KINDS[kind].us)):
        if kind == "level":
            assert unit.scale == 1.0
            continue
        text = f"delta_{unit.text}" if kind == "temperature_difference" and unit.text != "K" else unit.text
        si = ureg.Quantity(7.0, text).to(KINDS[kind].si).magnitude
        assert 7.0 * unit.scale + unit.zero == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", KINDS)
def test_display_of_arrays_is_that_of_each_float(kind: str, units: str) -> None:
    """Conservation law: arrays and floats agree, there and back, and inputs are untouched."""
    values = np.array([[0.0, 0.25], [3.0, 1e4]])
    before = values.copy()
    shown = to_display(values, kind, units)
    assert shown.tolist() == [[to_display(v, kind, units) for v in row] for row in before.tolist()]
    np.testing.assert_allclose(from_display(shown, kind, units), before, rtol=1e-12, atol=1e-12)
    np.testing.assert_array_equal(values, before)


def test_what_is_shown() -> None:
    """Regression pin: the digits that mean something to a builder."""
    assert show(0.6123, "length", "metric") == "612 mm"
    assert show(0.018, "length", "metric") == "18 mm"
    assert show(0.0525, "length", "metric") == "52.5 mm"
    assert show(0.6123, "length", "metric", 1) == "612.3 mm"
    assert show(0.060325, "length", "us") == "2.38 in"
    assert show(0.0297, "volume", "us") == "1.05 ft³"
    assert show(0.0297, "volume", "metric") == "29.7 L"
    assert show(17.0, "speed", "us") == "56 ft/s"
    assert show(-1e-9, "speed", "metric") == "0.0 m/s"
    assert show(math.radians(18.0), "angle", "us") == "18.0°"
    assert show(math.nan, "length", "metric") == "–"
    assert display_unit("area", "us") == "in²"


@pytest.mark.parametrize(
    ("text", "kind", "half"),
    [
        ("12 mm", "length", 0.0005),
        ("12.50 mm", "length", 0.000005),
        ("1.2e1 mm", "length", 0.0005),
        ("2 3/8 in", "length", 0.0254 / 16),
        ("330 cm^2", "area", 0.5e-4),
    ],
)
def test_half_a_unit_of_the_last_place(text: str, kind: str, half: float) -> None:
    """Analytic limit: what rounding to the printed place may have taken."""
    assert half_unit(text, kind) == pytest.approx(half, rel=1e-12)


def test_importing_does_not_wait_for_pint() -> None:
    """Regression pin: pint takes a third of a second, and --help should not."""
    probe = "import sys, engine.quantities; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-W", "error", "-c", probe], check=False).returncode == 0


@given(feet=st.integers(0, 30), eighths=st.integers(0, 95), sign=st.sampled_from(["", "-"]))
def test_feet_and_inches_are_worth_the_inches_they_come_to(feet: int, eighths: int, sign: str) -> None:
    """Published value: 12 inches to the foot; the same length in inches alone reads the same."""
    inches = f"{eighths // 8} {eighths % 8}/8"
    alone = f"{sign}{12 * feet + eighths // 8} {eighths % 8}/8 in"
    for text in (f"{sign}{feet}' {inches}\"", f"{sign}{feet} ft {inches} in"):
        assert parse(text, "length") == parse(alone, "length")


@pytest.mark.parametrize("text", ["3' 12\"", "3 ft 11 in^3", "3' 11 mm"])
def test_feet_with_what_are_no_inches_are_refused(text: str) -> None:
    said = refused(text, "length")
    assert "expected" in said or "does not fit" in said
