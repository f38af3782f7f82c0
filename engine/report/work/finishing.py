"""From the closed box to the one that stands in the vehicle."""

from __future__ import annotations

import math
from collections.abc import Iterator

from engine.quantities import show
from engine.report.blocks import Step
from engine.report.set_up import TITLE as SET_UP
from engine.report.work.cautions import ADHESIVE, DUST, KNIFE, PAINT, ROUTER, VEHICLE
from engine.report.work.told import Told
from engine.words.voice import listed
from engine.workshop.board import SAME

HEAVY = 15.0  # kg, above which two people carry; common practice, no source


def finishing(told: Told) -> Iterator[Step]:
    """Every step of the closed box."""
    yield _finish(told)
    if told.feet:
        yield _feet(told)
    if told.added_mass > 0.0:
        yield _load_radiators(told)
    yield _fit(told)
    yield _leak_test(told)
    yield _wire(told)
    yield _into_the_vehicle(told)


def _finish(told: Told) -> Step:
    words = ["When the glue is hard, plane or flush-trim what stands over, fill screw heads and dents, sand."]
    cautions = [DUST]
    if told.scenario.box.round_over > 0.0:
        words.append(
            f"Round over the outer edges with a router bit of {told.size(told.scenario.box.round_over)} radius: "
            "first take out every joint screw that the bit would reach, and plug its hole."
        )
        cautions.insert(0, ROUTER)
    if told.scenario.box.carpet > 0.0:
        words.append(
            "Cover with carpet: widest faces first, seams underneath, none under flanges or where the box lies on "
            "something. Cut openings free from their middle outwards."
        )
        cautions += [ADHESIVE, KNIFE]
    else:
        cautions.append(PAINT)
        words.append("Two coats of primer and paint or oil, sawn edges three: raw board swells in damp air.")
    return Step(title="Flush, round over, cover", words=tuple(words), cautions=tuple(cautions))


def _feet(told: Told) -> Step:
    height = _foot_height(told)
    return Step(
        title="Feet",
        words=(
            (
                f"{len(told.feet)} feet {told.size(height)} high, glued and screwed under the corners as their "
                "pages show: the air before the drivers that face down needs this height."
            ),
        ),
    )


def _foot_height(told: Told) -> float:
    """How far down the feet reach below the box, m; 0 without any."""
    return max((-float(min(foot.outside[:, 2].min(), foot.inside[:, 2].min())) for foot in told.feet), default=0.0)


def _load_radiators(told: Told) -> Step:
    return Step(
        title="Load the passive radiators",
        words=(
            (
                f"{show(told.added_mass, 'added_mass', told.units)} on each, weighed on a kitchen scale with all "
                "that fixes it: bolt, nut and washers are part of it. Build it up out of washers until it agrees."
            ),
            (
                "Fix it centred on its mount, behind the cone, with thread lock, before the radiator is fitted: "
                "off centre the cone rocks, loose it rattles. Push the cone by hand: nothing may touch."
            ),
        ),
    )


def _fit(told: Told) -> Step:
    words = []
    if told.cups:
        words.append("Terminal cup: gasket, solder or crimp the cable, + to +, screws by hand.")
    if told.radiators:
        loaded = ", loaded as above" if told.added_mass > 0.0 else ""
        words.append(f"Passive radiators{loaded}: gasket, no cable; cones must travel freely both ways.")
    words.append(
        f"Driver{'s' if len(told.drivers) > 1 else ''}: gasket tape, ends butted; connect as “Wiring” says; "
        "terminals pointing as “Views” says. Start all screws, then tighten crosswise, hand-tight: a bent basket "
        "rubs."
    )
    heavy = float(told.box.row.get("driver_mass_kg", math.nan))
    cautions = ["Magnets pull tools and screws onto the cone: one hand over the surround while driving screws."]
    if heavy > HEAVY:
        cautions.append(f"A driver weighs {show(heavy, 'mass', told.units)}: two people.")
    return Step(title="Fit what is bought", words=tuple(words), cautions=tuple(cautions))


def _leak_test(told: Told) -> Step:
    cone = "the driver's cone" if len(told.drivers) == 1 else "one driver's cone"
    stopped = "Hold every vent shut with board and foam. " if told.pipes or told.slots else ""
    if told.radiators:
        holds = "the passive radiators move out with it and stay out. If they creep back, air leaks."
    elif len(told.drivers) > 1:
        holds = "the other cones move out and stay out. If they creep back, air leaks."
    else:
        holds = "it pushes back as much at the end as at the beginning. If that fades, air leaks."
    return Step(
        title="Leak test",
        words=(
            (
                f"{stopped}Press {cone} in evenly by {told.about('5 mm', '1/4 in')}, fingers flat, and "
                f"hold it for ten seconds: {holds}"
            ),
        ),
    )


def _wire(told: Told) -> Step:
    opened = ", vents open again" if told.pipes or told.slots else ""
    return Step(
        title="Wire, set up, listen for leaks",
        words=(
            (
                f"With the box beside its place, where joints can be reached{opened}: go through “{SET_UP}” from "
                "its first line until the gain is set."
            ),
            (
                "Only then, and turned far down, a tone of 20 to 30 Hz: go along joints, flanges and cup with a "
                "wet finger. A hiss or a draught is sealed and tried again."
            ),
        ),
        cautions=("Start quietly: a subwoofer in a closed car harms hearing for good.",),
    )


def _into_the_vehicle(told: Told) -> Step:
    box = told.box
    weight = float(box.row.get("weight_kg", math.nan))
    across, forward, up = (told.size(float(each)) for each in box.place)
    words = [
        (
            f"The box stands {across} from the left end of the measured space, {forward} forward of its rearmost "
            f"plane and {up} above its lowest point: see section and plan under “Views”."
        ),
    ]
    under = float(box.place[2]) - _foot_height(told)
    if told.feet:
        words.append(f"It stands on its own feet; they are {told.size(under)} above that point.")
    gaps = [
        f"{told.size(gap)} {where}"
        for gap, where in ((under, "under its feet" if told.feet else "under"), (float(box.place[1]), "behind"))
        if gap > SAME
    ]
    if gaps:
        words.append(
            f"What holds it so far off, {listed(gaps)}, are battens, feet or brackets that you make to that size; "
            "bolts go through them into structure."
        )
    cautions = list(VEHICLE)
    if weight > HEAVY:
        cautions.insert(
            0,
            f"It weighs about {show(weight, 'mass', told.units)}: two people, or a hoist, and no lifting by a vent.",
        )
    cautions.append(
        "Supply, fuse and cable by the amplifier's instructions and local codes; where a licence is asked for, by "
        "somebody who has it."
    )
    return Step(title="Into the vehicle", words=tuple(words), cautions=tuple(cautions))
