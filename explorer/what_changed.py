"""What differs in a job from before, and what that did to a front, in words.

Both come from the records of what a job may say and of goals: field by field, never from what is said of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from engine.field import Field
from engine.formats.fields import FIELDS, TABLES
from engine.formats.scenario import UNSEARCHED
from engine.goals import GOALS
from engine.quantities import NotAQuantity, Units, display_unit, parse, show_sawn, to_display
from engine.report.wording import figure_of
from engine.scenario import Scenario
from engine.words.voice import first_down, first_up, listed
from explorer.labels import LABELS, PARTS, choice_label, item_in_words, label_of
from explorer.session import row_of

Table = Mapping[str, Any]

NOTHING = 1e-9  # what floats make of a difference
TOLD = 4  # changes; of more the first are told
# By what an item of a repeated table is known; others go by their place.
KNOWN_BY = {"driver": "name", "radiator": "name", "stock.pipe": "name", "space.keepout": "name"}
KNOWN_BY |= {"amplifier.load": "impedance"}
OUTLINE = ("section", "measured")  # of a space: told by its height and depth


def what_changed(before: Scenario, after: Scenario, units: Units) -> str:
    """What differs in a job from ``before``, of what its search goes by; empty where nothing does.

    >>> import dataclasses
    >>> from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
    >>> document = read_document(demo_scenarios()["van-bench"])
    >>> one = parse_scenario(document, source="")
    >>> document = document | {"space": document["space"] | {"width": "1210 mm"}}
    >>> what_changed(one, parse_scenario(document, source=""), "metric")
    'Free width 10 mm more (1210 mm)'
    """
    told = [*_outline(before, after, units), *_table("", before.document, after.document, "", units)]
    if len(told) > TOLD:
        told = [*told[: TOLD - 1], f"and {len(told) - TOLD + 1} more changes"]
    return first_up("; ".join(told))


def _outline(before: Scenario, after: Scenario, units: Units) -> Iterator[str]:
    """The cross-section, by its largest depth and height."""
    if before.space.section == after.space.section:
        return
    extents = [np.ptp(np.array(each.space.section), axis=0) for each in (before, after)]
    # Corners are good to a hundredth of a millimetre, as drawn ones are.
    found = [
        f"{name} of the space {_by(float(by), units)}"
        for name, by in zip(("depth", "height"), extents[1] - extents[0], strict=True)
        if abs(by) > 1e-5
    ]
    yield from found or ["another cross-section of the space"]


def _by(difference: float, units: Units) -> str:
    return f"{show_sawn(abs(difference), units)} {'more' if difference > 0.0 else 'less'}"


def _table(path: str, before: Table, after: Table, of: str, units: Units) -> Iterator[str]:
    """What differs in a table and in those within it; ``of`` is added to the label of its fields."""
    unsearched = tuple(place.rpartition(".")[2] for place in UNSEARCHED if place.rpartition(".")[0] == path)
    passed_over = {"": (*unsearched, "title", "about"), "space": OUTLINE}.get(path, unsearched)
    for field in FIELDS[path]:
        if field.key not in passed_over:
            yield from _field(path, field, before.get(field.key), after.get(field.key), of, units)
    for inner in TABLES.get(path, ()):
        if inner.key in passed_over:
            continue
        place = f"{path}.{inner.key}" if path else inner.key
        one, other = before.get(inner.key), after.get(inner.key)
        if one == other:
            continue
        if inner.many:
            yield from _items(place, one or [], other or [], units)
        else:
            yield from _table(place, one or {}, other or {}, of, units)


def _items(place: str, before: Sequence[Table], after: Sequence[Table], units: Units) -> Iterator[str]:
    """What differs in a repeated table: items that came or went, and what differs in those that stayed."""
    key = KNOWN_BY.get(place)
    named = [
        {_name(place, key, number, item, units): item for number, item in enumerate(items)} for items in (before, after)
    ]
    yield from (f"{name} is new" for name in named[1] if name not in named[0])
    yield from (f"{name} is gone" for name in named[0] if name not in named[1])
    for name, item in named[1].items():
        if name in named[0]:
            yield from _table(place, named[0][name], item, f" of {name}", units)


def _name(place: str, key: str | None, number: int, item: Table, units: Units) -> str:
    what = item_in_words(place.rpartition(".")[2])
    if key is None:
        return f"{what} {number + 1}"
    (field,) = (each for each in FIELDS[place] if each.key == key)
    return f"{what} {_value(field, item.get(key), units)}"


def _field(path: str, field: Field, before: Any, after: Any, of: str, units: Units) -> Iterator[str]:
    """How one field differs, if it does, in what it comes to and not only in how it is written."""
    one, other = (field.default if each is None else each for each in (before, after))
    if one == other or (one is not None and other is not None and _worth(field, one) == _worth(field, other)):
        return
    place = f"{path}.{field.key}" if path else field.key
    label = label_of(path, field.key) if place in LABELS or field.key in GOALS else PARTS[place]
    label = first_down(f"{label}{of}")
    if path.startswith("goals.limits"):
        label = f"limit on {label}"
    if one is None:
        yield f"{label} {_value(field, other, units)}"
    elif other is None:
        yield f"{label} no longer asked for"
    elif field.kind == "length" and field.form == "one":
        yield f"{label} {_by(_worth(field, other) - _worth(field, one), units)} ({_value(field, other, units)})"
    else:
        label += ":" if field.form == "list" or field.kind == "choice" else ""
        yield f"{label} {_value(field, other, units)} instead of {_value(field, one, units)}"


def _worth(field: Field, stated: Any) -> Any:
    """What is stated as SI numbers, or as it is."""
    if isinstance(stated, list):
        return [_worth(field, each) for each in stated]
    return parse(stated, field.kind) if field.is_quantity else stated


def _value(field: Field, stated: Any, units: Units) -> str:
    """What is stated as a reader of these units sees it."""
    if isinstance(stated, list):
        parts = [_value(field, each, units) for each in stated]
        return " to ".join(parts) if field.form in ("range", "pair") else ", ".join(parts)
    if field.kind == "choice":
        return choice_label(stated)
    if not field.is_quantity or field.kind.startswith("price"):
        return str(stated)
    try:
        worth = parse(stated, field.kind)
    except NotAQuantity:
        return str(stated)
    if field.kind == "length":
        return show_sawn(worth, units)
    number, unit = f"{to_display(worth, field.kind, units):.4g}", display_unit(field.kind, units)
    return f"{number}{unit}" if unit == "°" else f"{number} {unit}"


def what_it_did(
    before: pd.DataFrame, after: pd.DataFrame, objectives: Sequence[str], units: Units, currency: str
) -> str:
    """What a change did to the best that a front reaches in each goal, where that can be told apart."""
    moved = []
    for key in objectives:
        if key not in before:
            continue
        goal = GOALS[key]
        ends = [row_of(front, int((goal.turn * front[key]).to_numpy(float).argmin())) for front in (before, after)]
        gained = goal.turn * (float(ends[0][key]) - float(ends[1][key]))
        if abs(gained) < goal.told_apart - NOTHING:
            continue
        old, new = (figure_of(end, key, units, currency) for end in ends)
        moved.append(f"{goal.inner_label} {new} instead of {old} ({'better' if gained > 0.0 else 'worse'})")
    return f"At best {listed(moved)}." if moved else "No goal's best has moved by what can be told apart."
