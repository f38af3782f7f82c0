"""Why a search is impossible: one template a code; what differs between a file and a form are its parameters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.words.voice import Voice, names_in

IMPOSSIBLE: dict[str, str] = {
    "nothing_in_stock": "only {kinds} boxes are allowed, but what these need is not listed: "
    "add a pipe size or a slot for vented boxes, a passive radiator for radiator boxes",
    "no_wiring": "no wiring of {drivers} gives a load that {amplifier} may drive (lowest load {lowest_load}): "
    "add a load to {part} or another driver",
    "bound_outside": "{bound} asks for {least} to {most}, but the board needs {low}, the space leaves {high}, and "
    "sizes come in steps of {step}: loosen the bound or measure the space again",
    "nothing_left_of_space": "margin, clearances, carpet and keep-outs leave nothing of the space: lower them or "
    "measure again",
    "none_tried": "the search was cancelled before any design was tried",
    "few_tried": "none of {tried} designs tried is feasible; the nearest one is short of {short}. "
    "So few tell little: let it try {enough} or more",
    "none_feasible": "none of {tried} designs tried is feasible; the nearest one is short of {short}. "
    "Try a smaller or shallower driver, a larger space, or looser bounds and limits",
}


def why_impossible(code: str, parameters: Mapping[str, Any], voice: Voice) -> str:
    """The sentence of a search that cannot be."""
    return voice.say(IMPOSSIBLE[code], parameters)


def check_impossible(code: str, parameters: Mapping[str, Any]) -> None:
    """Raise ValueError for a code that is none, or without all that its sentence asks for."""
    if code not in IMPOSSIBLE:
        raise ValueError(f"no search is impossible for the reason {code!r}")
    if lacking := names_in(IMPOSSIBLE[code]) - set(parameters):
        raise ValueError(f"{code} must say {lacking}")
