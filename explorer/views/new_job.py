"""New job: what a search needs and nothing else, step by step, with pictures of what to measure."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import streamlit as st

from engine.datasheet import CROSS_CHECKED, THIELE_SMALL
from engine.errors import Fault
from engine.outline import Measured
from engine.quantities import NotAQuantity, Units, parse
from engine.workshop import measuring
from explorer import frame, guide, panels, parts_forms
from explorer.document import as_text, get
from explorer.guide import PARTS, STEPS
from explorer.inputs import Form
from explorer.labels import field_of
from explorer.markdown import plain
from explorer.memory import hold, said
from explorer.plainly import is_missing
from explorer.reading import Reading, lines, read
from explorer.session import Job
from explorer.shape import row_between, row_on_top

SHEET = tuple(field.key for field in THIELE_SMALL if field.key not in ("l2", "r2"))
SIZE = ("outer_diameter", "cutout_diameter", "magnet_diameter", "mounting_depth")
ROWS = ("space", "measured")


def page() -> None:
    job = frame.present_job()
    reading = frame.reading()
    step = job.guide if job.guide in STEPS else guide.FIRST
    st.header("New job")
    trail(job, reading, step)
    form = Form(job, reading)
    DRAWN[step](form)
    onward(job, reading, step)


def trail(job: Job, reading: Reading, step: str) -> None:
    """Where one is, with a way to each step."""
    with st.container(horizontal=True, gap="xsmall"):
        for number, (name, title) in enumerate(STEPS.items(), start=1):
            done = not reading.under(*PARTS[name])
            st.button(
                f"{number}  {title}",
                key=f"step:{name}",
                type="secondary" if name == step else "tertiary",
                icon=":material/check:" if done else None,
                help="Nothing is missing here" if done else None,
                on_click=guide.move,
                args=(job, name),
            )


def onward(job: Job, reading: Reading, step: str) -> None:
    """The next step, or the search; what is still wanting is said before that."""
    names = list(STEPS)
    place = names.index(step)
    wrong = [fault for fault in reading.under(*PARTS[step]) if not is_missing(fault)]
    with st.container():
        if wrong:
            st.caption(":material/info: What is marked red is best put right here; you can also come back to it.")
        if step == guide.LAST:
            wanting(job, reading)
    with st.container(horizontal=True):
        if place:
            st.button(
                "Back", key="back", icon=":material/arrow_back:", on_click=guide.move, args=(job, names[place - 1])
            )
        if step == guide.LAST:
            st.button(
                "Find the boxes", key="find", type="primary", icon=":material/search:", disabled=not ready(job),
                on_click=guide.finish, args=(job,),
            )  # fmt: skip
        else:
            st.button(
                "Next", key="next", type="primary", icon=":material/arrow_forward:", icon_position="right",
                on_click=guide.move, args=(job, names[place + 1]),
            )  # fmt: skip


def ready(job: Job) -> bool:
    """Whether the job can be searched, with what its steps do not ask for."""
    return read(guide.completed(job.document), job.source).scenario is not None


def wanting(job: Job, reading: Reading) -> None:
    """What is still to be filled in or put right before a search, by the step where that is done."""
    faults = read(guide.completed(job.document), job.source).faults
    for name, title in STEPS.items():
        here = _under(faults, PARTS[name])
        if here:
            told = "\n".join(f"- {line}" for line in lines(here, job.units))
            st.markdown(f"**Still wanted under “{title}”**\n{told}")
    rest = [fault for fault in faults if not any(_under([fault], parts) for parts in PARTS.values())]
    if rest:
        told = "\n".join(f"- {line}" for line in lines(rest, job.units))
        st.markdown(f"**To put right on Space & parts**\n{told}")


def _under(faults: Any, parts: tuple[str, ...]) -> list[Fault]:
    return [fault for fault in faults if fault.key.partition(".")[0].partition("[")[0] in parts]


def elsewhere(words: str) -> None:
    """Where the rest of a part is, which has defaults."""
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.caption(words, width="content")
        st.page_link(frame.SPACE_PARTS, label="Space & parts", icon=":material/straighten:")


def space(form: Form) -> None:
    job = form.job
    left, right = st.columns([5, 6], gap="large")
    with left:
        form.field("", "title", ())
        units(job)
        st.markdown("**Width and depths**, free of everything that stays")
        form.field("space", "width", ("space",))
        heights(form)
        elsewhere("Keep-outs, clearances, the door, an outline to draw:")
    with right:
        rows = form.listed(ROWS)
        margin = as_text(get(job.document, ("space", "margin"))) or ("0 mm" if job.units == "metric" else "0 in")
        panels.show_svg(
            measuring.side_to_measure(measured(rows), max(len(rows), 2), job.units),
            "The space from the side: at each height the depth from behind forward, and the height above the floor",
        )
        panels.show_svg(
            measuring.width_to_measure(job.units), "The space from the front: its width at the narrowest place"
        )
        st.caption(
            f"{plain(margin)} are kept free all round anyway: measure the room that there is, not the box you have in "
            "mind, and measure level."
        )


def units(job: Job) -> None:
    """In which units the job is put in: what it starts with goes over."""
    key = f"guide-units:{job.id}"
    st.segmented_control(
        "You measure in", list(frame.UNITS), default=hold(key, job.units), required=True, key=key,
        format_func=lambda each: frame.UNITS[each], on_change=take_units, args=(job, key),
    )  # fmt: skip


def take_units(job: Job, key: str) -> None:
    after: Units = said(key) or job.units
    if after == job.units:  # reported though nobody chose: no field is drawn anew for that
        return
    job.document = guide.in_units(job.document, job.units, after)
    job.units = after
    job.revision += 1


def heights(form: Form) -> None:
    """Depth at the floor and at the top, and as many heights between them as the space has bends."""
    rows = form.listed(ROWS)
    last = len(rows) - 1
    for number in range(len(rows)):
        where = "at the floor" if number == 0 else "at the top" if number == last else "where it bends"
        place = (*ROWS, number)
        depth, height = st.columns(2)
        with depth:
            form.text(field_of("space.measured", "depth"), f"Depth {number + 1}, {where}", (*place, "depth"))
            form.faults((*place, "depth"))
        with height:
            if number:
                form.text(field_of("space.measured", "height"), f"Height {number + 1}", (*place, "height"))
                form.faults((*place, "height"))
            else:
                st.caption("The floor is height 0.")
        form.faults(place)
    between = row_between(rows, last, form.job.units) if last > 0 else row_on_top(rows)
    with st.container(horizontal=True):
        form.add_button("It bends in between: add a height", (*ROWS, max(last, 0)), between)
        if last > 1:
            form.remove_button((*ROWS, last - 1), what=f"height {last}", label="Take one away")
    form.faults(ROWS)


def measured(rows: list[Any]) -> list[Measured] | None:
    """Rows as numbers; None where not all can be read, or they do not go upward."""
    found = []
    for row in rows:
        texts = row if isinstance(row, dict) else {}
        try:
            height, depth = (parse(str(texts.get(key, "")), "length") for key in ("height", "depth"))
            back = parse(str(texts["back"]), "length") if texts.get("back") else 0.0
        except NotAQuantity:
            return None
        found.append(Measured(height=height, back=back, depth=depth))
    upward = all(one.height <= other.height for one, other in pairwise(found))
    sound = found and upward and found[-1].height > 0.0 and all(row.depth >= 0.0 for row in found)
    return found if sound and max(row.depth for row in found) > 0.0 else None


def driver(form: Form) -> None:
    job, place = form.job, ("driver", 0)
    left, right = st.columns([5, 4], gap="large")
    with left:
        form.fields("driver", ("name", "counts"), place)
        st.markdown("**From its data sheet** – leave empty what the sheet does not say")
        parts_forms.derived(form, place)
        form.fields("driver", SHEET, place, across=3)
        form.fields("driver", tuple(field.key for field in CROSS_CHECKED), place)
        parts_forms.derived_in_words(form, place)
        st.caption("If the sheet gives no Le, put 0 mH: bass is then told a little too loud from about 80 Hz up.")
        form.fields("driver", ("coils", "coil_impedance", "stated_wiring"), place, across=3)
    with right:
        st.markdown("**Its size**, from the sheet or with a rule")
        panels.show_svg(
            measuring.driver_to_measure(job.units),
            "A driver from the side: over the flange, the cut-out, the magnet, the mounting depth",
        )
        form.fields("driver", SIZE, place)
    form.faults(place)
    elsewhere("More drivers, weight and price, what full power does to it:")


def amplifier(form: Form) -> None:
    form.field("amplifier", "name", ("amplifier",))
    st.markdown("**What it delivers, as its maker states** – the channel you use, or both bridged")
    form.rows("amplifier.load", ("impedance", "power"), "Add a load")
    form.faults(("amplifier", "load"))
    lowest = guide.lowest_load(form.job.document)
    stated = get(form.job.document, ("amplifier", "lowest_load"))
    if lowest and stated in (None, lowest):
        st.caption(f"No load below {plain(lowest)} is put to it: that is the lowest that you state a power for.")
    elsewhere("A lower load that it allows, the wirings to try, the music's crest factor:")
    panels.caution(panels.AMPLIFIER)


def stock(form: Form) -> None:
    job = form.job
    form.field("stock", "board_thickness", ("stock",))
    usual = list(guide.PIPES[job.units])
    key = f"pipes:{job.id}:{job.revision}"
    present = [pipe.get("name") for pipe in guide.pipes_of(job.document)]
    chosen = hold(key, [name for name in usual if name in present])
    st.pills(
        "Pipe for vents that you can get", usual, default=chosen, selection_mode="multi", key=key,
        on_change=take_pipes, args=(job, key, chosen),
        help="Usual sizes; measure what you buy, and correct it on Space & parts. None: only closed boxes are tried.",
    )  # fmt: skip
    others = [str(pipe.get("name")) for pipe in guide.pipes_of(job.document) if pipe.get("name") not in usual]
    if others:
        st.caption(f"Also in stock: {plain(', '.join(others))}.")
    form.faults(("stock",))
    elsewhere("Pipes of other sizes, slots, passive radiators, filling, terminal cup, the saw:")
    st.caption(
        "Goals, filters and the vehicle's own gain start with what is usual; all of it can be changed at any time."
    )


def take_pipes(job: Job, key: str, present: list[str]) -> None:
    wanted = list(said(key) or [])
    if wanted != present:
        job.document = guide.with_pipes(job.document, wanted, job.units)


DRAWN = {"space": space, "driver": driver, "amplifier": amplifier, "stock": stock}

page()
