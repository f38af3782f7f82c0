"""One stated design, worked out whole: the figures and curves behind ``wedgefront evaluate``."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from engine.acoustics import vents
from engine.acoustics.circuit import Systems
from engine.acoustics.curves import curves
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.acoustics.limits import LIMITS
from engine.design_file import StatedDesign
from engine.errors import Fault, InputFaults

Result = dict[str, float | str | list[float | str | None] | None]


def evaluate(stated: StatedDesign, *, source: str = "design") -> Result:
    """Figures and curves of one design; flat keys, SI units, None where a figure does not apply.

    Sound is at 1 m in half space, impedance at one driver's terminals, excursion and air
    speed are peak at full drive with the filter in.  Whatever sweep is asked for,
    the worst values are those from 10 Hz to 200 Hz.

    Raises InputFaults, naming ``source``, where no vent is short enough for the tuning.
    """
    length = _vent_length(stated) if stated.box_kind == "vented" else None
    if length is not None and length <= 0.0:
        raise InputFaults([_untunable(stated, source)])
    system = systems_of(stated)
    start, stop, points = stated.sweep
    sweep = np.geomspace(start, stop, points)
    found = figures(
        system,
        music_band=stated.music_band,
        vent_speed_limit=stated.vent_speed_limit,
        frequency=FIGURES_GRID,
    )
    curve = curves(system, frequency=sweep, vent_speed_limit=stated.vent_speed_limit)
    vented = stated.box_kind == "vented"
    f3 = _number(found.f3[0])
    return {
        "tuning_hz": float(system.tuning[0]) if vented else None,
        "vent_length_m": length,
        "f3_hz": f3,
        "f3_reason": None if f3 is not None else _no_f3(float(found.f3_shortfall[0])),
        "f3_box_hz": _number(found.f3_box[0]),
        "reference_db": _number(found.reference_db[0]),
        "output_db": _number(found.output_db[0]),
        "excursion_ratio": _number(found.excursion_ratio[0]),
        "excursion_worst_hz": _number(found.excursion_hz[0]),
        "vent_speed_m_s": _number(found.vent_speed[0]) if vented else None,
        "vent_speed_worst_hz": _number(found.vent_speed_hz[0]) if vented else None,
        "vent_mach": _number(found.vent_mach[0]) if vented else None,
        "frequency_hz": _numbers(sweep),
        "spl_db": _numbers(curve.spl_db[0]),
        "excursion_peak_m": _numbers(curve.excursion_peak_m[0]),
        "vent_speed_peak_m_s": _numbers(curve.vent_speed_peak_m_s[0]) if vented else [None] * points,
        "impedance_ohm": _numbers(curve.impedance_ohm[0]),
        "impedance_phase_deg": _numbers(curve.impedance_phase_deg[0]),
        "group_delay_s": _numbers(curve.group_delay_s[0]),
        "max_output_db": _numbers(curve.max_output_db[0]),
        "limited_by": [LIMITS[code] for code in curve.limited_by[0]],
    }


def systems_of(stated: StatedDesign) -> Systems:
    """The stated design as a batch of one, its tuning worked out where the file gives the vent's length."""
    vented = stated.box_kind == "vented"
    return Systems.of(
        stated.driver,
        count=stated.count,
        voltage=stated.voltage,
        volume=stated.volume,
        filling=stated.filling,
        ql=stated.ql,
        qa=stated.qa,
        qp=stated.qp,
        tuning=_tuning(stated) if vented else math.nan,
        vent_count=stated.vent_count if vented else 0,
        vent_area=float(vents.vent_area(diameter=_diameter(stated))) if vented else math.nan,
        filter_order=stated.filter_order,
        filter_hz=stated.filter_hz,
        air=stated.air,
    )


def _tuning(stated: StatedDesign) -> float:
    if stated.tuning is not None:
        return stated.tuning
    assert stated.vent_length is not None, "the reader sees to it that one of the two is stated"
    return _tuning_of(stated, length=stated.vent_length)


def _tuning_of(stated: StatedDesign, *, length: float) -> float:
    return float(vents.tuning_from_length(length=length, air=stated.air, ends=stated.ends, **_vents_and_box(stated)))


def _vent_length(stated: StatedDesign) -> float:
    if stated.vent_length is not None:
        return stated.vent_length
    tuning = _tuning(stated)
    return float(vents.length_from_tuning(tuning=tuning, air=stated.air, ends=stated.ends, **_vents_and_box(stated)))


def _vents_and_box(stated: StatedDesign) -> dict[str, float]:
    return {
        "volume": stated.volume,
        "diameter": _diameter(stated),
        "count": stated.vent_count,
        "filling": stated.filling,
    }


def _untunable(stated: StatedDesign, source: str) -> Fault:
    return Fault(
        source,
        "vent.tuning",
        f"{stated.tuning:g} Hz",
        f"expected less than {_tuning_of(stated, length=0.0):.1f} Hz, which a mere hole of this diameter gives: "
        "lower the tuning, widen the vent or add one",
    )


def _diameter(stated: StatedDesign) -> float:
    assert stated.vent_diameter is not None, "the reader gives every vented design a vent"
    return stated.vent_diameter


def _no_f3(shortfall: float) -> str:
    return (
        f"the response is still {shortfall:.1f} dB below the -3 dB line at 200 Hz: "
        "this driver in this box has no bass output to speak of"
    )


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _numbers(values: NDArray[np.float64]) -> list[float | str | None]:
    return [_number(value) for value in values]
