"""The curve charts, promises to the user: each draws, says what it should, reads without colour."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable

import numpy as np
import pytest
import vl_convert

from engine.judged import FREQUENCY
from engine.report.curves import CHARTS, charts_of, limits_in_words, marks_in_words, runs, title_of
from engine.report.ink import DARK, DASHES, LETTERS, LIGHT, Ink
from engine.report.lines import Drawing

Drawn = Callable[..., Drawing]


def words_in(svg: str) -> str:
    return " ".join(part.split("<")[0] for part in svg.split(">"))


def rendered(drawing: Drawing, name: str) -> str:
    chart = CHARTS[name][1](drawing).properties(width=400)
    return vl_convert.vegalite_to_svg(chart.to_dict())


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("count", [1, 5])
@pytest.mark.parametrize("name", list(CHARTS))
def test_every_chart_draws_for_one_and_for_several(drawn: Drawn, name: str, count: int, units: str) -> None:
    svg = rendered(drawn(count, units=units, trace={"cabin": "estimate", "radiator_xmax_m": 0.02}), name)
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


def test_a_closed_box_has_no_vent_to_show_and_no_tuning(drawn: Drawn) -> None:
    closed = drawn(trace={"tuning_hz": np.nan, "vented": False})
    assert "vent_speed" not in charts_of(closed)
    assert "vent_speed" in charts_of(drawn())
    assert "tuning" not in words_in(rendered(closed, "impedance"))


def test_beside_a_vented_box_a_closed_one_has_no_line_and_no_limit(drawn: Drawn) -> None:
    drawing = drawn(2)
    traces = [drawing.traces[0], dataclasses.replace(drawing.traces[1], tuning_hz=np.nan, vented=False)]
    drawing = dataclasses.replace(drawing, traces=traces)
    assert "vent_speed" in charts_of(drawing)
    assert "limit, 17.0 m/s" in words_in(rendered(drawing, "vent_speed"))


def test_a_lone_design_is_heard_in_half_space_and_in_the_vehicle_in_one_chart(drawn: Drawn) -> None:
    drawing = drawn(trace={"cabin": "estimate", "f3_cabin_hz": 21.0})
    assert "cabin_response" not in charts_of(drawing)
    text = words_in(rendered(drawing, "response"))
    for said in ("half space", "vehicle (estimate)", "f3, half space, 30.0 Hz", "f3, in the vehicle, 21.0 Hz"):
        assert said in text
    assert "vehicle" not in words_in(rendered(drawn(), "response"))


def test_several_in_the_vehicle_have_a_chart_of_their_own_that_says_estimate(drawn: Drawn) -> None:
    drawing = drawn(3, trace={"cabin": "estimate"})
    assert "cabin_response" in charts_of(drawing)
    assert title_of("cabin_response", drawing) == "Response in the vehicle (estimate)"
    assert title_of("response", drawing) == "Response"
    assert "cabin_response" not in charts_of(drawn(3))


def test_the_vehicle_s_gain_is_added_to_the_level(drawn: Drawn) -> None:
    drawing = drawn(2, trace={"cabin": "measured"})
    table = next(
        rows
        for rows in CHARTS["cabin_response"][1](drawing).to_dict()["datasets"].values()
        if len(rows) > len(FREQUENCY)
    )
    expected = drawing.curves.spl_db[0] + drawing.cabin_db[0]
    assert [row["value"] for row in table[: len(FREQUENCY)]] == pytest.approx(expected.tolist())


def test_passive_radiators_show_their_travel_against_their_own_xmax(drawn: Drawn) -> None:
    lone = drawn(trace={"vented": False, "radiator_xmax_m": 0.02})
    assert "radiator_excursion" not in charts_of(lone)
    text = words_in(rendered(lone, "excursion"))
    for said in ("Xmax of the driver, 14.0 mm", "Xmax of the passive radiator, 20.0 mm", " passive radiator "):
        assert said in text
    several = drawn(2)
    traces = [several.traces[0], dataclasses.replace(several.traces[1], vented=False, radiator_xmax_m=0.02)]
    several = dataclasses.replace(several, traces=traces)
    assert "radiator_excursion" in charts_of(several)
    assert "Xmax, 20.0 mm" in words_in(rendered(several, "radiator_excursion"))


def test_standing_wave_and_vent_as_a_pipe_are_marked_or_told_where_they_lie(drawn: Drawn) -> None:
    near = drawn(trace={"first_mode_hz": 181.0, "vent_resonance_hz": 150.0})
    text = words_in(rendered(near, "response"))
    assert "standing wave in the box 181.0 Hz" in text
    assert "vent as a pipe 150.0 Hz" in text
    assert marks_in_words(near) == "Marked, but not in the curves: standing wave in the box, vent as a pipe."
    assert "pipe" not in marks_in_words(drawn(trace={"first_mode_hz": 181.0}))
    far = drawn(trace={"first_mode_hz": 231.0, "vent_resonance_hz": 410.0})
    assert "pipe" not in words_in(rendered(far, "response"))
    assert marks_in_words(far) == "Outside the chart – standing wave in the box at 231 Hz, vent as a pipe at 410 Hz."
    assert marks_in_words(drawn()) == ""
    several = drawn(2, trace={"first_mode_hz": 181.0, "vent_resonance_hz": 410.0})
    assert marks_in_words(several).startswith("Marked, but not in the curves: ▲ standing wave in the box. Outside")
    assert "B: vent as a pipe at 410 Hz" in marks_in_words(several)
    assert '"triangle-up"' in json.dumps(CHARTS["response"][1](several).to_dict())


def test_an_f3_in_the_vehicle_below_the_chart_is_told(drawn: Drawn) -> None:
    drawing = drawn(trace={"cabin": "measured", "f3_cabin_hz": 6.0})
    assert "Outside the chart – f3, in the vehicle at 6 Hz." in marks_in_words(drawing)


def test_what_full_power_takes_away_is_drawn_in_the_users_units(drawn: Drawn) -> None:
    assert "Taken from the level (dB)" in words_in(rendered(drawn(), "compression"))
    assert "Coil above the air (K)" in words_in(rendered(drawn(), "coil_rise"))
    assert "Coil above the air (°F)" in words_in(rendered(drawn(units="us"), "coil_rise"))


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


def test_the_level_beside_maximum_output_says_at_which_drive(drawn: Drawn) -> None:
    """User's promise: one gain where designs are turned down, the amplifier's full power where the job asks for it."""
    assert "at one gain" in words_in(rendered(drawn(), "maximum_output"))
    assert "at full power" in words_in(rendered(drawn(trace={"full_power": True}), "maximum_output"))


def test_a_passive_radiator_that_holds_the_output_back_is_named(drawn: Drawn) -> None:
    drawing = drawn()
    always = dataclasses.replace(drawing.curves, limited_by=np.full((1, len(FREQUENCY)), 4))
    drawing = dataclasses.replace(drawing, curves=always)
    assert limits_in_words(drawing) == "Output is held back by the passive radiator's Xmax throughout."
    assert " passive radiator " in words_in(rendered(drawing, "maximum_output"))


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
