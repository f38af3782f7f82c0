"""Names of fields, promises to the user: each has one, and a fault names the field as the page does."""

from __future__ import annotations

import pytest

from engine.errors import Fault
from engine.formats.fields import FIELDS
from engine.words.voice import Wanted
from explorer.labels import LABELS, field_of, name_in_words
from explorer.markdown import plain
from explorer.reading import in_words


def test_every_field_of_a_scenario_has_a_label_and_no_label_is_left_over() -> None:
    named = {f"{table}.{field.key}" if table else field.key for table, fields in FIELDS.items() for field in fields}
    assert named - {"space.section", "space.keepout.section"} == set(LABELS)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("space.section[1][0]", "Corner 2, forward"),
        ("space.section[3]", "Corner 4"),
        ("driver[0].fs", "Resonance fs of driver 1"),
        ("space.measured[2].depth", "Depth of row 3"),
        ("space.measured[2]", "Row 3"),
        ("space.keepout[0].across[1]", "Place across of keep-out 1"),
        ("space.keepout[1]", "Keep-out 2"),
        ("space.keepout[1].section[0][1]", "Corner 1, up of keep-out 2"),
        ("space.keepout[1].section", "Cross-section of keep-out 2"),
        ("space.clearance.back", "Clearance behind"),
        ("stock.pipe[2].inner_diameter", "Bore of pipe 3"),
        ("amplifier.load[1].power", "Power of load 2"),
        ("space.width", "Free width"),
        ("goals.limits.f3_hz", "-3 dB frequency (f3)"),
        ("no.such.key", "“key”"),
        ("driver[1]", "Driver 2"),
        ("bounds.tuning[1]", "Tuning"),
        ("stock.pipe", "Pipes"),
        ("driver[1].fz", "“fz” of driver 2"),
        ("radiator[0].xmax", "Xmax, one way of passive radiator 1"),
        ("radiator[0]", "Passive radiator 1"),
        ("cabin.table[3][0]", "Measured points"),
        ("cabin", "Vehicle"),
    ],
)
def test_a_place_is_named_as_on_the_page(key: str, words: str) -> None:
    assert name_in_words(key) == words


def test_a_fault_says_where_what_was_found_and_what_was_expected() -> None:
    wanted = Wanted(field_of("driver", "fs"))
    fault = Fault("job.toml", "driver[0].fs", "32", "bare_number", {"wanted": wanted})
    assert str(fault) == 'job.toml: driver[0].fs = 32: a bare number: expected a frequency such as "34 Hz", in quotes'
    assert in_words(fault, "metric") == (
        r"**Resonance fs of driver 1** – “32”: add the unit\: expected a frequency such as 34 Hz"
    )


def test_what_a_user_typed_has_no_effect_as_markup() -> None:
    assert plain("*bold* [link](x) <b> `code`") == r"\*bold\* \[link\]\(x\) \<b\> \`code\`"
