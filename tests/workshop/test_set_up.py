"""Wiring and set-up of designs: every wiring, powers, and the voltages that the gain is set by."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from engine.acoustics.gain import gain_of
from engine.formats.front import read_front
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.reasons import balanced
from engine.judged import JudgedDesign
from engine.parts import Amplifier, Driver
from engine.report.set_up import parts_of, text_lines
from engine.scenario import Scenario
from engine.wiring import networks, power_into, wirings
from engine.workshop.set_up import SetUp, set_up_of
from engine.workshop.svg import WIDTH
from engine.workshop.wiring_picture import connections, wiring_of

DUAL = Driver(
    name="Dual", fs=30.0, qes=0.5, qms=5.0, vas=0.04, sd=0.033, re=1.7, xmax=0.01, rated_power=400.0, coils=2,
    coil_impedance=4.0,
)  # fmt: skip
FRONTS = Path(__file__).parents[2] / "scenarios" / "fronts"


def of_coils(coils: int) -> Driver:
    return dataclasses.replace(DUAL, coils=coils)


# A circuit of equal coils of 1 ohm and 1 A in the first: its resistance, and the current in each coil, in order.
Circuit = tuple[Fraction, tuple[Fraction, ...]]


@cache
def every_circuit(coils: int) -> frozenset[Circuit]:
    """Every series-parallel circuit of some coils, the current in each for 1 A into it, by brute force."""
    if coils == 1:
        return frozenset({(Fraction(1), (Fraction(1),))})
    found: set[Circuit] = set()
    for one in range(1, coils // 2 + 1):
        for (r1, i1), (r2, i2) in ((a, b) for a in every_circuit(one) for b in every_circuit(coils - one)):
            found.add((r1 + r2, tuple(sorted(i1 + i2))))
            into = r2 / (r1 + r2)
            split = [each * into for each in i1] + [each * (1 - into) for each in i2]
            found.add((r1 * r2 / (r1 + r2), tuple(sorted(split))))
    return frozenset(found)


@pytest.mark.parametrize(
    ("coils", "count"), [(1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (2, 1), (2, 2), (2, 3), (3, 2), (4, 1)]
)
def test_every_load_at_which_all_coils_take_the_same_power_is_listed(coils: int, count: int) -> None:
    """Independent enumeration: all series-parallel circuits of the coils, by brute force; those of one current each."""
    alike = {resistance for resistance, currents in every_circuit(coils * count) if len(set(currents)) == 1}
    listed = {round(each.load / DUAL.coil_impedance, 9) for each in networks(of_coils(coils), count)}
    assert listed == {round(float(each), 9) for each in alike}


@pytest.mark.parametrize("count", [1, 2, 3, 4, 8])
def test_loads_are_those_of_series_and_parallel(count: int) -> None:
    """Analytic: resistances add in series, conductances in parallel; what an ohmmeter reads follows the coils' own."""
    for each in networks(DUAL, count):
        driver = DUAL.coil_impedance * (2.0 if each.coils == "series" else 0.5)
        assert each.load == pytest.approx(1.0 / sum(1.0 / (driver * each.in_series) for _ in range(each.in_parallel)))
        # The sheet's Re is that of the coils in parallel: 1.7 ohm, 3.4 ohm each.
        assert each.resistance / each.load == pytest.approx(3.4 / 4.0)


@cache
def judged(name: str, number: int = -1, *, full: bool = False) -> JudgedDesign:
    """A design of a demo's stored front: the balanced one, or another."""
    scenario = read_scenario(demo_scenarios()[name])
    if full:
        scenario = dataclasses.replace(scenario, goals=dataclasses.replace(scenario.goals, drive="full power"))
    front = read_front(FRONTS / name / "front.csv")
    place = balanced(front, scenario.goals.objectives) if number < 0 else number
    row = {str(key): value for key, value in front.iloc[place].items()}
    return JudgedDesign.of(scenario, row)


DEMOS = tuple(demo_scenarios())


def some() -> Iterator[tuple[str, int]]:
    for name in DEMOS:
        yield name, -1
        yield name, 0


@pytest.mark.parametrize(("name", "number"), list(some()))
def test_powers_add_up_to_the_amplifier_s(name: str, number: int) -> None:
    """Conservation: what drivers and coils take is what the amplifier gives, in every wiring and at every level."""
    set_up = judged(name, number).set_up
    count, coils = set_up.used.network.count, set_up.used.network.driver.coils
    for each in (*(way for way in set_up.ways if way.drivable), *set_up.levels):
        assert each.driver_power * count == pytest.approx(each.power)
        assert each.coil_power * coils * count == pytest.approx(each.power)
    assert set_up.full_volts**2 / set_up.used.network.load == pytest.approx(set_up.used.power)
    top = set_up.levels[-1]
    assert top.power == pytest.approx(set_up.used.power)  # the last level is all that the amplifier gives


@pytest.mark.parametrize(("name", "number"), list(some()))
def test_nothing_below_the_amplifier_s_lowest_load_is_offered(name: str, number: int) -> None:
    """Promise: what may be driven is what the search may wire, and the wiring used is one of it."""
    design = judged(name, number)
    set_up, amplifier = design.set_up, design.scenario.amplifier
    assert all(way.network.load >= 0.99 * amplifier.lowest_load for way in set_up.ways if way.drivable)
    assert [way.drivable for way in set_up.ways] == [
        power_into(amplifier, way.network.load) is not None for way in set_up.ways
    ]
    assert set_up.used.drivable
    assert set_up.used.network.words == design.row["wiring"]
    assert design.row["load_ohm"] == pytest.approx(set_up.used.network.load, rel=1e-3)
    (part, *_) = parts_of(design, "metric")
    for way, row in zip(set_up.ways, part.rows, strict=True):
        assert row[2].startswith("no, below") == (not way.drivable)


def test_no_wiring_that_the_amplifier_may_not_drive_comes_with_a_power() -> None:
    """Promise, over amplifiers and drivers: the list of all wirings and that of the drivable ones agree."""
    for lowest, coils, count in ((1.0, 1, 3), (2.0, 2, 2), (4.0, 2, 4), (0.5, 3, 2)):
        amplifier = Amplifier(name="A", loads=((lowest, 500.0), (8.0, 150.0)), lowest_load=lowest)
        every = networks(of_coils(coils), count)
        may = [each for each in every if each.load >= 0.99 * lowest]
        assert [each.load for each in wirings(of_coils(coils), count, amplifier)] == [each.load for each in may]


@pytest.mark.parametrize(("name", "number"), list(some()))
def test_the_voltage_is_that_of_the_design_s_gain(name: str, number: int) -> None:
    """Analytic: V = g·|H|·sqrt(P·Z), with |H| of the filters from their textbook magnitudes."""
    design = judged(name, number)
    set_up, row, chain = design.set_up, design.row, design.scenario.chain
    gain = math.sqrt(float(row["power_share"]))
    full = math.sqrt(set_up.used.power * set_up.used.network.load)
    assert set_up.bypassed_volts == pytest.approx(gain * full, rel=1e-3)
    through = 1.0
    if int(row["filter_order"]) and row["filter_shape"] == "butterworth":
        ratio = (float(row["filter_hz"]) / set_up.tone) ** (2 * int(row["filter_order"]))
        through /= math.sqrt(1.0 + ratio)
    else:
        assert not int(row["filter_order"]) or row["filter_shape"] == "linkwitz-riley"
        through /= 1.0 + (float(row["filter_hz"]) / set_up.tone) ** int(row["filter_order"])
        through = through if int(row["filter_order"]) else 1.0
    if chain.low_pass_order:
        assert set_up.low_pass.shape == "linkwitz-riley"
        through /= 1.0 + (set_up.tone / chain.low_pass_hz) ** chain.low_pass_order
    assert chain.band_db == 0.0
    assert set_up.volts == pytest.approx(gain * full * through, rel=1e-3)
    (own,) = (each for each in set_up.levels if each.db == 0.0)
    assert own.volts == set_up.volts
    for each in set_up.levels:
        assert 20.0 * math.log10(each.volts / set_up.volts) == pytest.approx(each.db)


@pytest.mark.parametrize("name", DEMOS)
def test_the_tone_lies_where_the_filters_do_little(name: str) -> None:
    """Promise: half an octave above the high-pass, under the crossover, and no knob's error moves the reading much."""
    set_up = judged(name).set_up
    assert set_up.tone >= 40.0  # what usual meters read
    if set_up.high_pass.order:
        assert set_up.tone >= 1.4 * set_up.high_pass.hz
    if set_up.low_pass.order:
        assert set_up.tone < 0.75 * set_up.low_pass.hz
    assert abs(set_up.tone_db) < 1.5


def test_other_high_passes_are_judged_as_the_design_was() -> None:
    """Independent way: the gain of each from the acoustics by themselves, and of the design's own filter its own."""
    design = judged("hatch-seat-back")
    set_up, use = design.set_up, design.scenario.goals
    for knob in (set_up.knobs[0], set_up.knobs[4], set_up.knobs[-1]):
        q = np.array([1.0]) if knob.order == 0 else np.array([math.sqrt(0.5) if knob.order == 2 else 1.3065630])
        other = dataclasses.replace(
            design.systems, filter_order=np.array([float(knob.order)]),
            filter_hz=np.array([0.0 if knob.order == 0 else knob.hz]), filter_q=q, filter_q2=np.array([0.5411961]),
        )  # fmt: skip
        gain, _, _ = gain_of(other, fed_from=use.fed_from, vent_speed_limit=use.vent_speed_limit)
        ratio = 0.0 if knob.order == 0 else (knob.hz / set_up.tone) ** (2 * knob.order)
        assert knob.volts == pytest.approx(float(gain[0]) * set_up.full_volts / math.sqrt(1.0 + ratio), rel=2e-3)
    lower = [each.volts for each in set_up.knobs if each.order == 4]
    assert lower[:3] == sorted(lower[:3])  # the less is taken away under the music, the lower the gain


def test_at_full_power_the_tone_has_all_of_the_voltage_and_no_other_filter_is_told() -> None:
    """Promise: a job that judges at full power holds nothing, and the sheet says so."""
    design = judged("van-bench", full=True)
    set_up = design.set_up
    assert not set_up.held
    assert set_up.bypassed_volts == pytest.approx(set_up.full_volts)
    assert set_up.knobs == ()
    told = "\n".join(text_lines(parts_of(design, "metric")))
    assert "judges designs at full power" in told
    assert "passes that limit" not in told


def test_a_band_that_raises_is_set_and_the_tone_keeps_away_from_it() -> None:
    """Promise: a band of the job is told, and the tone is none that it raises most."""
    design = judged("van-bench")
    plain = design.set_up
    chain = dataclasses.replace(design.scenario.chain, band_hz=plain.tone, band_db=6.0, band_q=4.0)
    scenario: Scenario = dataclasses.replace(design.scenario, chain=chain)
    found: SetUp = set_up_of(
        scenario,
        family=design.evaluator.families.items[int(design.designs.family[0])],
        systems=dataclasses.replace(design.systems, chain=chain),
        filter_hz=float(design.designs.filter_hz[0]),
        gain=0.4,
        limited_by="amplifier",
        limited_hz=plain.tone,
        levels=[0.0, 0.0, 0.0],
    )
    assert found.tone != plain.tone
    assert found.band == (plain.tone, 6.0, 4.0)
    assert found.as_json()["band"] == {"hz": plain.tone, "db": 6.0, "q": 4.0}


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", DEMOS)
def test_it_is_told_whole(name: str, units: str) -> None:
    """Promise: cautions stand where the hazard is; cables are by instructions and codes; JSON is plain."""
    design = judged(name)
    parts = {part.title: part for part in parts_of(design, "us" if units == "us" else "metric")}
    assert list(parts) == ["Wiring", "Polarity", "Supply", "Filters", "Gain", "First music"]
    assert "battery's minus pole" in parts["Wiring"].cautions[0]
    assert "do not bridge" in parts["Wiring"].cautions[1]
    assert "fuse" in parts["Supply"].cautions[0]
    assert "local codes" in parts["Supply"].lines[0]
    # One order, one thing last: the minus pole, after the fuse.
    assert "last" not in " ".join([*parts["Wiring"].cautions, *parts["Supply"].cautions, *parts["Supply"].steps[:-1]])
    assert "fuse in" in parts["Supply"].steps[-2]
    assert "minus pole" in parts["Supply"].steps[-1]
    assert "neither of them ever goes to chassis" in parts["Wiring"].cautions[1]
    # The meter shows the tone behind the filters; the watts are those of one that they leave as it is.
    assert ("filters flat" in " ".join(parts["Gain"].heading)) == (abs(design.set_up.tone_db) >= 0.05)
    assert "disconnected" in parts["Gain"].cautions[0]
    assert "harms hearing" in parts["First music"].cautions[0]
    told = "\n".join(text_lines(list(parts.values())))
    assert f"until it reads {design.set_up.volts:.1f} V" in told
    assert ("common practice: the job states none" in told) == (not design.set_up.low_pass.order)
    # A crossover that the job does not state is not in the volts, so it is left out while they are set.
    assert ("leave the crossover out" in told) == (not design.set_up.low_pass.order)
    assert not re.search(r"\bnan\b|None|mm²|AWG", told)
    plain = json.loads(json.dumps(design.set_up.as_json(), allow_nan=False))
    assert plain["volts"] == design.set_up.volts
    assert sum(each["used"] for each in plain["wirings"]) == 1


@pytest.mark.parametrize(("coils", "count"), [(1, 1), (2, 1), (2, 2), (2, 4), (3, 2), (4, 1), (4, 8), (1, 7)])
def test_a_picture_shows_every_coil_with_a_plus_and_a_minus(coils: int, count: int) -> None:
    """Promise: nothing by colour alone, nothing over the edge, a terminal of either shape for each coil."""
    for network in networks(of_coils(coils), count):
        svg = wiring_of(network, "metric", amplifier="<mono & more>")
        root = ElementTree.fromstring(svg)
        names = {"s": "http://www.w3.org/2000/svg"}
        rings = [each for each in root.findall("s:circle", names) if each.get("r") == "7.5"]
        squares = [each for each in root.findall("s:rect", names) if each.get("width") == "14"]
        assert len(rings) == len(squares) == coils * count + 1  # and the amplifier's own
        height = float(root.get("height", "0"))
        for each in root.findall("s:line", names):
            assert all(0.0 <= float(each.get(key, "-1")) <= WIDTH for key in ("x1", "x2"))
            assert all(0.0 <= float(each.get(key, "-1")) <= height for key in ("y1", "y2"))
        assert not re.search("#[0-9a-fA-F]{3}", svg)
        assert f"{network.load:.3g} Ω" in svg


@pytest.mark.parametrize(("coils", "count"), [(1, 1), (2, 1), (2, 2), (1, 3), (2, 4), (3, 2), (4, 1), (4, 2)])
def test_the_leads_in_words_make_the_load(coils: int, count: int) -> None:
    """Independent way: the words alone, read as a net of coils of 4 ohm, solved by its conductances, have the load."""
    for network in networks(of_coils(coils), count):
        told = connections(network)
        joined: list[tuple[str, str]] = []

        def terminal(pole: str, coil: int, driver: int) -> str:
            return f"{pole} {coil} {driver}"

        first, last = 1, network.coil_strings[0]
        for driver in range(1, count + 1):
            for coil in range(2, coils + 1):
                if "plus of every coil" in told[0]:
                    joined += [(terminal(pole, 1, driver), terminal(pole, coil, driver)) for pole in ("plus", "minus")]
                for one, other in re.findall(r"minus of coil (\d) to plus of coil (\d)", told[0]):
                    joined.append((terminal("minus", int(one), driver), terminal("plus", int(other), driver)))
                for pole, one, other in re.findall(r"(plus|minus) of coil (\d) with \1 of coil (\d)", told[0]):
                    joined.append((terminal(pole, int(one), driver), terminal(pole, int(other), driver)))
        for line in told:
            for one, other in re.findall(r"minus of driver (\d+) to plus of driver (\d+)", line):
                joined.append((terminal("minus", last, int(one)), terminal("plus", first, int(other))))
            if found := re.match(r"Lead the amplifier's (plus|minus) to the \w+ of (.*)\.", line):
                numbers = [int(each) for each in re.findall(r"\d+", found[2])] or [1]
                joined += [
                    (found[1], terminal(found[1], first if found[1] == "plus" else last, each)) for each in numbers
                ]
        coils_at = [
            (terminal("plus", coil, driver), terminal("minus", coil, driver))
            for driver in range(1, count + 1) for coil in range(1, coils + 1)
        ]  # fmt: skip
        assert resistance_of(joined, coils_at, 4.0) == pytest.approx(network.load, rel=1e-6)


def resistance_of(joined: list[tuple[str, str]], coils: list[tuple[str, str]], ohms: float) -> float:
    """Between plus and minus, of coils whose ends are joined."""
    names = sorted({end for pair in (*joined, *coils) for end in pair} | {"plus", "minus"})
    place = {name: number for number, name in enumerate(names)}
    net = np.zeros((len(names), len(names)))
    for pairs, conductance in ((joined, 1e7), (coils, 1.0 / ohms)):
        for one, other in pairs:
            a, b = place[one], place[other]
            net[[a, b], [a, b]] += conductance
            net[[a, b], [b, a]] -= conductance
    current = np.zeros(len(names))
    current[place["plus"]] = 1.0
    kept = [place[name] for name in names if name != "minus"]
    volts = np.linalg.solve(net[np.ix_(kept, kept)], current[kept])
    return float(volts[kept.index(place["plus"])])
