"""Design files: one stated box, read."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import pytest

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin
from engine.acoustics.filters import Chain
from engine.air import REFERENCE_AIR, air_at
from engine.document import read_document, write_document
from engine.errors import InputFaults
from engine.formats.design import parse_design
from engine.parts import Driver, PassiveRadiator
from engine.stated_design import StatedDesign
from engine.words.voice import Voice

Document = dict[str, Any]

FILE = Voice("metric")


def vented() -> Document:
    """A small sound design to spoil."""
    return {
        "driver": {
            "fs": "30 Hz",
            "qes": 0.4,
            "qms": 5.0,
            "vas": "100 L",
            "sd": "500 cm^2",
            "re": "3.4 ohm",
            "le": "1.5 mH",
            "xmax": "12 mm",
            "rated_power": "400 W",
        },
        "drive": {"voltage": "2.83 V"},
        "box": {"kind": "vented", "volume": "60 L"},
        "vent": {"count": 2, "diameter": "3 in", "tuning": "32 Hz"},
    }


def closed() -> Document:
    document = vented()
    del document["vent"]
    document["box"]["kind"] = "closed"
    return document


def passive() -> Document:
    """A small sound design with passive radiators to spoil."""
    document = vented()
    del document["vent"]
    document["box"]["kind"] = "radiator"
    document["radiator"] = {
        "count": 2,
        "fs": "20 Hz",
        "qms": 8.0,
        "vas": "90 L",
        "sd": "480 cm^2",
        "xmax": "20 mm",
        "added_mass": "150 g",
    }
    return document


def read(path: Path) -> StatedDesign:
    return parse_design(read_document(path), source=str(path), folder=path.parent)


def faults_of(document: Any) -> dict[str, str]:
    with pytest.raises(InputFaults) as caught:
        parse_design(document, source="box.toml")
    return {fault.key: f"{fault.found(FILE)} | {fault.wrong(FILE)}" for fault in caught.value.faults}


def test_the_least_a_vented_design_must_say() -> None:
    """Regression pin: the defaults of the project's design page."""
    design = parse_design(vented(), source="box.toml")
    assert design == StatedDesign(
        driver=Driver(
            name="driver",
            fs=30.0,
            qes=0.4,
            qms=5.0,
            vas=0.1,
            sd=0.05,
            re=3.4,
            le=0.0015,
            xmax=0.012,
            rated_power=400.0,
        ),
        voltage=2.83,
        box_kind="vented",
        volume=0.06,
        ql=7.0,
        vent_count=2,
        vent_diameter=0.0762,
        tuning=32.0,
    )
    assert (design.qa, design.qp, design.filling, design.count) == (math.inf, math.inf, 1.0, 1)
    assert design.sweep == (10.0, 200.0, 200)
    assert design.air == REFERENCE_AIR


def test_a_closed_design_has_no_leak_and_no_vent_unless_stated() -> None:
    """Regression pin."""
    design = parse_design(closed(), source="box.toml")
    assert (design.ql, design.vent_count, design.vent_diameter, design.tuning) == (math.inf, 0, None, None)
    leaky = closed()
    leaky["box"]["ql"] = 12
    assert parse_design(leaky, source="box.toml").ql == 12.0


def test_everything_a_design_may_say_is_read() -> None:
    """Regression pin: each optional key lands in its field, in SI."""
    document = vented()
    document["driver"] |= {"name": "twelve", "count": 2, "l2": "1 mH", "r2": "4 ohm", "qts": 0.37}
    document["box"] |= {"ql": math.inf, "qa": 50, "qp": 80.0, "filling": 1.2}
    document["vent"] = {"diameter": "76.2 mm", "length": "13 1/4 in", "ends": ["flush", "flush"], "loss": 1.2}
    document["filter"] = {"kind": "highpass", "shape": "linkwitz-riley", "order": 4, "frequency": "24 Hz"}
    document["driver"] |= {"thermal_resistance": "0.4 K/W", "coil_metal": "aluminium", "bl_at_xmax": 0.8}
    document["box"]["largest_dimension"] = "70 cm"
    document["cabin"] = {"largest_dimension": "3 m", "leak": "0 Hz"}
    document["chain"] = {"band_frequency": "40 Hz", "band_gain": "3 dB"}
    document["sweep"] = {"start": "5 Hz", "stop": "500 Hz", "points": 40}
    document["air"] = {"temperature": "10 degC", "altitude": "500 m"}
    document["goals"] = {"music_band": ["30 Hz", "90 Hz"], "vent_speed_limit": "20 m/s"}
    design = parse_design(document, source="box.toml")
    assert (design.driver.name, design.count, design.driver.l2, design.driver.r2) == ("twelve", 2, 0.001, 4.0)
    assert (design.ql, design.qa, design.qp, design.filling) == (math.inf, 50.0, 80.0, 1.2)
    assert (design.vent_count, design.vent_length, design.tuning) == (1, 0.33655, None)
    assert (design.ends, design.vent_loss) == (("flush", "flush"), 1.2)
    assert (design.filter_shape, design.filter_order, design.filter_hz) == ("linkwitz-riley", 4, 24.0)
    assert (design.driver.warmth, design.driver.coil_metal, design.driver.bl_at_xmax) == (0.4, "aluminium", 0.8)
    assert design.largest_dimension == 0.7
    assert design.cabin == EstimatedCabin(largest_dimension=3.0, leak_hz=0.0, air=design.air)
    assert design.chain == Chain(band_hz=40.0, band_db=3.0)
    assert design.sweep == (5.0, 500.0, 40)
    assert design.air == air_at(temperature_k=283.15, altitude_m=500.0)
    assert (design.music_band, design.vent_speed_limit) == ((30.0, 90.0), 20.0)


def test_passive_radiators_are_read() -> None:
    """Regression pin: the radiator as its sheet states it, and what is screwed onto it."""
    design = parse_design(passive(), source="box.toml")
    assert design.radiator == PassiveRadiator(name="radiator", fs=20.0, qms=8.0, vas=0.09, sd=0.048, xmax=0.02)
    assert (design.box_kind, design.ql, design.radiator_count) == ("radiator", 7.0, 2)
    assert (design.added_mass, design.tuning, design.vent_count) == (0.15, None, 0)


def test_a_slot_is_read() -> None:
    """Regression pin: width and height in place of a diameter."""
    document = vented()
    document["vent"] = {"width": "300 mm", "height": "30 mm", "length": "400 mm"}
    design = parse_design(document, source="box.toml")
    assert (design.vent_width, design.vent_height, design.vent_diameter) == (0.3, 0.03, None)
    assert (design.vent_count, design.vent_length) == (1, 0.4)


def test_where_the_box_s_own_air_is_stated_the_tuning_must_be() -> None:
    """Regression pin: it is the true one then, and what is built may stand beside it."""
    for document, table, built in ((vented(), "vent", "length"), (passive(), "radiator", "added_mass")):
        size = "300 mm" if built == "length" else "90 g"
        document["box"] |= {"air_mass": "11 g", "inertance": -8.5}
        document[table] |= {"tuning": "31 Hz", built: size}
        design = parse_design(document, source="box.toml")
        assert (design.air_mass, design.inertance, design.tuning) == (0.011, -8.5, 31.0)
        del document[table]["tuning"]
        assert "is missing: with the box's own air stated" in faults_of(document)[f"{table}.tuning"]


def test_a_textbook_driver_without_losses_is_welcome() -> None:
    """Regression pin: lossless check values need Q far beyond any real driver's."""
    document = vented()
    document["driver"] |= {"qms": 1e8, "le": "0 mH"}
    document["box"]["ql"] = math.inf
    assert parse_design(document, source="box.toml").driver.qts == pytest.approx(0.4, rel=1e-8)


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("driver", "le", None, "is missing: expected an inductance"),
        ("driver", "fs", 30, "a bare number"),
        ("driver", "qts", 0.5, "qes and qms give 0.37 (26 % less)"),
        ("drive", "voltage", "2.83 W", "does not fit: expected a voltage"),
        ("box", "largest_dimension", 0.6, "a bare number: expected a length"),
        ("box", "air_mass", "9 kg", "expected -2 kg to 2 kg"),
        ("vent", "loss", -1, "expected 0 to 20"),
        ("driver", "bl_at_xmax", 82, "expected 0.3 to 1.05"),
        ("box", "kind", "vent", 'did you mean "vented"?'),
        ("box", "volume", "0 L", "expected 0.1 L to 10000 L"),
        ("box", "ql", math.nan, "expected 0.5 or more"),
        ("box", "filling", 2, "expected 1.0 to 1.4"),
        ("vent", "count", 0, "expected 1 to 64"),
        ("vent", "ends", ["flush"], "two in square brackets"),
        ("vent", "diametre", "3 in", 'did you mean "diameter"?'),
    ],
)
def test_one_spoiled_key_is_refused_in_its_place(table: str, key: str, value: Any, words: str) -> None:
    """Regression pin of the messages."""
    document = vented()
    if key == "diametre":
        del document["vent"]["diameter"]
    if value is None:
        del document[table][key]
    else:
        document[table][key] = value
    faults = faults_of(document)
    assert list(faults) == [f"{table}.{key}"]
    assert words in faults[f"{table}.{key}"]


def test_length_or_tuning_but_not_both() -> None:
    """Regression pin."""
    both, neither = vented(), vented()
    both["vent"]["length"] = "300 mm"
    del neither["vent"]["tuning"]
    assert "both are stated" in faults_of(both)["vent"]
    assert "neither is stated" in faults_of(neither)["vent"]


def test_added_mass_or_tuning_but_not_both() -> None:
    """Regression pin."""
    both, neither = passive(), passive()
    both["radiator"]["tuning"] = "30 Hz"
    del neither["radiator"]["added_mass"]
    assert (
        "expected either added_mass or tuning, the other is worked out; both are stated" in faults_of(both)["radiator"]
    )
    assert "neither is stated" in faults_of(neither)["radiator"]


def test_a_vent_has_one_bore() -> None:
    """Regression pin: round or rectangular, and a rectangle has two sides."""
    for bore in ({"diameter": "3 in", "width": "9 in"}, {"width": "9 in"}, {"height": "1 in"}, {}):
        document = vented()
        document["vent"] = {"tuning": "30 Hz", **bore}
        assert "expected diameter, or width and height of a slot" in faults_of(document)["vent"]


def test_radiators_belong_to_their_boxes() -> None:
    """Regression pin."""
    bare, odd, ported, lossy = passive(), vented(), passive(), passive()
    del bare["radiator"]
    odd["radiator"] = passive()["radiator"]
    ported["vent"] = vented()["vent"]
    lossy["box"]["qp"] = 40
    assert "is missing: a box with passive radiators needs a table [radiator]" in faults_of(bare)["radiator"]
    assert "a vented box has no passive radiator: take [radiator] out, or set box.kind" in faults_of(odd)["radiator"]
    assert "a box with passive radiators has no vent" in faults_of(ported)["vent"]
    assert "a passive radiator states its own, as qms" in faults_of(lossy)["box.qp"]


@pytest.mark.parametrize(
    ("filter_", "at", "words"),
    [
        ({"order": 3, "shape": "linkwitz-riley"}, "filter.order", "there is no Linkwitz-Riley of order 3: 2 or 4"),
        ({"order": 6}, "filter.order", "expected 1 to 4"),
        ({"shape": "own"}, "filter.q", "is missing: a filter of your own needs its Q"),
        ({"order": 2, "q": 1.0}, "filter.q", "the Q of a Butterworth follows from its order"),
        ({}, "filter.order", "is missing: a high-pass needs order and frequency"),
    ],
)
def test_filters_that_are_none(filter_: Document, at: str, words: str) -> None:
    """User's promise: the words of the scenario's filters."""
    document = vented()
    document["filter"] = {"kind": "highpass", "frequency": "24 Hz", **filter_}
    faults = faults_of(document)
    assert list(faults) == [at]
    assert words in faults[at]


def test_vents_belong_to_vented_boxes() -> None:
    """Regression pin."""
    bare, odd, lossy = vented(), vented(), closed()
    del bare["vent"]
    odd["box"]["kind"] = "closed"
    lossy["box"]["qp"] = 50
    heavy = closed()
    heavy["box"]["inertance"] = 5.0
    assert "a closed box has none" in faults_of(heavy)["box.inertance"]
    assert "is missing" in faults_of(bare)["vent"]
    assert "a closed box has no vent" in faults_of(odd)["vent"]
    assert "a closed box has none" in faults_of(lossy)["box.qp"]


def test_every_fault_is_reported_at_once() -> None:
    """Regression pin."""
    document = vented()
    del document["drive"]
    document["box"] = []
    document["driver"]["fs"] = "thirty"
    document["sweep"] = {"start": "200 Hz", "stop": "20 Hz"}
    document["fitler"] = {"kind": "highpass"}
    faults = faults_of(document)
    assert set(faults) == {"drive", "box", "driver.fs", "sweep.stop", "fitler"}
    assert 'did you mean "filter"?' in faults["fitler"]


def test_faults_name_the_file(tmp_path: Path) -> None:
    """Regression pin."""
    path = tmp_path / "box.toml"
    path.write_text("[box]\nkind = 'closed'\n", encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        read(path)
    assert all(line.startswith(f"{path}: ") for line in str(caught.value).splitlines())
    assert len(caught.value.faults) == 3


def test_a_cabin_s_file_lies_beside_the_design(tmp_path: Path) -> None:
    """User's promise, and every fault of both files at once."""
    (tmp_path / "car.csv").write_text("10,12\n20,10\n40,5\n80,1\n160,0\n", encoding="utf-8")
    path = tmp_path / "box.toml"
    text = write_document(closed() | {"cabin": {"file": "car.csv"}})
    path.write_text(text, encoding="utf-8")
    cabin = read(path).cabin
    assert isinstance(cabin, MeasuredCabin)
    assert cabin.level_db.tolist() == [12.0, 10.0, 5.0, 1.0, 0.0]
    (tmp_path / "car.csv").write_text("10,12\n20,ten\n", encoding="utf-8")
    path.write_text(text.replace("2.83 V", "2.83 W"), encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        read(path)
    assert {Path(fault.source).name for fault in caught.value.faults} == {"box.toml", "car.csv"}


def test_reading_leaves_the_document_untouched() -> None:
    """Conservation law."""
    document = vented()
    before = copy.deepcopy(document)
    parse_design(document, source="box.toml")
    assert document == before
