"""One stated design: a box with its driver and drive, as a design file or a row of a front has it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine.acoustics.cabin import Cabin
from engine.acoustics.filters import NO_CHAIN, Chain
from engine.acoustics.vents import USUAL_ENDS, EndKind
from engine.air import REFERENCE_AIR, Air
from engine.goals import USUAL_LEVELS
from engine.parts import TONE_CREST, Driver, PassiveRadiator


@dataclass(frozen=True, kw_only=True)
class StatedDesign:
    """One box with its driver and drive, SI.

    A vented box has ``vent_diameter``, or ``vent_width`` and ``vent_height`` of a slot, and exactly one of
    ``vent_length`` and ``tuning``; one with a passive radiator exactly one of ``added_mass`` (kg, on each) and
    ``tuning``; a closed one none of these.  ``voltage`` is RMS at each driver's terminals before the filter; ``volume``
    is net; losses that are inf are none.  ``filter_order`` 0 is no filter, ``filter_q`` is of shape "own".

    ``inertance`` (kg/m⁴) and ``air_mass`` (kg on each cone) are of the air in a thin box, as
    :class:`engine.acoustics.circuit.Systems` has them.  Where either is not 0 the tuning must be stated, because it
    is then the true one and no length or mass tells it; the length or mass as built may stand beside it.
    What is played is a tone, of a ``crest_factor`` of 3 dB, unless that of music is stated.  ``vent_loss`` None is
    estimated; ``largest_dimension`` (m, inside the box) and ``first_mode`` (Hz, where the air in a thin box is stated)
    may be nan.
    """

    driver: Driver
    count: int = 1
    voltage: float
    box_kind: str
    volume: float
    ql: float
    qa: float = math.inf
    qp: float = math.inf
    filling: float = 1.0
    largest_dimension: float = math.nan
    first_mode: float = math.nan
    air_mass: float = 0.0
    inertance: float = 0.0
    vent_count: int = 0
    vent_diameter: float | None = None
    vent_width: float | None = None
    vent_height: float | None = None
    vent_length: float | None = None
    tuning: float | None = None
    ends: tuple[EndKind, EndKind] = USUAL_ENDS
    vent_loss: float | None = None
    radiator: PassiveRadiator | None = None
    radiator_count: int = 0
    added_mass: float | None = None
    filter_shape: str = "butterworth"
    filter_order: int = 0
    filter_hz: float = 0.0
    filter_q: float = math.nan
    chain: Chain = NO_CHAIN
    cabin: Cabin | None = None
    sweep: tuple[float, float, int] = (10.0, 200.0, 200)
    air: Air = REFERENCE_AIR
    vent_speed_limit: float = 17.0
    music_band: tuple[float, float] = (25.0, 80.0)
    crest_factor: float = TONE_CREST  # dB
    fed_from: float = 20.0  # Hz
    levels: tuple[float, ...] = USUAL_LEVELS  # Hz

    @property
    def has_own_air(self) -> bool:
        """Whether the air in the box is stated as a thin box's."""
        return self.air_mass != 0.0 or self.inertance != 0.0
