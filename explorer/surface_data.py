"""A front as the picking surface takes it: figures, their texts and words once each, and a number for every design.

Plain functions of a front; no page code.  What is shown is told in the user's units, and by text alone: the browser
makes no figure of its own.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.goals import GOALS, level_goal
from engine.kinds import KINDS
from engine.report.wording import better_side, figure_of, unit
from explorer.charts import Look
from explorer.choices import displayed
from explorer.narrowing import BEYOND, FILTER_NAMES, named
from explorer.traits import TRAITS, option_name, options_of, trait_name

STEPPED_MOST = 36  # boxes to step through, of however many there are
CODED_MOST = 65_535  # designs or figures that two bytes can number


@dataclass(frozen=True)
class Front:
    """A front written down for the browser: ``text`` is JSON, ``stamp`` tells one from another."""

    text: str
    stamp: str


def written(front: pd.DataFrame, keys: Sequence[str], objectives: Sequence[str], look: Look) -> Front:
    """The rows of a front by ``keys``, each a figure with a better side; the first designs where there are too many."""
    front = front.iloc[:CODED_MOST]
    filters = named(front)
    told = {trait: front[trait] for trait in TRAITS if trait in front and trait not in filters}
    traits = [trait_of(key, names, filtering=key in filters) for key, names in {**filters, **told}.items()]
    content = {
        "ids": front["id"].tolist(),
        "columns": [column_of(front, key, look, objective=key in objectives) for key in keys],
        "traits": [trait for trait in traits if len(trait["names"]) > 1],
        "drivers": coded((front["driver_count"].astype(str) + " × " + front["driver"]).to_numpy()),
        "kinds": coded(front["box_kind"].map(lambda kind: KINDS[kind].label).to_numpy()),
        "covered": [int(beyond == "") for beyond in front[BEYOND]],
    }
    text = json.dumps(content, ensure_ascii=False)
    return Front(text, sha256(text.encode()).hexdigest()[:16])


def column_of(front: pd.DataFrame, key: str, look: Look, *, objective: bool) -> dict[str, Any]:
    """One figure of every design: its different values and their texts, and which of them each design has."""
    goal = GOALS[key]
    values = front[key].to_numpy(dtype=float)
    absent = np.array([not goal.had_by(kind) for kind in front["box_kind"]])
    different, first, codes = np.unique(np.stack([values, absent]), axis=1, return_index=True, return_inverse=True)
    rows = [{str(name): value for name, value in row.items()} for row in front.iloc[first].to_dict("records")]
    shown = np.asarray(displayed(different[0], COLUMNS[key], look.units), dtype=float)
    return {
        "key": key,
        "label": goal.label,
        "unit": unit(key, look.units, look.currency),
        "side": better_side(key),
        "more": goal.better == "max",
        "said": said_of(key),
        "objective": objective,
        "digits": COLUMNS[key].digits if look.units == "metric" else max(1, COLUMNS[key].digits),
        "values": [float(f"{value:.10g}") for value in shown],
        "texts": [figure_of(row, key, look.units, look.currency) for row in rows],
        "codes": packed(codes.ravel()),
    }


def said_of(key: str) -> str:
    """How a figure is said in a sentence, {} for its text: "{} at 40 Hz", "weight {}"."""
    goal = GOALS[key]
    if level_goal(key) is not None:
        return goal.label.replace("Level", "{}", 1)
    return f"{goal.inner_label} {{}}"


def trait_of(key: str, names: pd.Series[Any], *, filtering: bool) -> dict[str, Any]:
    """What tells designs apart by a name: its options, and which of them each design is."""
    texts = names.astype(str)
    options = options_of(key, names)
    return {
        "key": key,
        "label": trait_name(key),
        "filter": FILTER_NAMES[key] if filtering else "",
        "options": options,
        "names": [option_name(key, option) for option in options],
        "codes": packed(texts.map({option: place for place, option in enumerate(options)}).to_numpy()),
    }


def coded(texts: NDArray[Any]) -> dict[str, Any]:
    """Texts by number: those there are, and which of them stands where."""
    options, codes = np.unique(texts.astype(str), return_inverse=True)
    return {"names": options.tolist(), "codes": packed(codes)}


def packed(codes: NDArray[Any]) -> str:
    """Whole numbers below 65 536 as the browser reads them: two bytes each, the lower one first."""
    return b64encode(np.ascontiguousarray(codes, dtype="<u2").tobytes()).decode("ascii")


def bounds_shown(filters: Mapping[str, Sequence[Any]], keys: Sequence[str], look: Look) -> dict[str, list[Any]]:
    """The ranges among some filters in shown units: each end with its text, None where it is open."""
    return {key: [_bound(key, end, look) for end in filters[key]] for key in keys if key in filters}


def _bound(key: str, end: float | None, look: Look) -> dict[str, Any] | None:
    if end is None:
        return None
    shown = float(displayed(end, COLUMNS[key], look.units))
    return {"value": shown, "text": f"{float(f'{shown:.5g}'):.6g}"}
