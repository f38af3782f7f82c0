"""Designs made by hand, piece by piece, to be drawn: no search and no layout has a say in them."""

from __future__ import annotations

import math

import numpy as np

from engine.parts import KeepOut, Space
from engine.space.bodies import Prism
from engine.workshop.design import Design
from tests.workshop.pieces import (
    BOARD,
    DRIVER,
    arranged,
    bent_vent,
    cup_in,
    driver_in,
    on_baffle,
    radiator_in,
    slot_in,
    straight_vent,
    wedge_of,
)

HOSTILE = '<b onload="x">&amp; "10"</b> \x00'

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


def front_firing() -> Design:
    """Two drivers in a baffle that leans back, two side vents through a brace, the cup in the back."""
    wedge = wedge_of(width=0.96, height=0.44, top=0.25, bottom=0.4, back_angle=0.1)
    drivers = tuple(driver_in("baffle", *on_baffle(wedge, x, 0.24)) for x in (0.44, 0.78))
    across = np.array([1.0, 0.0, 0.0])
    vents = tuple(straight_vent("left side", np.array([0.0, y, 0.07]), across, length=0.34) for y in (0.09, 0.18))
    blocks = (
        Prism(
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
    parts = arranged(wedge, drivers=(driver_in("baffle", face, inward),), vents=(vent,), cup=cup)
    return Design(parts=parts, driver=DRIVER, place=np.array([0.3, 0.1, 0.02]), round_over=0.012)


def down_firing() -> Design:
    """A driver in the bottom, a straight vent through the baffle, a brace beside."""
    wedge = wedge_of(width=0.8, height=0.3, top=0.3, bottom=0.38)
    driver = driver_in("bottom", np.array([0.5, 0.2, 0.0]), np.array([0.0, 0.0, 1.0]), tags=True)
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
    driver = driver_in("right side", np.array([0.6, 0.21, 0.22]), np.array([-1.0, 0.0, 0.0]))
    vent = bent_vent(
        "left side", np.array([0.0, 0.12, 0.09]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]),
        first=0.09, last=0.1,
    )  # fmt: skip
    parts = arranged(wedge, drivers=(driver,), vents=(vent,), braces=(0.28,))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.4, 0.05, 0.0]))


def radiators_beside() -> Design:
    """A driver in a baffle that leans back, two passive radiators at its left with mass added, a brace between."""
    wedge = wedge_of(width=0.98, height=0.4, top=0.2, bottom=0.34)
    radiators = tuple(radiator_in("baffle", *on_baffle(wedge, x, 0.2)) for x in (0.15, 0.4))
    driver = driver_in("baffle", *on_baffle(wedge, 0.8, 0.2))
    parts = arranged(wedge, drivers=(driver,), radiators=radiators, braces=(0.56,))
    return Design(
        parts=parts,
        driver=DRIVER,
        place=np.array([0.1, 0.05, 0.01]),
        facts={"radiator": "flat 8", "radiator_added_mass_kg": 0.0853},
    )


def radiators_and_side_firing() -> Design:
    """A driver in the right side, a passive radiator in the baffle that has nothing behind its board."""
    wedge = wedge_of(width=0.7, height=0.42, top=0.3, bottom=0.4)
    driver = driver_in("right side", np.array([0.7, 0.19, 0.21]), np.array([-1.0, 0.0, 0.0]))
    face, inward = on_baffle(wedge, 0.3, 0.2)
    flat = radiator_in("baffle", face, inward, reach=BOARD)
    parts = arranged(wedge, drivers=(driver,), radiators=(flat,))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.3, 0.05, 0.0]), facts={"radiator": "flat 8"})


def slot_through_side() -> Design:
    """A driver in a baffle that leans back over a straight slot along the bottom, a brace on its board."""
    wedge = wedge_of(width=0.9, height=0.44, top=0.25, bottom=0.4, back_angle=0.1)
    driver = driver_in("baffle", *on_baffle(wedge, 0.45, 0.26))
    slot = slot_in(wedge, height=0.04, end=0.7, through="left side")
    parts = arranged(wedge, drivers=(driver,), slot=slot, braces=(0.22,))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.18, 0.02, 0.01]))


def slot_that_turns() -> Design:
    """A slot through the baffle along the bottom that turns up the right side; the baffle leans forward."""
    wedge = wedge_of(width=0.72, height=0.46, top=0.36, bottom=0.3)
    driver = driver_in("baffle", *on_baffle(wedge, 0.34, 0.28))
    slot = slot_in(wedge, height=0.035, end=0.0, leg=0.2, through="baffle")
    parts = arranged(wedge, drivers=(driver,), slot=slot)
    return Design(parts=parts, driver=DRIVER, place=np.array([0.3, 0.1, 0.02]), round_over=0.012)


def slot_under_top() -> Design:
    """A driver in the bottom, a slot through the left side along the top that turns down the right side."""
    wedge = wedge_of(width=0.8, height=0.36, top=0.3, bottom=0.38)
    driver = driver_in("bottom", np.array([0.4, 0.2, 0.0]), np.array([0.0, 0.0, 1.0]))
    slot = slot_in(wedge, height=0.03, end=0.0, leg=0.12, high=True, through="left side")
    parts = arranged(wedge, drivers=(driver,), slot=slot, braces=(0.65,))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.2, 0.02, 0.06]))


def flared_pipes() -> Design:
    """One flared vent through the baffle that bends, one straight through the left side."""
    wedge = wedge_of(width=0.8, height=0.42, top=0.36, bottom=0.36)
    driver = driver_in("baffle", *on_baffle(wedge, 0.62, 0.2))
    mouth, inward = on_baffle(wedge, 0.12, 0.12)
    bent = bent_vent("baffle", mouth, inward, np.array([1.0, 0.0, 0.0]), first=0.05, last=0.16, flare=0.02)
    straight = straight_vent(
        "left side", np.array([0.0, 0.12, 0.34]), np.array([1.0, 0.0, 0.0]), length=0.3, flare=0.02
    )
    parts = arranged(wedge, drivers=(driver,), vents=(bent, straight))
    return Design(parts=parts, driver=DRIVER, place=np.array([0.3, 0.1, 0.02]))


def jumbled() -> Design:
    """What does not fit: three drivers over one another and over the panel's edges, a vent through them."""
    wedge = wedge_of(width=0.42, height=0.24, top=0.2, bottom=0.2)
    drivers = tuple(driver_in("baffle", *on_baffle(wedge, x, 0.12)) for x in (0.1, 0.2, 0.32))
    vent = straight_vent("left side", np.array([0.0, 0.1, 0.1]), np.array([1.0, 0.0, 0.0]), length=0.5)
    return Design(parts=arranged(wedge, drivers=drivers, vents=(vent,), braces=(0.2,)), driver=DRIVER)


DESIGNS = {
    "front-firing": front_firing(),
    "bent through baffle": bent_through_baffle(),
    "down-firing": down_firing(),
    "side-firing": side_firing(),
    "radiators": radiators_beside(),
    "radiator, side-firing": radiators_and_side_firing(),
    "slot through side": slot_through_side(),
    "slot that turns": slot_that_turns(),
    "slot under the top": slot_under_top(),
    "flared pipes": flared_pipes(),
}
