"""From the pick to the box: a judged design as boards and parts to be cut and put together."""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import copy
from dataclasses import replace

import numpy as np
import pandas as pd

from engine.acoustics.figures import FIGURES_GRID
from engine.errors import refusal
from engine.judged import JudgedDesign
from engine.parts import Driver, PassiveRadiator
from engine.scenario import JOINT_ORDERS, Build
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of, judged
from engine.space import roles
from engine.space.bodies import Assembly, across
from engine.space.sawn import bevel_of
from engine.words.voice import as_measured as as_measured_size
from engine.workshop.board import LEAST_EDGE, SAME, Board, Box, Caution, Chamber
from engine.workshop.boards import as_set_by, inner_boards, joined, rounded, shell
from engine.workshop.bought import parts_of
from engine.workshop.feet import feet
from engine.workshop.holes import Screws, with_cuts
from engine.workshop.joints import JOINTS, JointOrder
from engine.workshop.strips import strips

INSIDE = ("brace", "slot", "block", "strip")  # roles of boards that take of the air
CLASH = 0.002  # m, by which things are in each other's way; less is a clearance that somebody may give up
SMALLEST = 0.030  # m, of a board's width; common practice, no source


def built(design: JudgedDesign, build: Build | None = None) -> tuple[JudgedDesign, Box]:
    """A design judged with the board as measured, and its box, built as ``build`` says or else the job.

    The job of the design given back says so too: its sheets and its saw are those of ``build``.

    Raises InputFaults where its parts are in each other's way.
    """
    how = design.scenario.build if build is None else build
    evaluator = copy(design.evaluator)  # none of its arrays go by how a pick is built
    evaluator.scenario = replace(design.scenario, build=how)
    measured = as_measured(
        replace(design, evaluator=evaluator), board_thickness=how.board_thickness, baffle_layer=how.baffle_layer
    )
    clashes = [each for each in measured.inspection.broken if each.measured < -CLASH]
    if clashes:
        first = min(clashes, key=lambda each: each.measured)
        parts = {"one": first.one, "other": first.other}
        raise refusal(str(design.row["id"]), "build_sticks_out" if first.inside else "build_shares_place", **parts)
    return measured, box_of(measured, joints=how.joints, glue_strip=how.glue_strip)


def as_measured(
    design: JudgedDesign, *, board_thickness: float = math.nan, baffle_layer: float = math.nan
) -> JudgedDesign:
    """A design of board so thick, m, as it was bought; nan: as the job's stock has it.

    Its sizes over the boards, its parts and the tuning it was chosen by stay; all else follows, how it plays too.
    ``shortfalls`` of it are what has no room any more.
    """
    scenario, stock = design.scenario, design.scenario.stock
    board = stock.board_thickness if math.isnan(board_thickness) else board_thickness
    layer = stock.layer_of("double") if math.isnan(baffle_layer) else baffle_layer
    if (board, layer) == (stock.board_thickness, stock.layer_of("double")):
        return design
    # Braces stand where they stood.
    span = design.evaluator.rules.brace_span
    stock = replace(stock, board_thickness=board, baffle_layer=layer, brace_span=span)
    evaluator = Evaluator(replace(scenario, stock=stock))
    designs = designs_of(evaluator, pd.DataFrame([dict(design.row)]))
    judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
    if not len(judgement.heard):
        thick = as_measured_size(board)
        raise refusal("build.board_thickness", "build_does_not_fit", board=thick)
    (told,) = judged(evaluator, designs, judgement).to_dict("records")
    row = {"id": design.row["id"], **{str(key): told[key] for key in told}}
    return JudgedDesign(evaluator=evaluator, row=row, designs=designs, judgement=judgement)


def box_of(design: JudgedDesign, *, joints: str = JOINT_ORDERS[0], glue_strip: float = 0.0) -> Box:
    """What a design is made of, its panels joined in one of :data:`engine.workshop.joints.JOINTS`.

    ``glue_strip`` is the side of the square strips in its inner corners, m; 0 without.
    """
    parts, scenario, order = design.bodies, design.scenario, JOINTS[joints]
    wedges = design.judgement.wedges
    back, lean = float(wedges.back_angle), float(wedges.lean[0])
    tall = wedges.outer_height
    nominal = float(bevel_of(wedges.lean, tall=tall, saw=scenario.saw, back_angle=back)[0])
    as_set = as_set_by({back: back, lean: nominal})
    boards = shell(parts, order, as_set)
    boards = with_cuts(rounded(boards, parts.outer, scenario.box.round_over), parts, _screws(design))
    boards += [*inner_boards(parts, as_set), *feet(parts, float(design.evaluator.below(design.designs)[0]))]
    glued = strips(parts, glue_strip, as_set)
    boards = joined([*boards, *glued])
    row, taken = design.row, sum(board.volume for board in glued)
    inside = float(wedges.gross_volume[0]) - sum(board.volume for board in boards if board.role in INSIDE)
    chamber = Chamber(
        inside_volume=inside, net_volume=float(row["net_volume_m3"]) - taken, drivers=int(row["driver_count"]),
        vents=len(parts.kind("pipe")) + len(parts.kind("slot")), radiators=len(parts.kind("radiator")),
    )  # fmt: skip
    return Box(
        boards=tuple(boards), parts=tuple(parts_of(parts, _stands_out(design))), chambers=(chamber,), row=row,
        title=scenario.title, joints=joints, board=parts.board, layer=parts.layer, outer=parts.outer,
        place=np.array([float(row[key]) for key in ("box_across_m", "box_forward_m", "box_up_m")]),
        last=_last(parts, order), cautions=tuple(_cautions(boards, scenario.saw.most_bevel)),
    )  # fmt: skip


def _last(parts: Assembly, order: JointOrder) -> str:
    """The panel that closes the box: a baffle no longer goes on where its bent vents have to pass braces."""
    braces = [across(shape) for body in parts.of(roles.BRACE, roles.DOWEL) for shape in body.solids]
    for body in parts.of(roles.PASSING_PIPE):
        low, high = across(body.rounds[-1])
        if body.panel == order.last and any(low < end and start < high for start, end in braces):
            return "right side"
    return order.last


def _mounted(design: JudgedDesign) -> dict[str, Driver | PassiveRadiator]:
    """What is mounted in its panels, by the kind of thing."""
    family = design.evaluator.families.items[int(design.designs.family[0])]
    found: dict[str, Driver | PassiveRadiator] = {"driver": family.wiring.driver}
    if isinstance(family.fitting.part, PassiveRadiator):
        found["radiator"] = family.fitting.part
    return found


def _screws(design: JudgedDesign) -> dict[str, Screws]:
    return {
        kind: Screws(
            circle=part.screw_circle_diameter, count=part.screw_count, thick=part.screw_diameter,
            turn=part.screw_angle if isinstance(part, Driver) else math.nan,
        )
        for kind, part in _mounted(design).items()
    }  # fmt: skip


def _stands_out(design: JudgedDesign) -> dict[str, float]:
    recess = design.bodies.recess
    return {kind: max(part.front_height - recess, 0.0) for kind, part in _mounted(design).items()}


def _cautions(boards: list[Board], most_bevel: float) -> Iterator[Caution]:
    for board in boards:
        for edge in board.edges:
            if abs(edge.bevel) > most_bevel + SAME:
                yield Caution("bevel", board.name, edge.side, abs(edge.bevel), most_bevel)
        if board.role != "strip" and board.blank[1] < SMALLEST - SAME:
            yield Caution("small", board.name, "wide", board.blank[1], SMALLEST)
        for cut in board.cuts:
            if cut.operation != "notch" and (left := board.beside(cut)) < LEAST_EDGE - SAME:
                yield Caution("edge", board.name, cut.name, left, LEAST_EDGE)
