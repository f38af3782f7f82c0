"""What a form puts into a document when a choice changes what else may stand there."""

from __future__ import annotations

import pytest

from explorer.inputs import crossed, reshaped

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
