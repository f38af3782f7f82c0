"""Names in charts, promises to the user: none lies over another, however near what they name comes together."""

from __future__ import annotations

import dataclasses
import math
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Iterator
from itertools import combinations

import numpy as np
import pytest
import vl_convert

from engine.judged import FREQUENCY
from engine.report.curves import CHARTS
from engine.report.lines import Drawing
from engine.report.names import Names, Place

Drawn = Callable[..., Drawing]
Box = tuple[str, float, float, float, float]


def texts(element: ElementTree.Element, x: float = 0.0, y: float = 0.0) -> Iterator[Box]:
    """Every text that stands level in an SVG, with what it covers: left, top, right, bottom."""
    turned = False
    for what, numbers in re.findall(r"(translate|rotate)\(([^)]*)\)", element.get("transform", "")):
        values = [float(number) for number in re.split("[ ,]+", numbers)]
        turned |= what == "rotate"
        if what == "translate":
            x, y = x + values[0], y + values[1]
    if element.tag.endswith("text") and element.text and not turned:
        size = float(element.get("font-size", "11px").removesuffix("px"))
        width = 0.5 * size * len(element.text)
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")] * width
        yield element.text, left, y - 0.7 * size, left + width, y + 0.15 * size
    for inner in element:
        yield from texts(inner, x, y)


def over_each_other(drawing: Drawing, name: str, width: int, height: int) -> list[tuple[str, str]]:
    chart = CHARTS[name][1](drawing).properties(width=width, height=height)
    found = set(texts(ElementTree.fromstring(vl_convert.vegalite_to_svg(chart.to_dict()))))
    return [
        (a[0], b[0])
        for a, b in combinations(sorted(found), 2)
        if a[0] != b[0] and min(a[3], b[3]) > max(a[1], b[1]) and min(a[4], b[4]) > max(a[2], b[2])
    ]


SIZES = pytest.mark.parametrize(("width", "height"), [(330, 190), (640, 290)])


@SIZES
@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("apart", [0.0002, 0.001, 0.003])
def test_bounds_that_are_near_each_other_have_names_apart(
    drawn: Drawn, count: int, apart: float, width: int, height: int
) -> None:
    drawing = drawn(count)
    traces = [dataclasses.replace(each, xmax_m=0.014 + apart * n) for n, each in enumerate(drawing.traces)]
    assert over_each_other(dataclasses.replace(drawing, traces=traces), "excursion", width, height) == []


@SIZES
@pytest.mark.parametrize("f3", [31.0, 44.0, 90.0])
@pytest.mark.parametrize("gain_db", [1.0, 12.0])
def test_marks_and_lines_of_a_response_have_names_apart(
    drawn: Drawn, f3: float, gain_db: float, width: int, height: int
) -> None:
    trace = {"cabin": "estimate", "f3_hz": f3, "f3_cabin_hz": 0.6 * f3, "first_mode_hz": 3.9 * f3}
    drawing = drawn(trace=trace, cabin_db=gain_db / (1.0 + (FREQUENCY[np.newaxis] / 40.0) ** 2))
    assert over_each_other(drawing, "response", width, height) == []


@SIZES
@pytest.mark.parametrize("turned_down", [0.0, 0.5, 3.0, 9.0])
def test_what_binds_and_the_level_in_use_have_names_apart(
    drawn: Drawn, turned_down: float, width: int, height: int
) -> None:
    drawing = drawn()
    used = dataclasses.replace(drawing.curves, spl_db=drawing.curves.max_output_db - turned_down)
    assert over_each_other(dataclasses.replace(drawing, curves=used), "maximum_output", width, height) == []


def test_a_name_takes_the_first_place_that_is_free() -> None:
    """And where none is, that with least of it over others."""
    names = Names(frequencies=(10.0, 200.0), span=(0.0, 100.0))
    place = Place(30.0, 50.0, 4, -9)
    assert names.stand("one", [place, Place(90.0, 50.0, 4, -9)]) == place
    assert names.stand("two", [place, free := Place(90.0, 50.0, 4, -9)]) == free
    half = Place(30.0 * math.exp(math.log(20.0) * 9.0 / 300.0), 50.0, 4, -9)
    assert names.stand("six", [place, half]) == half
