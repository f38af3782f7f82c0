"""What pipes and slots have in common: a bore of air that is a lump, loses what a jet loses and resounds by itself."""

from __future__ import annotations

import numpy as np

from engine.acoustics import turbulence
from engine.arrays import Floats, Number
from engine.constraint import Slack
from engine.field import Field
from engine.openings.record import Group, Limit

CUT_LENGTH = (
    Field("vent_length", "length", "Length that is cut, along the centre line from the panel's outer face to the inner "
          "mouth; in place of the tuning.", low="5 mm", high="5000 mm"),
    "Vent, length cut",
)  # fmt: skip
BUILT = (CUT_LENGTH[0].key, "vent_length_m")
RANGE_TOP = 200.0  # Hz, up to which a response is judged


def _too_long(group: Group) -> Floats:
    """By how much vents are too long, (M,) m: one half a wave long is no lump of air any more.

    Open at both ends, end corrections included (Rayleigh); its first resonance has to lie above ``RANGE_TOP``.
    """
    longest = 0.5 * group.scenario.air.c / RANGE_TOP
    excess = group.laid("vent_acoustic_length") + group.laid("vent_ends") - longest
    return np.asarray(np.nan_to_num(excess, nan=-longest))


RESONANCE = Limit(
    "vent resonance",
    "a vent short enough to have its own resonance above 200 Hz",
    "the vents would become so long that their own pipe resonance falls below 200 Hz",
    excess=_too_long,
    eased_by_tuning=True,
)
SLACKS = (
    Slack("vent length", "a vent length that tunes this volume",
          "the vents would have to be shorter than the board is thick, or no length would tune it", voids=True,
          eased_by_tuning=True),
    Slack("vent room", "room for the vents beside panels and drivers", "the vents would meet the driver or a panel",
          eased_by_tuning=True),
    Slack("vent run", "length for the vents and the air before their mouths",
          "the vents would leave less than one bore of air before their inner mouths",
          eased_by_tuning=True),
    Slack("vent outside", "air before the vents' outer mouths",
          "the space leaves too little air before the vents' outer mouths"),
)  # fmt: skip


def cut(group: Group) -> dict[str, float]:
    """The length that is cut of one design laid out, by the field that states it."""
    return {BUILT[0]: float(group.laid("vent_length")[0])}


def circuit(group: Group, *, count: Floats, entries: tuple[Number, Number], bend: float) -> dict[str, Floats]:
    """Entries of the circuit of ``count`` vents, (M,), with the loss of each end and of a ``bend``, in ½ρw²."""
    length, diameter = group.laid("vent_acoustic_length"), group.laid("vent_hydraulic")
    bends = group.laid("vent_bends").astype(float) * bend
    loss = turbulence.vent_loss(length=length, diameter=diameter, entries=entries, bends=bends)
    return {"vent_count": count.astype(float), "vent_area": group.laid("vent_area"), "vent_loss": np.nan_to_num(loss)}
