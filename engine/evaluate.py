"""One stated design, worked out whole: the figures and curves behind ``wedgefront evaluate``."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from engine import built
from engine.acoustics import vents
from engine.acoustics.cabin import ESTIMATE, MeasuredCabin, gain_db, mean_gain_db
from engine.acoustics.circuit import Systems
from engine.acoustics.curves import curves
from engine.acoustics.distortion import distortion
from engine.acoustics.figures import FIGURES_GRID, Figures, figures
from engine.acoustics.filters import section_qs
from engine.acoustics.gain import FULL_DRIVE, Use, gain_of
from engine.acoustics.heating import duty
from engine.acoustics.large_signal import respond_large
from engine.acoustics.limits import LIMITS, level_db
from engine.acoustics.recommend import CHOICES, CUTOFFS, UNNEEDED, recommend
from engine.acoustics.validity import validity, words
from engine.arrays import Floats
from engine.kinds import KINDS
from engine.stated_design import StatedDesign

Result = dict[str, float | str | bool | list[float | str | None] | None]

_NO_F3 = (
    "the response is still {:.1f} dB below the -3 dB line at 200 Hz: "
    "this driver in this box has no bass output to speak of"
)
_PLAIN_CURVES = ("impedance_ohm", "impedance_phase_deg", "group_delay_s", "max_output_db", "compression_db")


def evaluate(stated: StatedDesign, *, source: str = "design", use: Use = FULL_DRIVE) -> Result:
    """Figures and curves of one design; flat keys, SI units, None where a figure does not apply.

    ``stated`` is a design as :func:`engine.formats.design.parse_design` reads it, ``source`` what faults call it, such
    as the name of its file.  Raises InputFaults where no vent is short enough for the tuning or no passive radiator
    light enough.

    Sound is at 1 m in half space unless its key says ``cabin``, impedance at one driver's terminals of a cold coil,
    excursion and air speed are peak at full drive, the stated voltage, with the filter in.  Whatever sweep is asked
    for, the worst values are those from ``worst_from_hz``, 10 Hz, to 200 Hz, and ``coil_rise_k`` and
    ``compression_worst_db`` those over the music band at maximum output.  A ``use`` has its worst values from where it
    is fed, and all of that at its gain where it is turned down: ``at_gain`` says so.  ``gain`` is the largest share of
    that voltage, one setting, at which everything holds its limits from ``fed_from_hz`` to 200 Hz, ``level_db`` are the
    levels at it at ``level_hz`` and ``level_distortion`` about what tones distort there.  Other lists have a value a
    point of the sweep.
    ``model_to_hz`` and ``beyond_model`` say where the model stops, ``tuning_within_hz`` how far the tuning may be off.

    >>> from engine.formats.design import parse_design
    >>> driver = {"fs": "30 Hz", "qes": 0.4, "qms": 5, "vas": "100 L", "sd": "330 cm^2", "re": "4 ohm", "le": "1 mH"}
    >>> driver |= {"xmax": "10 mm", "rated_power": "300 W"}
    >>> box, vent = {"kind": "vented", "volume": "70 L"}, {"diameter": "100 mm", "tuning": "32 Hz"}
    >>> tables = {"driver": driver, "drive": {"voltage": "20 V"}, "box": box, "vent": vent}
    >>> found = evaluate(parse_design(tables, source="example"))
    >>> round(found["f3_hz"], 1), round(found["vent_length_m"], 3)
    (34.4, 0.254)
    >>> len(found["spl_db"]) == len(found["frequency_hz"])
    True
    """
    built.check(stated, source=source)
    system, sweep, limit = systems_of(stated), np.geomspace(*stated.sweep), stated.vent_speed_limit
    asked: dict[str, Any] = {"music_band": stated.music_band, "vent_speed_limit": limit, "cabin": stated.cabin}
    found = figures(system, **asked, frequency=FIGURES_GRID, exact=True, use=use)
    curve = curves(system, frequency=sweep, vent_speed_limit=limit, gain=None if use.full_drive else found.gain)
    kind = KINDS[stated.box_kind]
    vented, radiating = kind.opening == "vent", kind.opening == "radiator"
    nothing: list[float | str | None] = [None] * len(sweep)
    f3 = _number(found.f3[0])
    return {
        "tuning_hz": float(system.tuning[0]) if kind.tuned else None,
        "vent_length_m": built.vent_length(stated) if vented else None,
        "vent_loss": float(system.vent_loss[0]) if vented else None,
        "radiator_added_mass_kg": built.added_mass(stated) if radiating else None,
        "radiator_notch_hz": _number(system.notch_hz[0]) if radiating else None,
        "f3_hz": f3,
        "f3_reason": None if f3 is not None else _NO_F3.format(found.f3_shortfall[0]),
        "f3_box_hz": _number(found.f3_box[0]),
        "reference_db": _number(found.reference_db[0]),
        "output_db": _number(found.output_db[0]),
        "at_gain": not use.full_drive,
        "worst_from_hz": use.fed_from,
        "excursion_ratio": _number(found.excursion_ratio[0]),
        "excursion_worst_hz": _number(found.excursion_hz[0]),
        "vent_speed_m_s": _number(found.vent_speed[0]) if vented else None,
        "vent_speed_worst_hz": _number(found.vent_speed_hz[0]) if vented else None,
        "vent_mach": _number(found.vent_mach[0]) if vented else None,
        "radiator_ratio": _number(found.radiator_ratio[0]) if radiating else None,
        "radiator_worst_hz": _number(found.radiator_hz[0]) if radiating else None,
        "coil_rise_k": _number(found.coil_rise[0]),
        "compression_worst_db": _number(found.compression_db[0]),
        **_in_the_vehicle(stated, found),
        **_as_used(stated, system),
        **_where_it_stops(stated, system, found),
        **_recommended(stated, system),
        "frequency_hz": _numbers(sweep),
        "spl_db": _numbers(curve.spl_db[0]),
        "spl_cabin_db": nothing if stated.cabin is None else _numbers(curve.spl_db[0] + gain_db(stated.cabin, sweep)),
        "excursion_peak_m": _numbers(curve.excursion_peak_m[0]),
        "vent_speed_peak_m_s": _numbers(curve.vent_speed_peak_m_s[0]) if vented else nothing,
        "radiator_excursion_peak_m": _numbers(curve.radiator_excursion_peak_m[0]) if radiating else nothing,
        **{name: _numbers(getattr(curve, name)[0]) for name in _PLAIN_CURVES},
        "limited_by": [LIMITS[code] for code in curve.limited_by[0]],
    }


def systems_of(stated: StatedDesign) -> Systems:
    """The stated design as a batch of one, its tuning worked out where the file gives what is built for it."""
    vented = KINDS[stated.box_kind].opening == "vent"
    same = ("count", "voltage", "volume", "filling", "ql", "qa", "qp", "air_mass", "radiator", "filter_order")
    q, q2 = section_qs(shape=stated.filter_shape, order=stated.filter_order, own_q=stated.filter_q)
    system = Systems.of(
        stated.driver,
        **{name: getattr(stated, name) for name in (*same, "filter_hz", "chain", "air")},
        kind=stated.box_kind,
        tuning=built.tuning(stated),
        mutual=stated.inertance,
        vent_count=stated.vent_count if vented else 0,
        vent_area=float(vents.vent_area(diameter=built.bore(stated))) if vented else math.nan,
        vent_loss=built.vent_loss(stated) if vented else 0.0,
        radiator_count=0 if stated.radiator is None else stated.radiator_count,
        filter_q=q,
        filter_q2=q2,
    )
    heated = duty(stated.crest_factor)
    return replace(system, thermal=heated * system.thermal, rated_power=system.rated_power / heated)


def _as_used(stated: StatedDesign, system: Systems) -> Result:
    """Gain, what sets it, and the levels at it."""
    gain, hz, limit = gain_of(system, fed_from=stated.fed_from, vent_speed_limit=stated.vent_speed_limit)
    hertz = np.array(stated.levels)
    heard = respond_large(system, frequency=hertz, gain=gain)
    levels = level_db(heard.pressure[0] ** 2)
    in_vehicle = None if stated.cabin is None else _numbers(levels + gain_db(stated.cabin, hertz))
    return {
        "gain": _number(gain[0]),
        "power_share": _number(gain[0] ** 2),
        "gain_limited_by": LIMITS[int(limit[0])],
        "gain_limited_hz": _number(hz[0]),
        "fed_from_hz": stated.fed_from,
        "level_hz": _numbers(hertz),
        "level_db": _numbers(levels),
        "level_cabin_db": in_vehicle,
        "level_distortion": _numbers(distortion(heard)[0]),
    }


def _in_the_vehicle(stated: StatedDesign, found: Figures) -> Result:
    if stated.cabin is None:
        return {"f3_cabin_hz": None, "output_cabin_db": None}
    gain = mean_gain_db(stated.cabin, music_band=stated.music_band)
    return {"f3_cabin_hz": _number(found.f3_cabin[0]), "output_cabin_db": _number(found.output_db[0] + gain)}


def _where_it_stops(stated: StatedDesign, system: Systems, found: Figures) -> Result:
    """Up to where the model holds, how far the tuning may be off, and what it does not cover, a sentence each."""
    length = math.nan
    if system.vented[0]:
        length = built.effective_length(stated, tuning=float(system.tuning[0]))
    lengths = {"largest_dimension": np.array([stated.largest_dimension]), "vent_length": np.array([length])}
    where = validity(system, found, **lengths, music_band=stated.music_band, first_mode=np.array([stated.first_mode]))
    return {
        "model_to_hz": _number(where.model_to_hz[0]),
        "tuning_within_hz": _number(where.tuning_within[0]),
        "beyond_model": [*words(where, found, 0), *unsure_in_the_vehicle(stated)],
    }


def unsure_in_the_vehicle(stated: StatedDesign) -> list[str]:
    """What a reader should know of what the vehicle adds, a sentence where there is anything."""
    if isinstance(stated.cabin, MeasuredCabin):
        held = stated.cabin.held_within(stated.music_band)
        return [f"In the vehicle {held}."] if held else []
    if stated.cabin is not None:
        return [f"What the vehicle adds is {ESTIMATE}: measured cars differ from it by several dB."]
    return []


def _recommended(stated: StatedDesign, system: Systems) -> Result:
    """The high-pass with which it plays loudest at one gain, and the gain, levels and f3 with it; None without one."""
    use = Use(fed_from=stated.fed_from, levels=stated.levels)
    found = recommend(system, use=use, vent_speed_limit=stated.vent_speed_limit)
    choice, low, high = int(found.choice[0]), *CUTOFFS
    told: Result = dict.fromkeys(("shape", "order", "hz", "q", "reason"))
    if choice >= 0:
        best = CHOICES[choice]
        told |= {"shape": best.shape, "order": best.order, "hz": float(found.hz[0]), "q": _number(best.own_q)}
    elif choice == UNNEEDED:
        told["reason"] = "not needed: without a high-pass nothing passes a limit at full drive"
    else:
        told["reason"] = (
            f"none from {low:g} Hz to {high:g} Hz makes it play louder: turn down by {found.turned_down_db[0]:.1f} dB"
        )
    with_it: Result = {
        "f3_recommended_hz": _number(found.f3[0]),
        "gain_recommended": _number(found.gain[0]),
        "level_recommended_db": _numbers(found.levels[0]),
    }
    return {
        **{f"filter_recommended_{key}": value for key, value in told.items()},
        **{key: value if choice >= 0 else None for key, value in with_it.items()},
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _numbers(values: Floats) -> list[float | str | None]:
    return [_number(value) for value in values]
