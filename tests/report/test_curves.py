"""The curve charts, promises to the user: each draws, says what it should, reads without colour."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable

import numpy as np
import pytest
import vl_convert

from engine.report.curves import CHARTS, FREQUENCY, Drawing, limits_in_words, runs
from engine.report.ink import DARK, DASHES, LETTERS, LIGHT, Ink

Drawn = Callable[..., Drawing]


def words_in(svg: str) -> str:
    return " ".join(part.split("<")[0] for part in svg.split(">"))


def rendered(drawing: Drawing, name: str) -> str:
    chart = CHARTS[name][1](drawing).properties(width=400)
    return vl_convert.vegalite_to_svg(chart.to_dict())


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("count", [1, 2, 5])
@pytest.mark.parametrize("name", list(CHARTS))
def test_every_chart_draws_for_one_and_for_several(drawn: Drawn, name: str, count: int, units: str) -> None:
    svg = rendered(drawn(count, units=units), name)
    assert svg.count("<path") > 5
    text = words_in(svg)
    assert "Frequency (Hz)" in text
    if count > 1:
        assert all(f" {letter} " in f" {text} " for letter in LETTERS[:count])


def test_f3_tuning_xmax_and_limit_are_marked_with_their_figures(drawn: Drawn) -> None:
    assert "f3 30.0 Hz" in words_in(rendered(drawn(), "response"))
    assert "tuning 28.0 Hz" in words_in(rendered(drawn(), "impedance"))
    assert "Xmax, 14.0 mm" in words_in(rendered(drawn(), "excursion"))
    assert "Xmax, 0.55 in" in words_in(rendered(drawn(units="us"), "excursion"))
    assert "limit, 17.0 m/s" in words_in(rendered(drawn(), "vent_speed"))


def test_a_closed_box_says_that_it_has_no_vent(drawn: Drawn) -> None:
    closed = drawn()
    closed = dataclasses.replace(closed, traces=[dataclasses.replace(closed.traces[0], tuning_hz=np.nan)])
    assert "closed box: no vent" in words_in(rendered(closed, "vent_speed"))
    assert "tuning" not in words_in(rendered(closed, "impedance"))


def test_two_drivers_show_two_xmax_with_their_owners(drawn: Drawn) -> None:
    drawing = drawn(2)
    traces = [drawing.traces[0], dataclasses.replace(drawing.traces[1], xmax_m=0.018)]
    text = words_in(rendered(dataclasses.replace(drawing, traces=traces), "excursion"))
    assert "Xmax of A, 14.0 mm" in text
    assert "Xmax of B, 18.0 mm" in text


def test_the_binding_limit_is_written_on_the_chart_and_in_a_sentence(drawn: Drawn) -> None:
    text = words_in(rendered(drawn(), "maximum_output"))
    assert all(limit in text for limit in ("excursion", "vent air speed", "amplifier"))
    assert limits_in_words(drawn()) == (
        "Output is held back by excursion up to 20 Hz, by vent air speed up to 31 Hz, and by the amplifier above that."
    )


def test_one_limit_throughout_is_one_sentence(drawn: Drawn) -> None:
    drawing = drawn()
    always = dataclasses.replace(drawing.curves, limited_by=np.ones((1, len(FREQUENCY)), dtype=int))
    words = limits_in_words(dataclasses.replace(drawing, curves=always))
    assert words == "Output is held back by the driver's rated power throughout."


def test_runs_cover_every_frequency_once() -> None:
    codes = np.array([2, 2, 0, 0, 0, 3])
    found = runs(codes, ("amplifier", "thermal", "excursion", "vent"))
    assert [(run.limit, run.first, run.last) for run in found] == [
        ("excursion", 0, 1),
        ("amplifier", 2, 4),
        ("vent", 5, 5),
    ]


def test_what_is_not_finite_leaves_a_gap_and_breaks_nothing(drawn: Drawn) -> None:
    drawing = drawn()
    broken = {
        field.name: np.where(np.arange(len(FREQUENCY)) % 7 == 0, np.inf, getattr(drawing.curves, field.name))
        for field in dataclasses.fields(drawing.curves)
        if field.name != "limited_by"
    }
    drawing = dataclasses.replace(drawing, curves=dataclasses.replace(drawing.curves, **broken))
    for name in CHARTS:
        assert "NaN" not in rendered(drawing, name)


def test_lines_differ_in_dash_and_letter_not_only_in_colour(drawn: Drawn) -> None:
    assert len({tuple(dash) for dash in DASHES}) == len(LETTERS) == len(LIGHT.series) == len(DARK.series)
    spec = json.dumps(CHARTS["response"][1](drawn(5)).to_dict())
    assert '"strokeDash"' in spec


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("ink", [LIGHT, DARK])
def test_lines_and_words_stand_out_from_their_paper(ink: Ink) -> None:
    """WCAG 2.1 asks for 3:1 of graphics (1.4.11) and 4.5:1 of text (1.4.3)."""

    def contrast(colour: str) -> float:
        pair = sorted([luminance(colour), luminance(ink.paper)])
        return (pair[1] + 0.05) / (pair[0] + 0.05)

    assert all(contrast(colour) >= 3.0 for colour in ink.series)
    assert contrast(ink.text) >= 4.5
