"""Designs made by hand, piece by piece, to be drawn: no search and no layout has a say in them."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from engine.parts import Driver, KeepOut, Space
from engine.space.arrangement import (
    Arrangement,
    Bend,
    CupSolid,
    DriverSolid,
    Frustum,
    Prism,
    VentSolid,
)
from engine.space.wedge import Wedges
from engine.workshop.design import Design

Floats = NDArray[np.float64]

BOARD = 0.018
HOSTILE = '<b onload="x">&amp; "10"</b> \x00'

DRIVER = Driver(
    name="round 10", fs=30.0, qes=0.5, qms=5.0, vas=0.04, sd=0.033, re=3.4, xmax=0.01, rated_power=300.0,
    outer_diameter=0.262, cutout_diameter=0.234, magnet_diameter=0.15, mounting_depth=0.11,
    magnet_depth=0.04, rear_gap=0.012, terminal_depth=0.08,
)  # fmt: skip

SPACE = Space(
    section=((0.0, 0.0), (0.62, 0.0), (0.7, 0.3), (0.6, 0.58), (0.12, 0.58)),
    width=1.25,
    margin=0.008,
    keepouts=(
        KeepOut(name="wheel arch", section=((0.0, 0.0), (0.3, 0.0), (0.22, 0.2), (0.0, 0.24)), across=(0.0, 0.16)),
        KeepOut(name="jack", section=((0.5, 0.0), (0.62, 0.0), (0.62, 0.16), (0.5, 0.16)), across=(0.4, 0.7)),
        KeepOut(
            name="hinge of the seat", section=((0.3, 0.5), (0.42, 0.5), (0.42, 0.58), (0.3, 0.58)), across=(1.2, 1.25)
        ),
    ),
)


def panels_of(wedge: Wedges) -> tuple[Prism, ...]:
    """Six panels with butt joints whose ends follow back and baffle; good enough to be drawn."""
    outer, inner, width = wedge.outer_section[0], wedge.inner_section[0], float(wedge.outer_width[0])

    def cross(z: float, low: Floats, high: Floats) -> Floats:
        part = (z - low[1]) / (high[1] - low[1])
        return low + part * (high - low)

    low, high = wedge.board, float(wedge.outer_height[0]) - wedge.board
    back = [cross(z, outer[0], outer[3]) for z in (low, high)]
    front = [cross(z, outer[1], outer[2]) for z in (low, high)]
    between = (wedge.board, width - wedge.board)
    return (
        Prism(name="left side", section=outer, x=(0.0, wedge.board)),
        Prism(name="right side", section=outer, x=(width - wedge.board, width)),
        Prism(name="bottom", section=np.array([outer[0], outer[1], front[0], back[0]]), x=between),
        Prism(name="top", section=np.array([back[1], front[1], outer[2], outer[3]]), x=between),
        Prism(name="back", section=np.array([back[0], inner[0], inner[3], back[1]]), x=between),
        Prism(name="baffle", section=np.array([inner[1], front[0], front[1], inner[2]]), x=between),
    )


def driver_in(panel: str, face: Floats, inward: Floats, *, x: float, s: float, driver: Driver = DRIVER) -> DriverSolid:
    """A driver whose cut-out is centred on ``face`` (x, y, z), its parts told by the data sheet."""
    hole, magnet, flange = (0.5 * d for d in (driver.cutout_diameter, driver.magnet_diameter, driver.outer_diameter))
    inside, step, rear = (
        face + depth * inward for depth in (BOARD, driver.mounting_depth - driver.magnet_depth, driver.mounting_depth)
    )
    return DriverSolid(
        body=(
            Frustum(name="basket", start=inside, end=step, radii=(hole, magnet)),
            Frustum(name="magnet", start=step, end=rear, radii=(magnet, magnet)),
        ),
        cutout=Frustum(name="cut-out", start=face, end=inside, radii=(hole, hole)),
        flange=Frustum(name="flange", start=face - 0.005 * inward, end=face, radii=(flange, flange)),
        rear_air=Frustum(name="rear air", start=rear, end=rear + 0.012 * inward, radii=(magnet, magnet)),
        terminals=None,
        panel=panel,
        x=x,
        s=s,
    )


def straight_vent(through: str, mouth: Floats, inward: Floats, *, length: float, bore: float = 0.071) -> VentSolid:
    outer, end = 0.5 * bore + 0.002, mouth + length * inward
    return VentSolid(
        pipe=(Frustum(name="pipe", start=mouth, end=end, radii=(outer, outer)),),
        bore=(Frustum(name="bore", start=mouth, end=end, radii=(0.5 * bore, 0.5 * bore)),),
        free_air=Frustum(name="air", start=end, end=end + bore * inward, radii=(outer, outer)),
        through=through,
    )


def bent_vent(
    through: str, mouth: Floats, inward: Floats, onward: Floats, *, first: float, last: float, radius: float = 0.08
) -> VentSolid:
    """Straight in, a quarter turn, straight on."""
    bore = 0.071
    outer, inner = 0.5 * bore + 0.002, 0.5 * bore
    corner = mouth + first * inward
    centre = corner + radius * onward
    after = centre + radius * inward
    end = after + last * onward

    def pieces(name: str, size: float) -> tuple[Frustum | Bend, ...]:
        return (
            Frustum(name=f"{name} 1", start=mouth, end=corner, radii=(size, size)),
            Bend(name=f"{name} bend", centre=centre, first=-onward, last=inward, radius=radius, tube_radius=size),
            Frustum(name=f"{name} 2", start=after, end=end, radii=(size, size)),
        )

    return VentSolid(
        pipe=pieces("pipe", outer),
        bore=pieces("bore", inner),
        free_air=Frustum(name="air", start=end, end=end + bore * onward, radii=(outer, outer)),
        through=through,
    )


def wedge_of(*, width: float, height: float, top: float, bottom: float, back_angle: float = 0.0) -> Wedges:
    return Wedges(
        outer_width=np.array([width]),
        outer_height=np.array([height]),
        top_depth=np.array([top]),
        bottom_depth=np.array([bottom]),
        board=BOARD,
        back_angle=back_angle,
    )


def arranged(
    wedge: Wedges,
    *,
    drivers: tuple[DriverSolid, ...],
    vents: tuple[VentSolid, ...] = (),
    braces: tuple[float, ...] = (),
    supports: tuple[Prism, ...] = (),
    cup: CupSolid | None = None,
) -> Arrangement:
    inner, width = wedge.inner_section[0], float(wedge.outer_width[0])
    middle = inner.mean(axis=0)
    window = middle + 0.77 * (inner - middle)
    return Arrangement(
        outer=Prism(name="outer", section=wedge.outer_section[0], x=(0.0, width)),
        inner=Prism(name="inner", section=inner, x=(BOARD, width - BOARD)),
        panels=panels_of(wedge),
        drivers=drivers,
        vents=vents,
        braces=tuple(
            Prism(name=f"brace {k}", section=inner, x=(x, x + BOARD), holes=(window,))
            for k, x in enumerate(braces, start=1)
        ),
        supports=supports,
        cup=cup,
    )


def on_baffle(wedge: Wedges, x: float, s: float) -> tuple[Floats, Floats]:
    """A place on the baffle's outer face, and the direction into the box."""
    lean = float(wedge.baffle_angle[0])
    up = np.array([0.0, math.sin(lean), math.cos(lean)])
    return np.array([x, float(wedge.bottom_depth[0]), 0.0]) + s * up, np.array([0.0, -up[2], up[1]])


def cup_in(panel: str, face: Floats, inward: Floats) -> CupSolid:
    return CupSolid(
        body=Frustum(name="cup", start=face, end=face + 0.05 * inward, radii=(0.0375, 0.0375)),
        flange=Frustum(name="cup flange", start=face - 0.003 * inward, end=face, radii=(0.05, 0.05)),
        panel=panel,
    )


def front_firing() -> Design:
    """Two drivers in a baffle that leans back, two side vents through a brace, the cup in the back."""
    wedge = wedge_of(width=0.96, height=0.44, top=0.25, bottom=0.4, back_angle=0.1)
    drivers = tuple(driver_in("baffle", *on_baffle(wedge, x, 0.24), x=x, s=0.24) for x in (0.44, 0.78))
    across = np.array([1.0, 0.0, 0.0])
    vents = tuple(straight_vent("left side", np.array([0.0, y, 0.07]), across, length=0.34) for y in (0.09, 0.18))
    blocks = (
        Prism(
            name="support",
            section=np.array([(0.06, 0.018), (0.21, 0.018), (0.21, 0.033), (0.06, 0.033)]),
            x=(0.3, 0.318),
        ),
    )
    cup = cup_in("back", np.array([0.62, 0.3 * math.tan(0.1), 0.3]), np.array([0.0, math.cos(0.1), -math.sin(0.1)]))
    parts = arranged(wedge, drivers=drivers, vents=vents, braces=(0.27, 0.6), supports=blocks, cup=cup)
    return Design(parts=parts, driver=DRIVER, place=np.array([0.18, 0.02, 0.01]))


def bent_through_baffle() -> Design:
    """One driver in a baffle that leans forward; its vent turns to run along the width."""
    wedge = wedge_of(width=0.7, height=0.4, top=0.36, bottom=0.3)
    face, inward = on_baffle(wedge, 0.52, 0.2)
    mouth, in_again = on_baffle(wedge, 0.1, 0.12)
    vent = bent_vent("baffle", mouth, in_again, np.array([1.0, 0.0, 0.0]), first=0.12, last=0.2)
    cup = cup_in("right side", np.array([0.7, 0.1, 0.08]), np.array([-1.0, 0.0, 0.0]))
    parts = arranged(wedge, drivers=(driver_in("baffle", face, inward, x=0.52, s=0.2),), vents=(vent,), cup=cup)
    return Design(parts=parts, driver=DRIVER, place=np.array([0.3, 0.1, 0.02]), round_over=0.012)


def down_firing() -> Design:
    """A driver in the bottom, a straight vent through the baffle, a brace beside."""
    wedge = wedge_of(width=0.8, height=0.3, top=0.3, bottom=0.38)
    driver = driver_in("bottom", np.array([0.5, 0.2, 0.0]), np.array([0.0, 0.0, 1.0]), x=0.5, s=0.2)
    driver = dataclasses.replace(
        driver,
        terminals=Prism(
            name="terminals", section=np.array([(0.3, 0.018), (0.33, 0.018), (0.33, 0.08), (0.3, 0.08)]), x=(0.48, 0.52)
        ),
    )
    mouth, inward = on_baffle(wedge, 0.16, 0.15)
    cup = cup_in("bottom", np.array([0.26, 0.1, 0.0]), np.array([0.0, 0.0, 1.0]))
    parts = arranged(
        wedge,
        drivers=(driver,),
        vents=(straight_vent("baffle", mouth, inward, length=0.2),),
        braces=(0.3,),
        cup=cup,
    )
    return Design(parts=parts, driver=DRIVER, place=np.array([0.2, 0.02, 0.06]), round_over=0.01)


def side_firing() -> Design:
    """A driver in the right side, a vent through the left side that turns upward."""
    wedge = wedge_of(width=0.6, height=0.46, top=0.3, bottom=0.42, back_angle=0.12)
    driver = driver_in("right side", np.array([0.6, 0.21, 0.22]), np.array([-1.0, 0.0, 0.0]), x=0.6, s=0.22)
    vent = bent_vent(
        "left side", np.array([0.0, 0.12, 0.09]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]),
        first=0.09, last=0.1,
    )  # fmt: skip
    parts = arranged(wedge, drivers=(driver,), vents=(vent,), braces=(0.28,))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.4, 0.05, 0.0]))


def jumbled() -> Design:
    """What does not fit: three drivers over one another and over the panel's edges, a vent through them."""
    wedge = wedge_of(width=0.42, height=0.24, top=0.2, bottom=0.2)
    drivers = tuple(driver_in("baffle", *on_baffle(wedge, x, 0.12), x=x, s=0.12) for x in (0.1, 0.2, 0.32))
    vent = straight_vent("left side", np.array([0.0, 0.1, 0.1]), np.array([1.0, 0.0, 0.0]), length=0.5)
    return Design(parts=arranged(wedge, drivers=drivers, vents=(vent,), braces=(0.2,)), driver=DRIVER)


DESIGNS = {
    "front-firing": front_firing(),
    "bent through baffle": bent_through_baffle(),
    "down-firing": down_firing(),
    "side-firing": side_firing(),
}
