"""What a form puts into a document when a choice changes what else may stand there."""

from __future__ import annotations

from typing import Any

import pytest

from engine.field import Field
from engine.quantities import Units
from explorer.inputs import crossed, in_other_units, reshaped, typed

FREQUENCY = ["18 Hz", "30 Hz"]


@pytest.mark.parametrize(
    ("table", "shape", "after"),
    [
        ({"order": 2}, "own", {"order": 2, "shape": "own", "q": 1.0}),
        ({"order": 4}, "own", {"order": 2, "shape": "own", "q": 1.0}),
        ({"order": 3}, "linkwitz-riley", {"order": 2, "shape": "linkwitz-riley"}),
        ({"order": 4}, "linkwitz-riley", {"order": 4, "shape": "linkwitz-riley"}),
        ({"order": 2, "shape": "own", "q": 1.4}, "butterworth", {"order": 2, "shape": "butterworth"}),
    ],
)
def test_a_filter_of_another_shape_has_an_order_that_there_is(
    table: dict[str, object], shape: str, after: dict[str, object]
) -> None:
    """User's promise: choosing a shape never puts the form at fault."""
    assert reshaped({"kind": "highpass", "frequency": FREQUENCY, **table}, shape) == {
        "kind": "highpass",
        "frequency": FREQUENCY,
        **after,
    }


def test_a_crossover_starts_with_order_and_frequency_and_goes_with_them() -> None:
    """User's promise: a crossover just chosen is whole, and one taken away leaves nothing behind."""
    band = {"band_frequency": "45 Hz", "band_gain": "-3 dB"}
    chosen = crossed({**band, "low_pass": "butterworth"}, "butterworth")
    assert chosen == {**band, "low_pass": "butterworth", "low_pass_order": 4, "low_pass_frequency": "80 Hz"}
    assert crossed({**chosen, "low_pass_order": 2}, "linkwitz-riley")["low_pass_order"] == 2
    assert crossed(chosen, "none") == band


@pytest.mark.parametrize(
    ("text", "kind", "form", "units", "meant"),
    [
        ("18", "length", "one", "metric", "18 mm"),
        ("29 1/2", "length", "one", "us", "29 1/2 in"),
        ("30, 40; 50 Hz", "frequency", "list", "us", ["30 Hz", "40 Hz", "50 Hz"]),
        ("220", "price", "one", "us", "220 USD"),
        ("$220", "price", "one", "us", "$220"),
        ("82 %", "ratio", "one", "metric", 0.82),
        ("0.4", "ratio", "one", "metric", 0.4),
        ("2", "count", "one", "metric", 2),
        ("  ", "length", "one", "metric", None),
        ("Reel", "text", "one", "us", "Reel"),
    ],
)
def test_what_is_typed_states_its_unit_in_the_document(
    text: str, kind: str, form: Any, units: Units, meant: object
) -> None:
    """User's promise: a bare number is in the job's unit, and a file saved says so."""
    assert typed(text, Field("key", kind, "", form=form), units, "USD") == meant


def test_the_other_system_is_told_in_fractions_where_it_is_one() -> None:
    """User's promise: inches as a rule has them."""
    assert in_other_units("19.05 mm", "length", "us") == "3/4 in"
    assert in_other_units("3/4 in", "length", "metric") == "19.05 mm"
