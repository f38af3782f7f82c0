"""Wiring and set-up of a design in words, part by part: for the page, the build sheet and files alike.

Fuses and cables are by the amplifier's instructions and local codes, and so is said; none is worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from engine.acoustics.filters import SHAPES
from engine.judged import JudgedDesign
from engine.quantities import MISSING, Units, show
from engine.report.wording import MEETS
from engine.words.voice import first_up, listed
from engine.workshop.set_up import KNOB_ORDERS, KNOBS, USUAL_CROSSOVER, USUAL_ORDER, Filter, Knob, Level, SetUp, Way
from engine.workshop.wiring_picture import connections, wiring_of

TITLE = "Wiring and set-up"
_NO_DB = 0.05  # dB, which reads as none


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of what is said, in the order of its fields: cautions first, where the hazard is.

    ``picture`` is a drawing of the workshop, SVG text, and ``seen`` what it shows; a table has a ``heading``.
    """

    title: str
    cautions: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    picture: str = ""
    seen: str = ""
    steps: tuple[str, ...] = ()
    after: tuple[str, ...] = ()  # lines that follow the steps
    heading: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    note: str = ""


def parts_of(design: JudgedDesign, units: Units) -> list[Part]:
    """All that is said of how a design is wired and set up.  Raises ValueError where it is not heard."""
    set_up = design.set_up
    return [
        _wiring(set_up, design.wired, units),
        _polarity(set_up),
        _supply(),
        _filters(set_up, units),
        _gain(set_up, units),
        _first_music(),
    ]


def text_lines(parts: Sequence[Part]) -> list[str]:
    """The same as lines of plain text, pictures left out."""
    lines = []
    for part in parts:
        lines += [part.title, ""]
        lines += [f"! {caution}" for caution in part.cautions]
        lines += part.lines
        lines += [f"{number}. {step}" for number, step in enumerate(part.steps, start=1)]
        lines += part.after
        if part.heading:
            table = (part.heading, *part.rows)
            widths = [max(map(len, column)) for column in zip(*table, strict=True)]
            lines += [
                "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in table
            ]
        lines += [part.note] if part.note else []
        lines.append("")
    return lines


def _wiring(set_up: SetUp, why: str, units: Units) -> Part:
    used, lowest = set_up.used.network, _ohms(set_up.amplifier.lowest_load)
    several = used.driver.coils > 1
    heading = (
        "Wiring",
        "Load",
        "On this amplifier",
        "Amplifier gives",
        "Each driver",
        *(("Each coil",) if several else ()),
    )
    lines = [
        (
            "In every wiring listed all coils take the same power. Powers are those into the nominal load; a "
            "loudspeaker's impedance is higher than that at most frequencies, and then it draws less."
        )
    ]
    if several:
        lines.append("Connect every coil: with one left open or shorted a driver is another than the one worked out.")
    reads, load = _ohms(used.resistance), _ohms(used.load)
    measured = (
        "Before the amplifier is connected, hold the meter's probes together: what it then reads is its leads', and is "
        "taken off. Measure the resistance at the box's cable with the coils cold: about "
        f"{reads}, which is the coils' alone and no reason to doubt the load of {load}. Near nothing is a short; no "
        "reading, a lead that is off."
    )
    return Part(
        title="Wiring",
        cautions=(
            "First of all take the cable off the battery's minus pole; “Supply” says when it goes back.",
            (
                f"No load below {lowest} on the output in use: it can burn the amplifier. The job states that as the "
                "lowest load of the output as you connect it, one channel or two bridged: compare the amplifier's "
                "instructions, since bridged ones often have twice that of one, and do not bridge below what they "
                "allow. Bridge only at the two terminals that the maker marks for it; neither of them ever goes to "
                "chassis."
            ),
        ),
        lines=(why, *lines),
        picture=wiring_of(used, units, amplifier=set_up.amplifier.name),
        seen=f"{first_up(used.words)}, {load} at the amplifier",
        steps=(*connections(used), measured),
        heading=heading,
        rows=tuple(_way(way, set_up, units, several=several) for way in set_up.ways),
    )


def _way(way: Way, set_up: SetUp, units: Units, *, several: bool) -> tuple[str, ...]:
    drawn = (way.power, way.driver_power, *((way.coil_power,) if several else ()))
    powers = (MISSING if math.isnan(each) else _watts(each, units) for each in drawn)
    rated = way.network.driver.rated_power
    if not way.drivable:
        verdict = f"no, below {_ohms(set_up.amplifier.lowest_load)}"
    else:
        verdict = "this design" if way.used else "yes"
        verdict += f"; each driver is rated for {_watts(rated, units)}" if way.driver_power > rated else ""
    return first_up(way.network.words), _ohms(way.network.load), verdict, *powers


def _polarity(set_up: SetUp) -> Part:
    used = set_up.used.network
    several = used.count > 1
    cell = "a 9 V battery" if used.in_series > 1 else "a 1.5 V cell"
    wrong = "One that moves in has plus and minus changed over: cones that move against each other cancel their bass."
    return Part(
        title="Polarity",
        steps=(
            f"With the amplifier disconnected, touch the leads of {cell} to the box's cable for a moment, plus to "
            f"plus: {'every' if several else 'the'} cone moves outwards. "
            + (wrong if several else "If it moves in, plus and minus are changed over."),
            (
                "Later, with music at a low level and you in your seat: change plus and minus of the box over at the "
                "amplifier, switched off for that, or use its phase switch, and keep the way with more bass round the "
                "crossover's frequency."
            ),
        ),
    )


def _supply() -> Part:
    return Part(
        title="Supply",
        cautions=(
            (
                "A battery drives hundreds of amperes into a short, enough to start a fire. The fuse stands in the "
                "plus cable near the battery, its holder empty until the steps below say so."
            ),
            (
                "Lead cables through metal in grommets, away from belts, pedals, airbags, fuel and brake lines, and "
                "look what lies behind before you drill."
            ),
        ),
        lines=(
            (
                "Fuse and cable follow the amplifier's instructions and local codes; nothing here replaces them. Leave "
                "this to somebody licensed where that is the rule."
            ),
        ),
        steps=(
            "The battery's minus pole is off, the fuse out of its holder, the amplifier switched off.",
            "Lead and connect plus cable, minus cable and the amplifier's switching lead, at the amplifier first.",
            "Look over every end once more: nothing bare, nothing loose, no tool left on the battery.",
            "Put the fuse in.",
            "Put the cable back on the battery's minus pole, last of all.",
        ),
    )


def _filters(set_up: SetUp, units: Units) -> Part:
    crossover, told = set_up.low_pass, "as the job has it"
    if not crossover.order:
        crossover = Filter(shape="linkwitz-riley", order=USUAL_ORDER, hz=USUAL_CROSSOVER)
        told = "common practice: the job states none"
    band = "flat"
    if set_up.band is not None:
        hz, db, q = set_up.band
        band = f"one band at {_hertz(hz, units)}, {_signed(db)} dB, Q {q:g}; else flat"
    own = f"Set {_filter(set_up.high_pass, units)}" if set_up.high_pass.order else "Off: the design has none"
    settings = [
        f"Infrasonic high-pass. {own}.",
        (
            f"Crossover, the box's low-pass. Set {_filter(crossover, units)} ({told}), in the source or in the "
            "amplifier, not in both; the other loudspeakers get a high-pass of the same shape and frequency (common "
            "practice)."
        ),
        f"Equaliser. {first_up(band)}. Bass boost and loudness off: they raise what the gain does not know of.",
    ]
    if not set_up.held:
        return Part(title="Filters", steps=tuple(settings))
    levels = listed([show(hz, "frequency", units, 0) for hz in set_up.level_hz])
    note = (
        f"Volts of the {_tone(set_up, units)} tone in the next part with another high-pass, each at the gain at which "
        f"all limits hold with it; dB: how much louder or quieter than the design, mean of {levels}."
    )
    knobs = {(each.order, each.hz): each for each in set_up.knobs if each.order}
    (bare,) = (each for each in set_up.knobs if not each.order)
    rows = [
        (show(hz, "frequency", units, 0), *(_knob(knobs[order, hz], units) for order in KNOB_ORDERS)) for hz in KNOBS
    ]
    return Part(
        title="Filters",
        steps=tuple(settings),
        after=(
            (
                "If the amplifier's high-pass has other steps or slopes, set the nearest one it has, and set the gain "
                "to the volts that go with it in the table. Lower or less steep it protects less, so the gain is "
                "lower; higher it costs deep bass. Scales beside such knobs are rough (common practice, no source): "
                "between two lines take the lower volts."
            ),
        ),
        heading=("High-pass (Butterworth)", *(f"{6 * order} dB per octave" for order in KNOB_ORDERS)),
        rows=(("off", *(_knob(bare, units) for _ in KNOB_ORDERS)), *rows),
        note=note,
    )


def _gain(set_up: SetUp, units: Units) -> Part:
    used, tone, volts = set_up.used, _tone(set_up, units), _volts(set_up.volts, units)
    full = (
        f"{_watts(used.power, units)} into {_ohms(used.network.load)} are "
        f"{_volts(set_up.full_volts, units)}, the root of watts times ohms"
    )
    share = (
        f"The design takes {100.0 * set_up.gain:.0f} % of that voltage" if set_up.turned_down else "It takes all of it"
    )
    filters = "which the filters leave as it is"
    if abs(set_up.tone_db) >= _NO_DB:
        filters = f"which the filters change by {_signed(set_up.tone_db, 1)} dB, counted in"
    lines = [
        (
            f"{full}. {share}; the tone is one of {tone}, {filters}. With every filter off the same gain reads "
            f"{_volts(set_up.bypassed_volts, units)}."
        ),
        (
            f"{tone} lies where the filters do least, so a knob that is a little off hardly moves the reading; most "
            "meters are good there, few below 40 Hz."
        ),
        (
            "If the reading stops rising before that, or rises less than the knob is turned, the amplifier or the "
            "source clips: turn down until the reading clearly falls, and leave it there; the table tells what that "
            "costs. If it does not clip but the knob is at its end, the source gives too little: a higher volume of "
            "the source, or the amplifier's more sensitive input."
        ),
    ]
    cautions = [
        (
            "The loudspeaker stays disconnected until the voltage is set. Do not touch bare terminals while the tone "
            "plays, and let no probe bridge them."
        ),
    ]
    if not set_up.held:
        cautions.append("The job judges designs at full power, whatever that breaks: start well below, and listen.")
    left_out = "Set the filters as above"
    if not set_up.low_pass.order:  # the volts know nothing of one that the job does not state
        left_out += ", but leave the crossover out until the gain is set"
    steps = (
        (
            f"Take the box's plus lead off the amplifier. {left_out}, the amplifier's gain to its lowest. The "
            "supply is the one that the amplifier's power is stated at: engine running, out of doors, or a charger "
            "that carries it."
        ),
        (
            f"Play a sine of {tone} recorded at full level (0 dB, the most that a file holds), tone controls flat. Set "
            "the source's volume to the highest that you will ever use and that is clean; about three quarters is "
            "common practice. Mark it."
        ),
        "Set a true-RMS meter to AC volts and hold it to the amplifier's two loudspeaker terminals.",
        f"Turn the gain up slowly until it reads {volts}. Mark the knob.",
        "Stop the tone, switch the amplifier off, connect the box, and begin with music turned down.",
    )
    several = used.network.driver.coils > 1
    flat = ", filters flat" if abs(set_up.tone_db) >= _NO_DB else ""
    heading = (
        "Level",
        f"Meter, {tone}",
        f"Into the load{flat}",
        "Each driver",
        *(("Each coil",) if several else ()),
        "",
    )
    return Part(
        title="Gain",
        cautions=tuple(cautions),
        lines=tuple(lines[:1]),
        steps=steps,
        after=tuple(lines[1:]),
        heading=heading,
        rows=tuple(_level(each, set_up, units, several=several) for each in set_up.levels),
        note="Every dB more is 1.12 times the volts and 1.26 times the watts. A tone recorded below full level, at -6 "
        "dB say, is set to that line's volts: music then reaches the design's.",
    )  # fmt: skip


def _level(level: Level, set_up: SetUp, units: Units, *, several: bool) -> tuple[str, ...]:
    drawn = (level.power, level.driver_power, *((level.coil_power,) if several else ()))
    all_of_it = "all that the amplifier gives"
    words = ""
    if level.db > 0.0:
        words = f"passes that limit; {all_of_it}" if level is set_up.levels[-1] else "passes that limit"
    elif level.db == 0.0 and set_up.turned_down:
        at = f" at {_hertz(set_up.limited_hz, units)}" if math.isfinite(set_up.limited_hz) else ""
        words = f"this design: {MEETS[set_up.limited_by]}{at}"
    elif level.db == 0.0:
        words = f"this design: {all_of_it}"
    return (
        f"{_signed(level.db, 0 if level.db == round(level.db) else 1)} dB",
        _volts(level.volts, units),
        *(_watts(each, units) for each in drawn),
        words,
    )


def _first_music() -> Part:
    return Part(
        title="First music",
        cautions=(
            (
                "Loud sound harms hearing within minutes, and in a closed cabin it is louder than outdoors. Start low; "
                "wear protection for long tests."
            ),
            (
                "A smell of hot varnish, or an amplifier too hot to keep a hand on: switch off, let it cool, and find "
                "out why before you play on. Leave the amplifier the air that its instructions ask for."
            ),
        ),
        lines=(
            (
                "Listen for rattles, air that hisses, cones that knock: turn down at once where something knocks. If "
                "the amplifier shuts itself down, measure the resistance at the box's cable again."
            ),
        ),
    )


def _knob(knob: Knob, units: Units) -> str:
    change = sum(knob.levels) / len(knob.levels)
    return f"{_volts(knob.volts, units)}, {_signed(change, 1)} dB"


def _filter(filter_: Filter, units: Units) -> str:
    shape = SHAPES[filter_.shape].with_q(filter_.q)
    return f"{shape} at {_hertz(filter_.hz, units)}, {6 * filter_.order} dB per octave"


def _tone(set_up: SetUp, units: Units) -> str:
    return show(set_up.tone, "frequency", units, 0)


def _hertz(value: float, units: Units) -> str:
    return show(value, "frequency", units, 0 if value == round(value) else 1)


def _ohms(value: float) -> str:
    return f"{value:.3g} Ω"


def _volts(value: float, units: Units) -> str:
    return show(value, "voltage", units, 1)


def _watts(value: float, units: Units) -> str:
    return show(value, "power", units, 0)


def _signed(db: float, digits: int = 1) -> str:
    words = f"{db:+.{digits}f}"
    return words[1:] if float(words) == 0.0 else words
