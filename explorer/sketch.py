"""The cross-section of the space drawn by hand: corners dragged, added and removed on a grid to scale.

The drawing itself is the browser's (``sketch.js``); here is what goes out to it and what may
come back.  What comes back is untrusted like all input and passes :func:`drawn`.

Each outline that the browser sends has a number, its turn, and gets it back with the next
outline from here.  That is how the browser tells an answer to an earlier drawing, which it
passes over, from a change made elsewhere on the page, which it takes up.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any

import streamlit as st

from engine.quantities import NotAQuantity, Units, parse, to_display, write
from explorer.document import as_text as text_of
from explorer.memory import said
from explorer.packaged import packaged

Corner = tuple[float, float]

FEWEST, MOST = 3, 60  # corners of an outline
REACH = 5.0  # m, how far from the origin a corner may lie
STEPS: dict[Units, float] = {"metric": 0.005, "us": 0.25 * 0.0254}  # m, what a drawn corner snaps to
_FINEST = 16  # inches are written as fractions down to this part, and as decimals below it
_STATE = "drawn"


_component = st.components.v2.component(
    "wedgefront_sketch",
    html='<div class="sketch"></div>',
    css=packaged("sketch.css"),
    js=packaged("sketch.js"),
)


def sketch(
    *,
    corners: list[Corner],
    keepouts: Sequence[Sequence[Corner]],
    units: Units,
    key: str,
    on_change: Callable[[], None] | None,
) -> None:
    """The outline to draw on, from the side.

    ``corners`` are (forward, up) in m, going round; fewer than three are an outline begun.
    ``keepouts`` are outlines shown behind it.  After each change ``on_change`` runs, and
    :func:`drawn` of what ``said(key)`` gives is the outline as it then stands.
    """
    _component(
        key=key,
        data={
            "corners": [list(corner) for corner in corners],
            "keepouts": [[list(corner) for corner in outline] for outline in keepouts],
            "units": units,
            "step": STEPS[units],
            "most": MOST,
            "reach": REACH,
            "turn": _turn(said(key)),
        },
        on_drawn_change=on_change,
    )


def drawn(state: Any) -> list[Corner] | None:
    """The outline that the browser sent, (forward, up) in m; None where it is none at all.

    ``state`` is what Streamlit keeps under the sketch's key.  Taken are 3 to 60 corners of two
    numbers within 5 m.  Whether sides cross is for the reader of the document to tell.
    """
    corners = _sent(state).get("corners")
    if not isinstance(corners, list) or not FEWEST <= len(corners) <= MOST:
        return None
    if not all(isinstance(corner, list) and len(corner) == 2 and all(map(_is_near, corner)) for corner in corners):
        return None
    return [(float(forward), float(up)) for forward, up in corners]


def as_text(corners: Sequence[Corner], units: Units, stated: Any = None) -> list[list[str]]:
    """Corners in m as the document stores them: ``[["520 mm", "300 mm"], ...]`` or in inches.

    A corner that ``stated``, the section as the document has it, already holds keeps its words.
    """
    kept: dict[Corner, list[str]] = {}
    for texts in stated if isinstance(stated, list) else []:
        corner = _corner(texts)
        if corner is not None:
            kept[_spot(corner)] = [text_of(text) for text in texts]
    return [kept.get(_spot(corner)) or [_length(side, units) for side in corner] for corner in corners]


def in_document(section: Any) -> list[Corner] | None:
    """The corners of a document's section in m; None where one of them cannot be read or drawn."""
    if section is None:
        return []
    if not isinstance(section, list) or len(section) > MOST:
        return None
    read = [corner for corner in map(_corner, section) if corner is not None and all(map(_is_near, _spot(corner)))]
    return read if len(read) == len(section) else None


def _sent(state: Any) -> Mapping[str, Any]:
    sent = state.get(_STATE) if isinstance(state, Mapping) else None
    return sent if isinstance(sent, Mapping) else {}


def _turn(state: Any) -> int:
    turn = _sent(state).get("turn")
    return turn if isinstance(turn, int) and not isinstance(turn, bool) else 0


def _is_near(value: Any) -> bool:
    """Whether a value is a number within reach; nan and inf are not."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= REACH


def _corner(texts: Any) -> Corner | None:
    if not isinstance(texts, list) or len(texts) != 2:
        return None
    try:
        return parse(texts[0], "length"), parse(texts[1], "length")
    except (NotAQuantity, TypeError, AttributeError, OverflowError):
        return None


def _spot(corner: Corner) -> Corner:
    """Where a corner is to the micrometre, which is finer than any text for it."""
    return round(corner[0], 6) + 0.0, round(corner[1], 6) + 0.0


def _length(value: float, units: Units) -> str:
    if units == "us":
        parts = float(to_display(value, "length", units)) * _FINEST
        if abs(parts - round(parts)) < 1e-6:
            whole, rest = divmod(abs(round(parts)), _FINEST)
            numbers = [str(number) for number in (whole, Fraction(rest, _FINEST)) if number]
            return f"{'-' if parts < -0.5 else ''}{' '.join(numbers) or '0'} in"
    return write(round(value, 9) + 0.0, "length", units)  # to the nanometre, and no minus nought
