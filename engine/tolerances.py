"""By how much what is built and bought differs from the drawing and the data sheet: one record each.

All are standard deviations of something that spreads normally, those of figures of a data sheet of its logarithm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.field import Field
from engine.quantities import parse
from engine.registry import Registry


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """One thing that differs from box to box."""

    key: str  # in the table [tolerance] of a job
    label: str  # on a form
    thing: str  # what differs, as the end of "swings mostly by …"
    kind: str  # of quantity, or "ratio" of a share of the figure
    usual: str | float  # as it would stand in a file
    most: str | float
    help: str
    source: str  # of the usual value
    draws: tuple[str, ...]  # what differs by it, each by itself

    def __post_init__(self) -> None:
        if not all([self.label, self.thing, self.help, self.source, self.draws]):
            raise ValueError(f"the tolerance {self.key!r} is not whole: words are missing")

    @property
    def name(self) -> str:
        """What the registry knows it by."""
        return self.key

    @property
    def field(self) -> Field:
        """What may stand in a job for it."""
        none = 0 if isinstance(self.most, float) else f"0 {self.most.split()[1]}"
        words = f"Standard deviation of {self.help}"
        return Field(self.key, self.kind, words, none, self.most, default=self.usual)

    @property
    def deviation(self) -> float:
        """The usual one, SI."""
        return self.usual if isinstance(self.usual, float) else parse(self.usual, self.kind)


PRACTICE = "common practice, no source"


def _sheet(key: str, label: str, thing: str, usual: float, words: str, *draws: str) -> Tolerance:
    """A share of a figure of the data sheet."""
    said = f"{words}, as a share: {usual:g} is {100.0 * usual:g} %."
    return Tolerance(
        key=key, label=label, thing=thing, kind="ratio", usual=usual, most=0.4, help=said, source=PRACTICE,
        draws=draws or (key,),
    )  # fmt: skip


def _built(key: str, label: str, thing: str, usual: str, most: str, words: str, *draws: str) -> Tolerance:
    """Something cut, bought by size or set by the weather."""
    kind = {"mm": "length", "deg": "angle", "K": "temperature_difference"}[most.split()[1]]
    return Tolerance(
        key=key, label=label, thing=thing, kind=kind, usual=usual, most=most, help=f"{words}.", source=PRACTICE,
        draws=draws or (key,),
    )  # fmt: skip


# What varies from one driver to the next are its compliance, masses, magnet and coil, each by itself; fs, Vas and the Q
# follow: with these fs spreads by 5 %, Vas by 10 %, Qes by 8 %, Qms by 11 %.  The suspension varies most by far.
TOLERANCES: Registry[Tolerance] = Registry(
    _sheet("cms", "Compliance Cms", "the suspension, which sets fs and Vas", 0.10,
           "the compliance of suspensions, with which fs and Vas vary", "cms", "radiator_cms"),
    _sheet("mms", "Moving mass Mms", "the moving mass", 0.02, "the moving mass of cones", "mms", "radiator_mms"),
    _sheet("rms", "Mechanical resistance Rms", "the suspension's friction, which sets Qms", 0.10,
           "the friction of suspensions, with which Qms varies", "rms", "radiator_rms"),
    _sheet("bl", "Force factor Bl", "the force factor Bl, which sets Qes", 0.03,
           "the force factor, with which Qes varies"),
    _sheet("re", "Resistance Re", "the coil's resistance", 0.03, "the coil's resistance"),
    _sheet("le", "Inductance Le", "the coil's inductance", 0.05, "the coil's inductance, however it is stated"),
    _sheet("sd", "Cone area Sd", "the cone's area", 0.01, "the cone's area", "sd", "radiator_sd"),
    _sheet("xmax", "Xmax", "Xmax", 0.03, "Xmax", "xmax", "radiator_xmax"),
    Tolerance(
        key="board", label="Board thickness", thing="the board's thickness", kind="length", usual="0.1 mm", most="1 mm",
        help="the board's thickness from that measured.", draws=("board",),
        source="half of ±0.2 mm, EN 622-1 for fibreboard up to 19 mm, from memory",
    ),
    _built("size", "Outer sizes", "the sizes as cut", "0.5 mm", "10 mm", "each outer size as cut and glued",
           "outer_width", "outer_height", "bottom_depth", "top_depth"),
    _built("angle", "Slant of the baffle", "the baffle's slant", "0.25 deg", "3 deg", "the baffle's slant as sawn"),
    _built("vent_length", "Vent length", "the vents' length as cut", "2 mm", "20 mm", "the length of vents as cut"),
    _built("vent_bore", "Vent bore", "the vents' bore", "0.3 mm", "5 mm",
           "a pipe's bore and a slot's clear height"),
    _built("temperature", "Air temperature", "the air's temperature", "10 K", "30 K",
           "the air's temperature when it plays, from that of the job"),
)  # fmt: skip
DRAWS = tuple(draw for each in TOLERANCES.records for draw in each.draws)


def usual() -> dict[str, float]:
    """The deviations of a job that states none: key -> SI."""
    return {each.key: each.deviation for each in TOLERANCES.records}


def exact(**known: float) -> Mapping[str, float]:
    """No deviations but those ``known``, SI."""
    return dict.fromkeys(TOLERANCES, 0.0) | known
