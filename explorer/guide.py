"""A new job step by step: in what order it is put in, what it starts with, and what is taken where nothing is asked."""

from __future__ import annotations

from typing import Any

from engine.quantities import NotAQuantity, Units, parse
from explorer import frame
from explorer.document import Document, get, put
from explorer.session import Job

STEPS = {"space": "The space", "driver": "The driver", "amplifier": "The amplifier", "stock": "Board and pipe"}
FIRST, LAST = next(iter(STEPS)), list(STEPS)[-1]
# Which parts of a job are put in at a step; what else there is to put right is at home on Space & parts.
PARTS = {
    "space": ("title", "space"),
    "driver": ("driver",),
    "amplifier": ("amplifier",),
    "stock": ("stock",),
}
MARGIN: dict[Units, str] = {"metric": "6 mm", "us": "1/4 in"}
BOARD: dict[Units, str] = {"metric": "18 mm", "us": "3/4 in"}
# Sizes of drain and pressure pipe as they are usually sold, inner and outer diameter; common practice, no source.
PIPES: dict[Units, dict[str, dict[str, str]]] = {
    "metric": {
        "50 mm pipe": {"inner_diameter": "46.4 mm", "outer_diameter": "50 mm"},
        "75 mm pipe": {"inner_diameter": "71.2 mm", "outer_diameter": "75 mm"},
        "110 mm pipe": {"inner_diameter": "104.6 mm", "outer_diameter": "110 mm"},
    },
    "us": {
        "2 in pipe": {"inner_diameter": "2.05 in", "outer_diameter": "2 3/8 in"},
        "3 in pipe": {"inner_diameter": "3.04 in", "outer_diameter": "3 1/2 in"},
        "4 in pipe": {"inner_diameter": "4.00 in", "outer_diameter": "4 1/2 in"},
    },
}


def start(units: Units) -> Document:
    """The document of a new job: what nearly every job has in common, and room for the rest."""
    pipes = list(PIPES[units].items())[1:]
    return {
        "title": "New job",
        "space": {"measured": [{"height": "0 mm" if units == "metric" else "0 in"}, {}], "margin": MARGIN[units]},
        "driver": [{"name": "Driver 1", "counts": [1]}],
        "amplifier": {"name": "Amplifier", "load": [{"impedance": "4 ohm"}]},
        "stock": {"board_thickness": BOARD[units], "pipe": [{"name": name, **sizes} for name, sizes in pipes]},
    }


def begin(units: Units) -> None:
    """Begin a new job at its first step; for callbacks."""
    frame.take_up(start(units), "new-job.toml", units=units, guide=FIRST)


def completed(document: Document) -> Document:
    """A job with what its steps do not ask for: the lowest load is the lowest that a power is stated for."""
    if get(document, ("amplifier", "lowest_load")) is None and (lowest := lowest_load(document)):
        document = put(document, ("amplifier", "lowest_load"), lowest)
    kinds = get(document, ("box", "kinds"))
    if kinds is None and not pipes_of(document):
        document = put(document, ("box", "kinds"), ["closed"])
    elif kinds == ["closed"] and pipes_of(document):
        document = put(document, ("box",), None)
    return document


def lowest_load(document: Document) -> str:
    """The lowest load that the amplifier's power is stated for, as typed; empty where none can be read."""
    found: list[tuple[float, str]] = []
    loads = get(document, ("amplifier", "load"))
    for load in loads if isinstance(loads, list) else []:
        text = load.get("impedance") if isinstance(load, dict) else None
        try:
            found.append((parse(str(text), "resistance"), str(text)))
        except NotAQuantity:
            continue
    return min(found)[1] if found else ""


def pipes_of(document: Document) -> list[dict[str, Any]]:
    pipes = get(document, ("stock", "pipe"))
    return [pipe for pipe in pipes if isinstance(pipe, dict)] if isinstance(pipes, list) else []


def with_pipes(document: Document, names: list[str], units: Units) -> Document:
    """A job with the usual pipes of these names in stock, beside any others that it has."""
    usual = PIPES[units]
    others = [pipe for pipe in pipes_of(document) if pipe.get("name") not in usual]
    kept = {pipe.get("name"): pipe for pipe in pipes_of(document)}
    listed = [kept.get(name) or {"name": name, **usual[name]} for name in usual if name in names]
    return put(document, ("stock", "pipe"), [*listed, *others] or None)


def in_units(document: Document, before: Units, after: Units) -> Document:
    """A job just begun in other units: what it started with and nobody has touched goes over."""
    was, now = start(before), start(after)
    for place in (("space", "margin"), ("stock", "board_thickness"), ("stock", "pipe"), ("space", "measured")):
        if get(document, place) == get(was, place):
            document = put(document, place, get(now, place))
    return document


def move(job: Job, step: str) -> None:
    """Go to a step; for callbacks.  What that fills in is none to be undone by itself."""
    history = frame.open_jobs().history(job)
    history.note(job)
    job.document = completed(job.document)
    job.guide = step
    job.revision += 1
    history.settle(job)


def finish(job: Job) -> None:
    """The job is put in: on to its search; for callbacks."""
    move(job, "")
    frame.go(frame.TRADE_OFFS)
