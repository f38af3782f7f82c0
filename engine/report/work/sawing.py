"""From the board that was bought to boards and pipes that are cut, drilled and tried dry."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from engine.quantities import Units, show, show_drill, show_size
from engine.report.blocks import Step
from engine.report.cutting import AT_THE_SAW, SHEETS
from engine.report.work.cautions import (
    CEMENT,
    DRILL,
    DUST,
    HOLE_SAW,
    JIGSAW,
    OFF_CUTS,
    PIPE,
    ROUTER,
    SAW,
    SMALL,
)
from engine.report.work.told import Told
from engine.words.voice import first_up, listed
from engine.workshop.alike import in_few
from engine.workshop.board import SQUARE, Board, Cut
from engine.workshop.joints import JOINTS

SHEET = 2.44 * 1.22  # m², of a whole sheet of board
SLIDES: dict[Units, str] = {"metric": "0.5 mm", "us": "1/64 in"}  # that a hole is wider than its pipe; common practice


def sawing(told: Told) -> Iterator[Step]:
    """Every step up to the dry fit."""
    yield _measure(told)
    yield _mark()
    yield _saw(told)
    if told.layers:
        yield _layers(told)
    yield from _cut_outs(told)
    yield from _pipes(told)
    if told.dowels:
        yield _dowels(told)
    yield _dry_fit(told)


def _measure(told: Told) -> Step:
    box = told.box
    layer = f" and {show_size(box.layer, told.units)} for the baffle's second layer" if box.layer else ""
    return Step(
        title="Measure the board you bought",
        words=(
            (
                f"Everything here holds for board that measures {show_size(box.board, told.units)}{layer}, with a "
                "calliper in four places. Board is often off what it is sold as. If yours differs by more than "
                f"{told.about('0.2 mm', '0.008 in')}, enter it as measured and print again."
            ),
            f"Joints: {JOINTS[box.joints].words}.",
        ),
    )


def _mark() -> Step:
    return Step(
        title="Mark the blanks as they come off the sheet",
        words=(
            (
                "Before the blade is tilted or a slanted edge is cut, write on each blank its name, which face is "
                f"outside, and its edges as its page has them (front, rear, upper, lower): “{AT_THE_SAW}” goes by "
                "them. What is sawn off takes its mark along: write it anew."
            ),
        ),
    )


def _saw(told: Told) -> Step:
    box = told.box
    weight = SHEET * box.board * told.scenario.stock.board_density
    bevels = sorted({round(math.degrees(abs(edge.bevel)), 2) for board in box.boards for edge in board.edges})
    tilts = [f"{each:g}°" for each in bevels if each > 0.02]
    words = [
        (
            f"Saw the boards in the order of “{AT_THE_SAW}”, from the sheets under “{SHEETS}”; the cutting list "
            "has them all. Sizes are finished ones, to the long point where an edge is bevelled."
        ),
    ]
    cautions = [
        (
            f"A whole sheet weighs about {show(weight, 'mass', told.units)}: two people, gloves, lift with "
            "straight backs; break sheets down on a floor with battens before they go to the saw. Gloves come off "
            "at the saw."
        ),
        SAW,
        DUST,
    ]
    if tilts:
        words.append(
            f"Bevels: {listed(tilts)} from square. Prove each on scrap with the gauge of the templates before the "
            "first good piece."
        )
        cautions.append(OFF_CUTS)
    words.append(
        "Check: boards of one name lie on each other without a step; both diagonals of every rectangle agree "
        f"within {told.about('1 mm', '1/32 in')}. Every board now has its name, its outside and an arrow up."
    )
    return Step(title="Saw the boards", words=tuple(words), cautions=tuple(cautions))


def _layers(told: Told) -> Step:
    (layer,) = told.layers
    return Step(
        title="Glue the baffle's two layers together",
        words=(
            (
                f"Glue the {layer.name} ({show_size(layer.thickness, told.units)}) on the outside of the baffle, "
                "face to face, edges as the section template shows them, in bands of glue no more than a hand "
                "apart. Weights or clamps all over, overnight on a flat bench. From here on they are one board."
            ),
        ),
    )


def _cut_outs(told: Told) -> Iterator[Step]:
    boards = told.box.boards
    holes = [(board, cut) for board in boards for cut in board.cuts if cut.operation in ("hole", "notch")]
    if holes:
        yield _openings(told, holes)
    recesses = [(board, cut) for board in boards for cut in board.cuts if cut.operation == "recess"]
    if recesses:
        deep = listed(list(dict.fromkeys(told.size(cut.depth) for _, cut in recesses)))
        names = listed(in_few([cut.passes for _, cut in recesses]))
        yield Step(
            title="Rout the recesses for flanges",
            words=(
                (
                    f"For {names}, {deep} deep, before the opening inside is sawn if the router runs on a centre "
                    "pin. Try the flange itself: it should drop in with the thickness of a sheet of paper all "
                    "round."
                ),
            ),
            cautions=(ROUTER, DUST),
        )
    drilled = [(board, cut) for board in boards for cut in board.cuts if cut.operation == "drill"]
    if drilled:
        lines = _drilled(told, drilled)
        yield Step(
            title="Drill the screw holes",
            words=(
                *dict.fromkeys(lines),
                (
                    "Hold the real flange to the template first: makers change bolt circles. Tape on the bit "
                    "marks the depth."
                ),
            ),
            cautions=(DRILL,),
        )


def _drilled(told: Told, drilled: Sequence[tuple[Board, Cut]]) -> list[str]:
    """Every drilling once: of a baffle of two layers, glued by then, from its outside through one into the other."""
    layers = {cut.name: board.thickness for board, cut in drilled if board.role == "layer"}
    lines = []
    for board, cut in drilled:
        what = f"{first_up(cut.name)} in the {board.name}"
        deep = cut.depth
        if board.role == "layer":
            if any(other.name == cut.name and under.name == "baffle" for under, other in drilled):
                continue
        elif board.name == "baffle" and cut.name in layers:
            what, deep = f"{first_up(cut.name)} in the baffle, from the outside of both layers", deep + layers[cut.name]
        reach = "through" if math.isnan(deep) else f"{told.size(deep)} deep, no further"
        lines.append(f"{what}: {len(cut.places)} × ⌀ {show_drill(cut.diameter, told.units)}, {reach}.")
    return lines


def _openings(told: Told, holes: Sequence[tuple[Board, Cut]]) -> Step:
    lines = [
        f"{first_up(listed(in_few([board.name for board, _ in same])))}: {said}." for same, said in _by_board(holes)
    ]
    lean = [
        f"{first_up(cut.name)}: its edges that run along the width lean {show(abs(cut.lean), 'angle', told.units)} "
        "from square to the face, level in the finished box as the section shows; its short edges are square. Tilt "
        "the jigsaw's sole for them, or file to it afterwards."
        for _, cut in holes
        if abs(cut.lean) > SQUARE
    ]
    hollows = [board for board, cut in holes if cut.operation == "notch" and board.role == "block"]
    cautions = [JIGSAW, ROUTER, DUST]
    if hollows:
        lean.append(hollow_words(told.about("3 mm", "1/8 in")))
        cautions += [HOLE_SAW, SMALL]
    return Step(
        title="Saw the openings",
        words=(
            "Set out from the panel pages or stick the templates down; cut on the waste side.",
            *lines,
            *lean,
            *((hole_for_pipe(told.units),) if told.pipes else ()),
        ),
        cautions=tuple(cautions),
    )


def hollow_words(blunt: str) -> str:
    """How a hollow for a pipe is cut into a block, and what becomes of its thin ends."""
    return (
        "Hollows: jigsaw or coping saw to the template, the block in a vice; or a hole saw, with scrap of the same "
        "board clamped tight against the edge that the hole runs over. Where a hollow ends in a feather edge, blunt "
        f"it until it is {blunt} thick: the pipe lies in sealant there, and nothing goes by the tips."
    )


def _by_board(holes: Sequence[tuple[Board, Cut]]) -> list[tuple[list[tuple[Board, Cut]], str]]:
    found: dict[str, list[tuple[Board, Cut]]] = {}
    by_name: dict[str, list[tuple[Board, Cut]]] = {}
    for board, cut in holes:
        by_name.setdefault(board.name, []).append((board, cut))
    for same in by_name.values():
        said = listed(in_few([cut.name for _, cut in same]))
        found.setdefault(said, []).append(same[0])
    return [(same, said) for said, same in found.items()]


def _pipes(told: Told) -> Iterator[Step]:
    if not told.pipes:
        return
    words = ["Cut the pipes square to the lengths under “Pipes”, deburr inside and out."]
    whole = [pipe for pipe in told.bent if not told.threaded(pipe)]
    later = [pipe for pipe in told.bent if told.threaded(pipe)]
    if told.bent:
        words.append(
            "Push pieces and elbows together dry to the bottom of each socket, mark across the joint and measure the "
            "whole along its middle line."
        )
    if whole:
        words.append(f"{_names(told, whole)}: cement them with the marks in line; it sets in seconds.")
    if later:
        words.append(
            f"{_names(told, later)}: cement only the short piece, that goes through the panel, into its elbow. The "
            "long piece follows in the box, through the braces."
        )
    yield Step(title="Cut the pipes", words=tuple(words), cautions=(PIPE, *((CEMENT,) if told.bent else ())))


def _names(told: Told, pipes: Sequence[object]) -> str:
    return first_up(listed(in_few([pipe.name for pipe in told.pipes if pipe in pipes])))


def _dowels(told: Told) -> Step:
    return Step(
        title="Cut the dowels",
        words=(
            (
                "Cut them to the lengths under “Dowels”, their ends to the lean told there: in a mitre box, or along "
                "a block that is sawn at the same tilt as the baffle."
            ),
        ),
    )


def _dry_fit(told: Told) -> Step:
    inside = in_few(board.name for board in (*told.braces, *told.slots, *told.standing))
    kinds = (("driver", True), ("passive radiator", told.radiators), ("pipe", told.pipes), ("cup", told.cups))
    tried = [f"every {kind}" if kind != "cup" else "the cup" for kind, there in kinds if there]
    words = [
        "Put the whole box together without glue, with clamps or tape, on the full-size section: "
        + (f"{listed(inside)} among it." if inside else "no board may rock."),
        (
            f"No joint may show more than {told.about('0.5 mm', '1/64 in')} of light; mend bevels now. Mark where "
            "every board lands."
        ),
        (
            f"Try {listed(tried)} where they go; magnets and baskets keep "
            f"{told.size(told.scenario.box.breathing_gap)} of air to all boards."
        ),
    ]
    if told.bent:
        words.append("Pipes with an elbow do not go through their hole once the box is closed: try them in place.")
    return Step(title="Dry fit", words=tuple(words))


def hole_for_pipe(units: Units) -> str:
    """What a hole for a pipe is sawn to."""
    return (
        "Holes for pipes are drawn as wide as the pipe's outside. Measure the pipe you bought: saw them "
        f"{SLIDES[units]} wider than that, so that it slides.".replace(" mm", "\N{NO-BREAK SPACE}mm")
    )
