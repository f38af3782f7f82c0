"""The customer's page, promises to the user: needs nothing else, shows the front's figures, is safe."""

from __future__ import annotations

import dataclasses
import re
from collections import Counter
from datetime import date
from html import escape
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.acoustics.cabin import EstimatedCabin, MeasuredCabin
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import levels_among
from engine.insight.reasons import extremes
from engine.judged import FREQUENCY, JudgedDesign
from engine.openings.radiator import RadiatorCandidate
from engine.parts import PassiveRadiator
from engine.report.portrait import Portrait
from engine.report.sheet import beside, customer_page, lead, own_ids
from engine.report.wording import figure
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.runs import run

VOID = {"meta", "br", "link", "img", "hr", "input"}


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(demo_scenarios()["van-bench"])


@pytest.fixture(scope="module")
def front(scenario: Scenario) -> pd.DataFrame:
    return run(scenario, evaluations=20_000).front


@pytest.fixture(scope="module")
def portraits(scenario: Scenario, front: pd.DataFrame) -> list[Portrait]:
    closed = int((front["box_kind"] == "closed").to_numpy().argmax())
    places = list(dict.fromkeys([*extremes(front, scenario.goals.objectives).values(), closed]))
    rows = [front.iloc[place].to_dict() for place in places[:5]]
    return [
        Portrait(design, letter)
        for letter, design in zip("ABCDE", JudgedDesign.batch(Evaluator(scenario), rows), strict=False)
    ]


@pytest.fixture(scope="module")
def page(portraits: list[Portrait]) -> str:
    """Their page as it comes, written once: nothing changes it."""
    return page_of(portraits)


def altered(
    portrait: Portrait, *, row: dict[str, Any] | None = None, scenario: Scenario | None = None, **worked_out: Any
) -> Portrait:
    """The same design with another row, scenario, or something worked out of it put in place of what would be."""
    design = dataclasses.replace(
        portrait.design,
        row=row or portrait.row,
        evaluator=portrait.design.evaluator if scenario is None else Evaluator(scenario),
    )
    vars(design).update(worked_out)
    return Portrait(design, portrait.letter)


def page_of(portraits: list[Portrait], **changed: Any) -> str:
    given: dict[str, Any] = {
        "title": "Thin wedge",
        "shop": "",
        "customer": "",
        "units": "metric",
        "written": date(2026, 3, 14),
    }
    return customer_page(portraits, **{**given, **changed})


class Reader(HTMLParser):
    """Tags in balance, attributes and text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str]] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_it_loads_nothing_and_runs_nothing(page: str) -> None:
    reader = Reader(page)
    assert not reader.open
    assert reader.tags["script"] == reader.tags["link"] == reader.tags["img"] == reader.tags["iframe"] == 0
    loads = {name: value for name, value in reader.attributes if name in ("src", "href", "xlink:href", "srcset")}
    assert all(value.startswith("#") for value in loads.values())
    assert not [name for name, _ in reader.attributes if name.startswith("on")]
    without_namespaces = re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)
    assert "http://" not in without_namespaces
    assert "https://" not in without_namespaces
    assert "@import" not in page
    assert re.findall(r"url\((?!#)", page) == []


def test_every_id_on_the_page_is_there_once_and_every_reference_has_its_id(page: str) -> None:
    ids = Counter(value for name, value in Reader(page).attributes if name == "id")
    assert max(ids.values()) == 1
    assert set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)


def test_names_are_shown_as_typed_and_never_as_markup(portraits: list[Portrait]) -> None:
    nasty = "<script>alert('x')</script> & Söhne \"best\""
    page = page_of(portraits, title=nasty, shop=nasty, customer=nasty)
    reader = Reader(page)
    assert reader.tags["script"] == 0
    assert "".join(reader.text).count(nasty) == 4  # title and heading, shop, customer


@pytest.mark.parametrize("units", ["metric", "us"])
def test_figures_are_those_of_the_front(portraits: list[Portrait], page: str, units: Any) -> None:
    text = " ".join(Reader(page if units == "metric" else page_of(portraits, units=units)).text)
    for portrait in portraits:
        for key in ("f3_hz", "output_db", "excursion_ratio", "outer_width_m", "net_volume_m3", "weight_kg"):
            assert figure(key, portrait.row[key], units) in text
    assert (" mm" in text) == (units == "metric")
    assert (" in" in text and "ft³" in text) == (units == "us")


def test_several_are_compared_with_the_first_and_one_alone_is_not(portraits: list[Portrait], page: str) -> None:
    assert "How they differ" in page
    for other in portraits[1:]:
        assert escape(beside(portraits[0], other, "metric")) in page
    alone = page_of(portraits[:1])
    assert "How they differ" not in alone
    assert "one box" in alone


def test_it_says_what_can_hurt(page: str) -> None:
    for word in ("hearing", "bolted", "airbags", "fuse"):
        assert word in page


def test_it_has_rules_for_print(page: str) -> None:
    assert "@media print" in page
    assert "@page" in page
    assert "break-inside: avoid" in page


def test_the_same_shortlist_gives_the_same_page(portraits: list[Portrait], page: str) -> None:
    assert page_of(portraits) == page


def test_ids_of_a_drawing_are_made_its_own() -> None:
    svg = '<svg aria-labelledby="t d"><title id="t"/><use href="#a"/><path id="a" clip-path="url(#c)"/></svg>'
    assert own_ids(svg, "x-") == (
        '<svg aria-labelledby="x-0 d"><title id="x-0"/><use href="#x-1"/><path id="x-1" clip-path="url(#c)"/></svg>'
    )


def test_the_first_sentence_claims_no_more_than_the_designs_bear_out(portraits: list[Portrait]) -> None:
    first, other = portraits[:2]
    assert lead([first, other]).endswith("each is better than the others at something.")
    worse = dict(first.row) | dict.fromkeys(levels_among(first.row), 50.0) | {"weight_kg": 99.0}
    assert "better" not in lead([first, altered(first, row=worse)])
    space = dataclasses.replace(first.scenario.space, width=2.0)
    elsewhere = altered(other, scenario=dataclasses.replace(other.scenario, space=space))
    assert "the spaces differ" in lead([first, elsewhere])


def test_loudness_over_different_music_bands_is_not_compared(portraits: list[Portrait]) -> None:
    first, other = portraits[:2]
    goals = dataclasses.replace(other.scenario.goals, music_band=(40.0, 90.0))
    other = altered(other, scenario=dataclasses.replace(other.scenario, goals=goals))
    assert "different goals" in lead([first, other])
    assert "maximum output" not in beside(first, other, "metric")
    asked = dataclasses.replace(first.scenario.goals, objectives=("output_db", "weight_kg"))
    first = altered(first, scenario=dataclasses.replace(first.scenario, goals=asked))
    assert "mean over 40–90 Hz" in page_of([first, other])


def test_what_passes_a_limit_at_full_power_says_so(portraits: list[Portrait]) -> None:
    beyond = dict(portraits[0].row) | {"excursion_ratio": 1.89, "vent_speed_m_s": 30.0}
    goals = dataclasses.replace(
        portraits[0].scenario.goals, drive="full power", objectives=("excursion_ratio", "vent_speed_m_s")
    )
    scenario = dataclasses.replace(portraits[0].scenario, goals=goals)
    page = page_of([altered(portraits[0], row=beyond, scenario=scenario)])
    assert "can be heard at full power" in page
    assert escape("1.89 – beyond the maker's range at full power") in page


def test_where_the_reckoning_stops_is_told_design_by_design(portraits: list[Portrait]) -> None:
    sentence = "Above 51 Hz the curves are a guide, no more."
    first = altered(portraits[0], model_ends=(sentence,))
    page = page_of([first, altered(portraits[1], model_ends=())])
    assert "How far the figures go" in page
    assert page.count(escape(sentence)) == 1
    assert "How far the figures go" not in page_of([altered(portraits[0], model_ends=())])


def test_figures_in_the_vehicle_say_whether_they_are_estimates(portraits: list[Portrait]) -> None:
    row = dict(portraits[0].row) | {"f3_cabin_hz": 21.0, "output_cabin_db": 117.0}
    goals = dataclasses.replace(portraits[0].scenario.goals, objectives=("f3_cabin_hz", "output_db"))

    def page_with(cabin: object) -> str:
        scenario = dataclasses.replace(portraits[0].scenario, cabin=cabin, goals=goals)
        gain = np.full(len(FREQUENCY), 8.0 if cabin else np.nan)
        return page_of([altered(portraits[0], row=row, scenario=scenario, cabin_db=gain)])

    estimated = page_with(EstimatedCabin(largest_dimension=2.1))
    assert "21.0 Hz – an estimate" in estimated
    assert "f3 in the vehicle – estimate" in estimated
    assert "differs by several dB" in estimated
    levels = np.array([8.0, 4.0, 2.0, 1.0, 0.0])
    measured = page_with(MeasuredCabin(frequency=np.array([20.0, 30.0, 50.0, 80.0, 120.0]), level_db=levels))
    assert "estimate" not in measured
    assert "rest on what was measured in it" in measured
    assert "without the vehicle's own gain" in page_with(None)


def test_a_box_with_a_passive_radiator_says_what_is_screwed_onto_its_cone(portraits: list[Portrait]) -> None:
    radiator = PassiveRadiator(name="tray 10", fs=16.0, qms=8.0, vas=0.06, sd=0.033, xmax=0.016)
    job = portraits[0].scenario
    listed = {"radiator": (RadiatorCandidate(radiator=radiator),)}
    scenario = dataclasses.replace(job, stock=dataclasses.replace(job.stock, openings=listed))
    row = dict(portraits[0].row) | {
        "box_kind": "radiator",
        "vent_kind": "",
        "radiator": "tray 10",
        "radiator_count": 1,
        "radiator_added_mass_kg": 0.12,
        "radiator_ratio": 1.2,
    }
    known = {"wired": "", "distortion": ((30.0, 0.02),), "stated": portraits[0].design.stated}
    text = " ".join(Reader(page_without_drawings(altered(portraits[0], row=row, scenario=scenario, **known))).text)
    assert "Box with passive radiator" in text
    assert "1 × tray 10, 120 g added to its cone" in text
    assert "Vent air speed" not in text


def page_without_drawings(portrait: Portrait) -> str:
    """The page of a design that no search has found, so that nothing can be drawn of it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("engine.report.sheet.VIEWS", {})
        return page_of([portrait])
