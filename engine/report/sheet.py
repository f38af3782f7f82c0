"""The customer's page: up to five designs side by side in one HTML file that needs nothing else.

Plain words come first, then curves and drawings, then every figure.  No script, no
outside file: it opens without a network and prints on A4 and Letter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date
from html import escape
from importlib.resources import files

import pandas as pd
import vl_convert

from engine.acoustics.cabin import EstimatedCabin
from engine.columns import COLUMNS
from engine.goals import GOALS, Goal, levels_among
from engine.insight.reasons import differences
from engine.kinds import KINDS
from engine.quantities import MISSING, Units
from engine.report.curves import charts_of, marks_in_words, title_of
from engine.report.ink import LETTERS, LIGHT
from engine.report.portrait import Portrait, lay_over
from engine.report.wording import air_before, as_used, baffle, drivers, figure_of, filling, high_pass, openings, outside
from engine.scenario import Scenario
from engine.search.front import undominated

CHART_WIDTH, CHART_HEIGHT = 330, 190
VIEWS = {
    "isometric": "As it stands in the measured space", "section": "From the side", "front": "From the front",
    "plan": "From above",
}  # fmt: skip
CHART_WORDS = {
    "response": "Loudness against pitch as it is used, at one setting of the gain. f3, where a box is 3 dB below its "
    "own level, is marked; how loud two boxes play at a pitch tells more than their f3.",
    "cabin_response": "The same as heard in the vehicle, where the small room lifts the lowest tones.",
    "maximum_output": "The loudest each box can play at each pitch by itself without passing any of its limits.",
    "excursion": "How far the cone travels. Above the dashed line it leaves the range its maker allows.",
    "radiator_excursion": "How far the cones without a coil travel, against what their maker allows.",
    "vent_speed": "How fast the air moves in the vent. Above the dashed line it may be heard.",
    "compression": "What a hot coil and rushing air take from the level, were it played for minutes.",
}
FIGURES = (
    "driver", "driver_count", "facing", "baffle", "wiring", "load_ohm", "amplifier_power_w", "box_kind", "filling",
    "outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "net_volume_m3",
    "tuning_hz", "tuning_within_hz", "vent_count", "vent_kind", "vent_diameter_m", "vent_flare_m", "slot_height_m",
    "slot_width_m", "vent_length_m", "vent_placement", "radiator", "radiator_count", "radiator_added_mass_kg",
    "cone_air_m", "cone_air_kg", "brace_count", "brace_form", "brace_free_m2",
    "filter_shape", "filter_hz", "power_share", "gain_limited_by", "gain_limited_hz",
    "f3_hz", "f3_box_hz", "f3_cabin_hz", "output_db", "output_cabin_db",
    "excursion_ratio", "radiator_ratio", "vent_speed_m_s", "coil_rise_k", "compression_db",
    "first_mode_hz", "vent_resonance_hz", "model_to_hz",
    "outer_volume_m3", "outer_depth_m", "weight_kg", "cost",
)  # fmt: skip
CAUTIONS = (
    "A subwoofer can be loud enough to harm hearing for good, inside a closed car above all. Start low.",
    "A heavy box must be bolted to the body of the vehicle: loose, it becomes a missile in a crash.",
    "Before anything is screwed or cut: behind panels lie airbags, belt anchors, fuel and brake lines, wiring.",
    "The amplifier's supply needs a fuse at the battery and wiring by somebody licensed for it.",
)


def customer_page(
    portraits: Sequence[Portrait], *, title: str, shop: str, customer: str, units: Units, written: date
) -> str:
    """The whole page as HTML text.

    ``title``, ``shop`` and ``customer`` are free text and appear escaped.  Figures are
    those of the rows themselves; nothing is worked out again but the curves.
    """
    style = files("engine.report").joinpath("sheet.css").read_text(encoding="utf-8")
    cards = "".join(_card(portrait, units) for portrait in portraits)
    shown = (part(portraits, units) for part in (_goals, _compared, _curves, _drawings, _table))
    glance = f'<h2>At a glance</h2>\n<div class="cards">{cards}</div>'
    head = _head(portraits, title, shop, customer, written)
    parts = [head, glance, *shown, _model_ends(portraits), _notes(portraits)]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        + "\n".join(part for part in parts if part)
        + "\n</body>\n</html>\n"
    )


def _head(portraits: Sequence[Portrait], title: str, shop: str, customer: str, written: date) -> str:
    count = ("one box", "two boxes", "three boxes", "four boxes", "five boxes")[len(portraits) - 1]
    whom = f"For {escape(customer)} – " if customer.strip() else ""
    by, day = f"<p>{escape(shop)}</p>\n" if shop.strip() else "", f"{written.day} {written:%B %Y}"
    return (
        f"<header>\n{by}<h1>{escape(title)}: {count}</h1>\n<p>{whom}{day}</p>\n</header>\n<p>{lead(portraits)} "
        "The figures are calculated from the maker's data; a finished box can differ a little.</p>"
    )


def lead(portraits: Sequence[Portrait]) -> str:
    """What may be said of all the designs at once: no more than their scenarios and figures bear out."""
    if len(portraits) == 1:
        return "It fits the space measured in the vehicle."
    if any(other.scenario.space != portraits[0].scenario.space for other in portraits):
        return "Each fits the space that was measured for it; the spaces differ."
    fits = "All of them fit the space measured in the vehicle"
    if any(other.scenario.goals != portraits[0].scenario.goals for other in portraits):
        return f"{fits}; they were sought with different goals."
    objectives = portraits[0].scenario.goals.objectives
    rows = pd.DataFrame([dict(portrait.row) for portrait in portraits])
    unbeaten = undominated(rows, objectives).all()
    return f"{fits}; each is better than the others at something." if unbeaten else f"{fits}."


def _bands_differ(portraits: Sequence[Portrait]) -> bool:
    return len({portrait.scenario.goals.music_band for portrait in portraits}) > 1


def _badge(letter: str) -> str:
    colour = LIGHT.series[LETTERS.index(letter)]
    return f'<span class="letter" style="border-color:{colour}"><b>{letter}</b></span>'


def _name(portrait: Portrait) -> str:
    return f"{_badge(portrait.letter)}{KINDS[portrait.row['box_kind']].label}"


def _comparison(portraits: Sequence[Portrait], lines: Sequence[str]) -> str:
    """A table with a column for each design."""
    heads = "".join(f"<th>{_badge(portrait.letter)}</th>" for portrait in portraits)
    table = f"<table><thead><tr><th></th>{heads}</tr></thead><tbody>{''.join(lines)}</tbody></table>"
    return f'<div class="scroll">{table}</div>'


def _card(portrait: Portrait, units: Units) -> str:
    row = portrait.row
    breathes = "no vent: the air is shut in" if KINDS[row["box_kind"]].opening == "none" else openings(row, units)
    lines = [
        drivers(row),
        baffle(row, portrait.scenario, units),
        outside(row, units),
        breathes,
        filling(row),
        air_before(row, units),
        high_pass(row, units),
    ]
    lines += [portrait.design.wired, as_used(row, portrait.scenario.goals, units), portrait.distorts(units)]
    items = "".join(f"<li>{escape(line)}</li>" for line in lines if line)
    return f'<section class="card"><h3>{_name(portrait)}</h3><ul>{items}</ul></section>'


def _goals(portraits: Sequence[Portrait], units: Units) -> str:
    """What was traded off, in plain words; the best of each line stands out."""
    lines = []
    for key in dict.fromkeys(key for portrait in portraits for key in portrait.scenario.goals.objectives):
        short, long = GOALS[key].meaning
        cells = "".join(_goal_cells(portraits, key, units))
        lines.append(f"<tr><th><b>{short}</b><br><small>{long}</small></th>{cells}</tr>")
    return _comparison(portraits, lines)


def _goal_cells(portraits: Sequence[Portrait], key: str, units: Units) -> list[str]:
    goal = GOALS[key]
    shown = [figure_of(each.row, key, units, each.scenario.currency) + _remark(each, goal) for each in portraits]
    if goal.over_band and _bands_differ(portraits):
        bands = ["{:.0f}–{:.0f} Hz".format(*portrait.scenario.goals.music_band) for portrait in portraits]
        return [_cell(f"{text} (mean over {band})") for text, band in zip(shown, bands, strict=True)]
    values = [goal.turn * float(portrait.row.get(key, math.nan)) for portrait in portraits]
    best = min((value for value in values if math.isfinite(value)), default=math.nan)
    return [_cell(text, best=len(shown) > 1 and value == best) for text, value in zip(shown, values, strict=True)]


def _remark(portrait: Portrait, goal: Goal) -> str:
    """Where a design goes past a limit, or a figure is an estimate."""
    if _guessed(goal, portrait.scenario):
        return " – an estimate"
    if goal.mark is None or not float(portrait.row[goal.key]) > goal.mark.most(portrait.scenario.goals) + goal.noticed:
        return ""
    return f" – {goal.mark.beyond}"


def _guessed(goal: Goal, scenario: Scenario) -> bool:
    """Whether a figure rests on an estimate of the vehicle."""
    return "cabin" in goal.needs and isinstance(scenario.cabin, EstimatedCabin)


def _cell(text: str, *, best: bool = False) -> str:
    """A cell of a comparison; figures are not broken from their units."""
    figure = text[:1].isdigit() and len(text) < 16
    names = [name for name, given in (("best", best), ("figure", figure)) if given]
    attribute = f' class="{" ".join(names)}"' if names else ""
    return f"<td{attribute}>{escape(text)}</td>"


def _each(told: Sequence[tuple[Portrait, str]]) -> str:
    """A list of what is said of some of the designs."""
    items = "".join(f"<li>{_badge(portrait.letter)}{escape(words)}</li>" for portrait, words in told)
    return f'<ul class="plain">{items}</ul>'


def _compared(portraits: Sequence[Portrait], units: Units) -> str:
    if len(portraits) < 2:
        return ""
    first, *others = portraits
    return f"<h2>How they differ</h2>\n{_each([(other, beside(first, other, units)) for other in others])}"


def beside(first: Portrait, other: Portrait, units: Units) -> str:
    """What sets one design apart from another: kind and sound, then strain, then size and cost.

    Mean output is left out where it was taken over different music bands.
    """
    rows = [pd.Series(dict(portrait.row)) for portrait in (first, other)]
    if _bands_differ([first, other]):
        for row in rows:
            row[[goal.key for goal in GOALS.records if goal.over_band]] = math.nan
    groups = differences(*rows, units=units, currency=first.scenario.currency)
    sentences = [f"{other.letter} {_joined(group)}." for group in groups.values() if group]
    if not sentences:
        return f"Beside {first.letter}, {other.letter} is much the same."
    return f"Beside {first.letter}, {' '.join(sentences)}"


def _joined(phrases: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(phrases[:-1]), phrases[-1]) if part)


def _curves(portraits: Sequence[Portrait], units: Units) -> str:
    drawing = lay_over(portraits, units=units, ink=LIGHT, hover=False)
    figures = []
    for name, (_, make) in charts_of(drawing).items():
        if name not in CHART_WORDS:
            continue
        words = f"{CHART_WORDS[name]} {marks_in_words(drawing)}".strip() if name == "response" else CHART_WORDS[name]
        chart = make(drawing).properties(width=CHART_WIDTH, height=CHART_HEIGHT)
        spec = chart.configure(font="sans-serif", background="transparent", aria=False).to_dict(validate=False)
        svg, title = own_ids(vl_convert.vegalite_to_svg(spec), f"curve-{name}-"), escape(title_of(name, drawing))
        figures.append(f"<figure><h3>{title}</h3>{svg}<figcaption>{escape(words)}</figcaption></figure>")
    return f'<h2>How they play</h2>\n<div class="pair">{"".join(figures)}</div>'


def _drawings(portraits: Sequence[Portrait], units: Units) -> str:
    blocks = []
    for portrait in portraits:
        figures = [
            f"<figure>{own_ids(portrait.design.drawing(name, units), f'{name}-{portrait.letter}-')}"
            f"<figcaption>{words}</figcaption></figure>"
            for name, words in VIEWS.items()
        ]
        blocks.append(f'<div class="drawn"><h3>{_name(portrait)}</h3><div class="pair">{"".join(figures)}</div></div>')
    return f"<h2>In the vehicle</h2>\n{''.join(blocks)}"


def _table(portraits: Sequence[Portrait], units: Units) -> str:
    lines = []
    scenarios = [portrait.scenario for portrait in portraits]
    for key in figures_told(portraits):
        cells = [figure_of(portrait.row, key, units, portrait.scenario.currency) for portrait in portraits]
        if any(cell != MISSING for cell in cells):
            values = "".join(_cell(cell) for cell in cells)
            lines.append(f"<tr><th>{label_of(key, scenarios)}</th>{values}</tr>")
    return f"<h2>All figures</h2>\n{_comparison(portraits, lines)}"


def figures_told(portraits: Sequence[Portrait]) -> list[str]:
    """The columns that are told of designs, in order; a goal that has no place of its own comes last."""
    keys = [*FIGURES, *(key for key in GOALS if key not in FIGURES)]
    levels = [key for portrait in portraits for key in levels_among(portrait.row)]
    keys[keys.index("f3_hz") : keys.index("f3_hz")] = dict.fromkeys(levels)
    return keys


def label_of(key: str, scenarios: Sequence[Scenario]) -> str:
    """A column's label; what is an estimate for any of the designs' scenarios says so."""
    guessed = key in GOALS and any(_guessed(GOALS[key], each) for each in scenarios)
    return f"{COLUMNS[key].label} – estimate" if guessed else COLUMNS[key].label


def _model_ends(portraits: Sequence[Portrait]) -> str:
    """Where the reckoning behind the figures stops, design by design; nothing where it holds throughout."""
    told = [(each, " ".join(each.design.model_ends)) for each in portraits if each.design.model_ends]
    if not told:
        return ""
    return (
        "<h2>How far the figures go</h2>\n<p>All figures are worked out, not measured. "
        f"Here the reckoning reaches its limits:</p>\n{_each(told)}"
    )


def _notes(portraits: Sequence[Portrait]) -> str:
    items = "".join(f"<li>{caution}</li>" for caution in CAUTIONS)
    return (
        f'<h2>Please note</h2>\n<ul class="notes">{items}</ul>\n'
        f"<footer>{' '.join(_uses(portraits))} Levels are at 1 m in half space (a box on open ground), "
        f"{_vehicle(portraits)} Made with wedgefront.</footer>"
    )


def _uses(portraits: Sequence[Portrait]) -> list[str]:
    """How the designs are used, each way once."""
    ways = {}
    for goals in (portrait.scenario.goals for portrait in portraits):
        if goals.use.full_drive:
            ways["full"] = "Figures are at the amplifier's full power, whatever limits that breaks."
        else:
            fed = f"from {goals.fed_from:g} Hz up"
            ways[fed] = f"Each box is turned down, one setting of the gain, until it passes no limit {fed}."
    return list(ways.values())


def _vehicle(portraits: Sequence[Portrait]) -> str:
    """What levels in the vehicle rest on."""
    origins = {portrait.cabin for portrait in portraits}
    if origins == {""}:
        return "without the vehicle's own gain."
    words = {
        "estimate": " Figures in the vehicle are estimated from the cabin's size: a real one differs by several dB.",
        "measured": " Figures in the vehicle rest on what was measured in it.",
        "": "",
    }
    return "unless they say “in the vehicle”." + "".join(words[origin] for origin in sorted(origins))


def own_ids(svg: str, prefix: str) -> str:
    """An SVG with its ids numbered under a prefix of its own, so that several can share one page.

    The renderer counts its ids on from one drawing to the next; here they start anew, so
    the same shortlist gives the same page.
    """
    names = {name: f"{prefix}{number}" for number, name in enumerate(re.findall(r'\bid="([^"]+)"', svg))}

    def renamed(match: re.Match[str]) -> str:
        return match[1] + " ".join(names.get(name, name) for name in match[2].split()) + match[3]

    for before, after in (('\\bid="', '"'), ("url\\(#", "\\)"), ('href="#', '"'), ('aria-\\w+by="', '"')):
        svg = re.sub(f'({before})([^")]+)({after})', renamed, svg)
    return svg
