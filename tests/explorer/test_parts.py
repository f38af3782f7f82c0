"""The forms of what goes into the box, run headless: each test is a promise to the user."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin
from engine.document import write_document
from engine.formats.scenario import parse_scenario, read_document
from engine.scenario import Scenario
from tests.explorer.pages import Opener, changed, job_of, part_of, sound, typing, words_on

MEASURED = b"# invented\nfrequency;dB\n20;9,5\n30;7\n45;4,5\n70;2\n120;-1\n"
RADIATOR = {
    "fs": "16 Hz",
    "qms": "8",
    "vas": "60 L",
    "sd": "330 cm^2",
    "xmax": "16 mm",
    "outer_diameter": "262 mm",
    "cutout_diameter": "234 mm",
    "mounting_depth": "60 mm",
}


def on_part(opened: Opener, part: str, **given: Any) -> AppTest:
    test = opened(**given)
    test.switch_page("views/space_parts.py").run()
    return part_of(test).set_value(part).run()


def scenario_of(test: AppTest) -> Scenario:
    return parse_scenario(job_of(test).document, source="")


def choice(test: AppTest, place: str) -> Any:
    job = job_of(test)
    return test.selectbox(key=f"{place}:{job.id}:{job.revision}")


def bare(path: Path, *tables: str) -> Path:
    """A scenario file without some of its tables."""
    document = read_document(path)
    path.write_text(write_document({key: document[key] for key in document if key not in tables}), encoding="utf-8")
    return path


def test_a_passive_radiator_is_added_filled_in_and_removed(opened: Opener, small_job: Path) -> None:
    bare(small_job, "radiator")
    test = on_part(opened, "Passive radiators", scenario=changed(small_job, box={"kinds": ["closed"]}))
    test.button(key="add:radiator[0]:Add a passive radiator").click().run()
    assert typing(test, "radiator[0].fs").placeholder == "needed, in Hz"
    assert "8 fields to fill in" in test.info[0].value
    for key, value in RADIATOR.items():
        typing(test, f"radiator[0].{key}").set_value(value).run()
    sound(test)
    assert not test.error
    assert not test.info
    (candidate,) = scenario_of(test).stock.listed("radiator")
    assert (candidate.radiator.name, candidate.radiator.xmax) == ("Passive radiator 1", 0.016)
    typing(test, "radiator[0].most_added").set_value("9 oz").run()
    assert typing(test, "radiator[0].most_added").label == "Most that may be added (= 255 g)"
    test.button(key="remove:radiator[0]").click().run()
    assert not test.error
    assert "radiator" not in job_of(test).document


def test_boxes_with_passive_radiators_ask_for_one(opened: Opener, small_job: Path) -> None:
    bare(small_job, "radiator")
    test = on_part(opened, "Box", scenario=changed(small_job, box={"kinds": ["closed", "radiator"]}))
    said = (test.error or test.info)[0].value
    assert "**Passive radiators**: add at least one, or untick Passive radiator under Boxes to try" in said


def test_what_a_driver_does_at_full_power_may_stay_empty_and_says_what_is_estimated(
    opened: Opener, small_job: Path
) -> None:
    document = read_document(small_job)
    for key in ("thermal_resistance", "bl_at_xmax", "cms_at_xmax"):
        document["driver"][0].pop(key, None)
    document["driver"][0]["rated_power"] = "300 W"
    small_job.write_text(write_document(document), encoding="utf-8")
    test = on_part(opened, "Drivers")
    assert "At full power" in [fold.label for fold in test.expander]
    assert "estimate: 150 K above the air at rated power, which makes 0.50 K/W here" in words_on(test)
    typing(test, "driver[0].thermal_resistance").set_value("0.8 K/W").run()
    typing(test, "driver[0].bl_at_xmax").set_value("0.8").run()
    assert not test.error
    driver = scenario_of(test).candidates[0].driver
    assert (driver.warmth, driver.bl_at_xmax) == (0.8, 0.8)
    typing(test, "driver[0].inductance_kr").set_value("0.02").run()
    assert "Xr" in test.info[0].value if test.info else "Xr" in test.error[0].value


def test_a_filter_added_or_of_another_shape_is_never_at_fault(opened: Opener) -> None:
    test = on_part(opened, "Signal chain")
    number = len(job_of(test).document.get("filter", []))
    test.button(key=f"add:filter[{number}]:Add a filter").click().run()
    place = f"filter[{number}]"
    for shape in ("own", "linkwitz-riley", "own"):
        choice(test, f"{place}.shape").set_value(shape).run()
        sound(test)
        assert not test.error
    typing(test, f"{place}.q").set_value("1.3").run()
    assert scenario_of(test).filters[-1].q == 1.3
    assert "of your own Q has order 2" in words_on(test)
    test.button(key=f"add:filter[{number + 1}]:Add a filter").click().run()
    assert not test.error


def test_crossover_and_band_come_and_go(opened: Opener, small_job: Path) -> None:
    bare(small_job, "chain")
    test = on_part(opened, "Signal chain")
    before = job_of(test).document
    choice(test, "chain.low_pass").set_value("linkwitz-riley").run()
    assert scenario_of(test).chain.low_pass_order == 4
    typing(test, "chain.low_pass_frequency").set_value("90 Hz").run()
    typing(test, "chain.band_frequency").set_value("45 Hz").run()
    assert typing(test, "chain.band_gain").placeholder == "needed, in dB"
    typing(test, "chain.band_gain").set_value("-3 dB").run()
    assert not test.error
    chain = scenario_of(test).chain
    assert (chain.low_pass_hz, chain.band_hz, chain.band_db) == (90.0, 45.0, -3.0)
    for key in ("band_frequency", "band_gain"):
        typing(test, f"chain.{key}").set_value("").run()
    choice(test, "chain.low_pass").set_value("none").run()
    assert job_of(test).document == before


def test_slot_and_fillings_can_be_stated(opened: Opener, small_job: Path) -> None:
    test = on_part(opened, "Stock", scenario=small_job)
    job = job_of(test)
    for end, value in (("from", "25 mm"), ("to", "50 mm")):
        test.text_input(key=f"stock.slot.height:{job.id}:{job.revision}:{end}").set_value(value).run()
    assert not test.error
    (slot,) = scenario_of(test).stock.listed("slot")
    assert slot is not None
    assert slot.height == (0.025, 0.05)
    part_of(test).set_value("Box").run()
    fillings = next(group for group in test.button_group if group.label == "Filling of closed boxes to try")
    fillings.set_value(["none", "half"]).run()
    assert scenario_of(test).box.fillings == ("none", "half")


def test_a_cabin_is_estimated_from_its_size_and_says_so(opened: Opener, small_job: Path) -> None:
    test = on_part(opened, "Vehicle", scenario=bare(small_job, "cabin"))
    assert not test.get("vega_lite_chart")
    typing(test, "cabin.largest_dimension").set_value("9 ft").run()
    sound(test)
    assert not test.error
    cabin = scenario_of(test).cabin
    assert isinstance(cabin, EstimatedCabin)
    assert cabin.largest_dimension == pytest.approx(2.7432)
    shown = words_on(test)
    assert "**What the vehicle adds** – estimate" in shown
    assert "several dB" in shown
    assert "harm hearing" in shown
    assert len(test.get("vega_lite_chart")) == 1
    test.button(key="remove-cabin").click().run()
    assert "cabin" not in job_of(test).document


def test_a_measured_cabin_is_uploaded_kept_in_the_job_and_removed(opened: Opener, small_job: Path) -> None:
    test = on_part(opened, "Vehicle", scenario=bare(small_job, "cabin"))
    upload(test, "mine.csv", MEASURED)
    sound(test)
    assert not test.error
    table = job_of(test).document["cabin"]["table"]
    assert table[0] == ["20 Hz", "9.5 dB"]
    cabin = scenario_of(test).cabin
    assert isinstance(cabin, MeasuredCabin)
    assert cabin.level_db.tolist() == [9.5, 7.0, 4.5, 2.0, -1.0]
    shown = words_on(test)
    assert "**What the vehicle adds** – measured" in shown
    assert "5 points" in shown
    assert "nothing was measured" in shown
    typing(test, "cabin.offset").set_value("-2 dB").run()
    assert not test.error
    test.button(key="remove-cabin").click().run()
    assert "cabin" not in job_of(test).document


def test_levels_uploaded_in_place_of_a_gain_are_doubted(opened: Opener, small_job: Path) -> None:
    test = on_part(opened, "Vehicle", scenario=bare(small_job, "cabin"))
    upload(test, "levels.csv", b"10,60\n20,71\n40,75\n80,70\n200,52\n")
    sound(test)
    assert "No cabin adds 75 dB" in test.warning[0].value
    typing(test, "cabin.offset").set_value("-62 dB").run()
    assert not test.warning


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"20;9\n30;loud\n15;3\n70;2\n80;1\n", ["**Line 2, level** – “loud”", "**Line 3, frequency** – “15”"]),
        (b"", ["The file is empty"]),
        (b"\xff\xfe\x00", ["not text in UTF"]),
        (b"20;9\n30;8\n", ["at least 5"]),
    ],
)
def test_a_measurement_that_cannot_be_read_says_every_fault_and_changes_nothing(
    opened: Opener, small_job: Path, data: bytes, said: list[str]
) -> None:
    test = on_part(opened, "Vehicle", scenario=bare(small_job, "cabin"))
    before = job_of(test).document
    upload(test, "mine.csv", data)
    sound(test)
    message = test.error[0].value.replace("\\", "")
    assert message.startswith("The file was not taken")
    assert all(words in message for words in said)
    assert job_of(test).document == before


def upload(test: AppTest, name: str, data: bytes) -> None:
    test.file_uploader(key=f"cabin-file:{job_of(test).id}").set_value((name, data, "text/csv"))
    test.run()
