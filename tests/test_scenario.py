"""Scenario files: what reads, and how everything else is refused."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin
from engine.acoustics.filters import Chain
from engine.air import REFERENCE_AIR
from engine.document import write_document
from engine.errors import InputFaults
from engine.formats.fields import FIELDS, TABLES
from engine.formats.measurement import parse_cabin
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document, read_scenario
from engine.goals import GOALS, default_objectives
from engine.openings.radiator import RadiatorCandidate
from engine.openings.slot import Slot
from engine.parts import Clearances, Door, Driver, KeepOut, PassiveRadiator, Stock, TerminalCup
from engine.scenario import BoxChoices, Candidate, FilterChoice, Goals, Scenario
from engine.words.voice import Voice

Document = dict[str, Any]
FILE = Voice("metric")


def job() -> Document:
    """A small sound job to spoil: every required key and nothing else."""
    return {
        "title": "A job",
        "space": {
            "section": [["0 mm", "0 mm"], ["300 mm", "0 mm"], ["200 mm", "400 mm"], ["0 mm", "400 mm"]],
            "width": "900 mm",
        },
        "driver": [
            {
                "name": "ten",
                "fs": "32 Hz",
                "qes": 0.5,
                "qms": 5.0,
                "vas": "30 L",
                "sd": "330 cm^2",
                "re": "3.4 ohm",
                "le": "1.5 mH",
                "xmax": "10 mm",
                "rated_power": "300 W",
                "coil_impedance": "4 ohm",
                "outer_diameter": "262 mm",
                "cutout_diameter": "234 mm",
                "magnet_diameter": "150 mm",
                "mounting_depth": "110 mm",
            }
        ],
        "amplifier": {
            "name": "amp",
            "lowest_load": "2 ohm",
            "load": [{"impedance": "4 ohm", "power": "200 W"}],
        },
        "stock": {
            "board_thickness": "18 mm",
            "pipe": [{"name": "2 in", "inner_diameter": "52 mm", "outer_diameter": "60 mm"}],
        },
    }


def radiator(**values: Any) -> Document:
    """A sound passive radiator to spoil; None takes a key out."""
    sound = {
        "name": "passive",
        "fs": "22 Hz",
        "qms": 7.0,
        "vas": "45 L",
        "sd": "330 cm^2",
        "xmax": "16 mm",
        "outer_diameter": "262 mm",
        "cutout_diameter": "234 mm",
        "mounting_depth": "60 mm",
    }
    return {key: value for key, value in {**sound, **values}.items() if value is not None}


TRANSFER = [["10 Hz", "15 dB"], ["20 Hz", "12 dB"], ["40 Hz", "6 dB"], ["80 Hz", "1 dB"], ["160 Hz", "-2 dB"]]


def faults_of(document: Any) -> dict[str, str]:
    """Place -> value and expectation, of every fault in a document."""
    with pytest.raises(InputFaults) as caught:
        parse_scenario(document, source="job.toml")
    assert all(fault.source == "job.toml" for fault in caught.value.faults)
    return {fault.key: f"{fault.found(FILE)} | {fault.wrong(FILE)}" for fault in caught.value.faults}


def put(place: str, value: Any) -> Document:
    """The sound job with one key set, such as ``driver[0].fs``; None takes the key out."""
    document = job()
    table: Any = document
    *above, last = place.replace("[", ".[").split(".")
    for part in above:
        table = table[int(part[1:-1])] if part.startswith("[") else table.setdefault(part, {})
    if value is None:
        del table[last]
    elif last.startswith("["):
        table[int(last[1:-1])] = value
    else:
        table[last] = value
    return document


def test_the_least_a_job_must_say_takes_the_defaults_of_the_dataclasses() -> None:
    """Regression pin: files and code agree on every default."""
    scenario = parse_scenario(job(), source="job.toml")
    plain = Scenario(
        title="A job",
        space=scenario.space,
        box=BoxChoices(),
        candidates=(
            Candidate(
                driver=Driver(
                    name="ten",
                    fs=32.0,
                    qes=0.5,
                    qms=5.0,
                    vas=0.03,
                    sd=0.033,
                    re=3.4,
                    le=0.0015,
                    xmax=0.01,
                    rated_power=300.0,
                    outer_diameter=0.262,
                    cutout_diameter=0.234,
                    magnet_diameter=0.15,
                    mounting_depth=0.11,
                )
            ),
        ),
        amplifier=scenario.amplifier,
        stock=Stock(board_thickness=0.018, openings={"pipe": scenario.stock.listed("pipe")}),
        goals=Goals(objectives=default_objectives()),
        air=REFERENCE_AIR,
        digest=scenario.digest,
    )
    assert scenario == plain
    assert scenario.space.section == ((0.0, 0.0), (0.3, 0.0), (0.2, 0.4), (0.0, 0.4))
    assert scenario.amplifier.loads == ((4.0, 200.0),)


def test_everything_a_job_may_say_is_read() -> None:
    """Regression pin: each optional key lands in its field, in SI."""
    document = job()
    document |= {
        "about": "why",
        "currency": "USD",
        "air": {"temperature": "77 degF", "altitude": "0 ft"},
        "box": {
            "kinds": ["vented", "radiator"],
            "facings": ["down", "front"],
            "back_angle": "18 deg",
            "ql": 9,
            "breathing_gap": "1/2 in",
            "carpet": "4 mm",
            "round_over": "18 mm",
            "fillings": ["half", "none"],
        },
        "radiator": [radiator(counts=[2, 1], most_added="250 g", displacement="0.4 L", mass="2 lb", price="40 USD")],
        "filter": [
            {"kind": "highpass", "order": 4, "frequency": ["18 Hz", "36 Hz"]},
            {"kind": "none"},
            {"kind": "highpass", "shape": "linkwitz-riley", "order": 4, "frequency": ["18 Hz", "36 Hz"]},
            {"kind": "highpass", "shape": "own", "q": 1.2, "frequency": ["20 Hz", "30 Hz"]},
        ],
        "chain": {
            "low_pass": "butterworth",
            "low_pass_order": 2,
            "low_pass_frequency": "90 Hz",
            "band_frequency": "45 Hz",
            "band_gain": "-4 dB",
            "band_q": 2,
        },
        "cabin": {"largest_dimension": "10 ft", "leak": "8 Hz"},
        "goals": {
            "music_band": ["30 Hz", "90 Hz"],
            "vent_speed_limit": "20 m/s",
            "objectives": ["f3_hz", "cost"],
            "limits": {"f3_hz": "45 Hz", "output_db": "105 dB", "excursion_ratio": 1.2, "cost": "300 USD"},
        },
        "bounds": {"outer_width": ["20 in", "30 in"], "vent_count": [1, 2], "tuning": ["28 Hz", "40 Hz"]},
        "search": {"evaluations": 20_000},
    }
    document["space"] |= {
        "margin": "1/4 in",
        "clearance": {"front": "20 mm", "left": "5 mm"},
        "keepout": [
            {"name": "arch", "across": ["-10 mm", "100 mm"], "forward": ["0 mm", "80 mm"], "up": ["0 mm", "90 mm"]},
            {
                "name": "strut",
                "across": ["800 mm", "900 mm"],
                "section": [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["0 mm", "400 mm"]],
            },
        ],
        "door": {"width": "30 in", "height": "24 in", "turning_room": "1 m"},
    }
    document["driver"][0] |= {"counts": [2, 1], "price": "95 USD", "mass": "10 lb", "displacement": "1 L"}
    document["driver"][0] |= {"magnet_depth": "40 mm", "rear_gap": "12 mm", "terminal_depth": "60 mm"}
    document["stock"] |= {"board_price": "2 USD/ft^2", "brace_span": "16 in", "board_density": "680 kg/m^3"}
    document["stock"]["terminal_cup"] = {"cutout_diameter": "60 mm", "flange_diameter": "80 mm", "depth": "35 mm"}
    document["stock"]["pipe"][0] |= {"price": "3 USD/ft", "elbow_radius": "70 mm", "flare_radius": "1/2 in"}
    document["stock"]["slot"] = {"height": ["20 mm", "50 mm"]}
    document["driver"][0] |= {"thermal_resistance": "0.5 K/W", "coil_metal": "aluminium", "bl_at_xmax": 0.8}
    document["driver"][0] |= {"cms_at_xmax": 0.7, "inductance_exponent": 0.7}
    scenario = parse_scenario(document, source="job.toml")
    assert scenario.air.c == pytest.approx(343.2 * math.sqrt(298.15 / 293.15), rel=1e-12)
    assert scenario.box == BoxChoices(
        kinds=("vented", "radiator"),
        fillings=("half", "none"),
        facings=("down", "front"),
        back_angle=math.radians(18.0),
        ql=9.0,
        breathing_gap=0.0127,
        carpet=0.004,
        round_over=0.018,
    )
    assert scenario.filters == (
        FilterChoice(order=4, frequency=(18.0, 36.0)),
        FilterChoice(),
        FilterChoice(order=4, frequency=(18.0, 36.0), shape="linkwitz-riley"),
        FilterChoice(order=2, frequency=(20.0, 30.0), shape="own", q=1.2),
    )
    assert scenario.stock.listed("radiator") == (
        RadiatorCandidate(
            radiator=PassiveRadiator(
                name="passive",
                fs=22.0,
                qms=7.0,
                vas=0.045,
                sd=0.033,
                xmax=0.016,
                most_added=0.25,
                outer_diameter=0.262,
                cutout_diameter=0.234,
                mounting_depth=0.06,
                displacement=0.0004,
                mass=0.90718474,
                price=40.0,
            ),
            counts=(1, 2),
        ),
    )
    half = math.sqrt(0.5)
    assert scenario.chain == Chain(
        low_pass_order=2, low_pass_hz=90.0, low_pass_q=pytest.approx(half), band_hz=45.0, band_db=-4.0, band_q=2.0
    )
    assert scenario.cabin == EstimatedCabin(largest_dimension=3.048, leak_hz=8.0, air=scenario.air)
    assert scenario.goals.limits == {"f3_hz": 45.0, "output_db": 105.0, "excursion_ratio": 1.2, "cost": 300.0}
    assert scenario.goals.objectives == ("f3_hz", "cost")
    assert scenario.bounds == {
        "outer_width": (0.508, 0.762),
        "tuning": (28.0, 40.0),
        "vent_count": (1.0, 2.0),
    }
    assert scenario.space.clearance == Clearances(front=0.02, left=0.005)
    assert scenario.space.keepouts == (
        KeepOut(name="arch", across=(-0.01, 0.1), section=((0.0, 0.0), (0.08, 0.0), (0.08, 0.09), (0.0, 0.09))),
        KeepOut(name="strut", across=(0.8, 0.9), section=((0.0, 0.0), (0.06, 0.0), (0.0, 0.4))),
    )
    assert scenario.space.door == Door(width=0.762, height=0.6096, turning_room=1.0)
    driver = scenario.candidates[0].driver
    assert (driver.magnet_depth, driver.rear_gap, driver.terminal_depth) == (0.04, 0.012, 0.06)
    assert scenario.stock.terminal_cup == TerminalCup(cutout_diameter=0.06, flange_diameter=0.08, depth=0.035)
    assert (scenario.stock.listed("pipe")[0].elbow_radius, scenario.stock.brace_span) == (0.07, 0.4064)
    assert (scenario.stock.listed("pipe")[0].flare_radius, scenario.stock.listed("slot")) == (
        0.0127,
        (Slot(height=(0.02, 0.05)),),
    )
    assert (driver.thermal_resistance, driver.coil_metal, driver.warmth) == (0.5, "aluminium", 0.5)
    assert (driver.bl_at_xmax, driver.cms_at_xmax, driver.inductance_exponent) == (0.8, 0.7, 0.7)
    assert scenario.candidates[0].counts == (1, 2)
    assert scenario.stock.board_price == pytest.approx(2.0 / 0.3048**2)
    assert scenario.stock.listed("pipe")[0].price == pytest.approx(3.0 / 0.3048)
    assert (scenario.currency, scenario.about, scenario.evaluations) == ("USD", "why", 20_000)


# One spoiled key each: (place, what stands there, words the message must hold).  Regression pins: they are
# what the user reads.
SPOILED: list[tuple[str, Any, str]] = [
    # quantities
    ("driver[0].fs", 32, "32 | a bare number: expected a frequency"),
    ("driver[0].fs", "32", "a bare number"),
    ("driver[0].fs", "32 mm", 'the unit "mm" does not fit'),
    ("driver[0].fs", "-32 Hz", "expected 5 Hz to 500 Hz"),
    ("driver[0].fs", "0 Hz", "expected 5 Hz to 500 Hz"),
    ("driver[0].fs", "nan Hz", "finite number"),
    ("driver[0].fs", "inf Hz", "finite number"),
    ("driver[0].fs", float("nan"), "bare number"),
    ("driver[0].fs", "3200000 Hz", "expected 5 Hz to 500 Hz"),
    ("driver[0].fs", "32,5 Hz", "with a point"),
    ("driver[0].fs", True, "true | expected a frequency"),
    ("driver[0].fs", ["32 Hz"], "expected a frequency"),
    ("driver[0].fs", {"value": 32}, "a table | expected a frequency"),
    ("driver[0].fs", "", '"" | expected a finite number'),
    ("driver[0].outer_diameter", "10 1/4 mm", 'did you mean "10.25 in"?'),
    ("space.width", "36 mm", 'did you mean "36 in"?'),
    ("driver[0].vas", "30 m^3", 'did you mean "30 L"?'),
    ("driver[0].le", "1.5 H", 'did you mean "1.5 mH"?'),
    # plain numbers
    ("driver[0].qes", "0.5", "without quotes"),
    ("driver[0].qes", float("inf"), "expected 0.05 to 5"),
    ("driver[0].qes", float("nan"), "expected 0.05 to 5"),
    ("driver[0].qes", 10**400, "a very large number | expected 0.05 to 5"),
    ("driver[0].qes", -0.5, "expected 0.05 to 5"),
    ("driver[0].coils", 1.5, "a whole number"),
    ("driver[0].coils", 0, "expected 1 to 4"),
    ("driver[0].counts", 1, "a list in square brackets"),
    ("driver[0].counts", [], "a list in square brackets"),
    ("driver[0].counts", [1, 1], "each item once"),
    # the rest of the driver
    ("driver[0].name", " ", "expected text"),
    ("driver[0].name", 12, "expected text"),
    ("driver[0].stated_wiring", "paralel", 'did you mean "parallel"?'),
    ("driver[0].magnet_diameter", "240 mm", "at most cutout_diameter (234 mm)"),
    ("driver[0].cutout_diameter", "262 mm", "less than outer_diameter (262 mm)"),
    ("driver[0].sd", "600 cm^2", "less than the area within outer_diameter (539 cm^2)"),
    ("driver[0].mounting_depth", None, "is missing: expected a length"),
    ("driver[0].re", "1.7 ohm", "one coil of 4 ohm is nominally 4 ohm"),
    # space
    ("space.section", [["0 mm", "0 mm"], ["300 mm", "0 mm"]], "at least 3 corners"),
    ("space.section", "square", "a list of corners"),
    ("space.width", None, "is missing"),
    ("space.margin", "160 mm", "leaves nothing of the space"),
    ("space.door", [1], "expected one table [space.door]"),
    ("space.section", None, "is missing: expected section (corners) or measured (rows of measurements)"),
    ("space.clearance", [{}], "with single brackets, [space.clearance]"),
    ("space.clearance.back", "280 mm", "leaves nothing of the space"),
    ("space.clearance.left", "900 mm", "leaves nothing of the space"),
    ("space.clearance", {"left": "480 mm", "right": "480 mm"}, "together the clearances leave nothing of the space"),
    ("space.clearance.top", "2 m", "expected 0 mm to 1000 mm"),
    ("space.clearance.rear", "2 mm", "known are back, front, bottom, top, left, right"),
    ("space.clearance.fornt", "2 mm", 'did you mean "front"?'),
    ("space.keepout", {"name": "arch"}, "double brackets, [[space.keepout]]"),
    # amplifier
    ("amplifier.load[0].power", "200", "a bare number"),
    ("amplifier.load", None, "is missing: expected one or more tables [[amplifier.load]]"),
    ("amplifier", None, "is missing: expected a table [amplifier]"),
    # stock
    ("stock.pipe[0].inner_diameter", "60 mm", "less than outer_diameter (60 mm)"),
    ("stock.pipe", None, "is missing: vented boxes need a pipe size"),
    ("stock.pipe", {"name": "2 in"}, "double brackets, [[stock.pipe]]"),
    ("stock.board_thickness", "18 in", 'did you mean "18 mm"?'),
    ("stock.pipe[0].elbow_radius", "29 mm", "at least half of outer_diameter (60 mm)"),
    ("stock.pipe[0].socket_diameter", "70 mm", "a socket is that of a bend; state elbow_radius too"),
    ("saw.most_bevel", "75 deg", "expected 0 deg to 60 deg"),
    ("box.back_angle", "50 deg", "expected at most 45 deg either way"),
    ("box.least_depth", "0 mm", "expected 1 mm to 500 mm"),
    ("stock.terminal_cup", "60 mm", "expected one table [stock.terminal_cup]"),
    ("stock.terminal_cups", {}, 'did you mean "terminal_cup"?'),
    ("driver[0].magnet_depth", "92 mm", "expected less than 92 mm, which is mounting_depth (110 mm) less the board"),
    ("driver[0].terminal_depth", "111 mm", "expected at most mounting_depth (110 mm)"),
    ("driver[0].rear_gap", "12 in", 'did you mean "12 mm"?'),
    ("stock.pipe[0].flare_radius", "8 in", "expected 0 mm to 80 mm"),
    # full power
    ("driver[0].thermal_resistance", 0.4, "a bare number: expected a thermal resistance"),
    ("driver[0].thermal_resistance", "0.4 K", 'the unit "K" does not fit'),
    ("driver[0].thermal_resistance", "40 K/W", "expected 0 K/W to 20 K/W"),
    ("driver[0].coil_metal", "aluminum", 'did you mean "aluminium"?'),
    ("driver[0].bl_at_xmax", 82, "expected 0.3 to 1.05"),
    ("driver[0].bl_at_xmax", 0.2, "expected 0.3 to 1.05"),
    ("driver[0].cms_at_xmax", 1.3, "expected 0.2 to 1.2"),
    ("driver[0].cms_at_xmax", "0.75", "without quotes"),
    ("driver[0].inductance_exponent", 0.4, "expected 0.5 to 1"),
    # goals, box, bounds, search
    ("goals.music_band", ["80 Hz", "25 Hz"], "the lowest first"),
    ("goals.music_band", ["80 Hz"], "a range [lowest, highest]"),
    ("goals.music_band", ["80 Hz", "80 Hz"], "the highest above the lowest"),
    ("goals.objectives", ["f3_hz"], "at least two"),
    ("goals.objectives", ["f3_hz", "f3_hz"], "each item once"),
    ("box.kinds", ["vented", "vented"], "each item once"),
    ("box.facings", ["front", "front"], "each item once"),
    ("box.carpet", "1/4 ft", "expected 0 mm to 30 mm"),
    ("box.round_over", "19 mm", "expected at most the board's thickness (18 mm)"),
    ("box.baffle_recess", "9 mm", "expected at most 8 mm: screws need 10 mm of board behind the flange"),
    ("box.back_angle", "80 deg", "expected -60 deg to 60 deg"),
    ("bounds.outer_width", ["900 mm", "600 mm"], "the lowest first"),
    ("search.evaluations", 10, "expected 500 to 50000000"),
    ("currency", "Euro", "three capital letters"),
    ("title", None, "is missing: expected text"),
]


@pytest.mark.parametrize(("place", "value", "words"), SPOILED)
def test_one_spoiled_key_is_one_fault_in_its_place(place: str, value: Any, words: str) -> None:
    """Regression pin."""
    faults = faults_of(put(place, value))
    assert list(faults) == [place]
    assert words in faults[place]


@pytest.mark.parametrize(
    ("place", "value", "at", "words"),
    [
        ("goals.objectives", ["f3_hz", "outputdb"], "goals.objectives[1]", 'did you mean "output_db"?'),
        ("box.facings", ["rear"], "box.facings[0]", 'expected one of "front", "down", "side", "up"'),
        ("box.kinds", ["bandpass"], "box.kinds[0]", 'expected one of "closed", "vented", "radiator"'),
        ("box.fillings", ["wool"], "box.fillings[0]", 'expected one of "none", "lined", "half", "full"'),
        ("box.kinds", ["radiator"], "radiator", "is missing: expected one or more tables [[radiator]]"),
        ("box.kinds", ["closed", "radiator"], "radiator", 'or take "radiator" out of box.kinds'),
        ("goals.objectives", ["f3_cabin_hz", "output_db"], "cabin", '"f3_cabin_hz" among the goals needs it'),
        ("goals.limits", {"output_cabin_db": "110 dB"}, "cabin", '"output_cabin_db" among the goals needs it'),
        (
            "goals.limits",
            {"output_cabin_db": "110 dB", "f3_cabin_hz": "30 Hz"},
            "cabin",
            '"f3_cabin_hz" and "output_cabin_db" among the goals need it',
        ),
        ("stock.slot", {"height": ["50 mm", "20 mm"]}, "stock.slot.height", "the lowest first"),
        ("stock.slot", {"height": "20 mm"}, "stock.slot.height", "a range [lowest, highest]"),
        ("stock.slot", {}, "stock.slot.height", "is missing: expected a range"),
        ("stock.slot", {"height": ["2 mm", "20 mm"]}, "stock.slot.height[0]", "expected 15 mm to 120 mm"),
        ("space.section[1]", ["300 mm"], "space.section[1]", "a pair of lengths"),
        ("space.section[1]", ["300 mm", 0], "space.section[1][1]", "a bare number"),
        ("goals.music_band", ["25 Hz", "25"], "goals.music_band[1]", "a bare number"),
        ("amplifier.lowest_load", "8 ohm", "amplifier.load", "at least one load of 8 ohm"),
        ("goals.limits", {"output_db": 110}, "goals.limits.output_db", "a bare number: expected a level"),
        ("goals.limits", {"output": "110 dB"}, "goals.limits.output", 'did you mean "output_db"?'),
        ("driver[0].counts", [0], "driver[0].counts[0]", "expected 1 to 8"),
        ("space.section[3]", ["0 mm", "0 mm"], "space.section", "the last corner repeats the first"),
        ("space.section[2]", ["300 mm", "0 mm"], "space.section", "corners 2 and 3 are the same point"),
        ("amplifier.load[0].power", "200 V", "amplifier.load[0].power", 'the unit "V" does not fit'),
    ],
)
def test_faults_name_the_exact_place(place: str, value: Any, at: str, words: str) -> None:
    """Regression pin: the explorer puts each fault beside its field."""
    faults = faults_of(put(place, value))
    assert list(faults) == [at]
    assert words in faults[at]


def test_a_driver_no_deeper_than_the_board() -> None:
    """Regression pin."""
    document = put("driver[0].mounting_depth", "24 mm")
    document["stock"]["board_thickness"] = "25 mm"
    assert "more than the board behind its flange (25 mm)" in faults_of(document)["driver[0].mounting_depth"]


def test_every_fault_is_reported_at_once() -> None:
    """Regression pin: six mistakes, six faults, no more."""
    document = job()
    document["driver"][0] |= {"fs": 32, "vas": "30 kg", "qms": 0}
    document["space"]["width"] = "0 mm"
    document["stock"]["board_thickness"] = "eighteen mm"
    document["goals"] = {"objectives": ["f3_hz", "loudness"]}
    assert set(faults_of(document)) == {
        "driver[0].fs",
        "driver[0].vas",
        "driver[0].qms",
        "space.width",
        "stock.board_thickness",
        "goals.objectives[1]",
    }


def test_a_misspelt_key_is_one_fault_with_the_nearest_known_key() -> None:
    """Regression pin: the key it was meant for is not reported missing as well."""
    document = job()
    document["driver"][0]["mountingdepth"] = document["driver"][0].pop("mounting_depth")
    document["amplifer"] = document.pop("amplifier")
    faults = faults_of(document)
    assert set(faults) == {"driver[0].mountingdepth", "amplifer"}
    assert 'did you mean "mounting_depth"?' in faults["driver[0].mountingdepth"]
    assert 'did you mean "amplifier"?' in faults["amplifer"]


def test_a_key_given_twice_in_two_spellings() -> None:
    """Regression pin: the right one stands already, and the other still names it."""
    words = faults_of(put("space.widht", "36 in"))
    assert list(words) == ["space.widht"]
    assert 'did you mean "width"?' in words["space.widht"]


def test_an_unknown_key_like_no_other_lists_the_known_ones() -> None:
    """Regression pin."""
    words = faults_of(put("search.zzz", 1))["search.zzz"]
    assert "known are evaluations" in words


@pytest.mark.parametrize("table", ["space", "driver", "amplifier", "stock"])
@pytest.mark.parametrize("value", [3, "text", [1, 2], True])
def test_something_else_where_a_table_is_due(table: str, value: Any) -> None:
    """Regression pin: one fault, at the table."""
    faults = faults_of(put(table, value))
    assert list(faults) == [table]
    assert "table" in faults[table]


def test_brackets_of_tables_mixed_up() -> None:
    """Regression pin."""
    document = job()
    document["driver"] = document["driver"][0]
    document["space"] = [document["space"]]
    faults = faults_of(document)
    assert "double brackets, [[driver]]" in faults["driver"]
    assert "single brackets, [space]" in faults["space"]


CROSSING = [["0 mm", "0 mm"], ["300 mm", "400 mm"], ["300 mm", "0 mm"], ["0 mm", "400 mm"]]
FLAT = [["0 mm", "0 mm"], ["150 mm", "200 mm"], ["300 mm", "400 mm"]]
SPIKE = [["0 mm", "0 mm"], ["300 mm", "0 mm"], ["200 mm", "0 mm"], ["200 mm", "400 mm"]]
TOUCHING = [
    ["0 mm", "0 mm"],
    ["400 mm", "0 mm"],
    ["400 mm", "400 mm"],
    ["200 mm", "0 mm"],
    ["0 mm", "400 mm"],
]


@pytest.mark.parametrize(
    ("section", "words"),
    [
        (CROSSING, "crosses or touches itself: the edge from corner 1 to 2 meets the one from 3 to 4"),
        (FLAT, "encloses no area"),
        (SPIKE, "crosses or touches itself"),
        (TOUCHING, "crosses or touches itself"),
    ],
)
def test_outlines_that_are_none(section: list[list[str]], words: str) -> None:
    """Analytic limit: a bow-tie, a line, a spike and a corner on another edge are no simple polygons."""
    assert words in faults_of(put("space.section", section))["space.section"]


def test_inches_typed_as_millimetres() -> None:
    """Regression pin: a space 12 mm deep is one of 12 inches."""
    section = [["0 mm", "0 mm"], ["12 mm", "0 mm"], ["8 mm", "16 mm"], ["0 mm", "16 mm"]]
    assert "inches typed as millimetres?" in faults_of(put("space.section", section))["space.section"]


def measured(*rows: tuple[str, str, str]) -> Document:
    """The sound job with its space measured row by row: height, back ("" for none), depth."""
    document = put("space.section", None)
    document["space"]["measured"] = [
        {"height": height} | ({"back": back} if back else {}) | {"depth": depth} for height, back, depth in rows
    ]
    return document


def test_a_table_of_measurements_is_the_space_that_its_corners_are() -> None:
    """Analytic limit: the same trapezium twice, told in two ways and two units."""
    document = measured(("0 mm", "", "300 mm"), ("15 3/4 in", "0 mm", "200 mm"))
    space = parse_scenario(document, source="job.toml").space
    assert space.section == ((0.3, 0.0), (0.2, 0.40005), (0.0, 0.40005), (0.0, 0.0))
    document["space"]["measured"][1]["height"] = "400 mm"
    corners = parse_scenario(job(), source="job.toml").space
    section = parse_scenario(document, source="job.toml").space.section
    assert Polygon(section).equals(Polygon(corners.section))


@pytest.mark.parametrize(
    ("rows", "at", "words"),
    [
        (
            (("0 mm", "", "300 mm"), ("200 mm", "", "300 mm"), ("200 mm", "400 mm", "200 mm"), ("400 mm", "", "9 mm")),
            "space.measured[2].back",
            "400 mm | row 3: stands at 200 mm as row 2 does, and its space from 400 mm to 600 mm forward does not meet",
        ),
        ((("0 mm", "", "0 mm"), ("400 mm", "", "0 mm")), "space.measured", "the rows enclose no area"),
        (
            (("0 mm", "", "300 mm"), ("200 mm", "", "0 mm"), ("400 mm", "", "300 mm")),
            "space.measured[1].depth",
            "0 mm | row 2: a depth of 0 mm would cut the space in two",
        ),
        (
            (("0 mm", "", "500 mm"), ("200 mm", "", "19 1/2 mm"), ("400 mm", "", "480 mm")),
            "space.measured[1].depth",
            "19 1/2 mm | row 2: rows 1 and 3 lead to about 490 mm here; were inches typed as millimetres?",
        ),
        (
            (("0 mm", "", "12 mm"), ("16 mm", "", "8 mm")),
            "space.measured",
            "12 mm deep | expected a space at least 50 mm deep; were inches typed as millimetres?",
        ),
        ((("400 mm", "", "300 mm"), ("0 mm", "", "300 mm")), "space.measured[1].height", "of at least 400 mm (row 1)"),
        ((("0 mm", "", "300 mm"),), "space.measured", "expected at least two rows"),
        ((("0 mm", "", "300 mm"), ("400 mm", "", "20 kg")), "space.measured[1].depth", 'the unit "kg" does not fit'),
        ((("0 mm", "", "300 mm"), ("400 mm", "-5 mm", "20 mm")), "space.measured[1].back", "expected 0 mm to 5000 mm"),
        ((("0 mm", "", "300 mm"), ("400 mm", "", "300")), "space.measured[1].depth", "a bare number"),
    ],
)
def test_measurements_that_cannot_be(rows: tuple[tuple[str, str, str], ...], at: str, words: str) -> None:
    """User's promise: one wrong measurement is one fault, at its row and key."""
    faults = faults_of(measured(*rows))
    assert list(faults) == [at]
    assert words in faults[at]


def test_a_space_told_in_both_ways_or_in_neither() -> None:
    """User's promise: the fault names both ways there are, and a misspelt one is not reported missing as well."""
    document = measured(("0 mm", "", "300 mm"), ("400 mm", "", "200 mm"))
    document["space"]["section"] = job()["space"]["section"]
    words = "section (corners) or measured (rows of measurements)"
    assert f"expected either {words}, not both" in faults_of(document)["space.section"]
    del document["space"]["section"], document["space"]["measured"]
    assert faults_of(document) == {"space.section": f" | is missing: expected {words}"}
    document["space"]["mesured"] = [{"height": "0 mm", "depth": "300 mm"}]
    assert list(faults_of(document)) == ["space.mesured"]
    assert 'did you mean "measured"?' in faults_of(document)["space.mesured"]


def test_every_fault_of_the_space_is_reported_at_once() -> None:
    """User's promise: rows, keep-outs, clearances, door and parts, each in its place, no more and no less."""
    document = measured(("0 mm", "", "300 mm"), ("200 mm", "", "0 mm"), ("300 mm", "", "0 mm"), ("400 mm", "", "9 mm"))
    document["space"]["measured"][3]["hight"] = document["space"]["measured"][3].pop("height")
    document["space"] |= {
        "keepout": [{"name": "arch", "across": ["5 mm", "5 mm"], "up": ["9 mm", "0 mm"]}],
        "clearance": {"back": "3 kg"},
        "door": {"width": "600 mm", "turning_room": "12 km"},
    }
    document["box"] = {"round_over": "20 mm", "facings": ["rear"]}
    document["driver"][0] |= {"fs": 32, "magnet_depth": "100 mm", "terminal_depth": "120 mm"}
    document["stock"]["terminal_cup"] = {"cutout_diameter": "60 mm", "flange_diameter": "60 mm"}
    assert set(faults_of(document)) == {
        "space.measured[3].hight",
        "space.keepout[0].across",
        "space.keepout[0].forward",
        "space.keepout[0].up",
        "space.clearance.back",
        "space.door.height",
        "space.door.turning_room",
        "box.round_over",
        "box.facings[0]",
        "driver[0].fs",
        "driver[0].magnet_depth",
        "driver[0].terminal_depth",
        "stock.terminal_cup.flange_diameter",
        "stock.terminal_cup.depth",
    }


def keepout(**values: Any) -> dict[str, Any]:
    """A sound keep-out to spoil; None takes a key out."""
    sound = {"name": "arch", "across": ["0 mm", "200 mm"], "forward": ["0 mm", "90 mm"], "up": ["0 mm", "80 mm"]}
    return {key: value for key, value in {**sound, **values}.items() if value is not None}


CORNERS = [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["0 mm", "60 mm"]]
WHOLE = {"forward": ["0 mm", "300 mm"], "up": ["0 mm", "400 mm"]}


@pytest.mark.parametrize(
    ("keepouts", "at", "words"),
    [
        ([keepout(name=None)], "space.keepout[0].name", "is missing: expected text"),
        ([keepout(across=None)], "space.keepout[0].across", "is missing: expected a range"),
        ([keepout(across=["9 mm", "0 mm"])], "space.keepout[0].across", "the lowest first"),
        ([keepout(across=["9 mm", "9 mm"])], "space.keepout[0].across", "two different places"),
        ([keepout(up=None)], "space.keepout[0].up", "is missing: expected a range from and to, or section (corners)"),
        ([keepout(up=["0 mm", "80"])], "space.keepout[0].up[1]", "a bare number"),
        ([keepout(section=CORNERS)], "space.keepout[0].section", "expected either section or forward and up"),
        ([keepout(forward=None, up=None, section=CROSSING)], "space.keepout[0].section", "crosses or touches itself"),
        ([keepout(forward=None, up=None, section=FLAT)], "space.keepout[0].section", "encloses no area"),
        ([keepout(), keepout(name=" Arch ")], "space.keepout[1].name", "another name than that of space.keepout[0]"),
        ([keepout(fwd=["0 mm", "90 mm"])], "space.keepout[0].fwd", "is not a key here"),
        (
            [keepout(forward=None, foward=["0 mm", "90 mm"])],
            "space.keepout[0].foward",
            'did you mean "forward"?',
        ),
        (
            [keepout(across=["900 mm", "1000 mm"])],
            "space.keepout[0].across",
            "[900 mm, 1000 mm] | beside the space, so it keeps nothing out: check from where it was measured",
        ),
        (
            [keepout(up=["400 mm", "500 mm"])],
            "space.keepout[0].forward",
            "forward 0 mm to 90 mm, up 400 mm to 500 mm | outside the space's cross-section, so it keeps nothing out",
        ),
        (
            [keepout(across=["-10 mm", "2 m"], **WHOLE)],
            "space.keepout[0]",
            "arch | leaves nothing of the space that a box could stand in: check its position and size",
        ),
        (
            [keepout(), keepout(name="b", across=["20 mm", "890 mm"], **WHOLE)],
            "space.keepout[1]",
            "b | leaves nothing of the space",
        ),
        (
            [keepout(across=["0 mm", "450 mm"], **WHOLE), keepout(name="b", across=["480 mm", "900 mm"], **WHOLE)],
            "space.keepout",
            "together the keep-outs leave nothing of the space that a box could stand in",
        ),
    ],
)
def test_keep_outs_that_cannot_be(keepouts: list[dict[str, Any]], at: str, words: str) -> None:
    """User's promise: one fault, in its place; what leaves nothing of the space by itself is named."""
    faults = faults_of(put("space.keepout", keepouts))
    assert list(faults) == [at]
    assert words in faults[at]


def test_clearances_and_keep_outs_that_only_together_leave_nothing() -> None:
    """Analytic limit: 900 mm less 500 mm on the left and a block from 480 mm on leave nothing; either alone does."""
    block = keepout(across=["480 mm", "900 mm"], **WHOLE)
    document = put("space.keepout", [block])
    assert parse_scenario(document, source="job.toml").space.keepouts[0].name == "arch"
    document["space"]["clearance"] = {"left": "500 mm"}
    assert "together keep-outs and clearances leave nothing" in faults_of(document)["space.keepout"]
    document["space"] |= {"clearance": {"left": "450 mm", "right": "440 mm"}}
    assert faults_of(document) == {
        "space.clearance": " | together the clearances leave nothing of the space that a box could stand in"
    }


def test_a_written_space_reads_back_the_same(tmp_path: Path) -> None:
    """Conservation: rows, keep-outs, clearances, door and cup through a file."""
    document = measured(("0 mm", "", "300 mm"), ("200 mm", "20 mm", "250 mm"), ("400 mm", "", "200 mm"))
    document["space"] |= {
        "keepout": [keepout(), keepout(name="strut", forward=None, up=None, section=CORNERS)],
        "clearance": {"front": "20 mm"},
        "door": {"width": "600 mm", "height": "500 mm", "turning_room": "900 mm"},
    }
    document["stock"]["terminal_cup"] = {"cutout_diameter": "60 mm", "flange_diameter": "80 mm", "depth": "35 mm"}
    path = tmp_path / "job.toml"
    path.write_text(write_document(document), encoding="utf-8")
    assert read_document(path) == document
    assert read_scenario(path) == parse_scenario(document, source="job.toml")


def test_the_cup_must_not_fall_through() -> None:
    """User's promise."""
    cup = {"cutout_diameter": "60 mm", "flange_diameter": "60 mm", "depth": "35 mm"}
    faults = faults_of(put("stock.terminal_cup", cup))
    assert faults == {
        "stock.terminal_cup.flange_diameter": "60 mm | expected more than cutout_diameter (60 mm), "
        "or the cup falls through"
    }


def test_a_cup_shallower_than_its_board_is_refused() -> None:
    cup = {"cutout_diameter": "60 mm", "flange_diameter": "80 mm", "depth": "5 mm"}
    faults = faults_of(put("stock.terminal_cup", cup))
    assert list(faults) == ["stock.terminal_cup.depth"]
    assert "expected more than the board's thickness" in faults["stock.terminal_cup.depth"]


def test_too_many_keep_outs_are_refused() -> None:
    """User's promise: what would stall a search is refused, with what to do."""
    many = [keepout(name=f"bolt {number}") for number in range(13)]
    faults = faults_of(put("space.keepout", many))
    assert faults == {"space.keepout": "13 keep-outs | expected at most 12: join those that stand together into one"}


def test_a_board_too_thick_for_the_space() -> None:
    """Analytic limit: 60 mm across less 2·18 mm of board leaves a box; less 2·30 mm nothing."""
    thin = [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["60 mm", "400 mm"], ["0 mm", "400 mm"]]
    document = put("space.section", thin)
    assert parse_scenario(document, source="job.toml").stock.board_thickness == 0.018
    document["stock"]["board_thickness"] = "30 mm"
    assert "leaves no room inside a box" in faults_of(document)["stock.board_thickness"]


def test_names_and_loads_stand_once() -> None:
    """Regression pin: a front names drivers and pipes, so names must tell them apart."""
    document = job()
    document["driver"].append(copy.deepcopy(document["driver"][0]) | {"name": " TEN "})
    document["stock"]["pipe"].append(document["stock"]["pipe"][0])
    document["amplifier"]["load"].append({"impedance": "4 ohm", "power": "150 W"})
    document["filter"] = [{"kind": "none"}, {"kind": "none"}]
    assert set(faults_of(document)) == {
        "driver[1].name",
        "stock.pipe[1].name",
        "amplifier.load[1].impedance",
        "filter[1]",
    }


def test_filters_say_all_they_need_and_nothing_else() -> None:
    """Regression pin."""
    document = job()
    document["filter"] = [
        {"kind": "none", "order": 2},
        {"kind": "highpass", "order": 2},
        {"kind": "lowpass"},
        {"kind": "highpass", "frequency": ["18 Hz", "30 Hz"]},
    ]
    assert set(faults_of(document)) == {"filter[0].order", "filter[1].frequency", "filter[2].kind", "filter[3].order"}


def high_pass(**values: Any) -> Document:
    return {"kind": "highpass", "frequency": ["18 Hz", "30 Hz"], **values}


@pytest.mark.parametrize(
    ("filters", "at", "words"),
    [
        (
            [high_pass(shape="linkwitz-riley", order=3)],
            "filter[0].order",
            "3 | there is no Linkwitz-Riley of order 3: 2 or 4",
        ),
        ([high_pass(shape="linkwitz-riley", order=1)], "filter[0].order", "no Linkwitz-Riley of order 1: 2 or 4"),
        ([high_pass(order=5)], "filter[0].order", "expected 1 to 4"),
        ([high_pass(shape="own")], "filter[0].q", "is missing: a filter of your own needs its Q"),
        ([high_pass(shape="own", q=8)], "filter[0].q", "expected 0.3 to 4"),
        ([high_pass(shape="own", q=1, order=4)], "filter[0].order", "expected 2, or none stated"),
        ([high_pass(order=2, q=0.9)], "filter[0].q", "the Q of a Butterworth follows from its order"),
        ([high_pass(shape="bessel", order=2)], "filter[0].shape", 'expected one of "butterworth"'),
        ([{"kind": "none", "shape": "own"}], "filter[0].shape", 'a filter of kind "none" has none'),
        ([high_pass(order=2), high_pass(order=2)], "filter[1]", "expected one filter of order 2, Butterworth"),
        ([high_pass(shape="own", q=1.1), high_pass(shape="own", q=1.1)], "filter[1]", "of order 2 and Q 1.1"),
        ([high_pass(order=2), high_pass(shape="own", q=0.7071)], "filter[1]", "of order 2 and Q 0.7071"),
        ([high_pass(shape="own", q=0.5), high_pass(shape="linkwitz-riley", order=2)], "filter[1]", "Linkwitz-Riley"),
    ],
)
def test_filters_that_are_none(filters: list[Document], at: str, words: str) -> None:
    """User's promise: one fault, in its place; the last three are the same filter twice (analytic: Q ½ and √½)."""
    faults = faults_of(put("filter", filters))
    assert list(faults) == [at]
    assert words in faults[at]


def test_filters_of_one_order_and_different_shape_may_stand_side_by_side() -> None:
    """User's promise."""
    filters = [high_pass(order=2), high_pass(shape="linkwitz-riley", order=2), high_pass(shape="own", q=1.4)]
    found = parse_scenario(put("filter", filters), source="job.toml").filters
    assert [(choice.shape, choice.order) for choice in found] == [
        ("butterworth", 2),
        ("linkwitz-riley", 2),
        ("own", 2),
    ]


@pytest.mark.parametrize(
    ("radiators", "at", "words"),
    [
        ([radiator(), radiator(name=" Passive ")], "radiator[1].name", "another name than that of radiator[0]"),
        ([radiator(fs=None)], "radiator[0].fs", "is missing: expected a frequency"),
        ([radiator(qms=0.2)], "radiator[0].qms", "expected 1 to 50"),
        ([radiator(xmax="16 in")], "radiator[0].xmax", 'did you mean "16 mm"?'),
        ([radiator(sd="600 cm^2")], "radiator[0].sd", "less than the area within outer_diameter (539 cm^2)"),
        ([radiator(cutout_diameter="262 mm")], "radiator[0].cutout_diameter", "less than outer_diameter (262 mm)"),
        (
            [radiator(mounting_depth="18 mm")],
            "radiator[0].mounting_depth",
            "more than the board behind its flange (18 mm)",
        ),
        ([radiator(sd="33 cm^2")], "radiator[0].vas", "where 2 g to 2000 g is plausible"),
        ([radiator(most_added="4 kg")], "radiator[0].most_added", "expected 0 g to 3 kg"),
        ([radiator(counts=[0])], "radiator[0].counts[0]", "expected 1 to 8"),
        ([radiator(qes=0.4)], "radiator[0].qes", "is not a key here"),
        (radiator(), "radiator", "double brackets, [[radiator]]"),
    ],
)
def test_passive_radiators_that_cannot_be(radiators: Any, at: str, words: str) -> None:
    """User's promise: one fault, in its place."""
    faults = faults_of(put("radiator", radiators))
    assert list(faults) == [at]
    assert words in faults[at]


def test_a_passive_radiator_no_box_is_built_with_is_read_and_left_alone() -> None:
    """User's promise: it may stay in the file, and neither its price nor its weight is asked for."""
    document = put("radiator", [radiator()])
    document |= {"goals": {"objectives": ["f3_hz", "weight_kg"]}}
    document["driver"][0]["mass"] = "4 kg"
    scenario = parse_scenario(document, source="job.toml")
    assert (scenario.box.kinds, len(scenario.stock.listed("radiator"))) == (("closed", "vented"), 1)
    document["box"] = {"kinds": ["radiator"]}
    assert list(faults_of(document)) == ["radiator[0].mass"]


def test_a_slot_will_do_for_vented_boxes() -> None:
    """User's promise: no pipe is needed where the vent is made of board."""
    document = put("stock.pipe", None)
    document["stock"]["slot"] = {"height": ["20 mm", "40 mm"]}
    scenario = parse_scenario(document, source="job.toml")
    assert (scenario.stock.listed("pipe"), scenario.stock.listed("slot")) == ((), (Slot(height=(0.02, 0.04)),))


WRIGHT = {"inductance_kr": 0.003, "inductance_xr": 0.7, "inductance_ki": 0.02, "inductance_xi": 0.7}


@pytest.mark.parametrize(
    ("stated", "places"),
    [
        (WRIGHT, {"le": "expected 0 mH: inductance_kr and inductance_ki state the coil in another way"}),
        (
            {**WRIGHT, "le": "0 mH", "l2": "1 mH", "r2": "2 ohm"},
            {"l2": "leave it out", "r2": "inductance_kr and inductance_ki state the coil in another way"},
        ),
        ({**WRIGHT, "le": "0 mH", "inductance_exponent": 0.7}, {"inductance_exponent": "leave it out"}),
        ({"le": "0 mH", "inductance_kr": 0.003}, {"inductance_xr": "is missing: inductance_kr and inductance_xr go"}),
        ({"inductance_xi": 0.7}, {"inductance_ki": "is missing: inductance_ki and inductance_xi go together"}),
        (
            {"inductance_exponent": 0.7, "l2": "1 mH", "r2": "2 ohm"},
            {"inductance_exponent": "another way to state the losses that l2 and r2 state"},
        ),
    ],
)
def test_a_coil_is_stated_in_one_way(stated: Document, places: dict[str, str]) -> None:
    """User's promise: what cannot stand together is named, each in its place."""
    document = job()
    document["driver"][0] |= stated
    faults = faults_of(document)
    assert set(faults) == {f"driver[0].{key}" for key in places}
    for key, words in places.items():
        assert words in faults[f"driver[0].{key}"]


def test_wright_s_numbers_in_place_of_an_inductance() -> None:
    """Regression pin."""
    document = job()
    document["driver"][0] |= {**WRIGHT, "le": "0 mH"}
    driver = parse_scenario(document, source="job.toml").candidates[0].driver
    assert (driver.le, driver.inductance_kr, driver.inductance_xi) == (0.0, 0.003, 0.7)


def test_the_estimate_of_the_coil_s_heat() -> None:
    """Common practice, no source: 150 K at rated power; 0 K/W is no estimate but a coil that stays cold."""
    driver = parse_scenario(job(), source="job.toml").candidates[0].driver
    assert driver.warmth == 150.0 / 300.0
    cold = parse_scenario(put("driver[0].thermal_resistance", "0 K/W"), source="job.toml").candidates[0].driver
    assert cold.warmth == 0.0


CROSSOVER = {"low_pass": "linkwitz-riley", "low_pass_order": 4, "low_pass_frequency": "80 Hz"}


@pytest.mark.parametrize(
    ("chain", "at", "words"),
    [
        ({**CROSSOVER, "low_pass_order": 3}, "chain.low_pass_order", "there is no Linkwitz-Riley of order 3: 2 or 4"),
        ({"low_pass": "butterworth", "low_pass_order": 2}, "chain.low_pass_frequency", "is missing: a crossover needs"),
        (
            {"low_pass": "butterworth", "low_pass_frequency": "80 Hz"},
            "chain.low_pass_order",
            "is missing: a crossover needs order and frequency",
        ),
        ({"low_pass_order": 2}, "chain.low_pass_order", 'set low_pass = "butterworth" or "linkwitz-riley"'),
        ({"low_pass": "own"}, "chain.low_pass", 'expected one of "none", "butterworth", "linkwitz-riley"'),
        ({"band_gain": "3 dB"}, "chain.band_frequency", "is missing: band_gain is of a band"),
        ({"band_frequency": "40 Hz"}, "chain.band_gain", "is missing: band_frequency is of a band"),
        ({"band_frequency": "40 Hz", "band_gain": 3}, "chain.band_gain", "a bare number: expected a level"),
        ({"lowpass": "own"}, "chain.lowpass", 'did you mean "low_pass"?'),
        ({"band_frequency": "40 Hz", "band_gian": "3 dB"}, "chain.band_gian", 'did you mean "band_gain"?'),
        ([CROSSOVER], "chain", "with single brackets, [chain]"),
    ],
)
def test_signal_chains_that_cannot_be(chain: Any, at: str, words: str) -> None:
    """User's promise: one fault, in its place."""
    faults = faults_of(put("chain", chain))
    assert list(faults) == [at]
    assert words in faults[at]


@pytest.mark.parametrize(
    ("cabin", "at", "words"),
    [
        ({}, "cabin", "expected one of largest_dimension (an estimate), file or table (a measurement); none is stated"),
        (
            {"largest_dimension": "3 m", "table": TRANSFER},
            "cabin",
            "largest_dimension and table are stated",
        ),
        ({"largest_dimension": "3000 m"}, "cabin.largest_dimension", 'did you mean "3000 mm"?'),
        ({"largest_dimension": "3 m", "offset": "2 dB"}, "cabin.offset", "an estimate has nothing of the kind"),
        ({"largest_dimension": "3 m", "leak": "8 mm"}, "cabin.leak", "expected a frequency"),
        ({"table": TRANSFER, "leak": "8 Hz"}, "cabin.leak", "a measurement has the leaks in it"),
        ({"table": TRANSFER[:3]}, "cabin.table", "3 points | expected at least 5 points"),
        ({"table": TRANSFER[::-1]}, "cabin.table[1][0]", "80 Hz | expected a frequency above the 160 Hz of the point"),
        ({"table": [*TRANSFER, ["0.2 Hz", "1 dB"]]}, "cabin.table[5][0]", "expected 1 Hz to 100000 Hz"),
        ({"table": [*TRANSFER, ["200 Hz", "900 dB"]]}, "cabin.table[5][1]", "expected -80 dB to 80 dB"),
        ({"table": [*TRANSFER, ["200 Hz", 3]]}, "cabin.table[5][1]", "a bare number: expected a level"),
        ({"table": [*TRANSFER, "200 Hz"]}, "cabin.table[5]", "expected a pair, a frequency"),
        ({"table": "10 Hz"}, "cabin.table", "expected a list of pairs, each a frequency"),
        ({"file": "cabin.csv"}, "cabin.file", "cannot be looked for from here: expected its points under table"),
        ({"largest_dimensions": "3 m"}, "cabin.largest_dimensions", 'did you mean "largest_dimension"?'),
        ({"table": TRANSFER, "offset": "90 dB"}, "cabin.offset", "expected -60 dB to 60 dB"),
    ],
)
def test_cabins_that_cannot_be(cabin: Document, at: str, words: str) -> None:
    """User's promise: the fault stands in its place."""
    faults = faults_of(put("cabin", cabin))
    assert at in faults
    assert set(faults) <= {at, "cabin", "cabin.table[2][0]", "cabin.table[3][0]", "cabin.table[4][0]"}
    assert words in faults[at]


def test_a_measured_cabin_is_read_from_its_table() -> None:
    """Analytic limit: the offset is added to every level."""
    scenario = parse_scenario(put("cabin", {"table": TRANSFER, "offset": "-3 dB"}), source="job.toml")
    assert isinstance(scenario.cabin, MeasuredCabin)
    assert scenario.cabin.frequency.tolist() == [10.0, 20.0, 40.0, 80.0, 160.0]
    assert scenario.cabin.level_db.tolist() == [12.0, 9.0, 3.0, -2.0, -5.0]


CSV = "frequency;gain\n" + "\n".join(f"{hz[:-3]};{level[:-3]},0" for hz, level in TRANSFER)


def with_csv(folder: Path, text: str | None, **cabin: Any) -> Path:
    """A job in a folder with a cabin's file beside it."""
    path = folder / "job.toml"
    path.write_text(write_document(put("cabin", {"file": "cabin.csv", **cabin})), encoding="utf-8")
    if text is not None:
        (folder / "cabin.csv").write_text(text, encoding="utf-8")
    return path


def test_a_cabin_s_file_is_looked_for_beside_the_job(tmp_path: Path) -> None:
    """Conservation: read from its file, or as a document with its points in it, the job is the same job."""
    path = with_csv(tmp_path, CSV, offset="1 dB")
    scenario = read_scenario(path)
    document = read_document(path)
    assert document["cabin"] == {"table": TRANSFER, "offset": "1 dB"}
    again = parse_scenario(json.loads(json.dumps(document)), source=str(path))
    assert again == scenario
    assert again.digest == scenario.digest
    (tmp_path / "cabin.csv").write_text(CSV.replace("12,0", "13,0"), encoding="utf-8")
    assert read_scenario(path).digest != scenario.digest


def test_every_fault_of_a_cabin_s_file_is_told_with_those_of_the_job(tmp_path: Path) -> None:
    """User's promise: file, line, what stands there and what was expected."""
    spoiled = CSV.replace("20;12,0", "0.02;12,0").replace("80;1,0", "80;one").replace("160;", "70;")
    path = with_csv(tmp_path, spoiled)
    document = path.read_text(encoding="utf-8").replace('fs = "32 Hz"', 'fs = "32 mm"')
    path.write_text(document, encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        read_scenario(path)
    csv_path = tmp_path / "cabin.csv"
    told = str(caught.value)
    assert f"{path}: driver[0].fs = 32 mm" in told
    assert f"{csv_path}: line 3, frequency = 0.02: expected a frequency of 1 to 100000 Hz" in told
    assert f"{csv_path}: line 5, level = one: expected a level" in told
    assert len(caught.value.faults) == 3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "cabin.csv: there is no such file"),
        ("", "cabin.csv: is empty"),
        ("10,1\n20,2\n", "has 2 points: expected at least 5"),
        (CSV.replace("160;", "15;"), "line 6, frequency = 15: expected a frequency above the 80 Hz of line 5"),
        (CSV.replace("-2,0", "-200"), "line 6, level = -200: expected a level of -80 to 80 dB"),
        (CSV.replace("frequency", "frequency (kHz)"), "line 1 .* expected frequencies in Hz, not in kHz"),
        (CSV.replace(";", ","), "line 2 = 10,15,0: commas between columns and in numbers"),
        ("1,0\n2,0\n5,0\n10,0\n20,0\n", "goes from 1 Hz to 20 Hz: expected bass"),
        ('"' + "1" * 200_000, "cabin.csv"),
    ],
)
def test_files_that_are_no_measured_cabin(text: str | None, words: str, tmp_path: Path) -> None:
    """User's promise: one clear fault, whether the job is read or opened as a document."""
    path = with_csv(tmp_path, text)
    for read in (read_scenario, read_document):
        with pytest.raises(InputFaults, match=words) as caught:
            read(path)
        assert len(caught.value.faults) == 1


@given(text=st.text(alphabet="0123456789.,;\t\n\r\"'#*-+eE nfHz\x00\u2028é", max_size=60))
def test_whatever_stands_in_a_cabin_s_file_is_read_or_refused(text: str) -> None:
    """Conservation law: faults or a cabin, never a crash."""
    try:
        points = len(parse_cabin(text, source="cabin.csv").frequency)
    except InputFaults as error:
        points = 5 * len(error.faults)
    assert points >= 5


@pytest.mark.parametrize("sign", ["\t", ";"])
def test_a_decimal_comma_where_it_cannot_be_taken_for_a_column(sign: str) -> None:
    """Independent: 12,5 between tabs or semicolons is 12.5."""
    lines = [f"{hz},5{sign}{level},25" for hz, level in ((12, 8), (20, 7), (31, 6), (50, -2), (80, 0))]
    found = parse_cabin("\n".join(lines), source="cabin.csv")
    assert found.frequency.tolist() == [12.5, 20.5, 31.5, 50.5, 80.5]
    assert found.level_db.tolist() == [8.25, 7.25, 6.25, -2.25, 0.25]


def test_cost_and_weight_need_what_they_are_made_of() -> None:
    """Regression pin: every missing price and mass is named."""
    faults = faults_of(put("goals.objectives", ["f3_hz", "cost", "weight_kg"]))
    assert set(faults) == {
        "currency",
        "driver[0].price",
        "driver[0].mass",
        "stock.board_price",
        "stock.pipe[0].price",
    }
    assert '"cost" among the goals needs it' in faults["driver[0].price"]


def test_a_price_needs_the_currency_of_the_job() -> None:
    """Regression pin."""
    document = put("driver[0].price", "95 EUR")
    assert set(faults_of(document)) == {"currency"}
    document["currency"] = "USD"
    assert 'expected a price such as "120 USD"' in faults_of(document)["driver[0].price"]


def test_two_coils_joined_the_other_way_are_noticed() -> None:
    """Analytic limit: two 4 ohm coils are 8 ohm in series and 2 ohm in parallel, a factor 4."""
    document = put("driver[0].coils", 2)
    assert "2 coils of 4 ohm in parallel are nominally 2 ohm" in faults_of(document)["driver[0].re"]
    document["driver"][0] |= {"re": "1.7 ohm"}
    assert parse_scenario(document, source="job.toml").candidates[0].driver.re == 1.7
    document["driver"][0] |= {"stated_wiring": "series", "re": "6.8 ohm"}
    assert parse_scenario(document, source="job.toml").candidates[0].driver.re == 6.8


def test_a_sheet_that_contradicts_itself_is_refused() -> None:
    """Analytic limit: qes·qms/(qes + qms) = 0.4545, not 0.54."""
    words = faults_of(put("driver[0].qts", 0.54))["driver[0].qts"]
    assert words.startswith("0.54 | qes and qms give 0.455 (16 % less)")


def test_the_digest_follows_what_is_said_not_the_order() -> None:
    """Conservation law."""
    document = job()
    turned = dict(reversed(list(document.items())))
    other = put("driver[0].fs", "33 Hz")
    digests = [parse_scenario(d, source="x").digest for d in (document, turned, other)]
    assert digests[0] == digests[1] != digests[2]
    assert len(digests[0]) == 64


def test_reading_leaves_the_document_untouched() -> None:
    """Conservation law: the explorer goes on editing it."""
    document = job()
    before = copy.deepcopy(document)
    parse_scenario(document, source="job.toml")
    assert document == before


WRONG_FILES: list[tuple[str, bytes, str]] = [
    ("empty", b"", "is empty"),
    ("blank", b" \n\n", "is empty"),
    ("binary", bytes(range(256)), "not text in UTF-8"),
    ("utf16", "title = 'x'".encode("utf-16"), "not text in UTF-8"),
    ("prose", b"Dear box, be good.", "is not valid TOML"),
    ("twice", b"title = 'a'\ntitle = 'b'\n", "is not valid TOML"),
    ("deep", b"a = " + b"[" * 50_000, "is not valid TOML"),
    ("huge", b"# " + b"x" * 10_000_000, "is 10.0 MB"),
]


@pytest.mark.parametrize(("name", "content", "words"), WRONG_FILES, ids=[name for name, _, _ in WRONG_FILES])
def test_files_that_are_no_scenario(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    """Regression pin: one clear fault that names the file."""
    path = tmp_path / f"{name}.toml"
    path.write_bytes(content)
    with pytest.raises(InputFaults, match=words) as caught:
        read_scenario(path)
    assert len(caught.value.faults) == 1
    assert str(caught.value).startswith(str(path))


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    """Regression pin."""
    with pytest.raises(InputFaults, match="there is no such file"):
        read_scenario(tmp_path / "none.toml")
    with pytest.raises(InputFaults, match="is no file"):
        read_scenario(tmp_path)


def test_a_box_whose_back_leans_is_never_square() -> None:
    """Promise to the user: no bevel and a leaning back contradict each other, and that is said where it was asked."""
    document = job()
    document["box"] = {"back_angle": "10 deg"}
    document["goals"] = {"limits": {"bevel_angles": 0}}
    with pytest.raises(InputFaults) as caught:
        parse_scenario(document, source="")
    (fault,) = caught.value.faults
    assert fault.key == "goals.limits.bevel_angles"
    assert "since the back leans (box.back_angle)" in str(fault)


def test_sizes_step_by_what_a_builder_measures_in() -> None:
    """Promise to the user: 1 mm, or 1/16 in where the job is in inches, unless it says otherwise."""
    document = job()
    assert parse_scenario(document, source="").saw.size_step == 0.001
    document["space"] = {"section": [["0 in", "0 in"], ["12 in", "0 in"], ["8 in", "16 in"], ["0 in", "16 in"]]}
    document["space"]["width"] = "36 in"
    assert parse_scenario(document, source="").saw.size_step == 0.0254 / 16
    document["saw"] = {"size_step": "1/8 in", "angle_step": "1 deg"}
    stated = parse_scenario(document, source="").saw
    assert (stated.size_step, stated.angle_step) == (0.003175, math.radians(1.0))


def test_windows_files_are_read(tmp_path: Path) -> None:
    """Regression pin: a byte order mark and CRLF line ends are what some editors save."""
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + write_document(job()).replace("\n", "\r\n").encode())
    assert read_scenario(path).title == "A job"


def test_a_written_document_reads_back(tmp_path: Path) -> None:
    """Conservation law."""
    path = tmp_path / "job.toml"
    path.write_text(write_document(job()), encoding="utf-8")
    assert read_document(path) == job()


@pytest.mark.parametrize("read", [lambda d: d, lambda d: json.loads(json.dumps(d))], ids=["toml", "json"])
def test_the_explorer_may_keep_the_document_as_json(read: Callable[[Document], Document]) -> None:
    """Conservation law."""
    for path in demo_scenarios().values():
        document = read_document(path)
        assert parse_scenario(read(document), source="x") == parse_scenario(document, source="x")


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["32 Hz", "18 mm", "4 ohm", "30 L", "closed", "f3_hz", "0 mm"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
PLACES = [
    *(key for key in job()),
    *(f"space.{key}" for key in job()["space"]),
    *(f"driver[0].{key}" for key in job()["driver"][0]),
    *(f"amplifier.{key}" for key in job()["amplifier"]),
    *(f"stock.{key}" for key in job()["stock"]),
    *(name for name in ("air", "box", "filter", "goals", "bounds", "search", "goals.limits", "space.door")),
    *(name for name in ("radiator", "chain", "chain.low_pass", "cabin", "cabin.table", "cabin.file", "stock.slot")),
    *(f"space.{name}" for name in ("measured", "clearance", "clearance.back", "keepout")),
    "stock.terminal_cup",
    "space.section[1]",
    "amplifier.load[0].power",
]


@given(place=st.sampled_from(PLACES), value=ANYTHING)
def test_whatever_stands_in_a_key_is_read_or_refused_never_a_crash(place: str, value: Any) -> None:
    """Conservation law: parse_scenario raises InputFaults or nothing."""
    document = put(place, 0 if value is None else value)
    try:
        outcome = [parse_scenario(document, source="job.toml").title]
    except InputFaults as error:
        outcome = [str(fault).removeprefix("job.toml: ") for fault in error.faults]
    assert outcome
    assert all(outcome)


def test_fields_are_fit_for_forms() -> None:
    """Regression pin: every number has a plausible range, every field its words, every default is sound."""
    assert {field.key for field in FIELDS["goals.limits"]} == set(GOALS)
    for path, fields in FIELDS.items():
        assert len({field.key for field in fields}) == len(fields)
        for field in fields:
            assert field.help.endswith(".") or field.kind == "text", (path, field.key)
            assert not (field.required and field.default is not None), (path, field.key)
            if field.kind not in ("text", "choice"):
                assert field.low is not None, (path, field.key)
                assert field.high is not None, (path, field.key)
            assert (field.against is not None) == (field.form == "points"), (path, field.key)
    inner = {f"{path}.{table.key}".lstrip(".") for path, tables in TABLES.items() for table in tables}
    assert inner == set(FIELDS) - {""}


def test_levels_are_told_where_the_job_names_them() -> None:
    """User's promise: any whole frequencies, as goals and limits by their names; what is not named is said."""
    document = put("goals", {"levels": ["28 Hz", "41 Hz"], "limits": {"level_41_hz_db": "90 dB"}})
    scenario = parse_scenario(document, source="job.toml")
    assert scenario.goals.levels == (28.0, 41.0)
    assert scenario.goals.objectives == ("level_28_hz_db", "level_41_hz_db", "outer_volume_m3")
    assert scenario.goals.limits == {"level_41_hz_db": 90.0}
    for goals, place, said in (
        ({"levels": ["30 Hz", "20 Hz"]}, "goals.levels", "rising"),
        ({"levels": ["30.5 Hz"]}, "goals.levels", "whole frequencies"),
        ({"levels": ["20 Hz", "30 Hz", "40 Hz", "50 Hz"]}, "goals.levels", "one to 3"),
        ({"fed_from": "35 Hz"}, "goals.levels", "none below 35.0 Hz"),
        ({"objectives": ["level_30_hz_db", "level_35_hz_db"]}, "goals.objectives[1]", '"level_30_hz_db"'),
        ({"limits": {"level_35_hz_db": "90 dB"}}, "goals.limits.level_35_hz_db", '"level_40_hz_db"'),
    ):
        assert said in faults_of(put("goals", goals))[place]


def test_how_it_is_used_is_stated() -> None:
    """Contract: fed from 20 Hz, music of 6 dB, turned down to hold its limits; each can be said otherwise."""
    usual = parse_scenario(put("title", "job"), source="job.toml")
    assert (usual.goals.fed_from, usual.goals.use.full_drive, usual.amplifier.crest_factor) == (20.0, False, 6.0)
    document = put("goals", {"fed_from": "27 Hz", "drive": "full power"})
    document["amplifier"] = {**document["amplifier"], "crest_factor": "3 dB"}
    stated = parse_scenario(document, source="job.toml")
    assert (stated.goals.fed_from, stated.goals.use.full_drive, stated.amplifier.crest_factor) == (27.0, True, 3.0)


def test_a_job_without_filters_tries_none_and_the_usual_high_passes() -> None:
    """User's promise: a high-pass is among the choices unless the job lists its own."""
    document = put("title", "job")
    document.pop("filter", None)
    filters = parse_scenario(document, source="job.toml").filters
    assert [(each.order, each.shape) for each in filters] == [
        (0, "butterworth"),
        (2, "butterworth"),
        (4, "butterworth"),
    ]
    assert filters[1].frequency == (15.0, 50.0)


def test_a_double_baffle_is_for_drivers_in_the_baffle_and_makes_the_panel_thicker() -> None:
    """Promise to the user: elsewhere it is refused in words; a driver no deeper than both layers is none."""
    document = job()
    for elsewhere in ("down", "side", "up"):
        document["box"] = {"baffles": ["single", "double"], "facings": ["front", elsewhere]}
        assert "expected single alone" in faults_of(document)["box.baffles"]
    document["box"] = {"baffles": ["double"], "baffle_recess": "12 mm"}
    document["stock"]["baffle_layer"] = "1/2 in"
    read = parse_scenario(document, source="job.toml")
    assert read.stock.layer_of("double") == pytest.approx(0.0127)
    assert read.stock.layer_of("single") == 0.0
    del document["stock"]["baffle_layer"]
    assert parse_scenario(document, source="job.toml").stock.layer_of("double") == 0.018
    document["box"]["baffle_recess"] = "27 mm"
    assert "expected at most 26 mm" in faults_of(document)["box.baffle_recess"]
    document["box"] = {"baffles": ["double"]}
    document["driver"][0] |= {"mounting_depth": "36 mm"}
    assert "more than the board behind its flange (36 mm)" in faults_of(document)["driver[0].mounting_depth"]
