"""What is heard is what the curves say, measured in the samples themselves."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import fft

from engine.acoustics.cabin import EstimatedCabin, gain_db
from engine.acoustics.circuit import Systems, respond
from engine.acoustics.limits import level_db
from engine.errors import Refusal
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.hearing import playing
from engine.hearing.beside import PEAK, beside
from engine.hearing.playing import Played, least_phase, play
from engine.hearing.sounds import RATE, SOUNDS, Sound, sweep, tone
from engine.hearing.wav import WRITTEN, finer
from engine.hearing.words import difference, limits_told
from engine.judged import JudgedDesign
from explorer.demo_fronts import stored_front
from tests.acoustics import time_domain
from tests.benchmarks.full_power import CASES, driven, twin
from tests.judging import rows

BAND = np.geomspace(20.0, 200.0, 61)
DEMOS = tuple(demo_scenarios())


def designs_of(demo: str, count: int) -> list[JudgedDesign]:
    """Some designs of a demo's front, and what was left out of it where that can be built."""
    scenario, found = read_scenario(demo_scenarios()[demo]), stored_front(demo)
    return [JudgedDesign.of(scenario, row) for row in rows(found, count)]


@pytest.fixture(scope="module")
def pair() -> list[JudgedDesign]:
    return designs_of("van-bench", 2)


def gain_of(design: JudgedDesign) -> float:
    return float(design.judgement.figures.gain[0])


def played(design: JudgedDesign, sound: Sound, *, times: float = 1.0) -> Played:
    return play(design.systems, sound, gain=times * gain_of(design), cabin=design.scenario.cabin)


def phasor(samples: np.ndarray, hertz: float, *, rate: int = RATE, before: float = 2.8) -> complex:
    """Peak phasor of a tone in whole periods before ``before`` s: lock-in."""
    periods = math.floor(1.2 * hertz)
    last = int(before * rate)
    places = np.arange(last - round(periods * rate / hertz), last)
    return complex(2.0 * np.mean(samples[places] * np.exp(-2j * math.pi * hertz * places / rate)))


def level(samples: np.ndarray, hertz: float, **how: Any) -> float:
    return float(level_db(np.array(abs(phasor(samples, hertz, **how)) ** 2 / 2.0)))


@pytest.mark.parametrize("demo", DEMOS)
def test_tones_at_the_gain_are_as_loud_as_the_curves_say(demo: str) -> None:
    """Independent implementation: every instant here, one frequency at a time there; promised within 0.2 dB."""
    for design in designs_of(demo, 2):
        for hertz in (20.0, 25.0, 31.0, 40.0, 63.0, 110.0, 200.0):
            said = design.curves_at(np.array([hertz])).spl_db[0, 0]
            cabin = design.scenario.cabin
            said += 0.0 if cabin is None else float(gain_db(cabin, np.array([hertz]))[0])
            assert level(played(design, tone(hertz)).pressure, hertz) == pytest.approx(said, abs=0.1)


def test_the_files_samples_are_as_loud_too(pair: list[JudgedDesign]) -> None:
    """Promise to the user: at 48 kHz, scaled for a file, two designs differ as their levels on the front do."""
    heard = beside(pair, tone(40.0), alike=False)
    levels = [level(finer(each.samples), 40.0, rate=WRITTEN) for each in heard]
    said = [float(each.row["level_40_hz_db"]) for each in pair]
    assert abs(said[1] - said[0]) > 1.0
    assert levels[1] - levels[0] == pytest.approx(said[1] - said[0], abs=0.05)
    assert max(np.max(np.abs(each.samples)) for each in heard) == pytest.approx(PEAK)


def deconvolved(pressure: np.ndarray, sound: Sound) -> np.ndarray:
    """Complex response at BAND from a sweep, the harmonics of which lie elsewhere in time (Farina 2000)."""
    length = 1 << (len(pressure) + RATE).bit_length()
    given, got = fft.rfft(sound.samples, length), fft.rfft(pressure, length)
    impulse = fft.irfft(got * np.conj(given) / (np.abs(given) ** 2 + 1e-3 * np.max(np.abs(given)) ** 2), length)
    weight = fft.irfft(np.abs(given) ** 2 / (np.abs(given) ** 2 + 1e-3 * np.max(np.abs(given)) ** 2), length)
    near = np.r_[0 : int(1.2 * RATE), -int(0.4 * RATE) : 0]
    turns = np.exp(-2j * math.pi * BAND[:, np.newaxis] * near / RATE)
    return np.asarray((turns @ impulse[near]) / (turns @ weight[near]))


@pytest.mark.parametrize("demo", DEMOS)
def test_a_quiet_sweep_measures_the_linear_response(demo: str) -> None:
    """Analytic limit: magnitude within 0.05 dB from 20 Hz to 200 Hz, phase of the box within 2°."""
    (design,) = designs_of(demo, 1)
    quiet, sound = 1e-4, sweep()
    found = play(design.systems, sound, gain=quiet)
    measured = deconvolved(found.pressure, sound)
    linear = respond(design.systems, frequency=BAND, gain=quiet).pressure[0] * math.sqrt(2.0)
    assert np.max(np.abs(20.0 * np.log10(np.abs(measured / linear)))) < 0.05
    assert np.max(np.abs(np.degrees(np.angle(measured / linear)))) < 2.0


@pytest.mark.parametrize("demo", DEMOS)
def test_a_sweep_at_the_gain_measures_the_curve(demo: str) -> None:
    """Promise to the user: within 0.2 dB of the response shown, compression and heat and cabin with it."""
    for design in designs_of(demo, 2):
        sound = sweep()
        measured = level_db(np.abs(deconvolved(played(design, sound).pressure, sound)) ** 2 / 2.0)
        said = design.curves_at(BAND).spl_db[0]
        said = said if design.scenario.cabin is None else said + gain_db(design.scenario.cabin, BAND)
        assert np.max(np.abs(measured - said)) < 0.2
        assert np.max(design.curves_at(BAND).compression_db) > 0.3


def test_harmonics_are_those_of_the_harmonic_balance() -> None:
    """Independent implementation: third and fifth harmonic of a tone at the gain, without the cabin, within 5 %."""
    for design in designs_of("van-bench", 2):
        for hertz, ratio in design.distortion:
            found = play(design.systems, tone(hertz), gain=gain_of(design)).pressure
            first, *others = (abs(phasor(found, order * hertz)) for order in (1, 3, 5))
            assert math.hypot(*others) / first == pytest.approx(ratio, rel=0.05, abs=2e-3)


@pytest.mark.parametrize("hertz", [25.0, 40.0])
def test_what_moves_is_what_the_curves_say(hertz: float, pair: list[JudgedDesign]) -> None:
    """Independent implementation: excursion and air speed of a tone within 3 %, below and above the tuning.

    Peaks and not fundamentals alone; near the tuning, where a cone hardly moves, a harmonic is a good part of its peak.
    """
    for design in pair:
        found, said = played(design, tone(hertz)), design.curves_at(np.array([hertz]))
        assert found.excursion == pytest.approx(said.excursion_peak_m[0, 0], rel=0.03)
        assert found.coil_rise == pytest.approx(said.coil_rise_k[0, 0], rel=0.05, abs=0.3)
        if design.row["box_kind"] == "vented":
            assert abs(design.row["tuning_hz"] - hertz) > 5.0
            assert found.vent_speed == pytest.approx(said.vent_speed_peak_m_s[0, 0], rel=0.03)


def test_two_are_made_equally_loud_by_turning_the_louder_one_down(pair: list[JudgedDesign]) -> None:
    """Promise to the user: mean levels within 0.01 dB, and the quieter one stays as it is."""
    for make in SOUNDS.values():
        heard = beside(pair, make(), alike=True)
        means = [10.0 * math.log10(np.mean(np.square(each.samples))) for each in heard]
        assert means[0] == pytest.approx(means[1], abs=0.01)
        assert max(each.turned_db for each in heard) == pytest.approx(0.0, abs=1e-9)
        assert min(each.turned_db for each in heard) < -1.0
        assert "turned down by" in difference(("A", "B"), heard)


def test_driven_harder_it_gains_less_and_says_what_it_passes(pair: list[JudgedDesign]) -> None:
    """Promise to the user: 12 dB more drive is not 12 dB more sound, and limits that go are named."""
    for design in pair:
        sound = SOUNDS["bass"]()
        (usual,), (hard,) = (beside([design], sound, alike=False, harder_db=db) for db in (0.0, 12.0))
        assert hard.turned_db == pytest.approx(12.0)
        assert 2.0 < hard.played.level_db - usual.played.level_db < 10.0
        assert hard.played.clipped > 0.1 > usual.played.clipped
        told = limits_told(hard, "us")
        assert "The amplifier clips" in told or "the amplifier clips" in told
        assert " in of " in told
        assert "mm" not in told


def test_nothing_comes_round_from_the_end_to_the_start(
    pair: list[JudgedDesign], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Analytic limit: twice the room after a sound changes it by less than a 16-bit step."""
    for design in pair:
        before = played(design, SOUNDS["drum"]()).pressure
        monkeypatch.setattr(playing, "_SETTLED", 9.0)
        after = played(design, SOUNDS["drum"]()).pressure
        monkeypatch.undo()
        assert len(before) == len(after)
        assert np.max(np.abs(before - after)) < 2.0**-15 * np.max(np.abs(before))
        assert abs(before[0]) < 1e-4 * np.max(np.abs(before))
        assert before[-1] == 0.0


def test_a_coil_that_finds_no_temperature_is_refused(pair: list[JudgedDesign]) -> None:
    """Conservation: where heat runs away there is no sound to render, and a sentence says so."""
    hot = replace(pair[0].systems, thermal=np.array([200.0]))
    with pytest.raises(Refusal, match="driven so hard"):
        play(hot, tone(60.0), gain=1.0)


@pytest.mark.parametrize(
    ("name", "volts", "hertz"),
    [
        ("all, closed", 35.0, 20.0),
        ("all, vented", 20.0, 20.0),
        ("all, vented", 20.0, 30.0),
        ("all, thin", 20.0, 30.0),
        ("vent loss", 40.0, 30.0),
        ("steep Bl and Cms, closed", 35.0, 20.0),
        ("all, passive radiator", 20.0, 30.0),
    ],
)
def test_a_tone_is_that_of_the_equations_of_motion(name: str, volts: float, hertz: float) -> None:
    """Independent implementation: against integration in time, level to 0.05 dB, excursion 0.5 %, harmonics 2 %."""
    case = next(each for each in CASES if each.name == name)
    system, box = driven(case, volts), twin(case)
    right = time_domain.integrate(box, frequency=hertz, voltage=volts)
    found = play(system, tone(hertz), gain=1.0)
    assert level(found.pressure, hertz) == pytest.approx(level_db(np.array(right.pressure**2)), abs=0.05)
    first, *others = (abs(phasor(found.pressure, order * hertz)) for order in range(1, 6))
    assert math.hypot(*others) / first == pytest.approx(right.harmonic, rel=0.02, abs=5e-4)
    assert found.coil_rise == pytest.approx(right.coil_rise, rel=0.03)
    assert found.excursion > 0.9 * right.excursion
    assert (found.radiator_excursion > 0.0) == (name == "all, passive radiator")


@pytest.mark.parametrize("leak", [0.0, 12.0])
def test_the_cabins_phase_is_that_of_its_closed_form(leak: float) -> None:
    """Analytic limit: (s² + a·s + ω₁²)/(s·(s + ωl)), a² = 2ω₁² + ωl²; 25° off at most, since it is held at 5 Hz."""
    cabin, length = EstimatedCabin(largest_dimension=2.1, leak_hz=leak), 48_000
    hertz = fft.rfftfreq(length, 1.0 / RATE)
    found = least_phase(gain_db(cabin, np.maximum(hertz, 5.0)), length)
    first, low, s = 2.0 * math.pi * cabin.corner_hz, 2.0 * math.pi * leak, 2j * math.pi * hertz
    within = (hertz > 20.0) & (hertz < 200.0)
    closed = (s**2 + math.sqrt(2.0 * first**2 + low**2) * s + first**2)[within] / (s * (s + low))[within]
    assert np.max(np.abs(np.abs(found[within] / closed) - 1.0)) < 1e-9
    assert np.max(np.abs(np.degrees(np.angle(found[within] / closed)))) < 25.0


def test_a_batch_of_one_is_asked_for_its_own_row(pair: list[JudgedDesign]) -> None:
    """Pin: a system out of a batch plays as it does alone."""
    one = pair[0].systems
    both = Systems(**{
        name: np.concatenate([value, value]) if isinstance(value, np.ndarray) else value
        for name, value in vars(one).items() if name in one.__dataclass_fields__
    })  # fmt: skip
    alone, taken = (play(each, tone(40.0), gain=0.5).level_db for each in (one, both.take(np.array([1]))))
    assert alone == pytest.approx(taken, abs=1e-9)
