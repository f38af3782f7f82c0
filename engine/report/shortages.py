"""What cannot be built, in sentences: groups of designs that a search left out, contenders that do not fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.constraints import CONSTRAINTS, Shortfall
from engine.facings import FACINGS
from engine.openings import opening_of
from engine.quantities import Units, show, show_shortage
from engine.search.contenders import STEP, WORSE, Contender


def left_out(entry: Mapping[str, Any], units: Units) -> str:
    """One entry of ``left_out`` in a search's record: "vented box with pipes, 2 × compact 8: …".

    Raises ValueError where the reason is none that a search gives.
    """
    facing = FACINGS[entry["facing"]].words
    name = f"{opening_of(entry).named(entry)}, {entry['driver_count']} × {entry['driver']}{facing}"
    match entry["reason"]:
        case "beaten":
            return f"{name}: some can be built, but each is beaten on everything by another design"
        case "untried":
            return f"{name}: none was tried"
        case "short":
            short = ", ".join(Shortfall(**each).told(units) for each in entry["short_of"])
            return f"{name}: the nearest one is short of {short}"
    raise ValueError(f"no search leaves out for the reason {entry['reason']!r}")


def misses(row: Mapping[str, Any], units: Units) -> tuple[str, str]:
    """What a row of designs that cannot be built is short of: how that is said, and the thing with by how much."""
    constraint = CONSTRAINTS[row["short_of"]]
    if constraint.goal is not None:
        return "Misses", constraint.short_of
    short = Shortfall(constraint=constraint.name, by=float(row["short_by_m"]))
    return "Short of", short.told(units)


def fits_in_words(contender: Contender, units: Units) -> str:
    """In one or two sentences: does it fit, with how much to spare, or in another box, or what would have to give."""

    def size(value: float) -> str:
        return show(value, "length", units)

    spare = {change: by for change, by in contender.spare.items() if by is not None}
    if contender.fits:
        left = [f"{size(by)} of {change}" for change, by in spare.items() if by >= STEP]
        return f"Fits, with {_listed(left, 'or')} to spare." if left else "Fits, with nothing to spare."
    slacks = contender.slacks.items()
    short = [f"{CONSTRAINTS[name].short_of} ({show_shortage(-slack, units)})" for name, slack in slacks if slack < 0.0]
    told = f"Does not fit there: short of {_listed(short, 'and')}."
    if (box := contender.elsewhere) is not None:
        sizes = (box.outer_width, box.outer_height, box.top_depth, box.bottom_depth)
        width, height, top, bottom = (size(float(each[0])) for each in sizes)
        return (
            f"{told} It fits in a box of another shape, such as {width} wide, {height} high, {top} deep at the top "
            f"and {bottom} at the bottom."
        )
    if gives := [f"{size(-by)} {WORSE[change]}" for change, by in spare.items() if by < 0.0]:
        return f"{told} It would take a space that allows a box {_listed(gives, 'or')}."
    return f"{told} No change of width, height or depth alone would help: fewer or smaller drivers, or thinner board."


def _listed(parts: list[str], last: str) -> str:
    return f" {last} ".join(part for part in (", ".join(parts[:-1]), parts[-1]) if part)
