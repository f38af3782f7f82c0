"""What the customer's sheet says, promises to the user: the front's figures, what they bear out, plain words."""

from __future__ import annotations

import dataclasses
import re
from html import escape
from typing import Any

import numpy as np
import pytest

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin
from engine.goals import levels_among
from engine.judged import FREQUENCY
from engine.report.claims import claims, room
from engine.report.logo import read_logo
from engine.report.portrait import Portrait
from engine.report.sheet import Sheet, Wishes, file_name, lead, sheet_of, unbroken
from engine.report.sheet_figures import goals_told
from engine.report.sheet_html import html_of
from engine.report.wording import figure
from tests.report.sheets import DAY, Reader, altered, png, sheet


@pytest.fixture(scope="module")
def three(portraits: list[Portrait]) -> Sheet:
    return sheet(portraits)


def test_the_recommended_box_leads_over_each_other_in_something_that_is_so(portraits: list[Portrait]) -> None:
    made = sheet(portraits, recommended="B")
    assert made.recommendation == "Our recommendation: box B"
    (best,) = [box for box in made.boxes if box.recommended]
    assert best.letter == "B"
    for box in made.boxes:
        if box is not best:
            assert box.beside == "beside B, our recommendation"


def test_headlines_are_differences_of_the_rows(portraits: list[Portrait]) -> None:
    first, other = portraits[:2]
    louder = max(other.row[key] - first.row[key] for key in ("level_30_hz_db", "level_40_hz_db", "level_50_hz_db"))
    made = sheet([first, other], recommended="A")
    assert f"{louder:.1f}\N{NO-BREAK SPACE}dB louder" in made.boxes[1].headline
    heavier = other.row["weight_kg"] - first.row["weight_kg"]
    assert f"{heavier:.1f}\N{NO-BREAK SPACE}kg more" in made.boxes[1].gives_up
    assert f"{heavier:.1f}\N{NO-BREAK SPACE}kg less" in made.boxes[0].headline


def test_what_one_box_is_ahead_in_the_other_gives_up(portraits: list[Portrait]) -> None:
    """Symmetry: leads of one over the other are lags of the other, as large."""
    one, other = (portrait.row for portrait in portraits[:2])
    there = {each.key: each.lead for each in claims(one, other, units="metric")}
    back = {each.key: -each.lead for each in claims(other, one, units="metric")}
    assert there == pytest.approx(back)
    assert len(there) > 1


def test_one_that_is_louder_here_and_quieter_there_is_told_both(portraits: list[Portrait]) -> None:
    first = portraits[0]
    row = dict(first.row)
    crossing = row | {"level_30_hz_db": row["level_30_hz_db"] + 5.0, "level_50_hz_db": row["level_50_hz_db"] - 3.0}
    told = [claim.words for claim in claims(crossing, row, units="metric")]
    assert told == ["plays 5.0 dB louder at 30 Hz", "plays 3.0 dB quieter at 50 Hz"]


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (0.5, "half the room"), (0.51, "half the room"), (0.53, "47 % less room"), (0.68, "a third less room"),
        (2.0, "twice the room"),
    ],
)  # fmt: skip
def test_room_is_told_in_shares_that_are_so(ratio: float, words: str) -> None:
    assert room(ratio) == f"takes {words}"


def test_much_the_same_boxes_are_said_to_be_so(portraits: list[Portrait]) -> None:
    twin = Portrait(portraits[0].design, "B")
    made = sheet([portraits[0], twin], recommended="A")
    assert made.boxes[1].headline == "Ahead of A in nothing"
    assert made.boxes[1].gives_up == "Nothing that can be told apart"


def test_a_little_is_told_where_there_is_nothing_more(portraits: list[Portrait]) -> None:
    """User's promise: no box is said to be ahead in nothing beside a table that shows it smaller."""
    first = portraits[0]
    row = dict(first.row)
    larger = row | {"outer_volume_m3": 1.05 * row["outer_volume_m3"], "level_30_hz_db": row["level_30_hz_db"] + 2.0}
    made = sheet([first, altered(dataclasses.replace(first, letter="B"), row=larger)], recommended="A")
    assert made.boxes[0].headline.replace("\N{NO-BREAK SPACE}", " ") == "Takes 5 % less room"
    assert made.boxes[1].gives_up.replace("\N{NO-BREAK SPACE}", " ") == "Takes 5 % more room"
    assert "Beside B it takes 5 % less room." in made.reason.replace("\N{NO-BREAK SPACE}", " ")


def test_one_alone_is_told_by_its_own_figures(portraits: list[Portrait]) -> None:
    made = sheet(portraits[:1])
    assert made.recommendation == "Our recommendation"
    level = figure("level_30_hz_db", portraits[0].row["level_30_hz_db"], "metric").replace(" ", "\N{NO-BREAK SPACE}")
    assert level in made.boxes[0].headline
    assert not made.boxes[0].gives_up


def test_it_holds_one_to_three_boxes(portraits: list[Portrait]) -> None:
    for count in ([], [*portraits, Portrait(portraits[0].design, "D")]):
        with pytest.raises(ValueError, match="one to 3 boxes"):
            sheet(count)
    with pytest.raises(ValueError, match="no box 'D'"):
        sheet(portraits, recommended="D")


@pytest.mark.parametrize("units", ["metric", "us"])
def test_figures_are_those_of_the_front(portraits: list[Portrait], units: Any) -> None:
    made = sheet(portraits, units=units)
    for key, line in zip(goals_told(portraits), made.lines, strict=False):
        for portrait, cell in zip(portraits, line.cells, strict=True):
            if key in portrait.row:
                assert cell.figure == figure(key, portrait.row[key], units)


def test_bands_hold_the_figure_of_most_boxes(three: Sheet) -> None:
    """Order: what nine of ten reach is no better than what one of ten does."""
    for line in three.lines:
        for cell in line.cells:
            if "dB to" in cell.band:
                safe, best = (float(text) for text in re.findall(r"[\d.]+(?= dB)", cell.band))
                assert safe <= best
                assert safe <= float(cell.figure.removesuffix(" dB")) + 0.5


def test_prices_are_the_shop_s_words(portraits: list[Portrait]) -> None:
    made = sheet(portraits, prices={"B": "890 EUR fitted"})
    assert [box.price for box in made.boxes] == ["", "890 EUR fitted", ""]
    assert [cell.figure for cell in made.lines[-1].cells] == ["ask us", "890 EUR fitted", "ask us"]
    assert not [line for line in sheet(portraits).lines if line.label == "Price"]


def is_vented(portrait: Portrait) -> bool:
    return bool(portrait.row["box_kind"] == "vented")


def test_nothing_for_the_workshop_is_on_it(three: Sheet, portraits: list[Portrait]) -> None:
    page = html_of(three).replace("\N{NO-BREAK SPACE}", " ")
    for word in ("cut-out", "brace", "flange", "bevel", "terminal cup"):
        assert word not in page.lower()
    lengths = [figure("vent_length_m", each.row["vent_length_m"], "metric") for each in portraits if is_vented(each)]
    assert lengths
    assert not [length for length in lengths if length in page]


def test_no_figure_of_the_web_page_is_broken_from_its_unit(three: Sheet) -> None:
    """Promise: on a telephone's narrow columns too; a band breaks before its second figure and nowhere else."""
    cells = re.findall(r"<td[^>]*>(.*?)</td>", html_of(three))
    assert any("dB" in cell for cell in cells)
    assert not [cell for cell in cells if re.search(r"\d (?:dB|Hz|kg|L)\b", cell)]
    assert any(re.search(r"\d\N{NO-BREAK SPACE}dB to \d", cell) for cell in cells)


def test_it_says_what_can_hurt(three: Sheet) -> None:
    for word in ("hearing", "bolted", "airbags", "fuse"):
        assert word in " ".join(three.cautions)


def test_a_reader_who_has_heard_of_nothing_is_told_what_words_mean(three: Sheet) -> None:
    """Plain words: technical ones stand in brackets after them, or are explained below."""
    labels = " ".join(line.label for line in three.lines)
    assert "(f3)" in labels
    for word in ("Xmax", "Vas", "tuning", "Thiele", "half space"):
        assert word not in labels
    assert any("decibels (dB)" in said for said in three.explained)


def test_the_first_sentence_claims_no_more_than_the_designs_bear_out(portraits: list[Portrait]) -> None:
    first, other = portraits[:2]
    assert lead([first, other]).endswith("each is better than the others at something.")
    worse = dict(first.row) | dict.fromkeys(levels_among(first.row), 50.0) | {"weight_kg": 99.0}
    assert "better" not in lead([first, altered(first, row=worse)])
    space = dataclasses.replace(first.scenario.space, width=2.0)
    elsewhere = altered(other, scenario=dataclasses.replace(other.scenario, space=space))
    assert "the spaces differ" in lead([first, elsewhere])


def test_what_passes_a_limit_at_full_power_says_so(portraits: list[Portrait]) -> None:
    vented = next(each for each in portraits if is_vented(each))
    beyond = dict(vented.row) | {"excursion_ratio": 1.89, "vent_speed_m_s": 30.0}
    goals = dataclasses.replace(
        vented.scenario.goals, drive="full power", objectives=("excursion_ratio", "vent_speed_m_s")
    )
    scenario = dataclasses.replace(vented.scenario, goals=goals)
    made = sheet([altered(vented, row=beyond, scenario=scenario)])
    page = html_of(made)
    assert "can be heard at full power" in page
    assert escape("1.89 – beyond the maker's range at full power") in page


def test_figures_in_the_vehicle_say_whether_they_are_estimates(portraits: list[Portrait]) -> None:
    row = dict(portraits[0].row) | {"f3_cabin_hz": 21.0, "output_cabin_db": 117.0}
    goals = dataclasses.replace(portraits[0].scenario.goals, objectives=("f3_cabin_hz", "output_db"))

    def page_with(cabin: object) -> str:
        scenario = dataclasses.replace(portraits[0].scenario, cabin=cabin, goals=goals)
        gain = np.full(len(FREQUENCY), 8.0 if cabin else np.nan)
        kept = row if cabin else row | {key: np.nan for key in row if "_cabin_" in key}
        return html_of(sheet([altered(portraits[0], row=kept, scenario=scenario, cabin_db=gain)]))

    estimated = page_with(EstimatedCabin(largest_dimension=2.1))
    assert "– an estimate" in estimated
    assert "differs by several dB" in estimated
    levels = np.array([8.0, 4.0, 2.0, 1.0, 0.0])
    measured = page_with(MeasuredCabin(frequency=np.array([20.0, 30.0, 50.0, 80.0, 120.0]), level_db=levels))
    assert "estimate" not in measured
    assert "rest on what was measured in it" in measured
    assert "without the vehicle's own gain" in page_with(None).replace("&#x27;", "'")


def test_where_the_reckoning_stops_is_told_of_the_box_it_stops_for(portraits: list[Portrait]) -> None:
    sentence = "Above 51 Hz the curves are a guide, no more."
    first, second = altered(portraits[0], model_ends=(sentence,)), altered(portraits[1], model_ends=())
    assert sheet([first, second]).explained[-1] == f"A: {sentence}"


def test_the_page_loads_nothing_and_runs_nothing(three: Sheet) -> None:
    page = html_of(dataclasses.replace(three, logo=read_logo(png(), name="logo.png")))
    reader = Reader(page)
    assert not reader.open
    assert reader.tags["script"] == reader.tags["link"] == reader.tags["iframe"] == 0
    loads = [value for name, value in reader.attributes if name in ("src", "href", "xlink:href", "srcset")]
    assert [value[:22] for value in loads if not value.startswith("#")] == ["data:image/png;base64,"]
    assert not [name for name, _ in reader.attributes if name.startswith("on")]
    without_namespaces = re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)
    assert "://" not in without_namespaces
    assert "@import" not in page
    assert re.findall(r"url\((?!#)", page) == []


def test_every_picture_has_words_and_every_id_is_there_once(three: Sheet) -> None:
    ids = [value for name, value in Reader(html_of(three)).attributes if name == "id"]
    assert len(set(ids)) == len(ids)


def test_names_are_shown_as_typed_and_never_as_markup(portraits: list[Portrait]) -> None:
    nasty = "<script>alert('x')</script> & Söhne \"best\""
    reader = Reader(html_of(sheet(portraits[:1], title=nasty, shop=nasty, customer=nasty, note=nasty)))
    assert reader.tags["script"] == 0
    assert "".join(reader.text).count(nasty) == 6  # title twice with customer, heading, shop, customer, note


def test_it_has_rules_for_print(three: Sheet) -> None:
    page = html_of(three)
    assert "@media print" in page
    assert "break-before: page" in page


@pytest.mark.parametrize(
    ("title", "customer", "name"),
    [
        ("Van bench", "Ms Keller", "van-bench-ms-keller.pdf"),
        ("../../etc/passwd", "", "etc-passwd.pdf"),
        ("CON: a/b\\c?*<>|", "\n\x00\"'", "con-a-b-c.pdf"),
        ("Грузовик", "渡辺", "грузовик-渡辺.pdf"),
        ("...", "---", "sheet.pdf"),
        ("x" * 500, "y" * 500, f"{'x' * 60}-{'y' * 60}.pdf"),
    ],
)
def test_the_file_is_called_after_job_and_customer_in_letters_any_disk_takes(
    title: str, customer: str, name: str
) -> None:
    assert file_name(title, customer, "pdf") == name


def test_no_line_ends_between_a_figure_and_its_unit() -> None:
    assert " " not in unbroken("3 7/16 in") + unbroken("4.9 dB") + unbroken("9 %")


def test_the_same_shortlist_gives_the_same_sheet(portraits: list[Portrait], three: Sheet) -> None:
    again = sheet_of(portraits, title="Thin wedge", wishes=Wishes(), units="metric", written=DAY)
    assert html_of(again) == html_of(three)
