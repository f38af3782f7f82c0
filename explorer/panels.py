"""Pieces of pages: a design's summary, the pick's card, its curves and drawings, the cautions."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from functools import lru_cache, partial
from typing import TypeVar

import pandas as pd
import streamlit as st

from engine.columns import COLUMNS
from engine.errors import SearchImpossible
from engine.file_names import stem
from engine.formats.front import csv_text
from engine.goals import goals_at, level_key, needing
from engine.judged import JudgedDesign, Recommendation
from engine.kinds import KINDS
from engine.markup import in_tags
from engine.parts import TONE_CREST
from engine.quantities import Units, show
from engine.report.compared import label_of
from engine.report.curves import limits_in_words, marks_in_words, title_of
from engine.report.ink import LETTERS, Ink
from engine.report.portrait import Portrait, lay_over
from engine.report.sure import bands, headings, told
from engine.report.wording import (
    air_before,
    as_used,
    baffle,
    drivers,
    figure,
    figure_of,
    filling,
    high_pass,
    openings,
    outside,
)
from engine.scenario import Scenario
from engine.search.contenders import Contender, contenders
from engine.words.voice import first_up, listed
from explorer import frame
from explorer.advice import tries, with_filter
from explorer.choices import clicked
from explorer.explained import linked
from explorer.markdown import plain, text_table
from explorer.memory import said
from explorer.reading import read
from explorer.session import SHORTLIST_MOST, Chosen, Document, Job, Row, choose, pick
from explorer.specs import curves
from explorer.take_away import of_curves, of_drawing, take_away
from explorer.what_changed import what_changed

Item = TypeVar("Item")

VIEWS = (
    ("isometric", "The box in its space, seen from the front right above"),
    ("section", "The box in its space, from the side"),
    ("front", "The panel with the drivers, seen square on"),
    ("plan", "The box in its space, from above"),
)
VIEW_WORDS = dict(VIEWS)
TIGHTEST = 12  # clearances told of a pick
HEARING = (
    "Levels like these harm hearing, within minutes at the loudest of them, and inside a closed car "
    "it is louder than at 1 m in the open. Start low, and wear protection for long tests."
)
AMPLIFIER = (
    "Fuse the supply cable at the battery and leave the wiring to somebody licensed for it: "
    "a vehicle's battery drives hundreds of amperes into a short, enough to start a fire."
)
SPACE = (
    "Before you screw or cut: airbags and their sensors, seat-belt reels and anchors, fuel and brake "
    "lines and wiring lie behind panels. The finished box is heavy and must be bolted to the body: loose, it "
    "becomes a missile in a crash."
)


def caution(words: str) -> None:
    st.caption(f":material/warning: {words}")


def in_rows(items: Sequence[Item], across: int) -> list[Sequence[Item]]:
    return [items[start : start + across] for start in range(0, len(items), across)]


def in_pairs(items: Sequence[Item]) -> list[Sequence[Item]]:
    return in_rows(items, 2)


def judged(chosen: Chosen, job: Job) -> JudgedDesign | None:
    """A chosen design; None where its scenario no longer reads."""
    return frame.judged_designs().of(chosen, job.source)


def older_than_the_job(design: JudgedDesign, job: Job) -> None:
    """Says so where a job was changed after this design of it was found, and what in it."""
    now = read(job.document, job.source).scenario
    if now is None or now.digest == design.scenario.digest:
        return
    changed = what_changed(design.scenario, now, job.units)
    st.warning(
        "The job was changed after this design was found, and everything here is of the job as it was then"
        + (f": {plain(changed)} since." if changed else ".")
        + " Pick it anew on Trade-offs once that is searched, or undo the change, before anything is sawn.",
        icon=":material/history:",
    )


def marks(job: Job) -> dict[str, str]:
    """What stands beside a design in the charts: its shortlist letter, or that it is the pick."""
    assert job.found is not None
    found: dict[str, str] = {}
    for letter, chosen in zip(LETTERS, job.shortlist, strict=False):
        if chosen == choose(job.found, chosen.row["id"]):
            found[chosen.row["id"]] = letter
    if job.pick is not None and job.pick == choose(job.found, job.pick.row["id"]):
        name = job.pick.row["id"]
        found[name] = f"{found[name]} (pick)" if name in found else "pick"
    return found


def take_click(job: Job, key: str) -> None:
    """Make the design that was clicked in a chart the pick."""
    assert job.found is not None
    design = clicked(said(key), job.found.front)
    if design is not None:
        pick(job, design)


def told_of(row: Row, scenario: Scenario, units: Units) -> list[str]:
    """What a box is: what kind and with which drivers, then line by line."""
    inside = [f"{figure('net_volume_m3', row['net_volume_m3'], units)} net", filling(row), openings(row, units)]
    if KINDS[row["box_kind"]].tuned:
        inside[-1] += f", tuned to {figure('tuning_hz', row['tuning_hz'], units)}"
        inside[-1] += f", good to {figure('tuning_within_hz', row['tuning_within_hz'], units)}"
    lines = [
        baffle(row, scenario, units),
        outside(row, units),
        "; ".join(part for part in inside if part),
        air_before(row, units),
        high_pass(row, units),
        f"{first_up(row['wiring'])}, {figure('load_ohm', row['load_ohm'], units)} at the amplifier",
        as_used(row, scenario.goals, units),
    ]
    return [f"{KINDS[row['box_kind']].label}, {drivers(row)}", *(line for line in lines if line)]


def summary(row: Row, scenario: Scenario, units: Units) -> None:
    """What the box is, line by line."""
    first, *lines = (plain(line) for line in told_of(row, scenario, units))
    st.markdown(f"**{first}**\n" + "\n".join(f"- {line}" for line in lines))


def goals(row: Row, scenario: Scenario, units: Units) -> None:
    """The figures that were traded off, and those in the vehicle where it is known."""
    asked = scenario.goals.objectives
    told = [goal.key for goal in goals_at(scenario.goals.levels)]
    in_vehicle = [key for key in needing("cabin", told) if scenario.cabin is not None and key not in asked]
    rows = [
        (
            linked(label_of(key, [scenario]), key),
            # A figure is not broken from its unit.
            figure_of(row, key, units, scenario.currency).replace(" ", "\N{NO-BREAK SPACE}"),
        )
        for key in (*asked, *in_vehicle)
    ]
    text_table(pd.DataFrame(rows, columns=["", " "]), border="horizontal", hide_index=True, hide_header=True)


def wired(design: JudgedDesign) -> None:
    """How the drivers are wired, and what the other ways would draw."""
    st.markdown(f"**Wiring**  \n{plain(design.wired)}")


def where_the_model_stops(design: JudgedDesign) -> None:
    """What a reader of the figures should know of their limits; a line where there is nothing to know."""
    if not design.model_ends:
        st.caption(":material/check: The model covers this design over the whole music band.")
        return
    lines = "\n".join(f"- {plain(sentence)}" for sentence in design.model_ends)
    st.markdown(f"**Where the model stops**\n{lines}")


def reasons(design: JudgedDesign, units: Units) -> None:
    """Why the pick is where it is, goal by goal."""
    with st.container(border=True):
        st.markdown(f"**Why {plain(design.row['id'])} is where it is**")
        for pair in in_pairs(list(design.why(units).items())):
            for column, (key, reason) in zip(st.columns(2), pair, strict=False):
                column.markdown(f"*{COLUMNS[key].label}.* {plain(reason)}")


def shortlist_button(job: Job) -> None:
    full = len(job.shortlist) >= SHORTLIST_MOST
    if job.pick is not None and job.pick in job.shortlist:
        letter = LETTERS[job.shortlist.index(job.pick)]
        st.markdown(f":material/check: On the shortlist as **{letter}**")
        return
    st.button(
        "Add to shortlist",
        key="add-to-shortlist",
        type="primary",
        icon=":material/playlist_add:",
        disabled=full,
        help=f"The shortlist holds {SHORTLIST_MOST}: remove one there first." if full else None,
        on_click=add_to_shortlist,
        args=(job,),
    )


def add_to_shortlist(job: Job) -> None:
    if job.pick is not None and len(job.shortlist) < SHORTLIST_MOST:
        job.shortlist.append(job.pick)


def curves_of(design: JudgedDesign, units: Units) -> None:
    """A design's curves, with what is to be said of them."""
    paper, _ = frame.ink()
    portrait = Portrait(design)
    drawing = lay_over([portrait], units=units, ink=paper, hover=True)
    words = {
        "response": " ".join(filter(None, (marks_in_words(drawing), portrait.distorts(units)))),
        "maximum_output": limits_in_words(drawing),
        "compression": at_full_power(design, units),
    }
    for pair in in_pairs(list(curves((portrait,), units, paper).items())):
        for column, (name, (spec, tells)) in zip(st.columns(2), pair, strict=False):
            title = title_of(name, drawing)
            column.markdown(f"**{linked(title, name)}**")
            said = f"{tells} {words.get(name, '')}".strip()
            column.vega_lite_chart(spec, width="stretch", key=f"curve:{name}", alt=said)
            if words.get(name):
                column.caption(words[name])
    take_away(of_curves([portrait], units), key="curves")
    caution(HEARING)


def how_sure(job: Job, design: JudgedDesign) -> None:
    """What boxes come to that are built like the pick, with the tolerances of the job as it is now."""
    now = frame.reading().scenario
    built, swung = design.sure(None if now is None else now.tolerance)
    st.markdown("  \n".join(plain(said) for said in told(built, swung, design.row, job.units)))
    rows = bands(built, design.row["box_kind"], job.units, design.scenario.currency)
    text_table(pd.DataFrame(rows, columns=["", *headings()]), border="horizontal", hide_index=True)
    st.caption("By how much boxes and drivers differ is set under Space & parts, Tolerances.")


def at_full_power(design: JudgedDesign, units: Units) -> str:
    """The worst that heat and rushing air do to a design, and which of it is an estimate."""
    row = design.row
    rise, lost = (figure(key, row[key], units) for key in ("coil_rise_k", "compression_db"))
    crest = design.scenario.amplifier.crest_factor
    played = "under a long tone" if crest <= TONE_CREST else f"in music whose peaks are {crest:g} dB above its mean"
    words = f"At worst the coil is {rise} above the air and {lost} are lost within the music band, {played}."
    driver = design.stated.driver
    guessed = ["the coil's heat (from the rated power)"] if math.isnan(driver.thermal_resistance) else []
    guessed += ["the vent's loss (from hydraulics)"] if KINDS[row["box_kind"]].opening == "vent" else []
    return f"{words} Estimated: {' and '.join(guessed)}." if guessed else words


def high_pass_advice(job: Job, design: JudgedDesign) -> None:
    """The high-pass with which the pick plays loudest, and a way to have the next search use it."""
    advised = design.recommendation
    with st.container(border=True):
        said = " ".join(filter(None, (advice_in_words(advised, job.units), own_filter(design, job.units))))
        st.markdown(f"**Infrasonic high-pass**  \n{said}")
        if not advised.needed or not math.isfinite(advised.hz):
            return
        scenario = read(job.document, job.source).scenario
        if scenario is not None and tries(scenario.filters, advised):
            st.caption(":material/check: The job's filters to try include it.")
        else:
            st.button(
                "Let the next search use this filter",
                key="take-filter",
                icon=":material/add:",
                disabled=scenario is None,
                on_click=take_filter,
                args=(job, advised),
            )


def advice_in_words(advised: Recommendation, units: Units) -> str:
    """What a high-pass would do for a design, in a sentence or two."""
    if not advised.needed:
        return "None is needed: nothing passes a limit at full power without one."
    without = f"turned down by {advised.turned_down_db:.1f} dB without a filter"
    if not math.isfinite(advised.hz):
        return f"None of those tried lets it play louder than it does {without}."
    before, after = (figure("f3_hz", hz, units) for hz in (advised.f3_without, advised.f3_with))
    filtered = {
        "filter_order": advised.order,
        "filter_shape": advised.shape,
        "filter_q": advised.q,
        "filter_hz": advised.hz,
    }
    moves = f"f3 goes from {before} to {after}" if before != after else f"f3 stays at {before}"
    return (
        f"To play loudest at one setting of the gain: **{high_pass(filtered, units)}**. "
        f"It then plays {louder(advised.levels, units)} than {without}; {moves}.{lifted(advised)}"
    )


def louder(levels: Iterable[tuple[float, float, float]], units: Units) -> str:
    """What a filter does to the levels at some frequencies, each Hz, dB without it and dB with it."""
    told = []
    for hz, without, with_it in levels:
        change = round(with_it - without, 1)
        words = f"{abs(change):.1f} dB {'louder' if change > 0.0 else 'quieter'}" if change else "no louder"
        told.append(f"{words} at {show(hz, 'frequency', units, 0)}")
    return listed(told)


def lifted(advised: Recommendation) -> str:
    """What a high-pass of its own Q does beside that; empty where it raises nothing.

    A second-order high-pass of quality Q peaks at Q / sqrt(1 - 1/(4 Q²)) where Q is above 1/sqrt(2).
    """
    if not advised.q > math.sqrt(0.5):
        return ""
    peak = 20.0 * math.log10(advised.q / math.sqrt(1.0 - 0.25 / advised.q**2))
    return f" That Q raises the bass by {peak:.1f} dB just above this frequency; the amplifier must let you set it."


def own_filter(design: JudgedDesign, units: Units) -> str:
    """What the design's own filter does, where it has one: at its gain, or at full power where the job asks for it."""
    row, goals = design.row, design.scenario.goals
    if not int(row["filter_order"]):
        return ""
    own = f"Its own, a {high_pass(row, units)}, lets it"
    if goals.use.full_drive:
        worst = max(float(row["excursion_ratio"]), float(row["radiator_ratio"]))
        return f"{own} come to {worst:.2f} of Xmax at full power."
    levels = [(hz, before, float(row[level_key(hz)])) for hz, before, _ in design.recommendation.levels]
    return f"{own} play {louder(levels, units)} than without a filter."


def take_filter(job: Job, advised: Recommendation) -> None:
    """Put the filter among those of the job, for the next search."""
    scenario = read(job.document, job.source).scenario
    if scenario is not None:
        job.document = with_filter(job.document, scenario.filters, advised)
        job.revision += 1


def drawings(design: JudgedDesign, units: Units, key: str = "") -> None:
    """The four views, to scale; ``key`` tells one of several designs on a page from the others."""
    for pair in in_pairs(VIEWS):
        for column, (view, alt) in zip(st.columns(2), pair, strict=True):
            with column:
                show_svg(design.drawing(view, units), f"{alt}: {outside(design.row, units)}")
    drawn = [of_drawing(words, partial(design.drawing, view, units)) for view, words in VIEWS]
    take_away(drawn, key=f"drawings:{key or design.row['id']}")


def clearances(design: JudgedDesign, units: Units) -> None:
    """The pick checked as solids: the tightest places, or what is wrong."""
    found = design.inspection
    wrong = found.sentences(units)
    if wrong:
        st.error(
            "Measured in three dimensions, this design does not go together:\n" + "\n".join(f"- {w}" for w in wrong)
        )
        return
    words = f"Every clearance measured in three dimensions: {len(found.findings)} checked, all kept"
    with st.expander(words, icon=":material/straighten:"):
        # A pipe rests on its block and in its brace: what may touch is no news.
        apart = [finding for finding in found.findings if finding.required > 0.0]
        tightest = sorted(apart, key=lambda finding: finding.margin)[:TIGHTEST]
        rows = [
            (
                finding.one,
                f"inside {finding.other}" if finding.inside else finding.other,
                show(finding.required, "length", units),
                show(max(finding.measured, 0.0), "length", units),
            )
            for finding in tightest
        ]
        st.caption(f"The {len(rows)} tightest:")
        text_table(pd.DataFrame(rows, columns=["This", "and that", "need between them", "have"]), hide_index=True)


def contenders_of(document: Document) -> tuple[Contender, ...]:
    """Every driver and count of a job in the largest box of its space; none where the job is at fault."""
    return _contenders(json.dumps(document))


@lru_cache(maxsize=8)
def _contenders(document: str) -> tuple[Contender, ...]:
    scenario = read(json.loads(document), "").scenario
    try:
        return () if scenario is None else tuple(contenders(scenario))
    except SearchImpossible:
        return ()


def show_svg(svg: str, alt: str) -> None:
    """A drawing in the theme's ink: inside an image there are no colours of the page to take over."""
    paper, _ = frame.ink()
    st.image(inked(svg, paper), width="stretch", alt=alt)


def inked(svg: str, paper: Ink) -> str:
    """A drawing whose colours are its own."""

    def own(tag: str) -> str:
        return tag.replace("currentColor", paper.text).replace("--drawing-paper, transparent", f"--none, {paper.paper}")

    return in_tags(svg, own)


def files_of(job: Job, design: JudgedDesign) -> None:
    """The pick and the front as files."""
    assert job.found is not None
    name, front = design.row["id"], job.found.front
    with st.container(horizontal=True):
        st.download_button(
            f"Pick {plain(name)} as a design file",
            lambda: design.file,
            file_name=f"{stem(name, usual='design')}.toml",
            mime="application/toml",
            key="download-design",
            icon=":material/download:",
            on_click="ignore",
            help="For `wedgefront evaluate`, with all that it takes to build it: sizes, parts, and where each lies",
        )
        st.download_button(
            "The whole front as a table",
            lambda: csv_text(front),
            file_name="front.csv",
            mime="text/csv",
            key="download-front",
            icon=":material/download:",
            on_click="ignore",
            help="One row a design, SI units",
        )
