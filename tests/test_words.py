"""What the user reads of a fault, promises to the user: every sentence is whole, in their units and their words."""

from __future__ import annotations

import ast
import copy
import re
from pathlib import Path
from typing import Any, get_args

import pytest

from engine.document import written_in
from engine.errors import Fault, InputFaults, finding
from engine.field import Field
from engine.formats.fields import FIELDS
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.quantities import KINDS, PRICE_KINDS, Units
from engine.words.faults import SENTENCES, what_is_wrong
from engine.words.voice import (
    Deviation,
    Key,
    Keys,
    Mixed,
    Names,
    Near,
    Quantity,
    Quoted,
    TableName,
    Voice,
    Wanted,
    Where,
)
from explorer.plainly import FormVoice, plainly
from explorer.reading import in_words

ROOT = Path(__file__).parents[1]
# Grams are missing: a moving mass is said in them in every country.
METRIC = re.compile(r"\bmm\b(?!/N)|\bcm\b|(?<!T )\bm\b(?!/N)|\bL\b|\bkg\b(?!/s)|millimet|\bm/s\b|cm\^2|cm²")
OF_A_FILE = re.compile(r'["\[\]{}]|\b[a-z]+_[a-z]+\b')
VOICES = [kind(units) for kind in (Voice, FormVoice) for units in get_args(Units)]
LENGTH = Quantity(0.4572, "length", figures=4)

# For each name that a template may ask for something of the type that it is given.
SAMPLES: dict[str, Any] = {
    "wanted": Wanted(Field(key="width", kind="length", low="100 mm", high="4000 mm", help="")),
    "against": Wanted(Field(key="level", kind="level", low="-80 dB", high="80 dB", help="")),
    "near": Near("18 mm", "length"),
    "part": TableName("stock.pipe"),
    "slot": TableName("stock.slot"),
    "known": ("space", "driver"),
    "goals": Quoted(("f3_cabin_hz", "cost")),
    "shapes": Quoted(("butterworth",)),
    "given": Keys(("fs", "vas", "sd")),
    "suspects": Keys(("re", "coil_impedance")),
    "extra": Keys(("mms", "bl")),
    "lossy": Keys(("l2", "r2")),
    "wright": Keys(("inductance_kr",)),
    "band": Keys(("band_frequency", "band_gain")),
    "outer": Key("outer_diameter"),
    "cutout": Key("cutout_diameter"),
    "mounting": Key("mounting_depth"),
    "which": Key("lowest_load"),
    "built": Key("added_mass"),
    "bound": Key("bounds.outer_width"),
    "deviation": Deviation(-0.14),
    "mixed": Mixed(inches=True),
    "nothing": Quantity(0.0, "length", figures=1),
    "mass": Quantity(0.0018, "mass", 3, "g"),
    "orders": Names(("2", "4")),
    "kinds": Names(("vented",)),
    "drivers": ("2 × compact 8",),
}
LENGTHS = {"size", "board", "depth", "bar", "low", "high", "least", "most", "height", "leads", "step"}
LENGTHS |= {"back", "front", "back_below", "front_below"}


def sample(code: str, name: str) -> Any:
    """A parameter as a reader would give it."""
    file = SENTENCES[code].file
    if f"{{{name}:.3g}}" in file or f"{{{name}:.1f}}" in file:
        return 2.5
    if code.startswith(("few_", "many_", "too_many", "too_long", "no_frequency", "no_level", "no_bass")):
        return 12.0
    if code == "moving_mass" and name in ("least", "most"):
        return Quantity(0.002, "mass", 3, "g")
    if name in ("one", "other"):
        return Where("driver[0]") if code == "name_twice" else Key("l2") if code == "goes_together" else 3
    if name == "stated":
        return Key("band_gain") if code == "band_incomplete" else Keys(("diameter", "width"))
    if name == "short":
        return ("depth behind the driver",)
    return SAMPLES.get(name, LENGTH if name in LENGTHS else "something")


@pytest.mark.parametrize("voice", VOICES, ids=lambda voice: f"{type(voice).__name__}-{voice.units}")
@pytest.mark.parametrize("code", SENTENCES)
def test_every_sentence_is_whole_in_both_words_and_units(code: str, voice: Voice) -> None:
    """No place left to fill in, no metric unit for who thinks in inches, no key or bracket beside a form."""
    parameters = {name: sample(code, name) for name in SENTENCES[code].parameters}
    said = what_is_wrong(*finding(code, **parameters), voice)
    assert said
    assert not re.search(r"[{}]|None|\bnan\b", said)
    if voice.units == "us":
        assert not METRIC.search(said), said
    if voice.form:
        assert not OF_A_FILE.search(said), said


@pytest.mark.parametrize("kind", [*KINDS, *PRICE_KINDS])
@pytest.mark.parametrize("voice", VOICES, ids=lambda voice: f"{type(voice).__name__}-{voice.units}")
def test_every_kind_of_quantity_has_an_example_in_the_user_s_units(kind: str, voice: Voice) -> None:
    said = voice.say("{wanted:one}", {"wanted": Wanted(Field(key="key", kind=kind, help=""))})
    assert " such as " in said
    assert voice.units == "metric" or not METRIC.search(said), said


@pytest.mark.parametrize(
    ("code", "parameters"),
    [("no_such_code", {}), ("cone_beyond_flange", {"outer": Key("outer_diameter")})],
)
def test_a_fault_without_a_sentence_cannot_be_made(code: str, parameters: dict[str, Any]) -> None:
    """Contract: the registry is closed, and every fault brings what its sentences ask for."""
    with pytest.raises(ValueError, match=code):
        Fault("job.toml", "driver[0].sd", "600 cm^2", code, parameters)


def in_inches() -> dict[str, Any]:
    """A demo job, told in US customary units throughout."""
    return read_document(demo_scenarios()["roadster"])


SPOILED: list[tuple[str, Any]] = [
    ("space.width", "2 in"),
    ("space.width", "48"),
    ("space.width", "1,5 in"),
    ("space.width", "forty"),
    ("space.width", "40 lb"),
    ("space.width", 48),
    ("space.width", ""),
    ("space.width", None),
    ("space.margin", "40 in"),
    ("space.section", [["0 in", "0 in"], ["9 in", "0 in"]]),
    ("space.section", [["0 in", "0 in"], ["1 in", "0 in"], ["1 in", "20 in"]]),
    ("space.section", [["0 in"], ["9 in", "0 in"], ["9 in", "20 in"]]),
    ("space.section", []),
    ("space.measured", [{"height": "0 in", "depth": "9 in"}]),
    ("space.measured", [{"height": f"{h} in", "depth": f"{d} in"} for h, d in ((0, 20), (10, 0.8), (20, 20))]),
    ("space.measured", [{"height": f"{h} in", "depth": "9 in"} for h in (0, 30, 10, 20)]),
    ("space.measured", [{"height": f"{h} in", "depth": f"{d} in"} for h, d in ((0, 9), (10, 0), (20, 9))]),
    ("space.measured", [{"height": f"{h} in", "depth": "0 in"} for h in (0, 20)]),
    ("space.keepout", [{"name": "arch", "across": ["90 in", "95 in"], "forward": ["0 in", "2 in"]}]),
    ("space.clearance", {"back": "30 in"}),
    ("space.door", {"width": "1 in", "height": "20 in"}),
    ("driver[0].outer_diameter", "6 in"),
    ("driver[0].cutout_diameter", "20 in"),
    ("driver[0].magnet_diameter", "16 in"),
    ("driver[0].mounting_depth", "1/2 in"),
    ("driver[0].magnet_depth", "5 in"),
    ("driver[0].terminal_depth", "15 in"),
    ("driver[0].sd", "2 in^2"),
    ("driver[0].vas", "900 ft^3"),
    ("driver[0].mms", "9 lb"),
    ("driver[0].xmax", "9 in"),
    ("driver[0].displacement", "12"),
    ("stock.board_thickness", "18 in"),
    ("stock.pipe", [{"name": "3 in", "inner_diameter": "4 in", "outer_diameter": "3 in", "elbow_radius": "1 in"}]),
    ("stock.slot", {"height": ["9 in", "2 in"]}),
    ("stock.terminal_cup", {"cutout_diameter": "3 in", "flange_diameter": "2 in", "depth": "1/2 in"}),
    ("box.round_over", "1 1/2 in"),
    ("box.carpet", "9 in"),
    ("bounds", {"outer_width": "9 in"}),
    ("cabin", {"largest_dimension": "99 ft"}),
]


@pytest.mark.parametrize(("place", "value"), SPOILED, ids=[f"{place}={value}"[:50] for place, value in SPOILED])
def test_a_job_in_inches_never_hears_millimetres(place: str, value: Any) -> None:
    """Neither in the words of its file nor beside the form."""
    document = copy.deepcopy(in_inches())
    here: Any = document
    *above, last = re.findall(r"\w+", place)
    for key in above:
        here = here[int(key)] if key.isdecimal() else here.setdefault(key, {})
    here[last] = value
    if place == "space.measured":
        document["space"].pop("section", None)
    assert written_in(document) == "us"
    with pytest.raises(InputFaults) as caught:
        parse_scenario(document, source="job")
    assert not METRIC.search(str(caught.value)), str(caught.value)
    for fault in caught.value.faults:
        assert not METRIC.search(f"{plainly(fault, 'us')} {in_words(fault, 'us')}")
        assert not OF_A_FILE.search(plainly(fault, "us"))


def test_a_document_is_written_in_the_units_of_its_space() -> None:
    """A data sheet's units are its maker's."""
    document = in_inches()
    assert written_in(document) == "us"
    assert written_in(read_document(demo_scenarios()["van-bench"])) == "metric"
    assert written_in({"driver": document["driver"], "space": {"width": "900 mm"}}) == "metric"
    assert written_in({}) == "metric"


def test_every_field_is_said_in_both_units() -> None:
    """Completeness: ranges and shapes of every field of a job."""
    for field in (field for fields in FIELDS.values() for field in fields):
        for voice in VOICES:
            spec = "{wanted} {wanted:fill}" + ("" if field.low is None else " {wanted:span}")
            said = voice.say(spec, {"wanted": Wanted(field)})
            assert voice.units == "metric" or not METRIC.search(said), said
            assert not voice.form or not OF_A_FILE.search(said), said


def test_nothing_picks_a_sentence_apart() -> None:
    """Contract: code asks a fault for its code and parameters, never for its words."""
    told = {"told", "wrong", "plainly", "in_words", "what_is_wrong"}
    apart = {"startswith", "endswith", "removeprefix", "removesuffix", "replace", "split", "partition", "find", "index"}
    for path in [*(ROOT / "engine").rglob("*.py"), *(ROOT / "explorer").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr in apart and isinstance(node.value, ast.Call):
                called = node.value.func
                name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
                assert name not in told, f"{path.name}:{node.lineno} picks a sentence apart"
                first = node.value.args[0] if node.value.args else None
                is_error = name == "str" and isinstance(first, ast.Name) and first.id in ("error", "fault", "refused")
                assert not is_error, f"{path.name}:{node.lineno} picks a sentence apart"
