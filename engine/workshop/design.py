"""What is drawn: one design with its solids, where it stands, and its panels as faces to measure on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.parts import Driver
from engine.space.arrangement import (
    Arrangement,
    DriverSolid,
    Frustum,
    Prism,
    RadiatorSolid,
    SlotSolid,
    VentSolid,
)
from engine.workshop.faces import Face, rectangle
from engine.workshop.projection import ACROSS, FORWARD, UP
from engine.workshop.slots import slot_length, within
from engine.workshop.vents import vent_length

Floats = NDArray[np.float64]

IN_LINE = 1e-6  # m
LOOSE = 0.15  # m, how far out of the box a vent is drawn that does not fit into it
STUMP = 1e-3  # m, what is left at least of a pipe that is cut short
SIDES = ("left side", "right side")


@dataclass(frozen=True, kw_only=True)
class Design:
    """One design: its solids in the box's axes, and what else a drawing of it says.

    ``place`` is the box's outer bottom back left corner in the space (x, y, z), m.
    """

    parts: Arrangement
    driver: Driver
    place: Floats = field(default_factory=lambda: np.zeros(3))
    round_over: float = 0.0  # m
    vent_length: float = math.nan  # m, as the front states it; nan: as the solids have it
    radiator: str = ""  # name of the passive radiators
    added_mass: float = 0.0  # kg, to each of their cones

    @property
    def width(self) -> float:
        return self.parts.outer.x[1] - self.parts.outer.x[0]

    @property
    def height(self) -> float:
        return float(np.ptp(self.parts.outer.section[:, 1]))

    @property
    def bottom_depth(self) -> float:
        corners = self.parts.outer.section
        return float(corners[1, 0] - corners[0, 0])

    @property
    def top_depth(self) -> float:
        corners = self.parts.outer.section
        return float(corners[2, 0] - corners[3, 0])

    @property
    def depth(self) -> float:
        """From the rearmost to the foremost point, m."""
        return float(np.ptp(self.parts.outer.section[:, 0]))

    @property
    def leans(self) -> tuple[float, float]:
        """Angles of back and baffle from upright, positive where they lean forward going up, rad."""
        corners = self.parts.outer.section
        back, baffle = corners[3] - corners[0], corners[2] - corners[1]
        return math.atan2(float(back[0]), float(back[1])), math.atan2(float(baffle[0]), float(baffle[1]))

    @property
    def low(self) -> Floats:
        """Least coordinates of the box in the space, (3,)."""
        low: Floats = self.place + np.array([self.parts.outer.x[0], *self.parts.outer.section.min(axis=0)])
        return low

    @property
    def high(self) -> Floats:
        """Greatest coordinates of the box in the space, (3,)."""
        high: Floats = self.place + np.array([self.parts.outer.x[1], *self.parts.outer.section.max(axis=0)])
        return high

    @property
    def cones(self) -> tuple[DriverSolid | RadiatorSolid, ...]:
        return *self.parts.drivers, *self.parts.radiators

    @property
    def cut(self) -> float:
        """Where the section is taken, m from the left outer face: through a driver or radiator, or in the middle."""
        across = [cone.x for cone in self.cones if cone.panel not in SIDES]
        return across[0] if across else 0.5 * (self.parts.outer.x[0] + self.parts.outer.x[1])

    @cached_property
    def vents(self) -> tuple[VentSolid, ...]:
        """As they are drawn: none whose mouth is far off the box, and none much beyond it, where vents do not fit."""
        low, high = self._nearby
        near = [vent for vent in self.parts.vents if np.all((vent.mouth > low) & (vent.mouth < high))]
        return tuple(self._cut_short(vent) for vent in near)

    @cached_property
    def slot(self) -> SlotSolid | None:
        """As it is drawn."""
        return None if self.parts.slot is None else within(self.parts.slot, *self._nearby)

    @property
    def all_drawn(self) -> bool:
        pipes = len(self.vents) == len(self.parts.vents) and all(
            drawn is vent for drawn, vent in zip(self.vents, self.parts.vents, strict=True)
        )
        return pipes and self.slot is self.parts.slot

    @property
    def _nearby(self) -> tuple[Floats, Floats]:
        return self.low - self.place - LOOSE, self.high - self.place + LOOSE

    def _cut_short(self, vent: VentSolid) -> VentSolid:
        last, bore = vent.pipe[-1], vent.bore[-1]
        if not (isinstance(last, Frustum) and isinstance(bore, Frustum)):
            return vent
        way = last.end - last.start
        low, high = self._nearby
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.where(way > 0.0, (high - last.start) / way, (low - last.start) / way)
        share = float(np.min(shares[way != 0.0], initial=np.inf))
        if share >= 1.0:
            return vent
        end = last.start + max(share, STUMP / float(np.linalg.norm(way))) * way
        return replace(
            vent,
            pipe=(*vent.pipe[:-1], replace(last, end=end)),
            bore=(*vent.bore[:-1], replace(bore, end=end)),
            free_air=replace(vent.free_air, start=end, end=end),
            rims=vent.rims[:1],
        )

    @cached_property
    def supports(self) -> tuple[Prism, ...]:
        """Blocks under what is drawn of the vents; where parts lie over one another nothing may be left of one."""
        far = self.parts.outer.x[1] + LOOSE
        return tuple(block for block in self.parts.supports if len(block.section) > 2 and block.x[1] <= far)

    @property
    def drivers_in_cut(self) -> tuple[DriverSolid, ...]:
        """Those whose axes lie in the section; all that face sideways, which it shows end on."""
        return tuple(
            driver for driver in self.parts.drivers if driver.panel in SIDES or abs(driver.x - self.cut) < IN_LINE
        )

    def in_cut(self, radiator: RadiatorSolid) -> bool:
        """Whether the section passes through a passive radiator's axis."""
        return radiator.panel not in SIDES and abs(radiator.x - self.cut) < IN_LINE

    @property
    def driven(self) -> str:
        """Name of the panel that the drivers are in."""
        return self.parts.drivers[0].panel if self.parts.drivers else "baffle"

    @property
    def length_of_vents(self) -> float:
        """Along the middle line of one vent, from the outer face to the inner mouth, m."""
        if math.isfinite(self.vent_length):
            return self.vent_length
        slot = self.parts.slot
        return vent_length(self.parts.vents[0]) if slot is None else slot_length(slot)

    def face(self, panel: str) -> Face:
        """The outer face of a panel."""
        corners, inner = self.parts.outer.section, self.parts.inner
        left, right = self.parts.outer.x
        rear, front, front_top, rear_top = (np.array([left, *corner]) for corner in corners)
        if panel in SIDES:
            corner = np.array([left if panel == "left side" else right, *corners[0]])
            return Face(
                corner=corner,
                across=FORWARD,
                up=UP,
                mirrored=panel == "right side",
                outline=corners - corners[0],
                inner=inner.section - corners[0],
            )
        low, high = {
            "bottom": (rear, front),
            "top": (rear_top, front_top),
            "back": (rear, rear_top),
            "baffle": (front, front_top),
        }[panel]
        along = (high - low) / float(np.linalg.norm(high - low))
        ends = {"bottom": (0, 1), "top": (3, 2), "back": (0, 3), "baffle": (1, 2)}[panel]
        start, end = (float((np.array([left, *inner.section[k]]) - low) @ along) for k in ends)
        return Face(
            corner=low,
            across=ACROSS,
            up=along,
            mirrored=panel == "back",
            outline=rectangle(0.0, right - left, 0.0, float(np.linalg.norm(high - low))),
            inner=rectangle(inner.x[0] - left, inner.x[1] - left, start, end),
        )


def holes(design: Design, panel: str) -> list[Floats]:
    """Centres (x, y, z) on the outer face of everything round that goes through a panel, corners of a slot's mouth."""
    parts = design.parts
    found = [cone.cutout.start for cone in design.cones if cone.panel == panel]
    found += [vent.mouth for vent in design.vents if vent.through == panel]
    if parts.cup is not None and parts.cup.panel == panel:
        found.append(parts.cup.body.start)
    if design.slot is not None and design.slot.through == panel:
        found += list(design.slot.mouth)
    return found


def axis_of(driver: DriverSolid) -> tuple[Floats, Floats]:
    """Ends (x, y, z) of a driver's axis: the flange's outer face, the rearmost point."""
    return driver.flange.start, driver.rear_air.start


def radiator_body(radiator: RadiatorSolid) -> list[Frustum]:
    """What of a passive radiator lies behind its panel: nothing of one that is no deeper than the board."""
    return [radiator.body] if float(np.linalg.norm(radiator.body.end - radiator.body.start)) > IN_LINE else []


def is_magnet(piece: Frustum) -> bool:
    """Whether a piece of a driver's body is the magnet: it does not narrow as the basket does."""
    return piece.radii[0] == piece.radii[1]
