"""The signal chain: filters by themselves, in the figures, and the one that is recommended."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy import signal

from engine.acoustics import filters
from engine.acoustics.circuit import respond
from engine.acoustics.figures import figures
from engine.acoustics.filters import NO_CHAIN, Chain, band, low_pass, response, section_qs
from engine.acoustics.limits import max_output
from engine.acoustics.recommend import CHOICES, recommend
from tests.acoustics import drawn
from tests.acoustics.test_filters import CUTOFF, FREQUENCY, STATED, by_scipy
from tests.acoustics.test_recommend import CUTOFFS, TRIED, USE, brute, drawn_systems
from tests.benchmarks.evidence.checks import Check, Evidence, furthest, furthest_percent, greatest

BAND = (25.0, 80.0)
LIMIT = 17.0


def evidence() -> Evidence:
    yield from _by_themselves()
    yield from _in_figures()
    yield from _recommended()


def _by_themselves() -> Evidence:
    apart: dict[str, list[float]] = {"highpass": [], "lowpass": []}
    levels, wanted = [], {"butterworth": math.sqrt(0.5), "linkwitz-riley": 0.5, "own": 0.9}
    for shape, order in STATED:
        q, q2 = section_qs(shape=shape, order=order, own_q=0.9)
        section = {"order": order, "cutoff": CUTOFF, "q": q, "q2": q2}
        for kind, ours in (("highpass", response), ("lowpass", low_pass)):
            ratio = ours(FREQUENCY, **section) / by_scipy(shape, order, kind)
            apart[kind].append(float(np.max(np.abs(ratio - 1.0))))
        levels.append(abs(complex(response(np.array([CUTOFF]), **section)[0])) / wanted[shape])
    for kind, words in (("highpass", "high-pass"), ("lowpass", "crossover")):
        yield Check(
            what=f"{words}: Butterworth, Linkwitz-Riley, own Q, all orders",
            against="scipy.signal.butter, analogue; squared; freqs",
            cases=len(STATED) * len(FREQUENCY),
            worst=greatest(apart[kind]),
            allowed=1e-9,
            note="relative, complex",
        )
    yield Check(
        what="level at the cutoff",
        against="half power, a quarter (Linkwitz 1976 [M]), Q",
        cases=len(levels),
        worst=furthest(levels, 1.0),
        allowed=1e-12,
        note="relative",
    )
    sums = []
    for order in (2, 4):
        q, q2 = section_qs(shape="linkwitz-riley", order=order)
        section = {"order": order, "cutoff": CUTOFF, "q": q, "q2": q2}
        turned = -1.0 if order == 2 else 1.0
        sums.append(furthest(np.abs(low_pass(FREQUENCY, **section) + turned * response(FREQUENCY, **section)), 1.0))
    yield Check(
        what="Linkwitz-Riley pair, sum of both",
        against="all-pass (Linkwitz 1976 [M])",
        cases=2 * len(FREQUENCY),
        worst=greatest(sums),
        allowed=1e-12,
    )
    settings = ((6.0, 1.0), (-9.0, 0.7), (12.0, 4.0), (3.0, 2.0))
    off, centre = [], 40.0
    for gain, q in settings:
        w, a = 2.0 * math.pi * centre, 10.0 ** (gain / 40.0)
        over, under = [1.0, w * a / q, w * w], [1.0, w / a / q, w * w]
        expected = signal.freqs(over, under, worN=2.0 * math.pi * FREQUENCY)[1]
        ours = band(FREQUENCY, centre=centre, gain_db=gain, q=q)
        off.append(float(np.max(np.abs(ours / expected - 1.0))))
    yield Check(
        what="parametric band, boosts and cuts",
        against="scipy.signal.freqs; Bristow-Johnson's prototype [M]",
        cases=len(settings) * len(FREQUENCY),
        worst=greatest(off),
        allowed=1e-12,
        note="relative, complex",
    )
    off = []
    for gain, q in settings:
        half = 0.5 / q
        places = centre * np.array([1.0, math.sqrt(half**2 + 1.0) - half, math.sqrt(half**2 + 1.0) + half])
        level = 20.0 * np.log10(np.abs(band(places, centre=centre, gain_db=gain, q=q)))
        off.append(furthest(level, [gain, 0.5 * gain, 0.5 * gain]))
    yield Check(
        what="the same: gain at its centre, half of it centre/Q apart",
        against="analytic",
        cases=3 * len(settings),
        worst=greatest(off),
        allowed=1e-9,
        unit="dB",
    )


def _in_figures() -> Evidence:
    q, q2 = (float(each) for each in section_qs(shape="butterworth", order=2))
    chain = Chain(low_pass_order=2, low_pass_hz=80.0, low_pass_q=q, low_pass_q2=q2, band_hz=40.0, band_db=6.0, band_q=2)
    systems = replace(drawn.systems(200, seed=61, passive=0.4, highest_q=2.0), chain=chain)
    found = figures(systems, music_band=BAND, vent_speed_limit=LIMIT)
    dense = np.geomspace(10.0, 200.0, 12_000)
    excursion = math.sqrt(2.0) * respond(systems, frequency=dense).excursion.max(axis=1) / systems.xmax
    yield Check(
        what="filter, crossover and boost in the worst excursion",
        against="complex circuit, 12 000 frequencies",
        cases=len(systems),
        worst=furthest_percent(found.excursion_ratio, excursion),
        allowed=0.1,
        unit="%",
    )
    fine = np.geomspace(*BAND, 4001)
    level = max_output(systems, frequency=fine, vent_speed_limit=LIMIT)[0]
    mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / 4000
    yield Check(
        what="the same in the mean maximum output",
        against="complex circuit, 4 001 frequencies",
        cases=len(systems),
        worst=furthest(found.output_db, mean),
        allowed=0.02,
        unit="dB",
    )
    bare = replace(systems, filter_order=np.zeros(len(systems)), chain=NO_CHAIN)
    columns = {name: getattr(systems, f"filter_{name}")[:, np.newaxis] for name in ("order", "q", "q2")}
    high_pass = filters.response(dense, cutoff=systems.filter_hz[:, np.newaxis], **columns)
    pressure = respond(bare, frequency=dense, coil_inductance=False).pressure
    power = np.abs(pressure / systems.reference_pressure[:, np.newaxis] * high_pass) ** 2
    power *= np.abs(replace(chain, low_pass_order=0).response(dense)) ** 2
    there = np.isfinite(found.f3) & (found.f3 > 10.1)
    last = np.array([dense[np.flatnonzero(row < 0.5)[-1]] for row in power[there]])
    yield Check(
        what="filter and boost, but no crossover, in f3",
        against="complex circuit, 12 000 frequencies",
        cases=int(there.sum()),
        worst=furthest_percent(found.f3[there], last),
        allowed=0.1,
        unit="%",
    )


def _recommended() -> Evidence:
    systems = drawn_systems()
    found = recommend(systems, use=USE, vent_speed_limit=LIMIT, cutoffs=CUTOFFS)
    missed, fallen = [], []
    outcomes = dict.fromkeys(("need one", "need none", "none helps"), 0)
    for row, choice in enumerate(found.choice.tolist()):
        without, table = brute(systems.take(np.array([row])))
        best = (table - without).mean(axis=1)[(table >= without - 0.05).all(axis=1)].max(initial=0.0)
        outcomes["need one" if choice >= 0 else "need none" if choice == -1 else "none helps"] += 1
        change = found.levels[row] - without
        missed.append(best - float(change.mean()))
        fallen.append(-float(change.min()))
    against = f"brute force, {len(CHOICES) * len(TRIED)} filters each in the exact model"
    note = ", ".join(f"{count} {words}" for words, count in outcomes.items())
    yield Check(
        what="recommended high-pass: mean level at the gain below the best",
        against=against,
        cases=len(missed),
        worst=greatest(missed),
        allowed=0.3,
        unit="dB",
        note=note,
    )
    yield Check(
        what="the same: any level below that without one",
        against=against,
        cases=len(fallen),
        worst=greatest(fallen),
        allowed=0.3,
        unit="dB",
    )
