"""The forms of what goes into the box and before it: drivers, radiators, amplifier, box, signal chain, stock."""

from __future__ import annotations

import streamlit as st

from engine.datasheet import CROSS_CHECKED, FULL_POWER, PASSIVE_RADIATOR, THIELE_SMALL
from engine.derived import SOURCE, Derived, derived_of
from engine.document import written_in
from engine.formats.fields import FIELDS
from engine.formats.scenario import SIZE_STEPS
from engine.openings import OPENINGS
from engine.openings.record import StockTable
from engine.parts import RATED_RISE
from engine.quantities import NotAQuantity, parse, show, show_size, to_display, unit_of
from engine.words.voice import listed as and_so_on
from explorer import panels
from explorer.document import Place, as_text, get, name_of
from explorer.explained import word
from explorer.inputs import Form, next_filter
from explorer.labels import field_of, label_of
from explorer.markdown import plain
from explorer.memory import memory
from explorer.plainly import is_missing

DRIVER_SIZE = (
    "outer_diameter",
    "cutout_diameter",
    "magnet_diameter",
    "mounting_depth",
    "magnet_depth",
    "rear_gap",
    "terminal_depth",
    "front_height",
    "displacement",
    "mass",
    "price",
)
SCREWED = ("screw_circle_diameter", "screw_count", "screw_diameter")
WRIGHT = ("inductance_kr", "inductance_xr", "inductance_ki", "inductance_xi")
RADIATOR_SIZE = (
    "outer_diameter",
    "cutout_diameter",
    "mounting_depth",
    "front_height",
    "displacement",
    "mass",
    "price",
    *SCREWED,
)


def drivers(form: Form) -> None:
    row = form.listed(("driver",))
    for number in range(len(row)):
        place = ("driver", number)
        title = as_text(get(form.job.document, (*place, "name"))) or f"Driver {number + 1}"
        with item(form, place, title, alone=len(row) == 1):
            form.fields("driver", ("name", "counts"), place)
            st.markdown("**Data sheet** – leave empty what it does not say and the rest does")
            derived(form, place)
            form.fields("driver", tuple(field.key for field in THIELE_SMALL), place, across=3)
            st.markdown("**What it says besides**, to work out what is empty above, or to check the sheet by")
            form.fields("driver", tuple(field.key for field in CROSS_CHECKED), place, across=4)
            derived_in_words(form, place)
            st.markdown("**Coils**")
            form.fields("driver", ("coils", "coil_impedance", "stated_wiring"), place, across=3)
            form.fields("driver", ("coil_wirings", "driver_wirings"), place)
            st.markdown("**Size**")
            form.fields("driver", DRIVER_SIZE, place, across=3)
            st.markdown("**Screws of its flange** – left empty as is usual for its size")
            form.fields("driver", (*SCREWED, "screw_angle"), place, across=4)
            full_power(form, place)
            form.faults(place)
            form.remove_button(place, what=title, disabled=len(row) == 1)
    form.add_button("Add a driver", ("driver", len(row)), {"name": f"Driver {len(row) + 1}"})
    form.faults(("driver",))


def _derived(form: Form, place: Place) -> dict[str, Derived]:
    stated = get(form.job.document, place)
    return derived_of(stated, FIELDS["driver"]) if isinstance(stated, dict) else {}


def derived(form: Form, place: Place) -> None:
    """Have the empty fields of a driver show what is worked out for them."""
    for key, each in _derived(form, place).items():
        form.stand_in((*place, key), f"{_shown(key, each, form)}, worked out")


def derived_in_words(form: Form, place: Place) -> None:
    """Which figures of a driver's sheet are worked out, and from what; in a place that is there without any."""
    told = []
    for key, each in _derived(form, place).items():
        given = and_so_on([_symbol(one) for one in each.given])
        told.append(f"{label_of('driver', key)} {_shown(key, each, form)} (from {given})")
    with st.container():
        if told:
            st.caption(plain(f"Worked out from the sheet ({SOURCE}): {'; '.join(told)}."))


def _shown(key: str, each: Derived, form: Form) -> str:
    """A figure worked out, to three significant digits, in the user's units."""
    kind = field_of("driver", key).kind
    if kind == "ratio":
        return f"{each.value:.3g}"
    unit, number = unit_of(kind, form.job.units), float(to_display(each.value, kind, form.job.units))
    return f"{float(f'{number:.3g}'):g} {unit.symbol}"


def _symbol(key: str) -> str:
    return key if key == "fs" else key.capitalize()


def full_power(form: Form, place: Place) -> None:
    """What a driver does when driven hard; all of it may stay empty."""
    stated = get(form.job.document, place)
    present = isinstance(stated, dict) and any(field.key in stated for field in FULL_POWER)
    key = f"full-power:{name_of(place)}:{form.job.id}"
    # Once unfolded it stays so: it must not close under the hand that empties the last field.
    unfolded = memory()[f"un{key}"] = present or memory().get(f"un{key}", False)
    with st.expander("At full power", expanded=unfolded, key=key):
        st.caption(
            f"All of this may stay empty. How hot the coil becomes is then an estimate: {RATED_RISE:.0f} K above the "
            f"air at rated power{_estimated(form, place)}."
        )
        form.fields("driver", ("thermal_resistance", "coil_metal"), place)
        form.fields("driver", ("bl_at_xmax", "cms_at_xmax"), place)
        form.field("driver", "inductance_exponent", place)
        st.markdown(
            "**Coil measured as resistance and reactance that both grow with frequency**, Kr·ω^Xr + j·Ki·ω^Xi (Wright "
            "1990) – in place of the inductance above, which must then be 0 mH"
        )
        form.fields("driver", WRIGHT, place, across=4)


def _estimated(form: Form, place: Place) -> str:
    """What the estimate of a driver's thermal resistance comes to; empty where the rated power cannot be read."""
    try:
        power = parse(as_text(get(form.job.document, (*place, "rated_power"))), "power")
        return f", which makes {show(RATED_RISE / power, 'thermal_resistance', form.job.units)} here"
    except (NotAQuantity, ZeroDivisionError):
        return ""


def radiators(form: Form) -> None:
    st.caption(
        f"The search tunes a {word('passive-radiator', 'passive radiator')} by the mass added to its cone. It needs "
        "“Passive radiator” among the boxes to try."
    )
    row = form.listed(("radiator",))
    for number in range(len(row)):
        place = ("radiator", number)
        title = as_text(get(form.job.document, (*place, "name"))) or f"Passive radiator {number + 1}"
        with item(form, place, title, alone=len(row) == 1):
            form.fields("radiator", ("name", "counts"), place)
            st.markdown("**Data sheet**, with nothing added")
            form.fields("radiator", (*(field.key for field in PASSIVE_RADIATOR), "most_added"), place, across=3)
            st.markdown("**Size**")
            form.fields("radiator", RADIATOR_SIZE, place, across=3)
            form.faults(place)
            form.remove_button(place, what=title)
    form.add_button("Add a passive radiator", ("radiator", len(row)), {"name": f"Passive radiator {len(row) + 1}"})
    form.faults(("radiator",))


def item(form: Form, place: Place, title: str, *, alone: bool) -> st.delta_generator.DeltaGenerator:
    """The fold that one driver or radiator lies in: among several it says how much is at fault."""
    faults = form.under(place)
    to_do = "to fill in" if all(is_missing(fault) for fault in faults) else "to look at"
    words = f"{title} – {len(faults)} {to_do}" if faults and not alone else title
    key = f"item:{name_of(place)}:{form.job.id}"
    # Once unfolded it stays so: it must not close under the hand that puts the last fault right.
    unfolded = memory()[f"un{key}"] = bool(faults) or alone or memory().get(f"un{key}", False)
    return st.expander(plain(words), expanded=unfolded, key=key)


def amplifier(form: Form) -> None:
    form.fields("amplifier", ("name", "lowest_load", "wirings", "crest_factor"), ("amplifier",))
    st.markdown("**What it delivers, as its maker states**")
    form.rows("amplifier.load", ("impedance", "power"), "Add a load")
    form.faults(("amplifier",))
    panels.caution(panels.AMPLIFIER)
    panels.caution(panels.HEARING)


def box(form: Form) -> None:
    form.fields("box", ("kinds", "facings", "baffles", "pipe_outlets"), ("box",))
    form.field("box", "fillings", ("box",))
    st.caption(
        "By how much filling softens the air differs with the fibre: what is taken here is an estimate from common "
        "practice."
    )
    form.fields(
        "box",
        ("back_angle", "breathing_gap", "ql", "carpet", "round_over", "joint_distance", "baffle_recess", "least_depth"),
        ("box",),
        across=3,
    )
    form.faults(("box",))


def signal_chain(form: Form) -> None:
    st.markdown("**Infrasonic high-pass**, each to be tried")
    row = form.listed(("filter",))
    for number in range(len(row)):
        place = ("filter", number)
        with st.container(border=True):
            if get(form.job.document, (*place, "kind")) == "highpass":
                own = get(form.job.document, (*place, "shape")) == "own"
                form.fields("filter", ("kind", "shape", "q" if own else "order"), place, across=3)
                if own:
                    st.caption(
                        "A filter of your own Q has order 2: 12 dB per octave. A Q above 0.71 lifts what lies above it."
                    )
                form.field("filter", "frequency", place)
            else:
                form.field("filter", "kind", place)
            form.faults(place)
            form.remove_button(place, what=f"filter {number + 1}")
    form.add_button("Add a filter", ("filter", len(row)), next_filter(row))
    form.faults(("filter",))
    chain = ("chain",)
    st.markdown("**Low-pass crossover**, the same for every design")
    crossed = get(form.job.document, ("chain", "low_pass")) not in (None, "none")
    form.fields(
        "chain", ("low_pass", "low_pass_order", "low_pass_frequency") if crossed else ("low_pass",), chain, across=3
    )
    st.markdown("**One band of an equaliser**, the same for every design – empty for none")
    form.fields("chain", ("band_frequency", "band_gain", "band_q"), chain, across=3)
    form.faults(chain)
    st.caption(
        "The amplifier gives its full voltage and no more: where a filter or band raises the signal beyond that, it "
        "clips, and the figures take it as held there. A crossover takes no part in f3."
    )


def listed(form: Form, table: StockTable) -> None:
    """What the stock holds for an opening, part by part."""
    place: Place = tuple(table.path.split("."))
    row = form.listed(place)
    for number in range(len(row)):
        with st.container(border=True):
            form.fields(table.path, tuple(table.labels), (*place, number), across=len(table.labels))
            form.faults((*place, number))
            form.remove_button((*place, number), what=f"{table.item} {number + 1}")
    form.add_button(f"Add a {table.item}", (*place, len(row)), {})
    form.faults(place)


def stock(form: Form) -> None:
    form.fields("stock", ("board_thickness", "baffle_layer", "brace_span", "board_density", "board_price"), ("stock",))
    for table in (opening.table for opening in OPENINGS.records):
        if table is None or not table.path.startswith("stock."):
            continue
        st.markdown(table.heading)
        if table.many:
            listed(form, table)
        else:
            place = tuple(table.path.split("."))
            for key in table.labels:
                form.field(table.path, key, place)
            form.faults(place)
    st.markdown("**Saw** – slants and outside sizes come in its steps")
    step = SIZE_STEPS[written_in(form.job.document)]
    form.stand_in(("saw", "size_step"), show_size(step, form.job.units))
    form.fields("saw", ("most_bevel", "angle_step", "size_step"), ("saw",), across=3)
    form.faults(("saw",))
    st.markdown("**Build** – how a pick is built; no search goes by it")
    form.fields("build", tuple(field.key for field in FIELDS["build"]), ("build",), across=4)
    form.faults(("build",))
    st.markdown("**Terminal cup** – empty for none")
    cup = ("stock", "terminal_cup")
    form.fields("stock.terminal_cup", ("cutout_diameter", "flange_diameter", "depth", "room"), cup, across=3)
    form.faults(cup)
    form.faults(("stock",))
