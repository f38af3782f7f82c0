"""Design files: one stated box, read and written."""

from __future__ import annotations

import copy
import dataclasses
import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.air import REFERENCE_AIR, air_at
from engine.design_file import StatedDesign, parse_design, read_design, write_design
from engine.errors import InputFaults
from engine.parts import Driver

Document = dict[str, Any]


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


def faults_of(document: Any) -> dict[str, str]:
    with pytest.raises(InputFaults) as caught:
        parse_design(document, source="box.toml")
    return {fault.key: f"{fault.value} | {fault.expected}" for fault in caught.value.faults}


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
    document["vent"] = {"diameter": "76.2 mm", "length": "13 1/4 in", "ends": ["flush", "flush"]}
    document["filter"] = {"kind": "highpass", "order": 4, "frequency": "24 Hz"}
    document["sweep"] = {"start": "5 Hz", "stop": "500 Hz", "points": 40}
    document["air"] = {"temperature": "10 degC", "altitude": "500 m"}
    document["goals"] = {"music_band": ["30 Hz", "90 Hz"], "vent_speed_limit": "20 m/s"}
    design = parse_design(document, source="box.toml")
    assert (design.driver.name, design.count, design.driver.l2, design.driver.r2) == ("twelve", 2, 0.001, 4.0)
    assert (design.ql, design.qa, design.qp, design.filling) == (math.inf, 50.0, 80.0, 1.2)
    assert (design.vent_count, design.vent_length, design.tuning) == (1, 0.33655, None)
    assert design.ends == ("flush", "flush")
    assert (design.filter_order, design.filter_hz) == (4, 24.0)
    assert design.sweep == (5.0, 500.0, 40)
    assert design.air == air_at(temperature_k=283.15, altitude_m=500.0)
    assert (design.music_band, design.vent_speed_limit) == ((30.0, 90.0), 20.0)


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
        ("box", "kind", "radiator", "passive radiators cannot be worked out yet"),
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


def test_vents_belong_to_vented_boxes() -> None:
    """Regression pin."""
    bare, odd, lossy = vented(), vented(), closed()
    del bare["vent"]
    odd["box"]["kind"] = "closed"
    lossy["box"]["qp"] = 50
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
        read_design(path)
    assert all(line.startswith(f"{path}: ") for line in str(caught.value).splitlines())
    assert len(caught.value.faults) == 3


def flat(design: StatedDesign) -> dict[str, Any]:
    """Every figure of a design by name."""
    found = dataclasses.asdict(design)
    found |= {f"driver.{key}": value for key, value in found.pop("driver").items()}
    found |= {f"air.{key}": value for key, value in found.pop("air").items()}
    found |= {f"sweep.{number}": value for number, value in enumerate(found.pop("sweep"))}
    return found | {f"band.{number}": value for number, value in enumerate(found.pop("music_band"))}


@given(
    fs=st.floats(15.0, 90.0),
    re=st.floats(0.5, 12.0),
    lossy=st.floats(1e-5, 1e-2),
    volume=st.floats(0.002, 0.5),
    voltage=st.floats(0.5, 90.0),
    diameter=st.floats(0.02, 0.2),
    stated=st.sampled_from(["closed", "tuning", "length"]),
    order=st.sampled_from([0, 2, 4]),
    temperature=st.floats(250.0, 320.0),
    altitude=st.floats(0.0, 3000.0),
)
def test_a_written_design_reads_back(
    fs: float,
    re: float,
    lossy: float,
    volume: float,
    voltage: float,
    diameter: float,
    stated: str,
    order: int,
    temperature: float,
    altitude: float,
) -> None:
    """Conservation law: every figure comes back within 1e-9 of itself."""
    vents: dict[str, Any] = {}
    if stated != "closed":
        vents = {"vent_count": 2, "vent_diameter": diameter, "ends": ("free", "free")}
        vents |= {"tuning": fs} if stated == "tuning" else {"vent_length": 10.0 * lossy + 0.01}
    design = StatedDesign(
        driver=Driver(
            name='a "ten"',
            fs=fs,
            qes=0.4 + lossy,
            qms=5.0 + fs / 70.0,
            vas=0.03,
            sd=0.0331,
            re=re,
            le=lossy,
            l2=lossy / 3.0,
            r2=re / 3.0,
            xmax=0.01,
            rated_power=321.0,
        ),
        count=2,
        voltage=voltage,
        box_kind="closed" if stated == "closed" else "vented",
        volume=volume,
        ql=math.inf if stated == "closed" else 7.0 + lossy,
        qa=60.0,
        filling=1.1,
        **vents,
        filter_order=order,
        filter_hz=21.7 if order else 0.0,
        sweep=(7.0, 300.0, 33),
        air=air_at(temperature_k=temperature, altitude_m=altitude),
        vent_speed_limit=16.3,
        music_band=(22.2, 77.7),
    )
    back = flat(parse_design(tomllib.loads(write_design(design)), source="box.toml"))
    for key, value in flat(design).items():
        if isinstance(value, float) and math.isfinite(value):
            assert back[key] == pytest.approx(value, rel=1e-9), key
        elif not (isinstance(value, float) and math.isnan(value)):
            assert back[key] == value, key


def test_writing_needs_one_of_tuning_and_length() -> None:
    """Regression pin: no file is written that would not read back."""
    design = parse_design(vented(), source="box.toml")
    with pytest.raises(ValueError, match="exactly one of tuning and vent_length"):
        write_design(dataclasses.replace(design, tuning=None))


def test_reading_leaves_the_document_untouched() -> None:
    """Conservation law."""
    document = vented()
    before = copy.deepcopy(document)
    parse_design(document, source="box.toml")
    assert document == before
