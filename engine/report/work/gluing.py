"""The shell glued round what stands inside it, pipes sealed while a hand still gets there, and the box closed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from engine.quantities import show_drill
from engine.report.blocks import Step
from engine.report.to_buy import JOINT_SCREW, joint_screw
from engine.report.work.cautions import CEMENT, WOOL
from engine.report.work.told import Told
from engine.words.voice import first_up, listed
from engine.workshop.alike import in_few
from engine.workshop.board import SAME, Board, Part
from engine.workshop.holes import PILOT

REACH = 0.4  # m, as far as a hand with a sealant gun gets into a narrow box; common practice, no source
WOOLLY = ("lined", "half", "full")  # fillings that are fibres
_FIRST = ("left side", "bottom", "back")  # of the shell, before what stands inside
_THEN = ("top", "baffle", "right side")


def gluing(told: Told) -> Iterator[Step]:
    """Every step from the first joint to the closed box."""
    shell = [board.name for board in told.boards("shell") if board.name != told.box.last]
    first = [name for name in _FIRST if name in shell]
    then = [name for name in _THEN if name in shell]
    straight = [pipe for pipe in told.pipes if pipe not in told.bent]
    turned = [pipe for pipe in told.bent if told.goes_through(pipe) != told.box.last]
    yield Step(
        title=f"Glue up: {listed(first)}",
        words=(
            (
                f"Lay the {first[0]} on a flat bench, outside down. Glue and clamp the {listed(first[1:])} to it "
                "where the dry fit was marked, square by a try square or the section template."
            ),
            _screwed(told),
            "Wipe squeezed-out glue with a damp cloth; where a flange or brace lands nothing may stand proud.",
        ),
    )
    if inside := list(_inside(told)):
        yield Step(title="Glue in what stands inside", words=tuple(inside))
    if here := [pipe for pipe in straight if told.goes_through(pipe) in first]:
        yield Step(title="Seal the pipes in for good", words=tuple(_sealed(told, here, open_="front")))
    yield _sealed_so_far(told, first)
    with_them = [pipe for pipe in turned if not told.threaded(pipe)]
    if with_them:
        yield _on_the_bench(told, with_them)
    yield _shell_closed(told, then)
    threaded = [pipe for pipe in turned if told.threaded(pipe)]
    later = [pipe for pipe in straight if told.goes_through(pipe) in then]
    if threaded:
        yield _through_braces(told, threaded)
    if later:
        yield Step(title="Seal the pipes in for good", words=tuple(_sealed(told, later, open_=told.box.last)))
    yield _before_closing(told)
    yield _close(told)


def _screwed(told: Told) -> str:
    long = joint_screw(told.box.board, told.units)
    through, into = (show_drill(each, told.units) for each in (JOINT_SCREW, PILOT * JOINT_SCREW))
    return (
        f"Where clamps do not reach, screws of about {long} every {told.about('150 mm', '6 in')}, "
        f"{told.about('50 mm', '2 in')} off corners: drill ⌀ {through} through the board on top, countersunk, and "
        f"⌀ {into} into the edge under it, in the middle of its thickness; undrilled, board splits along its edge. "
        "Their heads stay clear of edges that are rounded over later."
    )


def _inside(told: Told) -> Iterator[str]:
    if told.slots and told.low_slot:
        yield _slot_words(told)
    if told.braces:
        names = listed(in_few([board.name for board in told.braces]))
        yield f"{first_up(names)}: {_faces(told, told.braces)}, turned as drawn; glue wherever they touch. " + _passes(
            told
        )
    if told.dowels:
        dowels = listed(in_few([part.name for part in told.dowels]))
        into = show_drill(PILOT * JOINT_SCREW, told.units)
        deep = told.about("20 mm", "3/4 in")
        yield (
            f"Dowels ({dowels}): drill ⌀ {into} about {deep} deep into the middle of both ends. Glue and screw "
            "each to the back through its hole there, the longer side where “Dowels” says; the baffle lands on the "
            "other end later."
        )
    if told.standing:
        names = listed(in_few([board.name for board in told.standing]))
        yield (
            f"{first_up(names)} under the pipes: {_faces(told, told.standing)}, the rest as their pages say. Lay "
            "each pipe, or its long piece, in its place dry while their glue sets, then draw it out again."
        )
    if told.strips:
        names = listed(in_few([board.name for board in told.strips]))
        yield (
            f"{first_up(names)} into the corners as their pages say, each once both its panels are up; those "
            f"of the {told.box.last} on it or beside it, by the marks of the dry fit."
        )


def _faces(told: Told, boards: Sequence[Board]) -> str:
    """Where left faces are, from the box's left end and from what one measures from while the box is open."""
    places = sorted({round(float(min(board.outside[:, 0].min(), board.inside[:, 0].min())), 6) for board in boards})
    said = listed([f"{told.size(x)} ({told.size(x - told.box.board)})" for x in places])
    faces = "left face" if len(places) == 1 else "left faces"
    return f"{faces} {said} from the outside (the inside) of the left side"


def _passes(told: Told) -> str:
    """Whether braces could still go in once the box is closed: edge on, through its widest round opening."""
    round_ = [cut.ring.round for board in told.boards("shell") for cut in board.cuts
              if cut.operation == "hole" and cut.ring is not None]  # fmt: skip
    widest = max((2.0 * each.radius for each in round_ if each is not None), default=0.0)
    across = max(math.hypot(min(board.blank), board.thickness) for board in told.braces)
    they, edges = ("it", "its edges") if len(told.braces) == 1 else ("they", "their edges")
    if across < widest:
        return (
            f"Forgotten, {they} would still pass the widest opening of the closed box, but nobody gets glue to all "
            f"{edges} then."
        )
    return f"It is now or never: with the {told.box.last} on, nothing this large passes an opening."


def _slot_words(told: Told) -> str:
    lying, *leg = told.slots
    high = told.slot_height
    panel = "over the bottom" if told.low_slot else "under the top"
    said = (
        f"{first_up(lying.name)}: on spacers {told.size(high)} high, cut from scrap, {panel}, so that the slot is as "
        "high all along; glue to the back and against the side it touches; the baffle lands on its front edge. Tape "
        "on the spacers keeps glue off: take them out before it grips. "
    )
    for board in leg:
        ends = [float(each[:, 0].max()) for each in (lying.outside, lying.inside)]
        flush = abs(float(board.outside[:, 0].mean()) - max(ends)) < SAME
        where = "its face to the slot flush with that one's right end, square to it" if flush else "as its page says"
        said += (
            f"{first_up(board.name)}: {where}, glued to it and to the back; spacers of the same height stand between "
            "it and the right side. "
        )
    return said + "Sand and paint the walls of the slot first: nobody gets there again."


def _sealed(told: Told, pipes: Sequence[Part], *, open_: str) -> Iterator[str]:
    """Straight pipes pushed in from outside, each with the blocks that lie on the one under it."""
    names = listed(in_few([pipe.name for pipe in pipes]))
    panel = listed(list(dict.fromkeys(told.goes_through(pipe) for pipe in pipes)))
    blocks = " and in the hollows of its blocks" if any(map(told.under, pipes)) else ""
    yield (
        f"{first_up(names)}, through the {panel}, from outside: push each home dry once more, its outer end flush with "
        f"the outside. Draw it back by a hand's breadth, lay a bead of sealant round the hole{blocks}, and push it "
        "home with a turn."
    )
    loose = [block for block in told.between if any(block in told.under(pipe) for pipe in pipes)]
    if loose:
        one = len(loose) == 1
        yield (
            f"{first_up(listed(in_few([block.name for block in loose])))} {'lies' if one else 'lie'} between pipes and "
            f"{'touches' if one else 'touch'} no board: work from the lowest pipe up, and set each with sealant in "
            f"both hollows on the pipe under it, its left face {_left_faces(told, loose)}, before the next pipe goes "
            "in over it."
        )
    yield (
        f"When that has set, a fillet of sealant inside, all round where each pipe leaves the panel, now that the "
        f"{open_} is open. From then on it is not moved."
    )


def _left_faces(told: Told, blocks: Sequence[Board]) -> str:
    places = sorted({round(float(min(each.outside[:, 0].min(), each.inside[:, 0].min())), 6) for each in blocks})
    return listed([told.size(x - told.box.board) for x in places]) + " from the inside of the left side"


def _sealed_so_far(told: Told, names: Sequence[str]) -> Step:
    return Step(
        title="Seal while it is open",
        words=(
            (
                f"Run a fillet of sealant along every joint inside so far, those of the {listed(names)} and of what "
                "stands on them, and smooth it with a wet finger: later a hand no longer gets to all of them."
            ),
        ),
    )


def _on_the_bench(told: Told, pipes: Sequence[Part]) -> Step:
    """Pipes with an elbow behind a panel that goes on with them in it."""
    names = listed(in_few([pipe.name for pipe in pipes]))
    panel = listed(list(dict.fromkeys(told.goes_through(pipe) for pipe in pipes)))
    words = [
        (
            f"Lay the {panel} on a flat bench, outside down, a sheet of paper under the holes. Lay a bead of sealant "
            f"round each hole and push {names} in down to the bench, so that the outer end is flush, the leg along "
            "the width as the views show; hold it there until it has set, then a fillet all round where it leaves the "
            "panel."
        ),
    ]
    if blocks := [block for pipe in pipes if told.from_the_front(pipe) for block in told.under(pipe)]:
        words.append(
            f"{first_up(listed(in_few([block.name for block in blocks])))}: set in sealant on the leg now, where the "
            "page says, since it comes from the front and drops into no hollow; glue on the foot as the panel goes on."
        )
    return Step(title=f"Seal the pipes into the {panel}", words=tuple(words))


def _shell_closed(told: Told, names: Sequence[str]) -> Step:
    inside = [*told.braces, *told.slots]
    onto = "onto all edges that they meet" + (", those of what stands inside too" if inside else "")
    words = [f"Glue and clamp the {listed(names)}, in this order, {onto}."]
    if told.slots and not told.low_slot:
        words.append("Once the top is on, before the baffle: " + _slot_words(told))
    if told.dowels and "baffle" in names:
        words.append("Through its holes screw the baffle to the dowels, with glue on their ends.")
    if told.covers(REACH):
        far = told.about("400 mm", "16 in")
        words.append(
            f"More than about {far} from the open right end no hand gets to these joints again: there lay a bead of "
            "sealant along the inner edge of the glue as the panel goes on, so that it is pressed into the corner."
        )
    words.append("Compare diagonals while the glue is wet, then leave it clamped as long as its label says.")
    return Step(title=f"Glue on: {listed(names)}", words=tuple(words))


def _through_braces(told: Told, pipes: Sequence[Part]) -> Step:
    """Pipes whose leg passes braces: elbow first, from inside, the leg endwise after it."""
    names = listed(in_few([pipe.name for pipe in pipes]))
    panel = listed(list(dict.fromkeys(told.goes_through(pipe) for pipe in pipes)))
    return Step(
        title="Seal the pipes in for good",
        words=(
            (
                f"{first_up(names)}, through the {panel}, from inside: elbow and short piece first. Push it home dry, "
                "its outer end flush with the outside; draw it back, lay a bead of sealant round the hole, push it "
                "home with a turn, and leave it to set with the elbow's other socket looking along the braces."
            ),
            (
                f"Then the long piece from the open end of the box through the braces: dry to the bottom of the "
                f"elbow's socket first, mark it, draw it back, cement, and push it home to the mark"
                f"{', sealant in the hollows of its blocks' if any(map(told.under, pipes)) else ''}."
            ),
            "A fillet of sealant inside, all round where the pipe leaves the panel. From then on it is not moved.",
        ),
        cautions=(CEMENT,),
    )


def _before_closing(told: Told) -> Step:
    leaves = "from the terminal cup's opening" if told.cups else "through a hole drilled for it and sealed,"
    words = [
        "Run a fillet of sealant along every joint that can be reached. Let it skin over.",
        f"Pull the cable {leaves} to the drivers' openings, with enough to take them out again.",
    ]
    filling = str(told.box.row.get("filling", "none"))
    if filling == "lined":
        words.append(
            "The box is lined with damping wool: staple it to the walls now, clear of vents, radiators and the "
            "drivers' magnets, and have a piece ready for the last panel."
        )
    elif filling in ("half", "full"):
        much = "half of it" if filling == "half" else "all of it"
        words.append(
            f"The box is filled with loose fibres, {much}: tease them out and lay them in evenly, now or through the "
            "drivers' openings; a net or a few staples keep them off the magnets and the cones."
        )
    words.append(
        "Settle now what will hold the box in the vehicle: brackets or bolts through its boards, with large washers "
        "and sealant inside, go on while a hand gets there, clear of all that stands inside."
    )
    words.append("Photograph the inside with a rule in the picture: it tells later where the braces are.")
    return Step(title="Before the last panel", words=tuple(words), cautions=(WOOL,) if filling in WOOLLY else ())


def _close(told: Told) -> Step:
    last = told.box.last
    late = [pipe for pipe in told.pipes if told.goes_through(pipe) == last]
    turned = [pipe for pipe in late if pipe in told.bent]
    straight = [pipe for pipe in late if pipe not in told.bent]
    too = ", those of what stands inside too" if told.meets_last([*told.braces, *told.slots, *told.strips]) else ""
    words = [
        (f"The {last} goes on last. Glue on every edge that it meets{too}, clamps all round, diagonals once more."),
    ]
    if told.dowels and last == "baffle":
        words.append("Through its holes screw the baffle to the dowels, with glue on their ends.")
    words.append("Through the drivers' openings, seal its joints from inside as the others.")
    if turned:
        words = [*(f"Before it goes on: {each}" for each in _on_the_bench(told, turned).words), *words]
    if straight:
        words.append("Now from outside, the only time: " + " ".join(_late(told, straight)))
    return Step(title=f"Close the box: {last}", words=tuple(words))


def _late(told: Told, pipes: Sequence[Part]) -> Iterator[str]:
    """Straight pipes through the panel that closes the box."""
    names = listed(in_few([pipe.name for pipe in pipes]))
    yield (
        f"{first_up(names)}, through the {told.box.last}: push each home dry once more, its outer end flush with the "
        "outside. Draw it back by a hand's breadth, lay a bead of sealant round the hole, and push it home with a "
        "turn; through a driver's opening run a fillet where it leaves the panel. From then on it is not moved."
    )
