"""What a build takes besides its boards: screws, glue, gasket, pipe, damping, carpet, in amounts from its own sizes.

Rates of use are common practice, no source, unless said otherwise.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass

import numpy as np

from engine.quantities import Units, show, show_drill, show_run, show_set_out, show_size, show_surface
from engine.scenario import Scenario
from engine.space.bodies import Bend, Frustum
from engine.words.voice import listed
from engine.workshop.alike import in_few
from engine.workshop.board import Board, Box, Part
from engine.workshop.holes import PILOT
from engine.workshop.sawing.sheets import Sheets

GLUE_RATE = 0.200  # kg/m² of joint, white glue on both edges
SCREW_PITCH = 0.150  # m, of screws that hold a joint while its glue sets
JOINT_SCREW = 0.004  # m, their diameter
LONG_SCREW = 2.5  # of a board's thickness
BEAD = 0.5 * 0.006**2  # m², section of a fillet of sealant
CARTRIDGE = 300e-6  # m³
WOOL_DENSITY = 8.0  # kg/m³, of loose fibres in a filled box
WOOL_SHARE = {"half": 0.5, "full": 1.0}  # of the net volume
CARPET_WASTE, PIPE_WASTE, GASKET_WASTE = 1.2, 1.05, 1.1
ADHESIVE_WASTE, COATS, COAT_WASTE = 1.1, 2, 1.1
SEATED = ("driver", "radiator", "cup")


@dataclass(frozen=True)
class Bought:
    """One line of the list."""

    what: str
    amount: str
    about: str = ""


def bought(box: Box, scenario: Scenario, units: Units) -> list[Bought]:
    """The list in the order of the work; boards are :func:`boards_bought`."""
    return [
        *_parts(box, scenario, units), *_cable(box, units), *_pipes(box, units), *_dowels(box, units),
        *_glue(box, units), *_flange_screws(box, units), *_gasket(box, units), *_damping(box, units),
        *_carpet(box, scenario, units), *_instruments(),
    ]  # fmt: skip


def boards_bought(sheets: Sheets, scenario: Scenario, units: Units) -> list[Bought]:
    """The sheets, by thickness and size."""
    counts = Counter((plan.thickness, plan.stock.length, plan.stock.width) for plan in sheets.plans)
    density = show(scenario.stock.board_density, "density", units)
    return [
        Bought(
            f"Board, {show_size(thick, units)} as measured",
            f"{count} sheet{'s' if count > 1 else ''}",
            f"{show_size(long, units)} × {show_size(wide, units)}; weights are for board of {density}",
        )
        for (thick, long, wide), count in counts.items()
    ]


def gauge(thick: float) -> int:
    """The number of a wood screw so thick, m: 0.060 in and 0.013 in a number, even ones being those that are sold.

    Common practice, no source.
    """
    return 2 * round((thick / 0.0254 - 0.060) / 0.013 / 2.0)


def _screws(thick: float, units: Units) -> str:
    number = f" (#{gauge(thick)})" if units == "us" else ""
    return f"Wood screws ⌀ {show_drill(thick, units)}{number}"


def joint_screw(board: float, units: Units) -> str:
    """Length of screws that hold a joint of boards so thick, m, as they are sold."""
    step = 0.005 if units == "metric" else 0.00635
    return show_set_out(math.ceil(LONG_SCREW * board / step - 0.5) * step, units)


def joint_lengths(box: Box) -> dict[tuple[str, str], float]:
    """Length of every joint, m, by the names of the board whose edge it is and the one it lies against."""
    found: dict[tuple[str, str], float] = defaultdict(float)
    for board in box.boards:
        ends = np.roll(board.outside, -1, axis=0) - board.outside
        for edge, way in zip(board.edges, ends, strict=True):
            if edge.meets:
                found[board.name, edge.meets] += float(np.linalg.norm(way))
    return dict(found)


def joint_area(box: Box) -> float:
    """All that glue is spread on, m², each joint once: edges, and the face of a second layer of the baffle."""
    thick = {board.name: board.thickness for board in box.boards}
    edges = sum(long * thick[name] for (name, _), long in joint_lengths(box).items())
    return edges + sum(board.area for board in box.boards if board.role == "layer")


def flange(part: Part) -> float:
    """The widest diameter of something mounted, m."""
    return 2.0 * max(max(solid.radii) for solid in part.solids if isinstance(solid, Frustum))


def bends(part: Part) -> int:
    return sum(isinstance(solid, Bend) for solid in part.solids)


def _parts(box: Box, scenario: Scenario, units: Units) -> list[Bought]:
    row, count = box.row, Counter(part.role for part in box.parts)
    driver = next(each.driver for each in scenario.candidates if each.driver.name == row["driver"])
    kind = "driver" if count["driver"] == 1 else "drivers"
    found = [Bought(driver.name, f"{count['driver']}", f"{kind}, coils {driver.coils} × {driver.coil_impedance:g} Ω")]
    if count["radiator"]:
        found.append(Bought(str(row.get("radiator", "passive radiator")), f"{count['radiator']}", "passive radiators"))
        if (added := float(row.get("radiator_added_mass_kg", 0.0))) > 0.0:
            mass = show(added, "added_mass", units)
            found.append(
                Bought(f"Mass for them, {mass} each", f"{count['radiator']}", "bolt, nut, washers, thread lock, all in")
            )
    for cup in (part for part in box.parts if part.role == "cup"):
        hole = next(
            cut.ring.round.radius for board in box.boards for cut in board.cuts
            if cut.passes == cup.name and cut.operation == "hole" and cut.ring is not None and cut.ring.round
        )  # fmt: skip
        sizes = f"hole ⌀ {show_set_out(2.0 * hole, units)}, flange ⌀ {show_set_out(flange(cup), units)}"
        found.append(Bought("Terminal cup", "1", sizes))
    return found


def _cable(box: Box, units: Units) -> list[Bought]:
    """From the cup to each driver, with enough to take it out again: once across, once forward, once up."""
    count = sum(part.role == "driver" for part in box.parts)
    reach = box.outer.x[1] + float(np.ptp(box.outer.section, axis=0).sum())
    return [
        Bought(
            "Two-core loudspeaker cable, inside", show_run(count * reach, units),
            "as thick as outside the box; crimps or solder",
        )
    ]  # fmt: skip


def _instruments() -> list[Bought]:
    return [
        Bought("True-RMS multimeter; a small battery", "1 each", "for wiring, polarity (which says which) and gain"),
    ]


def _pipes(box: Box, units: Units) -> list[Bought]:
    by_size: dict[float, list[Part]] = defaultdict(list)
    for part in box.parts:
        if part.role == "pipe":
            by_size[round(outer_diameter(part), 5)].append(part)
    found = []
    for outer, pipes in by_size.items():
        total = sum(part.length for part in pipes)
        turned = sum(map(bends, pipes))
        long = show_run(PIPE_WASTE * total, units)
        pieces = f"{len(pipes)} {'piece' if len(pipes) == 1 else 'pieces'}, see “Pipes”"
        bore = show_set_out(float(box.row["vent_diameter_m"]), units)
        sizes = f"⌀ {show_set_out(outer, units)} outside, ⌀ {bore} bore"
        found.append(Bought(f"Pipe, {sizes}", f"{long}", pieces))
        if turned:
            found.append(Bought("Quarter bends for that pipe, with sockets", f"{turned}"))
            found.append(Bought("Solvent cement for that pipe", "1 tin", f"{2 * turned} joints"))
    return found


def outer_diameter(part: Part) -> float:
    """Of a pipe or dowel, m."""
    first = next(solid for solid in part.solids if isinstance(solid, Frustum))
    return 2.0 * first.radii[0]


def _dowels(box: Box, units: Units) -> list[Bought]:
    dowels = [part for part in box.parts if part.role == "dowel"]
    if not dowels:
        return []
    total = show_run(PIPE_WASTE * sum(part.length for part in dowels), units)
    thick = show_set_out(outer_diameter(dowels[0]), units)
    return [Bought(f"Dowel, ⌀ {thick}, hardwood", total, f"{len(dowels)} pieces")]


def _glue(box: Box, units: Units) -> list[Bought]:
    grams = math.ceil(GLUE_RATE * joint_area(box) * 1.2 * 20.0) / 20.0
    long = sum(joint_lengths(box).values())
    tubes = max(math.ceil(long * BEAD / CARTRIDGE), 1)
    thick = box.board
    screws = sum(max(math.ceil(length / SCREW_PITCH), 2) for length in joint_lengths(box).values())
    size = f"about {joint_screw(thick, units)} long"
    return [
        Bought("White wood glue", show(grams, "mass", units), f"for {show_surface(joint_area(box), units)} of joints"),
        Bought(
            "Sealant that stays soft and takes paint (acrylic)", f"{tubes} cartridge{'s' if tubes > 1 else ''}",
            f"a fillet along {show_run(long, units)} of inner joints",
        ),
        Bought(
            f"{_screws(JOINT_SCREW, units)}, {size}", f"{screws}",
            "or clamps; how far apart: “Order of work”",
        ),
        Bought("Wood filler", "a little", "over screw heads and dents"),
    ]  # fmt: skip


def _flange_screws(box: Box, units: Units) -> list[Bought]:
    counts: Counter[tuple[float, float]] = Counter()
    held: dict[tuple[float, float], list[str]] = defaultdict(list)
    for board in _outermost(box):
        for cut in board.cuts:
            if cut.operation == "drill" and not math.isnan(cut.circle):
                key = round(cut.diameter, 5), round(board.thickness if cut.through else cut.depth, 5)
                counts[key] += len(cut.places)
                held[key].append(cut.passes)
    return [
        Bought(
            f"{_screws(pilot / PILOT, units)} for flanges", f"{count}",
            f"{listed(in_few(held[pilot, deep]))}; at most flange, gasket, {show_drill(deep, units)} of wood long",
        )
        for (pilot, deep), count in counts.items()
    ]  # fmt: skip


def _outermost(box: Box) -> list[Board]:
    layered = {"baffle"} if any(board.role == "layer" for board in box.boards) else set()
    return [board for board in box.boards if board.name not in layered]


def _gasket(box: Box, units: Units) -> list[Bought]:
    seated = [part for part in box.parts if part.role in SEATED]
    long = GASKET_WASTE * sum(math.pi * flange(part) for part in seated)
    return [Bought("Closed-cell foam tape for gaskets", show_run(long, units), "under every flange, ends butted")]


def inner_area(box: Box) -> float:
    """Of the walls inside, m², holes off."""
    return sum(board.area for board in box.boards if board.role == "shell")


def _damping(box: Box, units: Units) -> list[Bought]:
    filling = str(box.row.get("filling", "none"))
    if filling == "lined":
        area = show_surface(inner_area(box), units)
        return [Bought("Damping wool, 25 to 50 mm thick", area, "on the walls; none near vents or behind cones")]
    if filling in WOOL_SHARE:
        mass = WOOL_DENSITY * WOOL_SHARE[filling] * sum(chamber.net_volume for chamber in box.chambers)
        return [Bought("Loose polyester or wool fibres", show(mass, "mass", units), "teased out, evenly spread")]
    return []


def outer_area(box: Box) -> float:
    """Of the box outside, m²."""
    section = box.outer.section
    around = float(np.hypot(*(np.roll(section, -1, axis=0) - section).T).sum())
    y, z = section.T
    side = 0.5 * abs(float(np.sum(y * np.roll(z, -1) - np.roll(y, -1) * z)))
    return 2.0 * side + around * (box.outer.x[1] - box.outer.x[0])


def _carpet(box: Box, scenario: Scenario, units: Units) -> list[Bought]:
    area = outer_area(box)
    if not scenario.box.carpet > 0.0:
        return [
            Bought(
                "Primer and paint, or oil",
                f"for {show_surface(COATS * COAT_WASTE * area, units)}",
                f"two coats over {show_surface(area, units)} and some over; sawn edges three",
            )
        ]
    thick = show_set_out(scenario.box.carpet, units)
    return [
        Bought(f"Carpet, {thick} thick", show_surface(CARPET_WASTE * area, units), "a fifth of it for overlaps"),
        Bought(
            "Contact or spray adhesive for it",
            f"for {show_surface(2.0 * CARPET_WASTE * ADHESIVE_WASTE * area, units)}",
            "on both faces, overlaps counted, some over",
        ),
    ]
