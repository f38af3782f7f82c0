"""What a front says: its ends, a balanced design, why a design is where it is, and differences in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.figures import FIGURES_GRID
from engine.columns import COLUMNS
from engine.quantities import Units, show
from engine.scenario import Scenario
from engine.search.front import designs_of
from engine.search.problem import MOST_VENTS, Bench, Designs

Floats = NDArray[np.float64]

# What a constraint means to somebody with the tape measure in hand.
BLOCKERS = {
    "space": "the space ends there",
    "door": "the box would no longer pass the door opening",
    "walls": "the panels would meet inside",
    "volume": "drivers and braces would fill the box",
    "driver height": "the baffle is not tall enough for the driver there",
    "driver depth": "the magnet would come too near the back",
    "driver row": "the drivers and braces need the width",
    "vent length": "the vents would have to be shorter than the board is thick, or no length would tune it",
    "vent room": "the vents would meet the driver or a panel",
    "vent run": "the vents would leave less than one bore of air before their inner mouths",
    "vent outside": "the space leaves too little air beside the box for the vents to blow into",
    "vent resonance": "the vents would become so long that their own pipe resonance falls below 200 Hz",
    "f3": "it would then never come up to its reference level below 200 Hz",
}

# What the best design on an objective is called.
BEST_NAMES = {
    "f3_hz": "Deepest bass",
    "output_db": "Most output",
    "excursion_ratio": "Least excursion",
    "vent_speed_m_s": "Slowest vent air",
    "outer_volume_m3": "Smallest box",
    "outer_depth_m": "Shallowest box",
    "weight_kg": "Lightest box",
    "cost": "Cheapest box",
}

# Ways to say that an objective gets better, and that it gets worse.
BETTER_WORDS = {
    "f3_hz": ("deeper bass", "less deep bass"),
    "output_db": ("more output", "less output"),
    "excursion_ratio": ("less excursion", "more excursion"),
    "vent_speed_m_s": ("slower air in the vent", "faster air in the vent"),
    "outer_volume_m3": ("a smaller box", "a larger box"),
    "outer_depth_m": ("a shallower box", "a deeper box"),
    "weight_kg": ("a lighter box", "a heavier box"),
    "cost": ("a cheaper box", "a dearer box"),
}


def _goodness(front: pd.DataFrame, objectives: tuple[str, ...]) -> Floats:
    """Objectives scaled over the front, (N, k): 0 best, 1 worst."""
    columns = []
    for key in objectives:
        figure = front[key].to_numpy(float) * (-1.0 if COLUMNS[key].better == "max" else 1.0)
        low, high = figure.min(), figure.max()
        columns.append((figure - low) / (high - low) if high > low else np.zeros_like(figure))
    return np.column_stack(columns)


def extremes(front: pd.DataFrame, objectives: tuple[str, ...]) -> dict[str, int]:
    """Row position of the best design on each objective; between equals the better all-rounder."""
    scaled = _goodness(front, objectives)
    rest = scaled.sum(axis=1)
    return {key: int(np.lexsort((rest, scaled[:, column]))[0]) for column, key in enumerate(objectives)}


def balanced(front: pd.DataFrame, objectives: tuple[str, ...]) -> int:
    """Row position of the design whose weakest objective is least weak, each scaled over the front.

    A hint where to start looking, not a verdict.
    """
    scaled = _goodness(front, objectives)
    return int(np.lexsort((scaled.sum(axis=1), scaled.max(axis=1)))[0])


@dataclass(frozen=True)
class _Step:
    """One small change to a design: what a builder would call it, and the design it gives."""

    words: str
    designs: Designs


def why(scenario: Scenario, row: pd.Series) -> dict[str, str]:
    """Why a design is where it is: objective -> one sentence.

    Each variable is moved a little both ways and the design worked out again.  For each
    objective the step that would gain most of those that a constraint forbids is told with
    that constraint, and the one that would gain most of those allowed with its price in the
    other objectives.
    """
    bench = Bench(scenario)
    here = designs_of(bench, row.to_frame().T)
    steps = _steps(bench, here)
    batch = _stack([here, *(step.designs for step in steps)])
    judgement = bench.judge(batch, frequency=FIGURES_GRID, hear_all=True)
    objectives = scenario.goals.objectives
    reached = np.full((len(batch), len(objectives)), np.nan)
    for column, key in enumerate(objectives):
        sign = -1.0 if COLUMNS[key].better == "max" else 1.0
        reached[judgement.heard, column] = sign * bench.objective(key, batch, judgement)
    names = list(judgement.constraints)
    violations = np.column_stack([judgement.constraints[name] for name in names])
    worst = np.argmax(violations[1:], axis=1)
    stopped = violations[1:].max(axis=1) > 1e-9
    sentences = {}
    for column, key in enumerate(objectives):
        if key == "vent_speed_m_s" and row["box_kind"] == "closed":
            continue  # nothing blows out of a closed box
        gain = np.nan_to_num(reached[0, column] - reached[1:, column], nan=0.0)
        gain[gain <= 1e-6] = 0.0
        better = _capital(BETTER_WORDS[key][0])
        clauses = []
        for barred in (True, False):
            best = int(np.argmax(np.where(stopped == barred, gain, 0.0)))
            if gain[best] > 0.0 and stopped[best] == barred:
                if barred:
                    end = f"but {blocker(names[worst[best]])}"
                else:
                    end = _price(objectives, reached[0], reached[best + 1], column)
                clauses.append(f"{steps[best].words}, {end}")
        if clauses:
            sentences[key] = f"{better} would take {'; or '.join(clauses)}."
        else:
            sentences[key] = f"{better}: no small change of size, tuning, vents or filter gives more."
    return sentences


def blocker(constraint: str) -> str:
    """What a constraint means, as the end of a sentence that begins with "but"."""
    if constraint.startswith("limit "):
        return f"it would pass the limit on {COLUMNS[constraint.removeprefix('limit ')].inner_label}"
    return BLOCKERS[constraint]


def _price(objectives: tuple[str, ...], here: Floats, there: Floats, gained: int) -> str:
    losses = []
    for column, key in enumerate(objectives):
        if column != gained and there[column] - here[column] > 1e-6:
            losses.append(BETTER_WORDS[key][1])
    if not losses:
        return "at no price in the other goals: a longer search may find it"
    return f"at the price of {' and '.join(losses)}"


def _steps(bench: Bench, here: Designs) -> list[_Step]:
    """Every single change worth a thought, both ways where there are two."""
    vented = bool(bench.families.vented[here.family[0]])
    bounds = bench.scenario.bounds
    steps: list[_Step] = []

    def add(words: str, *, within: tuple[float, float] | None = None, **changed: float) -> None:
        fields = {name: getattr(here, name).copy() for name in Designs.__dataclass_fields__}
        for name, change in changed.items():
            value = fields[name][0] + change
            if within is not None and not within[0] <= value <= within[1]:
                return
            fields[name][0] = value
        steps.append(_Step(words, Designs(**fields)))

    small = 0.004  # m: less than a builder would bother to change, more than the search leaves open
    add("a wider box", outer_width=small, within=bounds.get("outer_width"))
    add("a narrower box", outer_width=-small, within=bounds.get("outer_width"))
    add("a taller box", outer_height=small, within=bounds.get("outer_height"))
    add("a lower box", outer_height=-small, within=bounds.get("outer_height"))
    add("a box deeper at the bottom", bottom_depth=small, within=bounds.get("bottom_depth"))
    add("a box less deep at the bottom", bottom_depth=-small, within=bounds.get("bottom_depth"))
    add("a box deeper at the top", top_depth=small, within=bounds.get("top_depth"))
    add("a box less deep at the top", top_depth=-small, within=bounds.get("top_depth"))
    add("a box deeper all over", bottom_depth=small, top_depth=small)
    add("a box less deep all over", bottom_depth=-small, top_depth=-small)
    if vented:
        add("higher tuning", tuning=0.5, within=bounds.get("tuning"))
        add("lower tuning", tuning=-0.5, within=bounds.get("tuning"))
        add("one more vent", vent_count=1, within=bounds.get("vent_count", (1.0, MOST_VENTS)))
        add("one vent fewer", vent_count=-1, within=bounds.get("vent_count", (1.0, MOST_VENTS)))
        bores = bench.pipe_bore
        pipe = int(here.pipe[0])
        for other in np.argsort(bores, kind="stable"):
            if other != pipe:
                add(
                    "a wider pipe" if bores[other] > bores[pipe] else "a narrower pipe",
                    pipe=int(other) - pipe,
                )
    if bench.families.filter_order[here.family[0]]:
        low, high = bench.families.filter_range[here.family[0]]
        add("a higher high-pass frequency", filter_hz=0.5, within=(low, high))
        add("a lower high-pass frequency", filter_hz=-0.5, within=(low, high))
    return steps


def _stack(parts: list[Designs]) -> Designs:
    return Designs(
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in Designs.__dataclass_fields__}
    )


# How a difference is said: column, words where the figure is higher, words where it is lower.
_SAID = (
    ("output_db", "plays {} louder", "plays {} quieter"),
    ("f3_hz", "reaches {} less deep", "reaches {} deeper"),
    ("excursion_ratio", "uses {} more of its Xmax", "uses {} less of its Xmax"),
    ("vent_speed_m_s", "blows {} faster through its vents", "blows {} slower through its vents"),
    ("outer_width_m", "is {} wider", "is {} narrower"),
    ("outer_height_m", "is {} taller", "is {} lower"),
    ("outer_depth_m", "is {} deeper front to back", "is {} shallower front to back"),
    ("net_volume_m3", "holds {} more air", "holds {} less air"),
    ("weight_kg", "weighs {} more", "weighs {} less"),
    ("cost", "costs {} more", "costs {} less"),
)


def differences(a: pd.Series, b: pd.Series, *, units: Units, currency: str = "") -> list[str]:
    """What sets design ``b`` apart from ``a``, in words; differences too small to notice are left out.

    Each phrase goes on from the name of ``b``; the first say what kind of box it is,
    where that differs.
    """
    phrases = []
    if a["box_kind"] != b["box_kind"]:
        phrases.append(f"is {b['box_kind']} instead of {a['box_kind']}")
    if (a["driver"], a["driver_count"]) != (b["driver"], b["driver_count"]):
        phrases.append(
            f"has {int(b['driver_count'])} × {b['driver']} instead of {int(a['driver_count'])} × {a['driver']}"
        )
    for key, more, less in _SAID:
        column = COLUMNS[key]
        change = float(b[key]) - float(a[key])
        if not np.isfinite(change) or abs(change) < column.least_step:
            continue
        if key == "vent_speed_m_s" and "closed" in (a["box_kind"], b["box_kind"]):
            continue  # a closed box has no vent to compare
        phrases.append((more if change > 0 else less).format(_amount(abs(change), key, units, currency)))
    return phrases


def _amount(change: float, key: str, units: Units, currency: str) -> str:
    kind = COLUMNS[key].kind
    if kind == "level":
        return f"{change:.1f} dB"
    if kind == "ratio":
        return f"{100 * change:.0f} %"
    if kind == "money":
        return f"{change:.0f} {currency}".strip()
    return show(change, kind, units)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
