"""Thin boxes against finite elements, stored ones and some solved on the spot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from engine.acoustics.cavity import Cavities, Ports
from engine.acoustics.ends import free_end
from engine.acoustics.inertance import first_modes
from engine.acoustics.thin_box import thin_box
from engine.acoustics.vents import FLUSH_END, FREE_END
from engine.air import REFERENCE_AIR
from engine.facings import FRONT
from engine.packing.placement import SLOT_SIDE
from engine.space.layout import Layout
from engine.space.ports import ports_of
from tests.acoustics.reference_boxes import Box, Slot, Solved, solved
from tests.acoustics.test_cavity import chamber
from tests.acoustics.test_thin_box import CLOSED, LOOSER, RADIATORS, SLOTS, VENTED, WITHIN, Bricks, errors
from tests.acoustics.thin_boxes import cavity_of
from tests.benchmarks.evidence.checks import Check, Evidence, Floats, Table, furthest, furthest_percent, rms
from tests.benchmarks.evidence.ducts import ducted, solve
from tests.space.batches import fitting, mixed

STORED = "finite elements, 3-D, stored"
LIVE = "finite elements, 3-D, solved now"
FIGURES = ("tuning", "lower impedance peak", "upper impedance peak")
WEDGE = {"width": 0.8, "bottom_depth": 0.14, "top_depth": 0.06}
INSIDE = (
    "wedge, low at the back",
    "wedge, low at the baffle",
    "wedge, half way up",
    "wedge, high",
    "wedge, two vents low",
    "compact, mouth in the middle",
)


def evidence() -> Evidence:
    plain = [one for one in VENTED if one.box.name not in LOOSER]
    found, lumped = _errors(plain), _errors(plain, lumped=True)
    wedges = sum(one.box.bottom_depth != one.box.top_depth for one in plain)
    chosen = sum(one.box.name.startswith(("short", "random, short")) for one in plain)
    for column, figure in enumerate(FIGURES):
        note = f"rms {rms(found[:, column]):.2f}; lumped model worst {np.abs(lumped[:, column]).max():.1f}, rms "
        yield Check(
            what=f"vents: {figure}",
            against=f"{STORED}; {wedges} are wedges",
            cases=len(plain),
            worst=float(np.abs(found[:, column]).max()),
            allowed=WITHIN,
            unit="%",
            note=note + f"{rms(lumped[:, column]):.1f} %; {chosen} with short vents had a part in one constant",
        )
    loose = [one for one in VENTED if one.box.name in LOOSER]
    yield _group("one box with four short vents of 80 mm", loose, allowed=max(LOOSER.values()))
    unseen = [one for one in VENTED if one.box.name.startswith("unseen")]
    yield _group("of these, solved after the model was settled", unseen)
    yield _group("straight slots", [one for one in SLOTS if one.box.slot and not one.box.slot.turn])
    yield _group("turned slots", [one for one in SLOTS if one.box.slot and one.box.slot.turn])
    yield _group("passive radiators", RADIATORS)
    yield _group("closed boxes: impedance peak", CLOSED)

    yield _group("wedge 0.80 × 0.42 m, 60-140 mm deep, pipe inside it", _named(INSIDE[:4]))
    yield _group("the same, two pipes", _named(INSIDE[4:5]))
    yield _group("compact box 0.40 × 0.42 × 0.20 m, pipe inside it", _named(INSIDE[5:]))
    ducts = [
        solve(ducted(name="wedge, duct low", heights=(0.047,), **WEDGE)),
        solve(ducted(name="wedge, duct half way up", heights=(0.21,), **WEDGE)),
        solve(ducted(name="wedge, duct high", heights=(0.36,), **WEDGE)),
        solve(ducted(name="wedge, two ducts, low and half way up", heights=(0.047, 0.21), **WEDGE)),
        solve(ducted(name="compact, duct half way up", heights=(0.21,), width=0.4, bottom_depth=0.2, top_depth=0.2)),
    ]
    yield _group("the wedge with its ducts outside, mouths flush", ducts[:4], against=LIVE)
    yield _group("the compact box with its duct outside", ducts[4:], against=LIVE)
    yield _group("a wedge with a slot along its bottom", [Bricks(_slotted()).solved], against=LIVE)
    yield _laid_out()

    modes = np.array([first_modes(cavities=cavity_of(one.box), count=4)[0] for one in solved()])
    off = 100.0 * np.abs(modes * REFERENCE_AIR.c / (2.0 * math.pi) / np.array([one.modes for one in solved()]) - 1.0)
    for what, some, allowed in (("first mode", off[:, :1], 0.02), ("second to fourth mode", off[:, 1:], 2.0)):
        yield Check(
            what=f"{what} of the empty cavity",
            against=STORED,
            cases=some.size,
            worst=float(some.max()),
            allowed=allowed,
            unit="%",
        )
    ends = np.array([free_end(1.0, outer) for outer in (1.0, 1e9)])
    yield Check(
        what="a pipe's free end, thin and in an endless flange, radii",
        against="Levine & Schwinger 1948 [P], King 1936 [M]",
        cases=2,
        worst=furthest(ends, [0.6133, 0.8216]),
        allowed=5e-5,
    )
    corner = chamber(height=0.03, chamber_height=0.03, length=0.03, along=0.03)
    yield Check(
        what="a slot's chamber as a mitred corner, in squares",
        against="Hall 1968 [M], 1 - 2·ln 2/π",
        cases=1,
        worst=furthest(corner["slot"], 1.0 - 2.0 * math.log(2.0) / math.pi),
        allowed=2e-3,
    )
    yield Table(
        title="Tuning of boxes 0.42 m high with vents of 32 cm², 0.30 m from the panel's outer face (inside) or its "
        "inner face (outside):",
        heads=(
            "box",
            "finite elements, Hz",
            "below lumped, ends 0.85 a + 0.613 a",
            "below lumped, ends 0.85 a + 0.85 a",
            "our model off",
        ),
        rows=tuple(_row(one) for one in (*_named(INSIDE), *ducts)),
    )


def _errors(some: Sequence[Solved], *, lumped: bool = False) -> Floats:
    return np.array([errors(one, lumped=lumped) for one in some])


def _named(names: Sequence[str]) -> list[Solved]:
    return [one for one in solved() if one.box.name in names]


def _group(what: str, some: Sequence[Solved], *, allowed: float = WITHIN, against: str = STORED) -> Check:
    found, lumped = _errors(some), _errors(some, lumped=True)
    return Check(
        what=what,
        against=against,
        cases=len(some),
        worst=float(np.abs(found).max()),
        allowed=allowed,
        unit="%",
        note=f"rms {rms(found):.2f}; lumped model worst {np.abs(lumped).max():.1f}, rms {rms(lumped):.1f} %",
    )


def _slotted() -> Box:
    """A wedge that is not among the stored ones."""
    back, bottom, top, height, up = 0.1, 0.15, 0.08, 0.42, 0.24
    return Box(
        name="",
        width=0.7,
        height=height,
        bottom_depth=bottom,
        top_depth=top,
        back_slope=back,
        slot=Slot(height=0.036, board=0.018, length=0.42),
        cones=((0.4, bottom + (back + (top - bottom) / height) * up, up),),
        cone=0.08,
    )


def _laid_out() -> Check:
    """Designs with slots as the search lays them out, random ones: what is cut, and what the front says it gives.

    Without what the model leaves out, which is braces and the bodies of drivers.
    """
    layout = mixed(600, seed=620, long_slots=True).layout
    contents = layout.contents
    plain = (layout.vent_placement == SLOT_SIDE) & (layout.slot_turn == 0.0) & layout.vent_low
    plain &= (contents.driver("number") == 1) & (contents.driver("facing") == FRONT) & (layout.vent_length > 0.25)
    rows = np.flatnonzero(fitting(layout) & plain)[:3]
    some = layout.take(rows)
    cavities, ports = ports_of(some)
    boxes = [_box_of(some, row, cavities, ports) for row in range(len(rows))]
    volume, ends = (np.array([getattr(box, name) for box in boxes]) for name in ("net_volume", "outer_end"))
    effective = some.vent_acoustic_length + some.vent_ends
    lumped = REFERENCE_AIR.c / (2.0 * math.pi) * np.sqrt(some.vent_area / (volume * effective))
    nothing = np.full(len(rows), np.nan)
    ours = thin_box(
        cavities=cavities,
        ports=ports,
        tuning=lumped,
        volume=volume,
        vent_length=some.vent_acoustic_length,
        vent_area=some.vent_area,
        vent_count=np.ones(len(rows)),
        sd=np.array([box.sd for box in boxes]),
        driver_count=np.ones(len(rows)),
        radiator_sd=nothing,
        radiator_count=np.zeros(len(rows)),
        radiator_moving=nothing,
        outer_end=ends,
    ).tuning
    truth = np.array([Bricks(box).solved.tuning for box in boxes])
    cut = ", ".join(f"{1000.0 * length:.0f}" for length in some.vent_length)
    return Check(
        what="slots as laid out by the search, from their cut length: tuning",
        against=LIVE,
        cases=len(rows),
        worst=furthest_percent(ours, truth),
        allowed=WITHIN,
        unit="%",
        note=f"cut to {cut} mm; lumped model worst {furthest_percent(lumped, truth):.1f} %",
    )


def _box_of(layout: Layout, row: int, cavities: Cavities, ports: Ports) -> Box:
    wedges, contents = layout.wedges, layout.contents
    driver = int(np.flatnonzero(~ports.opening[row] & np.isfinite(ports.radius[row]))[0])
    sizes = {item.name: float(getattr(cavities, item.name)[row]) for item in fields(Cavities)}
    return Box(
        name="",
        **sizes,
        board=wedges.board,
        slot=Slot(
            height=float(contents.sizes["slot_height"][row]),
            board=wedges.board,
            length=float(layout.vent_length[row]) - wedges.board,
        ),
        cones=(tuple(float(getattr(ports, axis)[row, driver]) for axis in "xyz"),),
        cone=0.45 * float(contents.driver("cutout")[row]),
    )


def _row(one: Solved) -> tuple[str, ...]:
    """The share in % by which finite elements lie below the lumped tuning, with a free inner end and a flush one."""
    box = one.box
    usual = box.lumped_tuning
    wall = box.vent_length + FLUSH_END * box.bore
    flush = usual * math.sqrt((wall + FREE_END * box.bore) / (wall + FLUSH_END * box.bore))
    below = [f"{100.0 * (1.0 - one.tuning / lumped):.2f} %" for lumped in (usual, flush)]
    where = "inside" if box.inside > 0.0 else "outside"
    return f"{box.name} ({where})", f"{one.tuning:.2f}", *below, f"{errors(one)[0]:+.2f} %"
