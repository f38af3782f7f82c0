"""The build sheet: all that a workshop needs of one design, as blocks; paper and screen only set them.

Everything comes from the boards and parts of one :class:`engine.workshop.board.Box`; nothing is worked out twice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from engine.arrays import Floats
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.quantities import Units, bare_set_out, show, show_drill, show_set_out, show_size
from engine.report.blocks import Beside, Block, Caution, Gathered, Named, Picture, Section, Step, Steps, Table, Words
from engine.report.cutting import AT_THE_SAW, SHEETS, Sawn, sheet_lines
from engine.report.order_of_work import order_of_work
from engine.report.pipework import dowel_table, pipe_table
from engine.report.set_up import TITLE as SET_UP
from engine.report.set_up import parts_of
from engine.report.to_buy import boards_bought, bought
from engine.report.typeset import PAPERS, Paper, typeset
from engine.report.wording import drivers, figure, openings, outside
from engine.report.work.cautions import GENERAL, VEHICLE
from engine.report.work.sawing import hole_for_pipe
from engine.words.voice import first_up
from engine.workshop.alike import alike, names_of, told_together
from engine.workshop.board import Board, Box, Cut, Edge
from engine.workshop.board import Caution as BoardCaution
from engine.workshop.board_drawing import board_svg, face_of, letters_of
from engine.workshop.ring import sharp
from engine.workshop.sawing.words import MANUAL, steps, summary

DRAWING_WIDTH = {"isometric": 110.0, "section": 120.0, "front": 115.0, "plan": 88.0}  # mm
BOARD_WIDTH = 92.0  # mm
WIRING_WIDTH = 95.0  # mm
SHEET_WIDTH = 88.0  # mm
SQUARE = 1e-4  # rad


@dataclass(frozen=True, kw_only=True)
class BuildSheet(Named):
    """The whole sheet: what stands in its foot, and its sections in order."""

    sections: tuple[Section, ...]


def build_sheet_of(box: Box, design: JudgedDesign, cut: Sawn, units: Units, *, written: date) -> BuildSheet:
    """The sheet of a box made of a design, judged with the board as measured, and cut as ``cut`` says."""
    scenario = design.scenario
    sections = [
        _first(box, design, units, written),
        to_buy_section(box, design, cut, units),
        views_section(design, units),
        Section(title="Cutting list", blocks=(cutting_list(box, units), *warnings(box, units))),
        *_sawn(cut, design, units),
        *panel_sections(box, units),
        *pipe_sections(box, units),
        Section(title="Order of work", blocks=(Caution(GENERAL), Steps(order_of_work(box, scenario, units)))),
        *_set_up(design, units),
    ]
    return BuildSheet(job=box.title, design=str(box.row["id"]), written=written, sections=tuple(sections))


def build_sheet_pdf(sheet: BuildSheet, paper: Paper = "a4") -> bytes:
    """It as the bytes of a PDF; the same sheet gives the same bytes."""
    gathered = Gathered()
    told = {
        "title": f"Build sheet: {sheet.named}",
        "foot": sheet.named,
        "paper": PAPERS[paper],
        "sections": [
            {
                "title": section.title, "new": section.on_new_page, "face": section.face,
                "blocks": gathered.told(section.blocks),
            }
            for section in sheet.sections
        ],
    }  # fmt: skip
    return typeset("build_sheet.typ", told, pictures=gathered.pictures, written=sheet.written)


def _first(box: Box, design: JudgedDesign, units: Units, written: date) -> Section:
    row = box.row
    layer = f", second layer of the baffle {show_size(box.layer, units)}" if box.layer else ""
    facts = [
        ("Job", box.title),
        ("Design", str(row["id"])),
        ("Date", f"{written.day} {written:%B %Y}"),
        ("Box", KINDS[row["box_kind"]].label),
        ("Drivers", drivers(row)),
        ("Opening", openings(row, units)),
        ("Outside", outside(row, units)),
        ("Board as measured", f"{show_size(box.board, units)}{layer}"),
        ("Joints", box.joints),
        ("Air inside", figure("net_volume_m3", row["net_volume_m3"], units) + ", net"),
    ]
    if KINDS[row["box_kind"]].tuned:
        facts.append(("Tuned to", figure("tuning_hz", row["tuning_hz"], units)))
    if math.isfinite(weight := float(row.get("weight_kg", math.nan))):
        facts.append(("Weight, with drivers", show(weight, "mass", units)))
    return Section(
        title="Build sheet",
        blocks=(
            Beside(
                left=(Table(headings=("", ""), rows=tuple(facts), wide=(1,)),),
                right=(_drawing(design, "isometric", units),),
                share=0.5,
            ),
            Words(
                "Left, right, front and back are the box's own, as somebody sees it who stands before its front (the "
                "baffle) and looks at it; up is up as it stands in the vehicle. Pages of boards say which face is "
                "drawn, and which way left, right and up of the box lie on it.",
            ),
            Words(
                "Long point: the face of a board that reaches further at a bevelled edge; short point: the other one. "
                "Bevels are angles as a saw is set: 0° is square. Sizes of boards are finished sizes, "
                + ("in mm." if units == "metric" else "in inches; what is no whole 1/64 in is in thousandths."),
            ),
            Caution(GENERAL),
            Caution(VEHICLE),
        ),
    )


def _drawing(design: JudgedDesign, view: str, units: Units) -> Picture:
    return Picture(svg=design.drawing(view, units), alt=f"{view} of the box", width=DRAWING_WIDTH[view])


def views_section(design: JudgedDesign, units: Units) -> Section:
    """The section, the plan and the front, in the vehicle's space."""
    return Section(
        title="Views",
        blocks=(
            Words(
                "Views are of the closed box, over all its boards: do not set out from this page, but from the pages "
                "of panels, which have each face by itself. The front view is seen square to the baffle.",
            ),
            Beside(
                left=(_drawing(design, "section", units), _drawing(design, "plan", units)),
                right=(_drawing(design, "front", units),),
            ),
        ),
    )


def cutting_list(box: Box, units: Units) -> Table:
    """Every board once, with how many, its blank and its bevels."""
    rows = []
    for number, same in enumerate(alike(box.boards), start=1):
        board = same[0]
        long, wide = board.blank
        rows.append(
            (
                f"{number}", names_of(same), f"{len(same)}", show_size(board.thickness, units),
                f"{show_set_out(long, units)} × {show_set_out(wide, units)}", shape_of(board, units),
            )
        )  # fmt: skip
    return Table(
        headings=("No.", "Board", "Pieces", "Thick", "Blank to the long points", "Edges"),
        rows=tuple(rows), figures=(0, 2, 3), wide=(1, 5),
    )  # fmt: skip


def shape_of(board: Board, units: Units) -> str:
    """What a board is beside its blank: its shape where it is no rectangle, its bevels."""
    shape = {"rectangle": "", "trapezoid": "trapezoid", "other": "see its page"}[board.shape]
    bevels = [
        f"{edge.side} {show(abs(edge.bevel), 'angle', units)}" for edge in board.edges if abs(edge.bevel) > SQUARE
    ]
    return "; ".join(filter(None, (shape, f"bevelled: {', '.join(bevels)}" if bevels else "square")))


def warnings(box: Box, units: Units) -> list[Block]:
    """What to mind of boards, and what glue strips take of the air."""
    return [*(_mind(caution, units) for caution in told_together(box.cautions)), *map(Words, strip_words(box, units))]


def strip_words(box: Box, units: Units) -> list[str]:
    """By how much glue strips make the inside smaller than the figures of the design have it; nothing without any."""
    taken = sum(board.volume for board in box.boards if board.role == "strip")
    if not taken:
        return []
    share = taken / float(box.row["net_volume_m3"])
    return [
        (
            f"Glue strips take {show(taken, 'volume', units)} of the air inside, {100.0 * share:.1f} % of it. The "
            "design's figures do not know of them: tuning and resonance come out up to half as many per cent higher."
        )
    ]


def _mind(caution: BoardCaution, units: Units) -> Words:
    """Little board at an edge hurts nobody: it is told without a sign."""
    return Words(f"{first_up(caution.sentence(units))}.", "plain" if caution.code == "edge" else "warning")


def panel_sections(box: Box, units: Units) -> list[Section]:
    """The pages of boards, each kind once, in the order of the cutting list."""
    sections = []
    for number, same in enumerate(alike(box.boards), start=1):
        sections.append(
            Section(
                title="Panels" if number == 1 else "",
                blocks=(board_page(box, same, number, units),),
                on_new_page=number == 1,
                face="Panels: each face as named on it",
            )
        )
    return sections


def board_page(box: Box, same: tuple[Board, ...], number: int, units: Units) -> Beside:
    """One board: its drawing beside its sizes, edges, holes and what to mind."""
    board = same[0]
    svg = board_svg(board, units, name=f"board-{number}")
    many = f" – {len(same)} pieces" if len(same) > 1 else ""
    said: list[Block] = [
        Words(f"{number}. {first_up(names_of(same))}{many}", "title"),
        Words(
            f"{show_size(board.thickness, units)} thick; blank "
            f"{' × '.join(show_set_out(each, units) for each in board.blank)}. "
            f"Drawn: {face_of(board)}, seen square on. Places are across and up on that face, {board.datum}.",
        ),
        *(Words(where_it_stands(each, units)) for each in same if each.role not in ("shell", "layer")),
        edge_table(board, units),
        *hole_blocks(board, units),
        *(Words(note) for note in board.notes),
    ]
    names = {each.name for each in same}
    said += [_mind(caution, units) for caution in told_together(box.cautions) if caution.board in names]
    picture = Picture(svg=svg, alt=f"{board.name}, {face_of(board)}, dimensioned", width=BOARD_WIDTH)
    unit = "mm" if units == "metric" else "inches"
    return Beside(left=(picture, Words(f"Sizes in {unit}, not to scale.", "note")), right=tuple(said), share=0.52)


def where_it_stands(board: Board, units: Units) -> str:
    """Where a board within the box is, by its first corner."""
    corner = board.outside[0]
    across, forward, up = (show_set_out(float(each), units) for each in (corner[0], corner[1], abs(corner[2])))
    high = f"{up} above the box's underside" if corner[2] >= 0.0 else f"{up} below it"
    name = first_up(board.name)
    return (
        f"{name}: corner 1 of its {face_of(board)} is {across} from the box's left end, {forward} forward of its lower "
        f"rear edge and {high}."
    )


def edge_table(board: Board, units: Units) -> Table:
    """Corner by corner: where it is on the named face, then the edge that begins there."""
    corners, others = board.corners("outside"), board.corners("inside")
    rows = []
    for number, (edge, corner, after) in enumerate(
        zip(board.edges, corners, np.roll(corners, -1, axis=0), strict=True), start=1
    ):
        here = _place(corner, units)
        other = _place(others[number - 1], units)
        length = show_set_out(float(np.linalg.norm(after - corner)), units)
        said = f"{edge.side}: {length}{_said(edge, units)}"
        rows.append((f"{number}", here, other if other != here else "same", said))
    return Table(
        headings=("", "Corner", "On the other face", "Edge from it"), rows=tuple(rows), figures=(0,), wide=(3,)
    )


def _said(edge: Edge, units: Units) -> str:
    said = []
    if abs(edge.bevel) > SQUARE:
        longer = "this" if edge.bevel > 0.0 else "the other"
        said.append(f"bevel {show(abs(edge.bevel), 'angle', units)}, long point on {longer} face")
    else:
        said.append("square")
    if edge.meets:
        said.append(f"against the {edge.meets}")
    if edge.round_over > 0.0:
        said.append(f"rounded {show_set_out(edge.round_over, units)} when glued")
    return "; " + ", ".join(said)


def _place(point: Floats, units: Units) -> str:
    """Across and up, as a pair that no line breaks."""
    across, up = (bare_set_out(float(each), units).replace(" ", "\N{NO-BREAK SPACE}") for each in point)
    return f"{across},\N{NO-BREAK SPACE}{up}"


def hole_blocks(board: Board, units: Units) -> list[Block]:
    """What is cut into a board, line by line."""
    if not board.cuts:
        return []
    rows = [(letter, *_hole(cut, units)) for letter, cut in zip(letters_of(board), board.cuts, strict=True)]
    return [Table(headings=("", "Cut", "What", "Where"), rows=tuple(rows), wide=(2, 3))]


def _hole(cut: Cut, units: Units) -> tuple[str, str, str]:
    deep = "through" if cut.through else f"{show_set_out(cut.depth, units)} deep"
    if cut.face == "inside":
        deep += ", from the other face"
    if abs(cut.lean) > SQUARE:
        deep += f", walls lean {show(abs(cut.lean), 'angle', units)}"
    if cut.operation == "drill":
        circle = f" on a circle of ⌀ {show_set_out(cut.circle, units)}" if math.isfinite(cut.circle) else ""
        what = f"{len(cut.places)} × drill ⌀ {show_drill(cut.diameter, units)}{circle}, {deep}"
        return cut.name, what, "; ".join(_place(place, units) for place in cut.places)
    assert cut.ring is not None
    kind = {"hole": "", "notch": "notch, ", "recess": "recess, "}[cut.operation]
    if (round_ := cut.ring.round) is not None:
        return (
            cut.name,
            f"{kind}⌀ {show_set_out(2.0 * round_.radius, units)}, {deep}",
            f"centre {_place(round_.centre, units)}",
        )
    corners, radius = sharp(cut.ring)
    radius_said = f", corners rounded to {show_set_out(radius, units)}" if radius else ""
    arcs = [] if radius else [
        f"arc of {show_set_out(arc.radius, units)} radius about {_place(arc.centre, units)}" for arc in cut.ring.arcs
    ]  # fmt: skip
    places = "; ".join(_place(corner, units) for corner in corners)
    return (
        cut.name,
        f"{kind}outline{radius_said}, {deep}",
        "corners " + ("before rounding " if radius else "") + "; ".join([places, *arcs]),
    )


def pipe_sections(box: Box, units: Units) -> list[Section]:
    """The pipes piece by piece, and the dowels; nothing of a box without any."""
    found = []
    if (table := pipe_table(box, units)) is not None:
        said = Words(
            "Lengths are cut lengths, square at both ends, with what goes into a socket included; a socket is filled "
            "to its bottom. The outer end is flush with the panel's outside. " + hole_for_pipe(units),
        )
        found.append(Section(title="Pipes", blocks=(said, table), on_new_page=False))
    if (table := dowel_table(box, units)) is not None:
        said = Words(
            "Cut to the inner faces of back and baffle at the height of each; the longest side is measured along the "
            "dowel. The middle of each end lies under the screw hole of its panel.",
        )
        found.append(Section(title="Dowels", blocks=(said, table), on_new_page=False))
    return found


def to_buy_section(box: Box, design: JudgedDesign, cut: Sawn, units: Units) -> Section:
    """What the workshop needs, with amounts; ``cut`` has the sheets that its boards are cut from."""
    listed = [*boards_bought(cut.sheets, design.scenario, units), *bought(box, design.scenario, units)]
    rows = tuple((each.what, each.amount, each.about) for each in listed)
    note = f"Amounts follow from this box's own sizes with some over; how sheets are cut is under “{SHEETS}”."
    return Section(
        title="To buy",
        blocks=(Table(headings=("What", "How much", ""), rows=rows, figures=(1,), wide=(0, 2)), Words(note, "note")),
        on_new_page=False,
    )


def _sawn(cut: Sawn, design: JudgedDesign, units: Units) -> list[Section]:
    """The stock sheets, and every cut in order."""
    drawn = [
        Picture(
            svg=cut.drawing(plan, units),
            alt=f"Sheet {plan.number}",
            width=SHEET_WIDTH,
        )
        for plan in cut.sheets.plans
    ]
    told = [
        Step(title=each.heading, words=each.lines, cautions=each.cautions)
        for each in steps(cut.sheets, cut.order, units)
    ]
    lines = tuple(Words(line) for line in sheet_lines(cut, design, units))
    order = (Words(f"{summary(cut.sheets, cut.order)} {MANUAL}"), Steps(tuple(told)))
    return [
        Section(title=SHEETS, blocks=(*lines, *drawn), on_new_page=False, face=SHEETS),
        Section(title=AT_THE_SAW, blocks=order, face=AT_THE_SAW),
    ]


def _set_up(design: JudgedDesign, units: Units) -> list[Section]:
    """Wiring and settings, part by part."""
    found = [Section(title=SET_UP, blocks=(), face=SET_UP)]
    for part in parts_of(design, units):
        blocks: list[Block] = [Caution(part.cautions)] if part.cautions else []
        if part.picture:
            blocks.append(Picture(svg=part.picture, alt=part.seen, width=WIRING_WIDTH))
        blocks += [Words(line) for line in part.lines]
        blocks += [Words(f"{step}. {words}") for step, words in enumerate(part.steps, start=1)]
        blocks += [Words(line) for line in part.after]
        if part.heading:
            blocks.append(Table(headings=part.heading, rows=part.rows, wide=(len(part.heading) - 1,)))
        if part.note:
            blocks.append(Words(part.note, "note"))
        found.append(Section(title=part.title, blocks=tuple(blocks), on_new_page=False, face=SET_UP))
    return found
