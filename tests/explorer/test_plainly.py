"""Faults in words, promise to the user: the page speaks of fields and labels, never of a file's keys and signs."""

from __future__ import annotations

from typing import Any

import pytest

from engine.formats.scenario import demo_scenarios, read_document
from engine.words.faults import what_is_wrong
from engine.words.voice import Key, Keys, Quantity, Quoted, TableName, Where
from explorer.document import Place, put
from explorer.plainly import FormVoice, plainly
from explorer.reading import lines, read

DEMO = read_document(demo_scenarios()["van-bench"])


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        (("title",), None, "give the job a name"),
        (("title",), "", "give the job a name"),
        (("goals", "objectives"), ["f3_hz"], "choose at least two goals"),
        (("goals", "objectives"), [], "choose at least two goals"),
        (("stock", "pipe"), [], "add at least one pipe or a slot, or untick Vented under Boxes to try"),
        (("driver", 0, "qes"), "0,41", "write 0.41 with a point"),
        (("space", "width"), "1,2 m", "write 1.2 m with a point"),
        (("space", "width"), "1,200 mm", "write 1.200 mm with a point, or 1200 mm without the comma"),
        (("space", "width"), "48", "add the unit: expected a length such as 18 mm or 2 3/8 in"),
        (("box", "kinds"), ["ported"], "choose from the list"),
        (("space", "section", 1, 0), "", "fill in a length such as 18 mm or 2 3/8 in"),
        (("driver", 0, "inductance_kr"), 0.003, "fill it in; Kr and Xr go together"),
        (("driver", 0, "qes"), "a lot", "expected a plain number without a unit"),
        (("driver", 0, "rated_power"), None, "fill in a power such as 300 W"),
        (("space", "section", 0), [1], "expected two lengths, forward and up, such as 0 mm and 480 mm"),
        (("space", "section"), None, "add at least three corners, or change to measurements"),
        (
            ("space", "measured"),
            [{"height": "0 mm", "depth": "9 mm"}, {"height": "9 mm", "depth": "9 mm"}],
            "expected either corners or measurements, not both: take one of them out",
        ),
        (("space", "keepout"), [{}], "say what stands there"),
        (("space", "keepout"), [{}], "fill in from where to where forward"),
        (("space", "keepout"), "arch", "what the file says here cannot be read: fill in the fields of this part"),
        (("space", "clearance", "back"), "20", "add the unit: expected a length such as 18 mm or 2 3/8 in"),
        (("box", "facings"), [], "choose at least one"),
        (("stock", "terminal_cup"), {"depth": "9 mm"}, "fill in a length such as 18 mm or 2 3/8 in"),
        (
            ("cabin",),
            {"leak": "12 Hz"},
            "state the cabin's largest inside dimension or upload a measurement, or leave the vehicle out everywhere",
        ),
        (
            ("cabin",),
            {"file": "measured.csv"},
            "the measurement lies in a file of its own: upload that under Vehicle",
        ),
        (("driver", 0, "bl_at_xmax"), "82 %", "expected a plain number without a unit"),
    ],
)
def test_a_fault_says_what_to_do_at_the_form(place: Place, value: Any, words: str) -> None:
    faults = read(put(DEMO, place, value), "").faults
    assert words in [plainly(fault, "metric") for fault in faults]


def test_a_plausible_range_is_said_in_the_user_s_units() -> None:
    (fault,) = read(put(DEMO, ("space", "width"), "48 mm"), "").faults
    assert plainly(fault, "metric").startswith("expected 100 mm to 4000 mm")
    assert plainly(fault, "us").startswith("expected 3.94 in to 157.48 in")


def test_a_measurement_that_cannot_be_is_told_beside_its_row_in_the_user_s_units() -> None:
    rows = [{"height": f"{height} mm", "depth": f"{depth} mm"} for height, depth in ((0, 508), (254, 20), (508, 508))]
    measured = put(put(DEMO, ("space", "section"), None), ("space", "measured"), rows)
    (fault,) = read(measured, "").faults
    assert fault.key == "space.measured[1].depth"
    assert plainly(fault, "metric").startswith("rows 1 and 3 lead to about 508 mm here; were inches typed as")
    assert plainly(fault, "us").startswith("rows 1 and 3 lead to about 20.00 in here; were inches typed as")
    (line,) = lines([fault], "metric")
    assert line.startswith("**Depth of row 2** – “20 mm”: rows 1 and 3 lead to")


def test_a_message_of_the_engine_names_labels_for_keys() -> None:
    form = FormVoice("metric")
    size = Quantity(0.3, "length", figures=4)
    assert (
        what_is_wrong("no_wall", {"outer": Key("outer_diameter"), "size": size}, form)
        == "expected less than the diameter over the flange (300 mm)"
    )
    assert form.say(
        "{of} lists no pipe: add to {to}", {"of": TableName("stock.pipe"), "to": TableName("amplifier")}
    ) == ("“Pipes” lists no pipe: add to “Amplifier”")
    said = {"given": Keys(("fs", "vas", "sd")), "follows": Quantity(0.004, "mass", 3, "g"), "all": Keys(("re",))}
    assert form.say("{given} give {follows}: check {all}", said) == "fs, Vas and Sd give 4 g: check Re"
    assert what_is_wrong("name_twice", {"other": Where("space.keepout[0]")}, form) == (
        "expected another name than that of keep-out 1"
    )
    assert form.say("{goal} of {place}", {"goal": Quoted(("f3_hz",)), "place": Where("driver[1]")}) == (
        "-3 dB frequency (f3) of driver 2"
    )


def test_an_empty_driver_is_one_line_until_it_is_nearly_full() -> None:
    empty = put(DEMO, ("driver", len(DEMO["driver"])), {"name": "New"})
    (line,) = lines(read(empty, "").faults, "metric")
    assert line.startswith(f"**Driver {len(DEMO['driver']) + 1}**: ")
    assert line.endswith(" fields to fill in")
    one = put(DEMO, ("driver", 0, "rated_power"), None)
    assert lines(read(one, "").faults, "metric") == ["**Rated power of driver 1**: fill in a power such as 300 W"]
