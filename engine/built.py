"""What is built for a stated design's tuning: its vents' length, or the mass on its passive radiators; and back."""

from __future__ import annotations

import math
from typing import assert_never

from engine.acoustics import slots, vents
from engine.acoustics.turbulence import ENTRY
from engine.acoustics.turbulence import vent_loss as loss_of
from engine.errors import refusal
from engine.kinds import KINDS
from engine.stated_design import StatedDesign
from engine.words.voice import Quantity


def tuning(stated: StatedDesign) -> float:
    """Tuning of a stated design in Hz: as stated, or what comes of what is built; nan of a box that has none.

    Lumped (Thiele 1971; Small 1974): good while vent and box are short against the wavelength.

    >>> from dataclasses import replace
    >>> from engine.parts import Driver
    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=4.0, xmax=0.01, rated_power=300.0)
    >>> box = StatedDesign(driver=oak, voltage=20.0, box_kind="vented", volume=0.05, ql=7.0)
    >>> stated = replace(box, vent_count=1, vent_diameter=0.1, vent_length=0.4476)
    >>> round(tuning(stated), 2)
    30.0
    """
    if stated.tuning is not None:
        return stated.tuning
    match KINDS[stated.box_kind].opening:
        case "none":
            return math.nan
        case "vent":
            assert stated.vent_length is not None, "the reader sees to it that one of the two is stated"
            return _tuning_of_vents(stated, length=stated.vent_length)
        case "radiator":
            assert stated.added_mass is not None, "the reader sees to it that one of the two is stated"
            return _tuning_of_radiators(stated, added=stated.added_mass)
        case unknown:
            assert_never(unknown)


def vent_length(stated: StatedDesign) -> float | None:
    """Length in m of each vent of a vented design, ends excluded: as stated, or what gives the tuning.

    None where the box's own air is stated and the length is not.  Negative where the ends alone tune lower: such
    a vent cannot be made.  L = (c/ωb)²·n·S/(filling·vb) - ΔL (Thiele 1971), with ΔL of :mod:`engine.acoustics.vents`
    and :mod:`engine.acoustics.slots`; good while the vent is much shorter than a quarter of a wave.

    >>> from dataclasses import replace
    >>> from engine.parts import Driver
    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=4.0, xmax=0.01, rated_power=300.0)
    >>> box = StatedDesign(driver=oak, voltage=20.0, box_kind="vented", volume=0.05, ql=7.0)
    >>> stated = replace(box, vent_count=1, vent_diameter=0.1, tuning=30.0)
    >>> round(vent_length(stated), 4)
    0.4476
    """
    if stated.vent_length is not None or stated.has_own_air:
        return stated.vent_length
    return effective_length(stated, tuning=tuning(stated)) - _ends(stated)


def effective_length(stated: StatedDesign, *, tuning: float) -> float:
    """Length of each vent in m, both ends included, that tunes the box to ``tuning`` Hz."""
    size = {"volume": stated.volume, "diameter": bore(stated), "count": stated.vent_count}
    return float(vents.effective_length(tuning=tuning, **size, filling=stated.filling, air=stated.air))


def bore(stated: StatedDesign) -> float:
    """Diameter in m of a vent, or of the circle that has a slot's area."""
    if stated.vent_diameter is not None:
        return stated.vent_diameter
    assert stated.vent_width is not None, "the reader gives every vented design a bore"
    assert stated.vent_height is not None, "the reader gives every vented design a bore"
    return float(slots.equivalent_diameter(width=stated.vent_width, height=stated.vent_height))


def vent_loss(stated: StatedDesign) -> float:
    """K of a vent: the stated one, or what its ends and its length come to."""
    if stated.vent_loss is not None:
        return stated.vent_loss
    length = vent_length(stated)
    if length is None:
        length = effective_length(stated, tuning=tuning(stated)) - _ends(stated)
    across = bore(stated)
    if stated.vent_width is not None and stated.vent_height is not None:
        across = float(slots.hydraulic_diameter(width=stated.vent_width, height=stated.vent_height))
    entries = (ENTRY[stated.ends[0]], ENTRY[stated.ends[1]])
    return float(loss_of(length=max(length, 0.0), diameter=across, entries=entries))


def added_mass(stated: StatedDesign) -> float | None:
    """Mass in kg on each passive radiator; None where the box's own air is stated and the mass is not."""
    if stated.added_mass is not None or stated.has_own_air:
        return stated.added_mass
    assert stated.radiator is not None, "the reader gives every such design a radiator"
    return stated.radiator.mms * ((_tuning_of_radiators(stated, added=0.0) / tuning(stated)) ** 2 - 1.0)


def check(stated: StatedDesign, *, source: str) -> None:
    """Vents have some length, and nobody takes mass off a radiator.

    Raises InputFaults, naming ``source``, where no vent is short enough for the tuning or no radiator light enough.
    """
    if stated.tuning is None or stated.has_own_air:
        return
    match KINDS[stated.box_kind].opening:
        case "none":
            return
        case "vent":
            built, least, highest = vent_length(stated), 0.0, _tuning_of_vents(stated, length=0.0)
            key, code = "vent.tuning", "vent_shorter_than_none"
        case "radiator":
            # A radiator with nothing added is one, but for rounding.
            built, least, highest = added_mass(stated), -1e-9, _tuning_of_radiators(stated, added=0.0)
            key, code = "radiator.tuning", "radiator_lighter_than_bare"
        case unknown:
            assert_never(unknown)
    if built is not None and built <= least:
        raise refusal(source, code, key=key, value=f"{stated.tuning:g} Hz", highest=Quantity(highest, "frequency"))


def _tuning_of_vents(stated: StatedDesign, *, length: float) -> float:
    """Tuning in Hz that vents of a ``length`` in m give: it goes with 1/sqrt of their effective length."""
    return math.sqrt(effective_length(stated, tuning=1.0) / (length + _ends(stated)))


def _tuning_of_radiators(stated: StatedDesign, *, added: float) -> float:
    """Tuning in Hz of a box whose passive radiators carry ``added`` kg each; fb² = fp²·(1 + δ) (Small 1974)."""
    radiator = stated.radiator
    assert radiator is not None, "the reader gives every such design a radiator"
    box = stated.radiator_count * radiator.sd**2 * stated.air.stiffness / (stated.filling * stated.volume)
    return math.sqrt((1.0 / radiator.cms + box) / (radiator.mms + added)) / (2.0 * math.pi)


def _ends(stated: StatedDesign) -> float:
    """Length in m that the air outside both ends adds to a vent."""
    if stated.vent_width is None or stated.vent_height is None:
        return float(vents.end_correction(diameter=bore(stated), ends=stated.ends))
    flush = float(slots.flush_end(width=stated.vent_width, height=stated.vent_height))
    return sum(flush * (1.0 if end == "flush" else slots.FREE_OVER_FLUSH) for end in stated.ends)
