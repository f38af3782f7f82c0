"""What is said of sheets and of the order at the saw, in the user's units; cautions stand where the hazard is."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from engine.parts import Cutting
from engine.quantities import Units, show_sawn, show_set_out
from engine.words.voice import first_up, listed
from engine.workshop.alike import in_few
from engine.workshop.sawing.order import Rough, SawCut, SawOrder, Setting, Turn, letter
from engine.workshop.sawing.pieces import Line, Piece
from engine.workshop.sawing.sheets import SheetPlan, Sheets

SQUARE_FOOT = 0.3048**2  # m²
AT_IT = "– "  # before what is cut at the setting in the line above
MANUAL = "The manual of your saw comes before anything that is said here."
SET = {
    "fence": "Fence",
    "strip stop": "Stop for strips",
    "sled": "On the sled, stop",
    "track": "To marks with the track saw,",
}
TURNED: dict[Turn, str] = {
    "": "leave the strip as it lies",
    "over its length": "roll the strip over about its length",
    "round flat": "turn the strip half round, flat on the table",
    "end over end": "turn the strip over end for end",
}
CAUTIONS = {
    "sheet": "Two people carry and turn a whole sheet. Break it down with a track saw, or a hand-held circular saw "
    "along a clamped straightedge, on rigid foam, its blade set just deeper than the board.",
    "dust": "Board makes fine dust: extraction on, a mask, eyes and ears protected.",
    "rip": "Riving knife and guard on; push stick or push block at hand; stand beside the line of the blade. What is "
    "cut off must fall free.",
    "wide": "Hold up what stands out beyond the table, or have somebody do so who does not pull.",
    "tilt": "Unplug the saw to tilt it. Put the fence on the side that the blade leans away from, so that no off-cut "
    "is caught under the blade; turn the blade by hand past the fence and the insert before it runs. That side may be "
    "the left of the blade. Where the fence cannot stand there, cut these edges to marks with a track saw set alike: "
    "what is told of the fence holds for that side only.",
    "wedge": "The wedge that falls off is thin: leave it until the blade stands still.",
    "point": "Here the sharp point lies down at the fence: clamp a straight strip to the fence, tight on the table, so "
    "that it cannot creep under.",
    "deep": "The blade may not cut through this board at this tilt: try the depth on scrap first, and do not force it.",
    "strip": "Too narrow to pass between fence and blade: set a stop on the free side before the blade, move the fence "
    "up for each strip, and let the strip fall free.",
    "crosscut": "Crosscut on a sled or with a mitre gauge, never with the fence at the other end: what is caught "
    "between blade and fence is thrown. A stop for lengths is clamped to the sled.",
    "short": "Hold short pieces with a clamp, not by hand.",
    "marks": "Cut slanted edges along a clamped straightedge, with a track saw or on a tapering jig, never freehand.",
    "small": "Slant small pieces with a hand saw or jigsaw, held in a vice or by clamps.",
}  # fmt: skip


@dataclass(frozen=True)
class Step:
    """One step: what it is, what is done in it, one line each, and what to take care of there."""

    heading: str
    lines: tuple[str, ...]
    cautions: tuple[str, ...] = ()


def size(value: float, units: Units) -> str:
    """A length that is set or marked, as :func:`engine.quantities.show_set_out` has it; its unit stays on its line."""
    return show_set_out(value, units).replace(" ", "\u00a0").replace("\u00a0(", " (")


def about(value: float, units: Units) -> str:
    """A length that is no more than about: a kerf, an allowance, a limit; in inches to the next sixteenth."""
    return show_sawn(value, units).replace(" ", "\u00a0")


def broken(value: float, units: Units) -> str:
    """A size that a sheet is broken down to: in inches to the next sixteenth, less than half of any allowance off."""
    return size(value, units) if units == "metric" else about(value, units)


def _area(value: float, units: Units) -> str:
    return f"{value:.2f} m²" if units == "metric" else f"{value / SQUARE_FOOT:.1f} ft²"


def degrees(tilt: float) -> str:
    return f"{round(math.degrees(tilt), 2):.12g}°"


def several(names: Sequence[str]) -> str:
    """Boards in a row, those that differ by their number together."""
    return listed(in_few(names))


def sheet_words(sheets: Sheets, units: Units, *, currency: str = "", by_area: float = math.nan) -> list[str]:
    """What is bought and how well it is used.

    ``by_area`` is what the board costs in a search, which counts it by area.
    """
    lines = []
    for group in sheets.groups:
        plans = [plan for plan in sheets.plans if plan.thickness == group.thickness]
        kinds = Counter((plan.stock.length, plan.stock.width, plan.stock.name) for plan in plans)
        words = listed([
            f"{count} × {name} of {size(long, units)} × {size(wide, units)}"
            for (long, wide, name), count in kinds.items()
        ])  # fmt: skip
        lines.append(f"Board of {size(group.thickness, units)}: {words}.")
        if group.assumed:
            lines.append("No sheet of that thickness is stated, so a common size is assumed.")
        if short := sum(plan.missing for plan in plans):
            lines.append(f"That is {short} more than you have.")
        packing = group.packing
        more = f"{100.0 * packing.gap:.1f} % more than the least that is proved for cuts of this kind"
        best = "which is proved to be the least for cuts of this kind" if packing.gap < 5e-4 else more
        lines.append(
            f"The boards take {_area(packing.used, units)} of them, kerfs and what is between included, {best}."
        )
        plain = packing.shelves[1] / packing.used - 1.0
        if plain > 5e-4 and packing.shelves[0] == packing.price:
            lines.append(f"Set in plain rows they would take {100.0 * plain:.1f} % more.")
    if not math.isnan(sheets.cost):
        lines.append(f"Whole sheets: {sheets.cost:.2f} {currency}".rstrip() + ".")
        if by_area > 0.0:
            lines.append(
                f"A search counts only the board in the box, by its area: {by_area:.2f} {currency}".rstrip() + "."
            )
    if sheets.too_large:
        lines.append(f"Larger than every sheet that is stated: {listed(sheets.too_large)}.")
    return lines


def steps(sheets: Sheets, order: SawOrder, units: Units) -> list[Step]:
    """The whole order at the saw."""
    cutting = sheets.cutting
    found = [_broken_down(plan, order, cutting, units) for plan in sheets.plans]
    by_name = {name: piece for piece in sheets.pieces for name in piece.names}
    marked = False
    thickness = {name: piece.thickness for piece in sheets.pieces for name in piece.names}
    for (phase, tilt), group in groupby(order.settings, key=lambda each: (each.phase, each.tilt)):
        settings = list(group)
        if phase != "rip" and not marked:
            marked = True
            found.append(_named(order))
        match phase:
            case "rip":
                found.append(_ripped(settings, cutting, units))
            case "tilt":
                found.append(_tilted(settings, tilt, thickness, cutting, order.turns, units))
            case "narrow":
                lines = [line for each in settings for line in _setting(each, thickness, order.turns, units)]
                found.append(Step("Blade upright again: narrow strips", tuple(lines), (CAUTIONS["strip"],)))
            case "square":
                names = [_squared(cut, by_name) for each in settings for cut in each.cuts]
                found.append(
                    Step("Square one end of each piece", (f"{first_up(listed(names))}.",), (CAUTIONS["crosscut"],))
                )
            case "length":
                found.append(_crosscut(settings, thickness, units))
            case "marks":
                cuts = [cut for each in settings for cut in each.cuts]
                lines = list(_marked(cuts, by_name, units))
                small = any(cut.short for cut in cuts)
                heading = "Slanted edges, to marks on the outside, the saw on the waste side of the line"
                cautions = (CAUTIONS["marks"], *((CAUTIONS["small"],) if small else ()))
                found.append(Step(heading, tuple(lines), cautions))
    if flushed := [name for piece in sheets.pieces if piece.over for name in piece.names]:
        over = about(cutting.flush, units)
        line = (
            f"{first_up(several(flushed))}: cut {over} larger all round; trim flush with a router once the glue is dry."
        )
        found.append(Step("Over-size until it is glued", (line,)))
    return found


def _broken_down(plan: SheetPlan, order: SawOrder, cutting: Cutting, units: Units) -> Step:
    """First cuts of a sheet: its edges, its levels, and what in those is not ripped together."""
    long = plan.across == "length"
    edge = "left" if long else "lower"
    lines = [f"Cut {about(cutting.trim, units)} off each edge."] if cutting.trim else []
    for number, (start, end) in enumerate(plan.levels):
        name = letter(number)
        roughs = [
            rough
            for rough in order.roughs
            if rough.sheet == plan.number and rough.part.startswith(f"{plan.number}{name}")
        ]
        if cutting.trim or end < (plan.stock.length if long else plan.stock.width):
            way = "across the sheet" if long else "along the sheet"
            lines.append(f"{name}: cut {way}, {broken(end - start, units)} wide from its {edge} edge, as it then is.")
        lines += [_rough(rough, long, end - start, units) for rough in roughs]
    return Step(f"Break down sheet {plan.number}", tuple(lines), (CAUTIONS["sheet"], CAUTIONS["dust"]))


def _named(order: SawOrder) -> Step:
    """What is written on blanks, by which all later cuts are told."""
    lines = ["On each blank write the name of its board, which face is its outside, and the name of each edge."]
    blanks = dict.fromkeys(placed.blank for rough in order.roughs for placed in rough.placed if placed.blank.chained)
    for blank in blanks:
        row = [
            f"{slot.piece.name}, {slot.up} up, from its {slot.rims[0].name} to its {slot.rims[1].name} edge"
            for slot in blank.slots
        ]
        lines.append(f"Beside each other across one strip: {'; '.join(row)}.")
    return Step("Mark the blanks before the blade is tilted or a length is cut", tuple(lines))


def _rough(rough: Rough, across: bool, deep: float, units: Units) -> str:
    """Where a part is cut off its level, which is ``deep``, m, and what is needed of that where it is less."""
    needed, at = rough.size if across else rough.size[::-1]
    less = f" ({broken(needed, units)} needed)" if deep - needed > 5e-5 else ""
    held = listed([" + ".join(in_few(placed.blank.names)) for placed in rough.placed])
    sizes = f"cut {broken(at, units)} off {letter(rough.level)}, {broken(deep, units)} wide"
    return f"{rough.part}: {sizes}{less}, for {held}."


def _ripped(settings: Sequence[Setting], cutting: Cutting, units: Units) -> Step:
    lines, strip = [], False
    for each in settings:
        cuts = [f"{cut.part} for {' + '.join(in_few(cut.boards))}" for cut in each.cuts]
        how = {
            "fence": "Fence",
            "strip stop": "Stop for strips",
            "sled": "On the sled, stop",
            "track": "To marks, track saw",
        }
        lines.append(f"{how[each.guide]} at {size(each.distance, units)}: {listed(cuts)}.")
        strip = strip or each.guide == "strip stop"
    if short := sorted({name for each in settings for cut in each.cuts if cut.short for name in cut.boards}):
        least = about(cutting.shortest, units)
        lines.append(
            f"{first_up(several(short))}: shorter than {least}, so cut from a longer strip and parted off last. Holes "
            "well inside them are bored while they are one strip; hollows that run out at an edge come later, from "
            "single pieces in a vice."
        )
    cautions = [CAUTIONS["rip"], CAUTIONS["wide"], *([CAUTIONS["strip"]] if strip else []), MANUAL]
    return Step("Square rips, blade upright, the straightest edge at the fence", tuple(lines), tuple(cautions))


def _tilted(
    settings: Sequence[Setting], tilt: float, thickness: dict[str, float], cutting: Cutting,
    turns: Mapping[str, Turn], units: Units,
) -> Step:  # fmt: skip
    cuts = [cut for each in settings for cut in each.cuts]
    boards = sorted({thickness[cut.boards[0]] for cut in cuts})
    points = listed([f"{size(thick * math.tan(tilt), units)} on board of {size(thick, units)}" for thick in boards])
    lines = [f"Check on scrap: long and short point differ by {points}."]
    lines += [line for each in settings for line in _setting(each, thickness, turns, units)]
    cautions = [CAUTIONS["tilt"], CAUTIONS["wedge"]]
    if any(cut.point == "down" for cut in cuts):
        cautions.append(CAUTIONS["point"])
    if max(boards) > cutting.depth:
        cautions.append(CAUTIONS["deep"])
    return Step(f"Blade tilted to {degrees(tilt)}", tuple(lines), tuple(cautions))


def _setting(
    setting: Setting, thickness: dict[str, float], turns: Mapping[str, Turn], units: Units
) -> Iterator[str]:  # fmt: skip
    """One setting of the fence, told to the long point and at the table, then every cut at it."""
    first = setting.cuts[0]
    long, short = size(setting.distance, units), size(setting.at_table(thickness[first.boards[0]]), units)
    table = f" to the long point, {short} at the table" if setting.tilt else ""
    yield f"{SET[setting.guide]} at {long}{table}:"
    for cut in setting.cuts:
        yield _tilted_cut(cut, turns)


def _tilted_cut(cut: SawCut, turns: Mapping[str, Turn]) -> str:
    board = cut.boards[0]
    fence = f"its {cut.at_fence.edge} edge at the fence" if cut.at_fence.edge else "its straight edge at the fence"
    point = {"": "", "up": ", long point up", "down": ", long point down"}[cut.point]
    said = f"{AT_IT}{board}: {cut.face} up, {fence}{point}; cuts its {cut.made.edge} edge"
    if not cut.leaves:
        return f"{said}."
    turn = f": {TURNED[turns[cut.leaves]]} for its next cut" if cut.leaves in turns else ""
    return (
        f"{said}, which parts it from the strip. The strip's fresh edge is then the {cut.fresh.board}'s "
        f"{cut.fresh.edge} edge, its long point {cut.fresh_long}{turn}."
    )


def _squared(cut: SawCut, pieces: Mapping[str, Piece]) -> str:
    """What is squared, and at which end where it is measured from there."""
    piece = pieces[cut.boards[0]]
    if not piece.lines:
        return several(cut.boards)
    whose = "its" if len(cut.boards) == 1 else f"the {piece.name}'s"
    return f"{several(cut.boards)} ({whose} {_end_of(piece, cut.against)} end)"


def _crosscut(settings: Sequence[Setting], thickness: dict[str, float], units: Units) -> Step:
    lines, short = [], False
    for each in settings:
        names = several(sorted(cut.boards[0] for cut in each.cuts))
        guide = "Stop" if each.guide == "sled" else SET["track"]
        lines.append(f"{guide} at {size(each.distance, units)}: {names}.")
        short = short or any(cut.short for cut in each.cuts)
    cautions = (CAUTIONS["crosscut"], *((CAUTIONS["short"],) if short else ()))
    return Step("Crosscuts to length, the squared end at the stop", tuple(lines), cautions)


def _marked(cuts: Sequence[SawCut], pieces: Mapping[str, Piece], units: Units) -> Iterator[str]:
    """Marks on the outside of each board: along from its squared end, across from an edge that is ripped."""
    boards: dict[tuple[str, Line, str], list[str]] = {}
    for cut in cuts:
        assert cut.line is not None
        boards.setdefault((pieces[cut.boards[0]].name, cut.line, cut.against), []).append(cut.boards[0])
    for (_, line, end), names in boards.items():
        piece = pieces[names[0]]
        edge, from_high = _across_from(piece, end)
        places = [
            (u if end == "start" else piece.length - u, piece.width - v if from_high else v)
            for u, v in sorted((line.start, line.end), reverse=end != "start")
        ]
        marks = " to ".join(f"{size(u, units)} along, {size(v, units)} across" for u, v in places)
        squared = _end_of(piece, end)
        lean = f", blade at {degrees(abs(line.bevel))}" if line.bevel else ""
        yield (
            f"{first_up(several(names))}, {line.name} edge: from {marks}{lean}; along is from {_its(names)} squared "
            f"{squared} end, across from {edge}."
        )


def _its(names: Sequence[str]) -> str:
    return "its" if len(names) == 1 else "their"


def _across_from(piece: Piece, end: str) -> tuple[str, bool]:
    """The edge that marks are measured from, one that stays if there is one, and whether it is the high one.

    Where both are cut away, it is the edge of the blank to one's right, outside up, looking along from the squared end.
    """
    if piece.low.name or piece.high.name:
        return f"the {piece.low.name or piece.high.name} edge", not piece.low.name
    return "the blank's edge that is on the right, outside up, as you look along from there", end != "start"


def _end_of(piece: Piece, end: str) -> str:
    """What the end of a piece is called: by the edge that it is, or the slanted one that is cut nearest to it."""
    at = 0 if end == "start" else 1
    if piece.ends[at]:
        return piece.ends[at]
    ways = [(line.start[0] + line.end[0], line.name) for line in piece.lines]
    return (min if end == "start" else max)(ways)[1]


def summary(sheets: Sheets, order: SawOrder) -> str:
    """How often the saw is set, and how often it would be."""
    return (
        f"Fence, stop and tilt are set {order.set_up} times; {order.one_by_one} times if one board were cut after the "
        "other."
    )
