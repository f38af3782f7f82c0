"""The picking surface: the front, its axes side by side, the pick's figures and its curves, linked with each other.

The drawing is the browser's (``surface.js`` and its parts); here is what goes out to it and what may come back.  What
comes back is untrusted like all input and passes :func:`acts`.

Whatever somebody does on the surface the browser shows at once and sends as an act with a number.  The number of the
last act taken goes back with the next data: until then the browser keeps what it shows, so that no answer to an earlier
act undoes a later one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import streamlit as st

from engine.report.ink import Ink
from explorer.memory import memory, said
from explorer.packaged import packaged
from explorer.surface_data import Front

PARTS = ("surface_scale", "surface_front", "surface_axes", "surface_curves", "surface")
ACTS_MOST = 200
_STATE = "acts"
_TURN = "turn"
KINDS_OF_ACT: dict[str, dict[str, type | tuple[type, ...]]] = {
    "pick": {"id": str},
    "range": {"key": str, "low": (int, float, type(None)), "high": (int, float, type(None))},
    "typed": {"key": str, "end": str, "text": str},
    "names": {"key": str, "options": list},
    "covered": {"only": bool},
    "axis": {"place": str, "key": str},
    "beside": {"keys": list},
    "tab": {"key": str},
    "limits": {},
    "clear": {},
}

Act = dict[str, Any]


_component = st.components.v2.component(
    "wedgefront_surface",
    html='<div class="surface"></div>',
    css=packaged("surface.css"),
    js="\n".join(packaged(f"{part}.js") for part in PARTS),
)


def surface(
    *,
    front: Front,
    ink: Ink,
    dark: bool,
    axes: Mapping[str, str],
    beside: Sequence[str],
    few: Sequence[int],
    marks: Mapping[str, str],
    key: str,
    on_act: Callable[[], None] | None,
    ranges: Mapping[str, Sequence[Any]],
    names: Mapping[str, Sequence[str]],
    covered: bool = False,
    limits: bool = False,
    behind: Mapping[str, Sequence[float]] | None = None,
    quick: Sequence[tuple[str, str, str]] = (),
    pick: Mapping[str, Any] | None = None,
    tab: str = "",
    fault: Mapping[str, str] | None = None,
    growing: str = "",
) -> None:
    """The surface of one front.

    ``few`` are positions of the designs to step through, ``marks`` letters and words beside designs by id, ``behind``
    a front that stands faintly behind, shown units by key.  ``ranges`` and ``names`` are the filters as they stand,
    ``covered`` whether only designs are kept that the model fully covers, ``limits`` whether the job has limits to
    keep within.  ``quick`` are ways into the front: id, label, why.  ``pick`` has ``id``, ``there``, whether it is of
    this front, its ``figures`` in words by key where it is not, ``lines`` that say what it is and, once they are known,
    ``curves``, their ``stamp`` and ``pictures``, or ``waiting``, why they are not.  ``fault`` is what is wrong with
    what was typed: ``key``, ``end``, ``words``.  ``growing`` is what the pick is called while nothing can be picked
    yet.  After each act ``on_act`` runs; :func:`acts` of the key are those to take.
    """
    _component(
        key=key,
        data={
            "front": front.text, "stamp": front.stamp, "ink": asdict(ink) | {"dark": dark}, "axes": dict(axes),
            "beside": list(beside), "few": [int(place) for place in few], "marks": dict(marks),
            "ranges": dict(ranges), "names": {name: list(kept) for name, kept in names.items()}, "covered": covered,
            "limits": limits, "behind": {name: list(values) for name, values in (behind or {}).items()},
            "quick": [list(way) for way in quick], "pick": dict(pick) if pick else None, "tab": tab,
            "fault": dict(fault) if fault else None, "growing": growing, "turn": memory().get(_turn(key), 0),
        },
        on_acts_change=on_act,
    )  # fmt: skip


def acts(key: str) -> list[Act]:
    """What was done on a surface since this was asked last, in order; each is given once."""
    last = memory().get(_turn(key), 0)
    new = [act for act in sent(said(key)) if act[_TURN] > last]
    if new:
        memory()[_turn(key)] = new[-1][_TURN]
    return new


def sent(state: Any) -> list[Act]:
    """The acts that a browser sent, in order; what is none of those known is left out."""
    stored = state.get(_STATE) if isinstance(state, Mapping) else None
    listed = stored.get("list") if isinstance(stored, Mapping) else None
    known = [act for act in listed[:ACTS_MOST] if _is_act(act)] if isinstance(listed, list) else []
    return sorted(known, key=lambda act: act[_TURN])


def _is_act(act: Any) -> bool:
    if not isinstance(act, Mapping) or not _is(act.get(_TURN), int) or not 0 < act[_TURN] < 2**53:
        return False
    does = act.get("does")
    asked = KINDS_OF_ACT.get(does) if isinstance(does, str) else None
    return asked is not None and all(name in act and _is(act[name], kind) for name, kind in asked.items())


def _is(value: Any, kind: type | tuple[type, ...]) -> bool:
    """Whether a value is of a kind; True is no number, and what a list holds is text."""
    if isinstance(value, bool):
        return kind is bool
    if isinstance(value, list):
        return kind is list and all(isinstance(each, str) for each in value)
    if isinstance(value, float) and not abs(value) < 1e12:
        return False
    return isinstance(value, kind)


def _turn(key: str) -> str:
    return f"{key}:turn"
