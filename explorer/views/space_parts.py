"""Space & parts: the scenario, field by field, and the space drawn with the largest box in it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from engine.document import write_document
from engine.errors import Fault, Refusal
from engine.file_names import stem
from engine.formats.fields import FIELDS
from engine.formats.listening import levels_stated
from engine.goals import goals_at
from engine.report.shortages import fits_in_words
from engine.scenario import Scenario
from engine.space.arrangement import bodies_of
from engine.words.voice import listed
from engine.workshop.drawings import front_of, space_svg
from explorer import frame, live, panels, parts_forms
from explorer.document import Place, get, name_of, put
from explorer.explained import word
from explorer.inputs import Form
from explorer.labels import field_of, label_of, sentence
from explorer.markdown import plain
from explorer.memory import hold, memory, said
from explorer.plainly import FormVoice, is_apart, is_missing
from explorer.reading import Reading, for_drawing, lines
from explorer.session import Document, Job
from explorer.shape import START, as_corners, as_measured, corner_between, heights_of, is_blank, row_between, row_on_top
from explorer.sketch import as_text as in_words
from explorer.sketch import drawn, in_document, sketch
from explorer.take_away import of_drawing, take_away
from explorer.unknown_keys import UnknownKey, drop, rename, unknown_keys
from explorer.vehicle_form import vehicle

GROUPS = {
    "Space": ("space",),
    "Drivers": ("driver",),
    "Passive radiators": ("radiator",),
    "Amplifier": ("amplifier",),
    "Box": ("box",),
    "Signal chain": ("filter", "chain"),
    "Stock": ("stock", "saw", "build"),
    "Vehicle": ("cabin",),
    "Goals": ("goals", "bounds", "search"),
    "Tolerances": ("tolerance",),
    "Job": ("title", "about", "currency", "air"),
}
# How many there are of each, and the head of their list.
TONES = {"wrong": "{} to put right", "apart": "{} to check", "missing": "{} to fill in"}
HEADS = {
    "wrong": "To put right – what you typed is kept:",
    "apart": "To check, either may be right – what you typed is kept:",
    "missing": "Still to fill in:",
}
SECTION, MEASURED, KEEPOUTS = ("space", "section"), ("space", "measured"), ("space", "keepout")
WAYS = {"section": "Corners", "measured": "Measurements"}  # of giving the cross-section
WHY_NOT = "why-not-changed-over"
CORNER_COLUMNS = [1, 5, 5, 3, 3]
ROW_COLUMNS = [1, 4, 4, 4, 3, 3]


def page() -> None:
    job = frame.present_job()
    if live.take_over(job):
        st.rerun()
    live.keep_up(job)
    reading = frame.reading()
    st.header("Space & parts")
    verdict(job, reading)
    group = choose_group(job, reading)
    form = Form(job, reading)
    if group != "Space":
        SECTIONS[group](form)
        return
    left, right = st.columns([5, 4], gap="large")
    with left:
        space(form)
    with right:
        drawing(job, reading)


def verdict(job: Job, reading: Reading) -> None:
    """Whether the job is complete; all its faults in one list if not.

    One line however much is at fault, and a place for repairs where there are none too, so that the form below stays.
    """
    with st.container(horizontal=True, vertical_alignment="center", key="verdict"):
        if not reading.faults:
            st.markdown(":green[:material/check_circle:] The job is complete.", width="content")
            st.page_link("views/trade_offs.py", label="On to Trade-offs", icon=":material/scatter_plot:")
        else:
            all_faults(reading, job)
    with st.container():
        repairs(job)


def all_faults(reading: Reading, job: Job) -> None:
    """How many there are, and what they say once somebody asks."""
    told = {name: lines([fault for fault in reading.faults if tone(fault) == name], job.units) for name in TONES}
    words = [TONES[name].format(len(each)) for name, each in told.items() if each]
    sign = ":material/error:" if told["wrong"] else ":material/edit:"
    st.markdown(f"{sign} {listed(words)}.", width="content")
    with st.popover("Show", type="tertiary"):
        for name, show in (("wrong", st.error), ("apart", st.warning), ("missing", st.info)):
            if told[name]:
                listing = "\n".join(f"- {line}" for line in told[name])
                show(f"{HEADS[name]}\n{listing}")


def tone(fault: Fault) -> str:
    """How a fault is taken: as something still missing, as two that do not go together, or as wrong."""
    return "missing" if is_missing(fault) else "apart" if is_apart(fault) else "wrong"


def repairs(job: Job) -> None:
    """For each key that no job has: a way to be rid of it, since it has no field to be changed in."""
    for number, unknown in enumerate(unknown_keys(job.document)):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"“{plain(unknown.key)}”", width="content")
            if unknown.meant:
                st.button(
                    f"Rename it to {unknown.label}",
                    key=f"rename:{number}",
                    on_click=repair,
                    args=(job, rename, unknown),
                )
            st.button("Drop it", key=f"drop:{number}", on_click=repair, args=(job, drop, unknown))


def repair(job: Job, change: Callable[[Document, UnknownKey], Document], unknown: UnknownKey) -> None:
    job.document = change(job.document, unknown)


def choose_group(job: Job, reading: Reading) -> str:
    """Which part of the job is on show; a part with faults says how many."""

    def name(group: str) -> str:
        faults = reading.under(*GROUPS[group])
        tones = {tone(fault) for fault in faults}
        # In the corner of its button, see standing.css: no button grows, and no row breaks, because of it.
        return f"{group} :{'red' if 'wrong' in tones else 'gray'}[{len(faults)}]" if faults else group

    key, chosen = f"group:{job.id}", str(memory().get("group", "Space"))
    st.segmented_control(
        "Part of the job",
        list(GROUPS),
        default=hold(key, chosen),
        format_func=name,
        required=True,
        key=key,
        label_visibility="collapsed",
        on_change=lambda: memory().update(group=said(key) or chosen),
    )
    return chosen


def space(form: Form) -> None:
    form.fields("space", ("width", "margin"), ("space",))
    cross_section(form)
    with folded(form, "Keep-outs", KEEPOUTS, str(len(form.listed(KEEPOUTS)) or "")):
        st.caption(
            "What stays where it is, such as a wheel arch or a bracket. The box is kept the margin away from it."
        )
        keepouts(form)
    with folded(form, "Clearances", ("space", "clearance"), ""):
        st.caption("Left and right are seen facing the baffle.")
        keys = tuple(field.key for field in FIELDS["space.clearance"])
        form.fields("space.clearance", keys, ("space", "clearance"))
        form.faults(("space", "clearance"))
    with folded(form, "Openness", ("space", "openness"), ""):
        st.caption("What is shut makes the air before cones and vents heavier, and the tuning lower.")
        form.fields("space.openness", tuple(field.key for field in FIELDS["space.openness"]), ("space", "openness"))
        form.faults(("space", "openness"))
    with folded(form, "Door", ("space", "door"), ""):
        st.caption("The opening that the box has to pass; empty if any box passes.")
        form.fields("space.door", ("width", "height", "turning_room"), ("space", "door"))
        form.faults(("space", "door"))
    form.faults(("space",))
    panels.caution(panels.SPACE)


def folded(form: Form, title: str, place: Place, summary: str) -> Any:
    """A part of the space that not every job has: folded up, with a sign where something in it is to be put right."""
    faults = form.reading.under(name_of(place))
    words = " – ".join(filter(None, (title, summary))) + (f" ⚠ {len(faults)}" if faults else "")
    key = f"open:{name_of(place)}:{form.job.id}"
    # Once unfolded for a fault it stays so: it must not close under the hand that puts the last one right.
    unfolded = memory()[f"un{key}"] = bool(faults) or memory().get(f"un{key}", False)
    return st.expander(words, expanded=unfolded, key=key, on_change="rerun")


def cross_section(form: Form) -> None:
    st.markdown("**Cross-section** seen from the side", help=field_of("space", "section").help)
    ways = [way for way in WAYS if get(form.job.document, ("space", way)) is not None]
    if len(ways) == len(WAYS):
        with st.container(horizontal=True):
            for way, other in (WAYS, reversed(WAYS)):
                words = f"Keep the {WAYS[way].lower()} only"
                st.button(words, key=f"keep:{way}", on_click=forget, args=(form.job, ("space", other)))
    else:
        choose_way(form.job, *(ways or ["section"]))
    for way in ways or ["section"]:
        if way == "section":
            outline(form)
            corners(form, SECTION)
        else:
            measurements(form, MEASURED)


def outline(form: Form) -> None:
    """The cross-section to draw on, as long as all its corners can be read."""
    job = form.job
    drawn_on = in_document(get(job.document, SECTION))
    if drawn_on is None:
        st.caption("The outline can be drawn on as soon as all its corners can be read.")
        return
    # Without the job's revision, so that the drawing keeps its undo and the focus when fields change.
    key = f"sketch:{job.component_id}"
    scenario = frame.reading().scenario or for_drawing(job.document)
    behind = [keepout.section for keepout in scenario.space.keepouts] if scenario else []
    sketch(corners=drawn_on, keepouts=behind, units=job.units, key=key, on_change=lambda: take_outline(job, key))


def take_outline(job: Job, key: str) -> None:
    """Take over the corners as drawn; those that did not move keep the words they were typed in."""
    new = drawn(said(key))
    if new is not None:
        job.document = put(job.document, SECTION, in_words(new, job.units, get(job.document, SECTION)))
        job.revision += 1


def choose_way(job: Job, present: str) -> None:
    """Corners or measurements; a change is made only where nothing typed is lost."""
    key = f"way:{job.id}"
    st.segmented_control(
        "Cross-section given as",
        list(WAYS),
        default=hold(key, present),
        format_func=lambda way: WAYS[way],
        required=True,
        key=key,
        label_visibility="collapsed",
        on_change=change_over,
        args=(job, key, present),
    )
    if why_not := memory().pop(WHY_NOT, ""):
        st.warning(f"Not changed over. {plain(sentence(why_not))}")


def change_over(job: Job, key: str, present: str) -> None:
    """Put the cross-section into the other form."""
    wanted = said(key)
    if wanted in (None, present):  # reported by a page change on the heels of the first load
        return
    before, after = (SECTION, MEASURED) if wanted == "measured" else (MEASURED, SECTION)
    typed = get(job.document, before)
    try:
        if is_blank(typed):
            changed: Any = list(START) if wanted == "measured" else None
        else:
            changed = (as_measured if wanted == "measured" else as_corners)(typed, job.units)
    except Refusal as refused:
        memory()[WHY_NOT] = refused.told(FormVoice(job.units))
        return
    job.document = put(put(job.document, before, None), after, changed)
    job.revision += 1


def forget(job: Job, place: Place) -> None:
    job.document = put(job.document, place, None)
    job.revision += 1


def corners(form: Form, place: Place) -> None:
    """A cross-section corner by corner, going round."""
    row = form.listed(place)
    if row:
        _, forward, up, _, _ = st.columns(CORNER_COLUMNS, gap="xsmall")
        forward.caption("Forward")
        up.caption("Up")
    for number in range(len(row)):
        corner(form, (*place, number), number, row)
    new = corner_between(row, len(row), form.job.units)
    form.add_button("Add a corner", (*place, len(row)), new)
    form.faults(place)


def corner(form: Form, place: Place, number: int, row: list[Any]) -> None:
    section = field_of("space", "section")
    name, forward, up, before, away = st.columns(CORNER_COLUMNS, gap="xsmall")
    name.markdown(f"**{number + 1}**")
    with forward:
        form.text(section, f"Corner {number + 1}, forward", (*place, 0), bare=True)
    with up:
        form.text(section, f"Corner {number + 1}, up", (*place, 1), bare=True)
    with before:
        new = corner_between(row, number, form.job.units)
        form.add_button("Insert", place, new, hint=f"Insert a corner before corner {number + 1}")
    with away:
        form.remove_button(place, what=f"corner {number + 1}", disabled=len(row) <= 3)
    form.faults(place)


def measurements(form: Form, place: Place) -> None:
    """A cross-section as measured, row by row from the floor up."""
    row = form.listed(place)
    columns = st.columns(ROW_COLUMNS, gap="xsmall")
    for column, field in zip(columns[1:], FIELDS["space.measured"], strict=False):
        column.caption(label_of("space.measured", field.key), help=field.help)
    for number in range(len(row)):
        measured_row(form, (*place, number), number, row)
    form.add_button("Add a row on top", (*place, len(row)), row_on_top(row))
    form.faults(place)


def measured_row(form: Form, place: Place, number: int, row: list[Any]) -> None:
    name, *cells, before, away = st.columns(ROW_COLUMNS, gap="xsmall")
    name.markdown(f"**{number + 1}**")
    for cell, field in zip(cells, FIELDS["space.measured"], strict=True):
        with cell:
            label = f"Row {number + 1}, {label_of('space.measured', field.key).lower()}"
            form.text(field, label, (*place, field.key), bare=True)
    if number:
        with before:
            new = row_between(row, number, form.job.units)
            form.add_button("Insert", place, new, hint=f"Insert a row between rows {number} and {number + 1}")
    with away:
        form.remove_button(place, what=f"row {number + 1}", disabled=len(row) <= 2)
    form.faults(place)


def keepouts(form: Form) -> None:
    row = form.listed(KEEPOUTS)
    for number in range(len(row)):
        place = (*KEEPOUTS, number)
        with st.container(border=True):
            form.fields("space.keepout", ("name", "across"), place, across=1)
            stated = get(form.job.document, place) or {}
            by_corners = isinstance(stated, dict) and stated.get("section") is not None
            for key in ("forward", "up"):
                if not by_corners or key in stated:
                    form.field("space.keepout", key, place)
            if by_corners:
                corners(form, (*place, "section"))
            form.faults(place)
            form.remove_button(place, what=f"keep-out {number + 1}", label="Remove this keep-out")
    form.add_button("Add a keep-out", (*KEEPOUTS, len(row)), {"name": f"Keep-out {len(row) + 1}"})
    form.faults(KEEPOUTS)


def goals(form: Form) -> None:
    form.field("goals", "objectives", ("goals",))
    form.fields("goals", ("levels", "fed_from"), ("goals",))
    form.field("goals", "drive", ("goals",))
    form.field("goals", "music_band", ("goals",))
    form.field("goals", "vent_speed_limit", ("goals",))
    st.markdown("**No worse than** – empty where anything goes")
    form.fields("goals.limits", [goal.key for goal in goals_at(levels_stated(form.job.document))], ("goals", "limits"))
    form.faults(("goals",))
    st.markdown("**Within** – empty to let the search choose")
    for field in FIELDS["bounds"]:
        form.field("bounds", field.key, ("bounds",))
    form.faults(("bounds",))
    st.markdown("**Sizes that every box shall have** – exactly, outside or inside; of depths and lean at most two")
    form.fields("held", tuple(field.key for field in FIELDS["held"]), ("held",))
    form.faults(("held",))
    form.fields("search", ("evaluations",), ("search",))


def tolerances(form: Form) -> None:
    st.caption(
        f"By how much what is built and bought differs from the drawing and the data sheet, as "
        f"{word('tolerance', 'standard deviations')}. They say how sure a design is and change no search."
    )
    form.fields("tolerance", tuple(field.key for field in FIELDS["tolerance"]), ("tolerance",), across=3)


def job_fields(form: Form) -> None:
    form.fields("", ("title", "about", "currency"), (), across=1)
    st.markdown("**Air**")
    form.fields("air", ("temperature", "altitude"), ("air",))
    st.download_button(
        "Save as a scenario file",
        lambda: write_document(form.job.document),
        file_name=scenario_name(form.job.source),
        mime="application/toml",
        key="download-scenario",
        icon=":material/download:",
        on_click="ignore",
        help="The inputs alone, as text for the command line. The whole job as one file is saved on Jobs.",
    )


def scenario_name(source: str) -> str:
    """What a job's scenario file is called: as the file that it came from, in which only a scenario is TOML."""
    return f"{stem(source.removesuffix('.toml'), usual='job')}.toml" if source.endswith(".toml") else "job.toml"


SECTIONS = {
    "Space": space,
    "Drivers": parts_forms.drivers,
    "Passive radiators": parts_forms.radiators,
    "Amplifier": parts_forms.amplifier,
    "Box": parts_forms.box,
    "Signal chain": parts_forms.signal_chain,
    "Stock": parts_forms.stock,
    "Vehicle": vehicle,
    "Goals": goals,
    "Tolerances": tolerances,
    "Job": job_fields,
}


def drawing(job: Job, reading: Reading) -> None:
    """The space with the largest box in it, as soon as the space itself can be read, and what goes into that box."""
    scenario = reading.scenario or for_drawing(job.document)
    if scenario is None:
        st.info("The space is drawn here as soon as its cross-section, width and margin can be read.")
        return
    frame.await_ready()
    picture = space_svg(scenario, job.units, rows=heights_of(get(job.document, MEASURED)))
    panels.show_svg(picture, "The space from the side, with the largest box in it")
    take_away([of_drawing("The space with the largest box", lambda: picture)], key="space")
    if reading.scenario is None:
        st.caption("Drawn without what is still to be put right: the largest box may come out smaller.")
    if reading.scenario is not None:
        candidates(job, reading.scenario)


def candidates(job: Job, scenario: Scenario) -> None:
    """Which driver, and how many of it, goes into the largest box; if not, what would have to give."""
    found = panels.contenders_of(job.document)
    if not found:
        return
    st.markdown("**What goes into the largest box**, closed, before any search")
    for rival in found:
        sign = ":green[:material/check:]" if rival.fits else ":red[:material/close:]"
        st.markdown(f"{sign} **{plain(rival.name)}** – {plain(fits_in_words(rival, job.units))}")
    names = [rival.name for rival in found]
    key = f"rival:{job.id}"
    if said(key) not in names:
        hold(key, names[0])
    chosen = st.selectbox("Draw it with", names, key=key) if len(names) > 1 else names[0]
    rival = found[names.index(chosen)]
    parts = bodies_of(rival.layout, 0)
    picture = front_of(parts, rival.driver, job.units, round_over=scenario.box.round_over)
    panels.show_svg(picture, "The largest box with these drivers, from the front; parts overlap where they do not fit")
    take_away([of_drawing("What goes into the largest box", lambda: picture)], key="rival")


page()
