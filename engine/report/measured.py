"""A finished box measured, in words that a builder acts on: what is off, what to do next, what it plays."""

from __future__ import annotations

import math
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from engine.goals import GOALS
from engine.kinds import KINDS
from engine.measured.fit import Fit, Found
from engine.measured.taken import COIL_WORDS
from engine.measured.verdict import FREQUENCY, AsBuilt, Mend, Others
from engine.quantities import MISSING, Units, show, show_sawn, small_mass
from engine.report.ink import DASHES, Ink
from engine.report.wording import figure
from engine.words.voice import listed

# Of what is fitted: its name and its kind of quantity.
FIGURES: dict[str, tuple[str, str]] = {
    "tuning": ("Tuning", "frequency"), "fs": ("Driver's resonance fs", "frequency"),
    "re": ("Resistance Re", "resistance"), "qes": ("Qes", "ratio"), "qms": ("Qms", "ratio"),
    "vas": ("Vas", "volume"), "le": ("Inductance Le", "inductance"),
    "n": ("Exponent of Le", "ratio"), "l2": ("Inductance L2", "inductance"), "r2": ("Resistance R2", "resistance"),
    "kr": ("Kr, resistance of the coil at 1 rad/s", "ratio"), "ki": ("Ki, its reactance", "ratio"),
    "ql": ("Ql, leaks", "ratio"), "qa": ("Qa, absorption", "ratio"), "qp": ("Qp, friction in the vent", "ratio"),
    "radiator_rms": ("Friction of each passive radiator", "mechanical_resistance"),
}  # fmt: skip
_SHORT = {"fs": "fs", "qes": "Qes", "qms": "Qms", "vas": "Vas"}
HEADINGS = ("", "Measured", "95 % interval", "Foreseen")
_SAME = 0.005  # of a tuning, that nobody hears
_LIFT = 0.05  # dB that are none
_GROSS = 0.25  # of the resistance, beyond which another wiring is likelier than a coil so far off

HOW_TO = (
    (
        "Measure the finished box outside the car, on the floor away from walls, with nothing of the filter or "
        "amplifier connected: at its terminals, all drivers wired as they will be."
    ),
    (
        "An impedance analyser does it; so do a signal generator, a resistor of 10 to 100 Ω in series and a "
        "voltmeter, or a sound card with a jig made for it. Never connect the output of a car amplifier to a "
        "sound card or an analyser."
    ),
    (
        "Keep the level low, some 0.1 to 1 V at the terminals: the cone must hardly move. From 5 Hz to 500 Hz, "
        "100 points or more, close together round the resonances. Play a new driver in "
        "before, for an hour at a moderate level."
    ),
    "Seal the terminals and press the cone by hand, slowly: if it comes back at once, air leaks out somewhere.",
)
VAS_HOW_TO = (
    (
        "For Vas, sweep one driver alone, its coils joined as in the box, held firmly in the air away from "
        "everything; then again with a known mass, a quarter to all of its moving mass, stuck evenly round the "
        "dust cap, or in a closed test box whose volume you know."
    ),
)
CAUTIONS = (
    "Disconnect the battery before you work on car wiring, and the amplifier before you measure. Wear hearing "
    "protection when the box is played loud again."
)


def parameters(done: AsBuilt, units: Units) -> list[tuple[str, str, str, str]]:
    """Every figure found: its name, as measured, its interval, as foreseen; a dash for what the sweeps do not tell."""
    rows = []
    for name, (label, kind) in FIGURES.items():
        found = done.fit.found.get(name)
        if found is None:
            continue
        foreseen = _figure(found.foreseen, kind, units) if math.isfinite(found.foreseen) else "none"
        if found.held:
            rows.append((label, "held", MISSING, foreseen))
        elif not found.told:
            rows.append((label, "not told by the sweep", MISSING, foreseen))
        else:
            low, high = (_figure(each, kind, units) for each in (found.low, found.high))
            rows.append((label, _figure(found.value, kind, units), f"{low} to {high}", foreseen))
    return rows


def told(done: AsBuilt, units: Units) -> list[str]:
    """What the box turned out to be, and what to do now: sentences in the order in which a builder asks for them."""
    said = [_tuning(done, units)] if "tuning" in done.fit.found and done.tuned else []
    if (mend := done.mend) is not None and not _close(done.fit.found["tuning"]):
        said += _mending(done, mend, units)
    said += _losses(done)
    said += _driver(done, units)
    said += trust(done.fit, units)
    return said or ["What is held leaves nothing to be told."]


def seen(done: AsBuilt, units: Units) -> str:
    """Peaks and saddles as they are read off the sweep of the box."""
    marks = done.fit.landmarks[0]
    peaks = [f"{_hz(turn.hz, units)} ({turn.ohm:.1f} Ω)" for turn in marks.peaks]
    saddles = [f"{_hz(turn.hz, units)} ({turn.ohm:.1f} Ω)" for turn in marks.saddles]
    words = f"The sweep has {'a peak' if len(peaks) == 1 else 'peaks'} at {listed(peaks)}"
    return f"{words}{f', and a saddle between at {listed(saddles)}' if saddles else ''}."


def _tuning(done: AsBuilt, units: Units) -> str:
    tuning = done.fit.found["tuning"]
    if tuning.held:
        return f"The tuning was held at {_hz(tuning.value, units)}, as drawn."
    words = (
        f"The box is tuned to {_hz(tuning.value, units, 2)} (95 % sure between {_hz(tuning.low, units, 2)} and "
        f"{_hz(tuning.high, units, 2)}); {_hz(tuning.foreseen, units, 2)} was foreseen"
    )
    if _close(tuning):
        return f"{words}. That is as good as it gets: leave it."
    way = "lower" if tuning.off < 0.0 else "higher"
    return f"{words}. It is {100.0 * abs(tuning.off):.1f} % {way}."


def _close(tuning: Found) -> bool:
    """Whether a tuning is what was foreseen, as far as the sweep or anybody's ear tells."""
    return tuning.held or tuning.low <= tuning.foreseen <= tuning.high or abs(tuning.off) < _SAME


def _mending(done: AsBuilt, mend: Mend, units: Units) -> list[str]:
    count = done.stated.vent_count if mend.what == "vent" else done.stated.radiator_count
    each = "the vent" if count == 1 else "each vent"
    if mend.what == "vent":
        amount, ends = (show_sawn(abs(mend.change), units), [abs(mend.low), abs(mend.high)])
        between = f"{show_sawn(min(ends), units)} to {show_sawn(max(ends), units)}"
        now = f" It is {show_sawn(mend.now, units)} by the drawing." if math.isfinite(mend.now) else ""
        if mend.change < 0.0 and not mend.can:
            said = (
                f"To mend it {each} would lose {amount}, more than it has: it takes a vent of larger bore, or "
                f"less air in the box, such as a block of wood glued in."
            )
        elif mend.change < 0.0:
            said = (
                f"To mend it cut {amount} off {each} ({between} by the sweep).{now} Cut half of it first, measure "
                "again, then the rest: nothing can be put back."
            )
        else:
            said = (
                f"To mend it {each} must be {amount} longer ({between} by the sweep).{now} A vent cannot be "
                "pieced on well: make a new one, a little longer still, and cut it down by measuring."
            )
        said += (
            ""
            if done.stated.vent_height is None
            else " Of a slot it is the board between slot and box that is changed."
        )
    else:
        whose = "the passive radiator" if count == 1 else "each passive radiator"
        amount = small_mass(abs(mend.change), units) or "hardly anything"
        about = sorted((mend.low, mend.high), key=abs)
        words = [small_mass(abs(end), units) or "nothing" for end in about]
        verb, side = ("Take", "off") if mend.change < 0.0 else ("Add", "to")
        sure = "" if words[0] == words[1] else f" (between {words[0]} and {words[1]} by the sweep)"
        now = "" if math.isnan(mend.now) else f" {small_mass(mend.now, units) or 'None'} is added by the drawing."
        said = f"To mend it {verb.lower()} {amount} {side} {whose}{sure}.{now}"
        if not mend.can:
            said = f"{said} That is more than was added: what is left is less air in the box, or a lighter radiator."
    more = mend.volume > 0.0
    explained = (
        f"If nothing but the volume were off, it would be {show(abs(mend.volume), 'volume', units)} "
        f"{'more' if more else 'less'} air than drawn"
    )
    hint = (
        "a piece left out, filling that swells the air?" if more else "a brace, bracket or driver larger than stated?"
    )
    return [said, f"{explained}: {hint} Check that before you cut."] if math.isfinite(mend.volume) else [said]


def _losses(done: AsBuilt) -> list[str]:
    fit, kind = done.fit, KINDS[done.stated.box_kind]
    ql = fit.found.get("ql")
    if ql is None or ql.held or not kind.tuned:
        return []
    if not ql.told:
        return ["How much air leaks out the sweep does not tell."]
    said = [f"Its losses come to Ql = {ql.value:.1f} (usual are 5 to 15; {ql.foreseen:.3g} was foreseen)."]
    if ql.value < 4.0:
        said.append(
            "That is a leak to be found: terminals, gaskets, corners; listen with a hose while a 20 Hz tone "
            "plays softly."
        )
    if len(fit.losses) == 1 and not fit.apart:
        said.append(
            "Leaks, absorption and friction in the opening are not told apart by this sweep: all are counted as leaks."
        )
    return said


def _driver(done: AsBuilt, units: Units) -> list[str]:
    found, said = done.fit.found, []
    re = found.get("re")
    if re is not None and re.told and abs(re.off) > _GROSS:
        said.append(
            f"The resistance is {re.value * done.fit.taken[0].times:.2f} Ω at the terminals, where "
            f"{re.foreseen * done.fit.taken[0].times:.2f} Ω was foreseen: check whether coils and drivers are "
            "wired as the design has them, and whether the leads were taken off the reading."
        )
    names = ("fs", "qes", "qms", "vas")
    off = [
        f"{_SHORT[name]} {abs(100.0 * each.off):.0f} % {'higher' if each.off > 0.0 else 'lower'}"
        for name in names
        if (each := found.get(name)) is not None and each.told and not each.held and abs(each.off) > 0.05
    ]
    if off:
        said.append(f"The driver differs from its data sheet: {listed(off)}.")
    elif any(name in found and found[name].told for name in names):
        said.append("The driver is within 5 % of its data sheet.")
    blind = [_SHORT[name] for name in names if name in found and not found[name].told and not found[name].held]
    if blind:
        said.append(f"Not told by these sweeps, and so left as the data sheet has it: {listed(blind)}.")
    elif "vas" in found and done.fit.box is not None and all(each.of == "box" for each in done.fit.taken):
        said.append(
            "Vas goes by the volume of the box as drawn: an impedance tells only the one over the other. Sweeps "
            "of the driver alone tell them apart."
        )
    return said


def trust(fit: Fit, units: Units) -> list[str]:
    """How far the figures can be trusted: noise, points left out, what the circuit does not follow."""
    said = []
    if fit.left_out:
        said.append(f"{fit.left_out} point{'s' if fit.left_out > 1 else ''} far off the rest were left out.")
    if averaged := sum(each.sweep.averaged for each in fit.taken):
        said.append(f"{averaged} frequencies stood there more than once and were averaged.")
    if fit.residual > max(3.0 * fit.scatter, 0.02):
        said.append(
            f"The circuit follows the sweep to {100.0 * fit.residual:.1f} %, where its noise is only "
            f"{100.0 * fit.scatter:.1f} %: something rattles, rubs or leaks in a way that no loss explains, or "
            "the sweep was taken too loud."
        )
    if fit.coil in ("lossy", "second"):
        said.append(f"The coil was taken as {COIL_WORDS[fit.coil]}.")
    if fit.together > 3.0:
        said.append("Neighbouring points err together (hum, drift, averaging); the intervals are made wider for that.")
    return said


def standing(done: AsBuilt, units: Units, currency: str = "") -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The goals as promised, as built and, where it can be mended, mended: headings and rows."""
    found, mended = done.standing, done.mend is not None and not _close(done.fit.found["tuning"])
    headings = ("", "Promised", "As built", *(["Once mended"] if mended else []))
    columns = (found.promised, found.measured, *([found.mended] if mended else []))
    rows = [
        (GOALS[key].label, *(figure(key, each[key], units, currency) for each in columns)) for key in found.promised
    ]
    return headings, rows


def limits_told(done: AsBuilt, units: Units) -> list[str]:
    """Which limits the box breaks at the gain promised, and how much lower it has to be set."""
    found = done.standing
    said = [
        f"At the gain promised it breaks a limit: {GOALS[key].label.lower()} comes to {figure(key, value, units)}, "
        f"where {figure(key, limit, units)} is the most."
        if GOALS[key].better == "min"
        else f"At the gain promised it misses a limit: {GOALS[key].label} comes to {figure(key, value, units)}, where "
        f"{figure(key, limit, units)} is the least."
        for key, (value, limit) in found.passed.items()
    ]
    if found.lower_db > _LIFT:
        said.append(f"Set the gain {found.lower_db:.1f} dB lower than promised, and every limit holds.")
    elif found.lower_db < -_LIFT:
        said.append(f"Every limit holds; the gain may be set {-found.lower_db:.1f} dB higher than promised.")
    else:
        said.append("Every limit holds at the gain promised.")
    return said


def others_told(done: AsBuilt, found: Others, units: Units) -> list[str]:
    """What the driver as measured means for the job's other designs."""
    assert done.design is not None, "only designs of a front have others beside them"
    said = []
    for key, (middle, least, most) in found.moved.items():
        if abs(middle) >= 2.0 * GOALS[key].noticed or max(abs(least), abs(most)) >= 10.0 * GOALS[key].noticed:
            ends = " to ".join(_signed(key, end, units) for end in (least, most))
            said.append(f"{GOALS[key].label}: {_signed(key, middle, units)} in the middle ({ends}).")
    head = f"Judged with the driver as measured, {found.designs:,} designs of the front have it"
    first = (
        f"{head}; {found.lost:,} of them then break a limit of the job."
        if found.lost
        else f"{head}, and all keep the job's limits."
    )
    name = done.design.row["id"]
    if found.stays:
        last = f"{name} is still beaten by none."
    elif found.beaten_by:
        shown = listed([*found.beaten_by[:4], *(["others"] if len(found.beaten_by) > 4 else [])])
        last = f"{name} is then beaten on every goal by {shown}."
    else:
        last = f"{name} then breaks a limit of the job."
    return [first, *said, last, f"Of {found.before:,} designs {found.after:,} stay on the front."]


def in_json(done: AsBuilt, others: Others | None = None) -> dict[str, Any]:
    """All of it with flat keys, SI, None where a figure does not apply."""
    fit, found = done.fit, dict[str, Any]()
    marks = fit.landmarks[0]
    for name, each in fit.found.items():
        key = _KEYS[name]
        found |= {
            key: _known(each.value), f"{key}_low": _known(each.low), f"{key}_high": _known(each.high),
            f"{key}_foreseen": _known(each.foreseen), f"{key}_told": each.told,
        }  # fmt: skip
    mend = done.mend
    found |= {
        "peaks_hz": [turn.hz for turn in marks.peaks], "peaks_ohm": [turn.ohm for turn in marks.peaks],
        "saddles_hz": [turn.hz for turn in marks.saddles], "saddles_ohm": [turn.ohm for turn in marks.saddles],
        "coil_model": fit.coil, "losses_fitted": list(fit.losses), "losses_told_apart": fit.apart,
        "residual": fit.residual, "scatter": fit.scatter, "points_left_out": fit.left_out,
        "mend": None if mend is None else mend.what,
        "mend_change": None if mend is None else mend.change,
        "mend_change_low": None if mend is None else mend.low, "mend_change_high": None if mend is None else mend.high,
        "volume_error_m3": None if mend is None else _known(mend.volume),
        "frequency_hz": FREQUENCY.tolist(), "impedance_foreseen_ohm": done.curves[0].tolist(),
        "impedance_measured_ohm": done.curves[1].tolist(),
    }  # fmt: skip
    if done.design is not None:
        stands = done.standing
        for column in ("promised", "measured", "mended"):
            found |= {f"{column}_{key}": _known(value) for key, value in getattr(stands, column).items()}
        found |= {"limits_passed": list(stands.passed), "gain_lower_db": stands.lower_db}
    else:
        for name, result in zip(("promised", "measured"), done.evaluated, strict=True):
            found |= {f"{name}_{key}": result[key] for key in _EVALUATED}
    if others is not None:
        found |= {
            "others_designs": others.designs, "others_lost": others.lost, "others_stays": others.stays,
            "others_beaten_by": list(others.beaten_by), "others_on_front": others.after,
            "others_moved": {key: list(ends) for key, ends in others.moved.items()},
        }  # fmt: skip
    return found


_KEYS = {
    "tuning": "tuning_hz", "fs": "fs_hz", "re": "re_ohm", "qes": "qes", "qms": "qms", "vas": "vas_m3", "le": "le_h",
    "n": "inductance_exponent", "l2": "l2_h", "r2": "r2_ohm", "kr": "inductance_kr", "ki": "inductance_ki",
    "ql": "ql", "qa": "qa", "qp": "qp", "radiator_rms": "radiator_rms_kg_s",
}  # fmt: skip
# Of a stated design, what stands beside each other: keys of ``evaluate`` and their labels.
_EVALUATED = {
    "f3_hz": "frequency", "output_db": "level", "excursion_ratio": "ratio", "vent_speed_m_s": "speed",
    "radiator_ratio": "ratio", "gain": "ratio",
}  # fmt: skip
_EVALUATED_LABELS = {
    "f3_hz": "-3 dB frequency (f3)", "output_db": "Mean maximum output", "excursion_ratio": "Worst excursion / Xmax",
    "vent_speed_m_s": "Worst vent air speed", "radiator_ratio": "Worst radiator excursion / Xmax",
    "gain": "Gain at which every limit is held",
}  # fmt: skip


def evaluated(done: AsBuilt, units: Units) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The same of a design that was stated by its volume."""
    rows = []
    for key, kind in _EVALUATED.items():
        both = [result[key] for result in done.evaluated]
        if any(isinstance(each, float) for each in both):
            told = [_figure(each, kind, units) if isinstance(each, float) else MISSING for each in both]
            rows.append((_EVALUATED_LABELS[key], *told))
    return ("", "Foreseen", "As built"), rows


def chart(done: AsBuilt, ink: Ink) -> alt.LayerChart:
    """Impedance measured over foreseen: the points of the sweep, the circuit found, the design's own curve."""
    foreseen, found = done.curves
    sweep = done.fit.taken[0].sweep
    span = (FREQUENCY[0], FREQUENCY[-1])
    there = (sweep.frequency >= span[0]) & (sweep.frequency <= span[1])
    points = pd.DataFrame({"hz": sweep.frequency[there], "ohm": sweep.magnitude[there], "what": "measured"})
    if len(points) > 600:
        points = points.iloc[np.linspace(0, len(points) - 1, 600).astype(int)]
    lines = pd.DataFrame({
        "hz": np.tile(FREQUENCY, 2), "ohm": np.concatenate([foreseen, found]),
        "what": np.repeat(["foreseen", "fitted"], len(FREQUENCY)),
    })  # fmt: skip
    ticks = [10, 15, 20, 30, 40, 60, 80, 100, 150, 200]
    look: dict[str, Any] = {"labelColor": ink.text, "titleColor": ink.text}
    x = alt.X(
        "hz:Q", scale=alt.Scale(type="log", domain=list(span), nice=False),
        axis=alt.Axis(values=ticks, title="Frequency (Hz)", format="d", labelOverlap=True, **look),
    )  # fmt: skip
    top = 1.1 * float(max(points["ohm"].max(), lines["ohm"].max()))
    y = alt.Y("ohm:Q", scale=alt.Scale(domain=[0.0, top]), axis=alt.Axis(title="Impedance (Ω)", tickCount=6, **look))
    names = ["measured", "fitted", "foreseen"]
    colours = alt.Scale(domain=names, range=[ink.text, ink.series[0], ink.series[1]])
    legend = alt.Legend(
        title=None, orient="top", labelColor=ink.text, symbolType="circle", symbolDash=[1, 0], symbolStrokeWidth=0
    )
    colour = alt.Color("what:N", scale=colours, legend=legend)
    dash = alt.StrokeDash("what:N", scale=alt.Scale(domain=names, range=[DASHES[2], DASHES[0], DASHES[1]]), legend=None)
    tip = [alt.Tooltip("what:N", title="Line"), alt.Tooltip("hz:Q", title="Frequency (Hz)", format=".1f"),
           alt.Tooltip("ohm:Q", title="Impedance (Ω)", format=".1f")]  # fmt: skip
    drawn = (
        alt.Chart(lines)
        .mark_line(clip=True, strokeWidth=2)
        .encode(x=x, y=y, color=colour, strokeDash=dash, tooltip=tip)
    )
    dots = (
        alt.Chart(points)
        .mark_point(clip=True, filled=True, size=14, opacity=1.0)
        .encode(x=x, y=y, color=colour, tooltip=tip)
    )
    return alt.LayerChart(layer=[drawn, dots], height=320, width="container")


def _hz(value: float, units: Units, digits: int = 1) -> str:
    return show(value, "frequency", units, digits)


def _figure(value: float, kind: str, units: Units) -> str:
    if kind in ("ratio", "level"):
        return f"{value:.1f} dB" if kind == "level" else f"{value:.3g}"
    return show(value, kind, units, 2) if kind == "frequency" else show(value, kind, units)


def _signed(key: str, value: float, units: Units) -> str:
    words = figure(key, abs(value), units)
    if words == figure(key, 0.0, units):
        return f"±{words}"
    return f"{'+' if value > 0.0 else '−'}{words}"


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
