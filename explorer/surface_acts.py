"""What an act on the picking surface does to the job: a pick, a range drawn or typed, a name left out, an axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from engine.columns import COLUMNS
from engine.quantities import NotAQuantity, display_unit, examples, parse, split
from engine.report.wording import unit
from engine.scenario import Goals
from explorer.charts import Look
from explorer.choices import PLAIN_KINDS, from_shown
from explorer.narrowing import BEYOND, clear_filters, named, stay_within_limits
from explorer.session import Job, pick
from explorer.surface import Act
from explorer.traits import TRAITS

PLACES = ("x", "y", "colour", "shape")
BESIDE = "beside:"  # what the keys of further axes begin with in a job's axes
_MONEY = {"$": "USD", "€": "EUR", "£": "GBP"}

Fault = dict[str, str]


def do(job: Job, act: Act, *, keys: Sequence[str], look: Look, asked: Goals) -> Fault | None:
    """Do one act; what is wrong with it where it was typed.  ``asked`` are the goals that the front was found for."""
    match act["does"]:
        case "pick":
            pick(job, act["id"])
        case "range":
            take_range(job, act, keys, look)
        case "typed":
            return take_typed(job, act, keys, look)
        case "names":
            take_names(job, act)
        case "covered":
            job.filters.pop(BEYOND, None)
            if act["only"]:
                job.filters[BEYOND] = [""]
        case "axis":
            take_axis(job, act, keys)
        case "beside":
            for place in [place for place in job.axes if place.startswith(BESIDE)]:
                del job.axes[place]
            job.axes.update({BESIDE + key: key for key in act["keys"] if key in keys})
        case "limits":
            stay_within_limits(job, asked)
        case "clear":
            clear_filters(job)
    return None


def take_range(job: Job, act: Act, keys: Sequence[str], look: Look) -> None:
    """Keep a range that was drawn, in SI; ends in the wrong order are turned round."""
    if act["key"] not in keys:
        return
    low, high = (_si(act["key"], act[end], look) for end in ("low", "high"))
    keep(job, act["key"], *((high, low) if low is not None and high is not None and low > high else (low, high)))


def take_typed(job: Job, act: Act, keys: Sequence[str], look: Look) -> Fault | None:
    """Keep one end of a range as it was typed; nothing typed opens it."""
    key, end = act["key"], act["end"]
    if key not in keys or end not in ("low", "high"):
        return None
    try:
        bound = None if not act["text"].strip() else typed(act["text"], key, look)
    except NotAQuantity:
        return {"key": key, "end": end, "words": f"“{act['text'][:30]}” is not {wanted(key, look)}"}
    low, high = job.filters.get(key, [None, None])
    low, high = (bound, high) if end == "low" else (low, bound)
    if low is not None and high is not None and low > high:
        return {"key": key, "end": end, "words": "nothing lies between: the other end is on the wrong side of this"}
    keep(job, key, low, high)
    return None


def keep(job: Job, key: str, low: float | None, high: float | None) -> None:
    job.filters.pop(key, None)
    if low is not None or high is not None:
        job.filters[key] = [low, high]


def typed(text: str, key: str, look: Look) -> float:
    """A bound as somebody types it, SI; a bare number is in the unit shown.  Raises NotAQuantity."""
    column = COLUMNS[key]
    if column.kind == "money":
        text = text.strip()
        text = text[1:] if _MONEY.get(text[:1]) == look.currency else text
    stated = split(text)
    measure = unit(key, look.units, look.currency)
    if not stated.unit or stated.unit.casefold() == measure.casefold():
        return from_shown(float(stated.number), column, look.units)
    if column.kind in PLAIN_KINDS:
        raise NotAQuantity("no_finite_number")
    return parse(text, column.kind)


def wanted(key: str, look: Look) -> str:
    """What may be typed as a bound: "a weight, such as 12.5 or 12.5 kg"."""
    column, measure = COLUMNS[key], unit(key, look.units, look.currency)
    if column.kind in PLAIN_KINDS:
        return f"a number{f' of {measure}' if measure else ''}"
    name, texts = examples(column.kind, look.units)
    return f"{name}: type a number of {display_unit(column.kind, look.units)}, or such as {texts[0]}"


def take_names(job: Job, act: Act) -> None:
    """Keep designs of some names only; all of them is no filter."""
    assert job.found is not None
    there = named(job.found.front).get(act["key"])
    if there is None:
        return
    present = set(there)
    wished = sorted(present & set(act["options"]))
    job.filters.pop(act["key"], None)
    if len(wished) < len(present):
        job.filters[act["key"]] = wished


def take_axis(job: Job, act: Act, keys: Sequence[str]) -> None:
    coloured = act["place"] in ("colour", "shape") and act["key"] in TRAITS
    if act["place"] in PLACES and (act["key"] in keys or coloured):
        job.axes[act["place"]] = act["key"]


def beside(
    axes: Mapping[str, str], keys: Sequence[str], objectives: Sequence[str], filters: Mapping[str, Any]
) -> list[str]:
    """The axes to stand side by side: the goals, those asked for, and those with a range, so that none is hidden."""
    asked = {key for place, key in axes.items() if place.startswith(BESIDE)}
    return [*objectives, *(key for key in keys if key not in objectives and (key in asked or key in filters))]


def _si(key: str, shown: float | None, look: Look) -> float | None:
    return None if shown is None else from_shown(float(shown), COLUMNS[key], look.units)
