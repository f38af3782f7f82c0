"""The field's words as a builder would explain them: each once, found by where it stands.

Meanings are our own.  ``source`` is where a word is defined, from memory where it says so; without one it is common
use of the trade.
"""

from __future__ import annotations

from typing import NamedTuple

_THIELE = "Thiele 1971 and Small 1972 to 1974, from memory"
_IEC = "IEC 60268-5, from memory"


class Term(NamedTuple):
    """One word: what it is called, what it means, who defined it, and where it stands.

    ``places`` are the fields that ask for it (``driver.xmax``), the columns of a front that tell it (``f3_hz``) and the
    charts that draw it (``group_delay``).
    """

    key: str
    name: str
    meaning: str
    source: str = ""
    places: tuple[str, ...] = ()


# By what they are about, in the order of a page.
TOPICS: dict[str, tuple[Term, ...]] = {
    "What a box plays": (
        Term("f3", "f3, −3 dB frequency",
             "How low the box plays: going down the scale, the frequency at which it has fallen to half of its power,"
             " 3 dB. Each box is measured against its own level, so of two the one with the lower f3 may still play "
             "quieter down there: compare their levels for that.",
             _THIELE, ("f3_hz", "f3_cabin_hz", "f3_box_hz")),
        Term("level", "Level, dB",
             "How loud, told at 1 m in the open. 3 dB more takes twice the power, 10 dB sound about twice as loud. "
             "Around 1 dB is the least that anybody hears.",
             "", ("goals.levels", "response")),
        Term("max-output", "Maximum output",
             "The level at the most power that breaks no limit: of the amplifier, the coil's heat, the cone's travel,"
             " the air in the vent. At each frequency another of them is the first.",
             "", ("output_db", "output_cabin_db", "goals.music_band", "maximum_output")),
        Term("sensitivity", "Sensitivity",
             "How loud a driver plays for a given voltage or power, high up where the box no longer matters. Data "
             "sheets say it for 2.83 V or for 1 W at 1 m. A sensitive driver needs less amplifier, but seldom plays "
             "low in a small box.",
             _IEC),
        Term("group-delay", "Group delay",
             "How much later a note sets in than its neighbours. It is largest near the tuning and at the high-pass. "
             "Under about one period of the note, 33 ms at 30 Hz, hardly anybody notices.",
             "the period: common practice", ("group_delay",)),
        Term("distortion", "Distortion",
             "What a pure tone gets beside itself: overtones at twice, three times … its frequency, from a motor or a"
             " suspension that lets go, or from air that rushes. In the bass a few per cent pass unheard, 10 % and "
             "more do not.",
             _IEC),
        Term("cabin-gain", "In the vehicle",
             "A closed cabin is so small against a bass wave that all its air is pressed together at once: below some"
             " 60 Hz it gets louder than in the open, by up to 12 dB for each octave further down. Leaks take some of"
             " that away.",
             "", ("cabin.largest_dimension", "cabin.leak", "cabin.offset", "cabin_response")),
        Term("impedance", "Impedance, load",
             "What the amplifier has to work into, in ohm (Ω). It changes with frequency; the nominal figure stands "
             "near its least. Two coils or drivers in parallel have half of it, in series twice. Less than the "
             "amplifier allows can burn it. An ohmmeter reads less: the coils' resistance.",
             _IEC,
             ("load_ohm", "driver.coil_impedance", "amplifier.lowest_load", "amplifier.load.impedance", "given.load",
              "impedance")),
        Term("sweep", "Sweep of impedance",
             "The impedance of a finished box measured at many frequencies, one after the other, with a tone so "
             "soft that the cone hardly moves. Its peaks and the saddle between them tell what the box is tuned "
             "to, what leaks and what the driver really is."),
        Term("interval", "95 % interval",
             "Between its ends the true figure lies in 95 of 100 measurements like this one: how sure noise and "
             "number of points leave it. What is wrong in the same way at every point, such as a resistor "
             "misread, is not in it.",
             "common use in statistics"),
        Term("half-space", "At 1 m in the open",
             "As if the box lay on a large hard floor outdoors, with nothing else round it. It makes boxes "
             "comparable; a car is louder down low."),
    ),
    "The box": (
        Term("tuning", "Tuning",
             "The frequency at which the air in the vent and the air in the box swing against each other, as when one"
             " blows over a bottle. There the vent plays and the cone hardly moves; below it cone and vent work "
             "against each other, and output falls fast. A longer or narrower vent tunes lower.",
             _THIELE, ("tuning_hz", "tuning_within_hz", "tuning_lumped_hz", "bounds.tuning", "given.tuning")),
        Term("vent", "Vent, port",
             "The pipe or slot through which the air of a vented box swings. It takes over where the cone would have "
             "to move furthest, near the tuning. Slow air needs a wide vent, and a wide one has to be long.",
             _THIELE, ("vent_count", "vent_kind", "vent_length_m", "given.vent_length", "given.vent_count")),
        Term("port-air-speed", "Vent air speed",
             "How fast the air in the vent moves at its worst, peak. Under 17 m/s (56 ft/s) it is hardly heard, twice"
             " that huffs and costs output. A wider vent, rounded ends or less gain slow it.",
             "17 m/s, 5 % of the speed of sound: common practice",
             ("vent_speed_m_s", "goals.vent_speed_limit", "vent_mach", "vent_speed")),
        Term("passive-radiator", "Passive radiator",
             "A cone without a motor that does a vent's work, tuned by mass screwed onto it. It needs no length and "
             "does not huff, but it costs money, panel and travel of its own.",
             "Small 1974, from memory", ("radiator_ratio", "radiator_count", "notch_hz")),
        Term("closed", "Closed box",
             "No opening: the air in the box is a spring behind the cone. The smallest box and the gentlest fall "
             "towards the bottom, but not the loudest down there.",
             "Small 1972, from memory", ("box.kinds",)),
        Term("filling", "Filling",
             "Loose fibre that keeps the air in the box from heating up as it is pressed together, which makes it "
             "softer: a closed box acts as if it were up to some 20 % larger.",
             "", ("filling", "box.fillings", "given.filling")),
        Term("volume", "Net and gross volume",
             "Gross is what is between the boards. Net is what is left of it for air, with driver, vents and braces "
             "taken off; that is what the sound goes by.",
             "", ("net_volume_m3", "gross_volume_m3", "given.inside_volume")),
        Term("leakage", "Leakage, QL",
             "What seeps out through joints, cable and terminals. As a Q: the larger, the tighter. 7 is usual for a "
             "box with an opening and costs it a little level round its tuning.",
             _THIELE, ("box.ql",)),
        Term("brace", "Brace",
             "A frame, rib, strip or dowel across the inside that keeps a large panel from swinging along.",
             "", ("stock.brace_span", "brace_count", "brace_form")),
        Term("bevel", "Bevel",
             "The slant at which an edge is sawn, from square. Each other angle is another setting of the saw.",
             "", ("bevel_angles", "saw.most_bevel", "saw.angle_step")),
        Term("baffle", "Baffle",
             "The front panel, in which the drivers usually sit.",
             "", ("baffle", "box.baffles", "box.baffle_recess", "baffle_angle_deg", "held.baffle_angle")),
        Term("standing-wave", "Standing wave",
             "Above some frequency a wave fits into the box between two walls and rings. Below it the box is one lump"
             " of air, which is what all figures here take it for.",
             "", ("first_mode_hz", "model_to_hz", "vent_resonance_hz")),
    ),
    "The driver": (
        Term("thiele-small", "Thiele/Small parameters",
             "The few figures that say how a driver behaves in the bass: fs, Qes, Qms, Vas and what follows from "
             "them. They hold for small signals.",
             _THIELE),
        Term("fs", "fs, resonance",
             "Where the cone swings by itself when one taps it, out of the box.",
             _THIELE, ("driver.fs", "radiator.fs")),
        Term("qts", "Qts, Qes, Qms",
             "How soon the cone comes to rest: Qms through the suspension alone, Qes through the motor alone, Qts "
             "through both. A strong motor has a low Qts. Around 0.4 suits vented boxes, 0.5 and more closed ones.",
             _THIELE, ("driver.qts", "driver.qes", "driver.qms", "radiator.qms")),
        Term("vas", "Vas",
             "How soft the suspension is, told as a volume of air that is as soft under the same cone. A large Vas "
             "asks for a large box.",
             _THIELE, ("driver.vas", "radiator.vas")),
        Term("sd", "Sd, cone area",
             "The area that pushes air: the cone's, with half of the surround.",
             _THIELE, ("driver.sd", "radiator.sd")),
        Term("mms", "Mms, moving mass",
             "All that moves with the cone, the air that clings to it included; in grams in every country.",
             _THIELE, ("driver.mms", "cone_air_kg")),
        Term("cms", "Cms, compliance",
             "How far the suspension gives for a force; the other way to tell Vas.",
             _THIELE, ("driver.cms",)),
        Term("bl", "Bl, force factor",
             "How hard the motor pushes for an ampere.",
             _THIELE, ("driver.bl", "driver.bl_at_xmax")),
        Term("re", "Re, resistance of the coil",
             "What an ohmmeter says at the terminals. It is less than the nominal impedance.",
             _THIELE, ("driver.re",)),
        Term("le", "Le, inductance of the coil",
             "Makes the driver quieter and its impedance higher towards the top. A coil round iron is no plain "
             "inductance; where the sheet says more, a second inductance and resistance (L2, R2), an exponent or "
             "Wright's four numbers come nearer.",
             "Leach 2002; Wright 1990; L2 and R2: Dodd, Klippel and Oclee-Brown 2004; from memory",
             ("driver.le", "driver.l2", "driver.r2", "driver.inductance_exponent", "driver.inductance_kr",
              "driver.inductance_xr", "driver.inductance_ki", "driver.inductance_xi")),
        Term("xmax", "Xmax",
             "How far the cone may move one way before coil or suspension lets go. Sheets that say it from end to end"
             " mean twice as much: halve it.",
             "Small 1973, from memory", ("driver.xmax", "radiator.xmax", "excursion_ratio")),
        Term("excursion", "Excursion",
             "How far the cone moves one way. To play as loud an octave lower it has to move four times as far, but "
             "for the dip at a vented box's tuning.",
             "", ("excursion", "radiator_excursion")),
        Term("rated-power", "Rated power",
             "What the coil bears for hours. The peak figure on the carton is not it.",
             _IEC, ("driver.rated_power",)),
        Term("heat", "Heat of the coil",
             "A hot coil has more resistance and so takes less power: at full drive a driver plays 1 to 3 dB less "
             "than its small figures say.",
             "", ("driver.thermal_resistance", "driver.coil_metal", "compression_db", "coil_rise_k", "compression",
              "coil_rise")),
    ),
    "The signal": (
        Term("high-pass", "High-pass",
             "A filter that lets through what lies above a frequency. Put under the music it spares the cone what a "
             "vented box cannot hold: infrasonic bass that nobody hears.",
             "", ("filter.kind", "filter.frequency", "filter_hz", "given.filter.frequency")),
        Term("order", "Order, slope",
             "How steeply a filter falls: 6 dB an octave for each order.",
             "", ("filter.order", "filter_order", "chain.low_pass_order", "given.filter.order")),
        Term("filter-shape", "Shape and Q of a filter",
             "How it bends at its frequency: flat as long as it can (Butterworth), at half the voltage there "
             "(Linkwitz-Riley), gently (Bessel), or with a Q of one's own: above 0.71 it lifts what lies just above.",
             "",
             ("filter.shape", "filter.q", "filter_shape", "filter_q", "chain.band_q", "given.filter.shape",
              "given.filter.q")),
        Term("crossover", "Crossover",
             "The low-pass above which the other loudspeakers take over.",
             "", ("chain.low_pass", "chain.low_pass_frequency")),
        Term("gain", "Gain",
             "How far the amplifier is turned up. Each box is told at the one setting at which it holds every limit "
             "at every frequency it is fed; turned up further, something gives.",
             "", ("power_share", "gain_limited_by", "gain_limited_hz", "goals.drive", "goals.fed_from")),
        Term("true-rms", "Volts RMS",
             "The voltage of a tone that heats as much as the same steady voltage; a true-RMS meter reads it. Twice "
             "the volts are four times the watts, 6 dB."),
        Term("polarity", "Polarity",
             "Which way a cone moves when its plus is made positive: outwards. Cones that move against each other "
             "cancel their bass."),
        Term("crest-factor", "Crest factor",
             "By how much the peaks of music stand above its mean. The cone follows the peaks, heat the mean.",
             "6 dB: the noise that stands for music in IEC 60268, from memory", ("amplifier.crest_factor",)),
    ),
    "Choosing": (
        Term("front", "Front",
             "The boxes of which none is beaten: for each, every other one is worse in something you care for. Which "
             "of them is best is yours to say.",
             "Pareto 1896, from memory", ("goals.objectives",)),
        Term("balanced", "Balanced",
             "The box that is nowhere among the worst: its weakest side is the strongest. A place to start from, no "
             "verdict."),
        Term("tolerance", "Tolerance",
             "By how much what is built differs from the drawing, and a driver from its sheet. Told as a standard "
             "deviation: two of three stay within it, 19 of 20 within twice as much.",
             "", ("tolerance",)),
    ),
    "The space": (
        Term("margin", "Margin and clearance",
             "The margin is kept free all round the box; a clearance is more room on one side, for trim, a hand or a "
             "seat's travel.",
             "", ("space.margin", "space.clearance")),
        Term("keep-out", "Keep-out",
             "What stays where it is: a wheel arch, a bracket, a belt's reel. No box goes there.",
             "", ("space.keepout",)),
        Term("openness", "Openness",
             "How much of what surrounds the box lets air through into the cabin. Air that is shut in before a cone "
             "or vent weighs it down and tunes the box lower.",
             "", ("space.openness",)),
        Term("breathing-gap", "Breathing gap",
             "Air kept free round basket, magnet and vents, so that nothing is choked.",
             "", ("box.breathing_gap",)),
    ),
}  # fmt: skip


def _by(attribute: str) -> dict[str, Term]:
    """The terms by their key or by each of their places.  Raises ValueError where two claim one."""
    found: dict[str, Term] = {}
    for term in (term for terms in TOPICS.values() for term in terms):
        for name in (term.key,) if attribute == "key" else term.places:
            if name in found:
                raise ValueError(f"{name!r} is explained twice: by {found[name].key!r} and {term.key!r}")
            found[name] = term
    return found


TERMS = _by("key")
_PLACES = _by("places")


def term_at(place: str) -> Term | None:
    """The word that a field ("driver.xmax"), column or chart needs explained; None where it needs none.

    What is explained for a table holds for every field of it.
    """
    if place.startswith("level_"):  # of a front: at a frequency that the job names
        return TERMS["level"]
    return _PLACES.get(place) or (_PLACES.get(place.rpartition(".")[0]) if "." in place else None)
