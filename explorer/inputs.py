"""Fields of the scenario on the page: what is typed goes into the document, faults stand beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from engine.acoustics.filters import SHAPES
from engine.errors import Fault
from engine.field import Field
from engine.formats.fields import TABLES
from engine.formats.listening import levels_stated
from engine.goals import default_objectives, goals_at
from engine.quantities import (
    KINDS,
    PRICE_KINDS,
    NotAQuantity,
    Units,
    currency_in,
    differs,
    is_us,
    parse,
    show,
    show_size,
    split,
    unit_of,
    with_unit,
)
from explorer.document import Document, Place, as_number, as_text, get, insert, name_of, put, remove
from explorer.explained import hint, mark
from explorer.labels import choice_label, field_of, label_of, sentence
from explorer.markdown import plain
from explorer.memory import hold, said
from explorer.plainly import bare_key, is_apart, is_missing, plainly
from explorer.reading import Faults
from explorer.session import Job

NEW_FILTER: dict[str, Any] = {"kind": "highpass", "order": 2, "frequency": ["18 Hz", "35 Hz"]}
NO_FILTER: dict[str, Any] = {"kind": "none"}
USUAL_ORDERS = (2, 4, 3)
OWN_Q = 1.0  # that a filter of the user's own Q starts with
NEW_CROSSOVER: dict[str, Any] = {"low_pass_order": 4, "low_pass_frequency": "80 Hz"}
_NEEDED = "needed"


class Form:
    """The fields of one job, with its faults; a widget's truth is the document, never the widget."""

    def __init__(self, job: Job, reading: Faults) -> None:
        self.job = job
        self.reading = reading
        self._told: set[Fault] = set()
        self._stand_ins: dict[Place, str] = {}
        self._shown: dict[str, Any] = {}

    def stand_in(self, place: Place, words: str) -> None:
        """Have the field of a place show what holds while it is empty."""
        self._stand_ins[place] = words

    def fields(self, table: str, keys: Sequence[str], place: Place, *, across: int = 2) -> None:
        """Fields of one table side by side, row after row."""
        for start in range(0, len(keys), across):
            for column, key in zip(st.columns(across), keys[start : start + across], strict=False):
                with column:
                    self.field(table, key, place)

    def rows(self, table: str, keys: tuple[str, ...], label: str) -> None:
        """A repeated table, one a line."""
        place: tuple[str, ...] = tuple(table.split("."))
        present = self.listed(place)
        if present:
            for column, key in zip(st.columns([*([3] * len(keys)), 2]), keys, strict=False):
                column.caption(label_of(table, key))
        for number in range(len(present)):
            columns = st.columns([*([3] * len(keys)), 2])
            for column, key in zip(columns, keys, strict=False):
                with column:
                    self.field(table, key, (*place, number), bare=True)
            with columns[-1]:
                self.remove_button((*place, number), what=f"line {number + 1}")
            self.faults((*place, number))
        self.add_button(label, (*place, len(present)), {})
        self.faults(place)

    def listed(self, place: Place) -> list[Any]:
        """The list at a place; empty where there is none."""
        present = get(self.job.document, place)
        return present if isinstance(present, list) else []

    def under(self, place: Place) -> tuple[Fault, ...]:
        """The faults at or under a place."""
        return self.reading.under(name_of(place))

    def field(self, table: str, key: str, place: Place, *, bare: bool = False) -> None:
        """One field in the form its kind asks for, with the faults of its place under it."""
        field, label, here = field_of(table, key), label_of(table, key), (*place, key)
        if field.form == "range":
            draw = self._span
        elif field.kind == "choice" and field.form == "list":
            draw = self._several
        elif field.kind == "choice":
            draw = self._one_of
        else:
            self.text(field, label, here, bare=bare)
            return
        with self._at(here):
            draw(field, label, here)
            self.faults(here)

    def text(self, field: Field, label: str, place: Place, *, bare: bool = False) -> None:
        """A text field with the faults of its place under it; its placeholder is what holds if it stays empty."""
        with self._at(place):
            self._text(field, label, place, bare=bare)
            self.faults(place)

    def _at(self, place: Place) -> DeltaGenerator:
        """What a field and its messages stand in, with room for them: see ``standing.css``."""
        return st.container(key=f"at:{mark(bare_key(name_of(place)))}{self._key(place)}")

    def _text(self, field: Field, label: str, place: Place, *, bare: bool) -> None:
        key, present = self._key(place), get(self.job.document, place)
        text = ", ".join(map(str, present)) if isinstance(present, list) else as_text(present)
        st.text_input(
            self._converted(label, field.kind, text),
            self._show(key, text),
            key=key,
            placeholder=self._stand_in(place) or self._placeholder(field, needed=self._is_needed(place)),
            help=None if bare else self._hint(field, place),
            label_visibility="collapsed" if bare else "visible",
            on_change=self._take_text,
            args=(place, key, field),
        )
        if bare and not self.under(place) and (shown := in_other_units(text, field.kind, self.job.units)):
            with st.container(key=f"said:{self._key(place)}"):
                st.caption(f"= {shown}")

    def add_button(self, label: str, place: Place, value: Any, *, hint: str | None = None) -> None:
        """Put another item into a list, at the position the place ends with."""
        st.button(
            label,
            key=f"add:{name_of(place)}:{label}",
            type="tertiary" if hint else "secondary",
            help=hint,
            on_click=self._change_list,
            args=(insert, place, value),
        )

    def remove_button(self, place: Place, *, what: str, label: str = "Remove", disabled: bool = False) -> None:
        st.button(
            label,
            key=f"remove:{name_of(place)}",
            type="tertiary",
            help=f"Remove {plain(what)}",
            disabled=disabled,
            on_click=self._change_list,
            args=(remove, place),
        )

    def _is_needed(self, place: Place) -> bool:
        """Whether a field is empty and must not stay so; its placeholder says it, without a red line."""
        missing = [fault for fault in self.reading.under(name_of(place)) if is_missing(fault)]
        self._told |= set(missing)
        return bool(missing)

    def faults(self, place: Place) -> None:
        """The faults at or under a place that no field has told yet, where they stand and without moving anything."""
        untold = [fault for fault in self.reading.under(name_of(place)) if fault not in self._told]
        self._told |= set(untold)
        # A place of their own also while there are none: what stands below would be made anew, under a hand that types.
        with st.container(key=f"said:{self._key(place)}" if untold else None):
            for fault in untold:
                words = plain(sentence(plainly(fault, self.job.units)))
                if is_missing(fault):
                    st.caption(words)
                elif is_apart(fault):
                    st.markdown(f":material/compare_arrows: {words}")
                else:
                    st.markdown(f":red[:material/error: {words}]")

    def _span(self, field: Field, label: str, place: Place) -> None:
        """From and to, kept as one pair; both empty means no pair."""
        pair = get(self.job.document, place)
        texts = [as_text(value) for value in pair] if isinstance(pair, list) and len(pair) == 2 else ["", ""]
        empty = self._placeholder(field, needed=self._is_needed(place))
        stand_in = [as_text(value) for value in field.default] if field.default else [empty, empty]
        keys = [f"{self._key(place)}:{end}" for end in ("from", "to")]
        for column, end, key, text, empty in zip(st.columns(2), ("from", "to"), keys, texts, stand_in, strict=True):
            column.text_input(
                self._converted(f"{label}, {end}", field.kind, text),
                self._show(key, text),
                key=key,
                placeholder=empty,
                help=self._hint(field, place),
                on_change=self._take_span,
                args=(place, keys, field),
            )

    def _one_of(self, field: Field, label: str, place: Place) -> None:
        key, present = self._key(place), get(self.job.document, place)
        choices = list(field.choices)
        shown = self._show(key, present if present in choices else field.default or choices[0])
        st.selectbox(
            label,
            choices,
            choices.index(shown),
            format_func=choice_label,
            key=key,
            help=self._hint(field, place),
            on_change=self._take,
            args=(place, key),
        )

    def _several(self, field: Field, label: str, place: Place) -> None:
        key, present = self._key(place), get(self.job.document, place)
        chosen = present if isinstance(present, list) else field.default
        choices = list(field.choices)
        if place == ("goals", "objectives"):
            levels = levels_stated(self.job.document)
            choices = [goal.key for goal in goals_at(levels)]
            chosen = present if isinstance(present, list) else default_objectives(levels)
        st.pills(
            label,
            choices,
            default=self._show(key, [choice for choice in choices if choice in chosen]),
            selection_mode="multi",
            wrap=True,
            format_func=choice_label,
            key=key,
            help=self._hint(field, place),
            on_change=self._take,
            args=(place, key),
        )

    def _hint(self, field: Field, place: Place) -> str:
        return hint(field.help, bare_key(name_of(place)))

    def _key(self, place: Place) -> str:
        return f"{name_of(place)}:{self.job.id}:{self.job.revision}"

    def _converted(self, label: str, kind: str, text: str) -> str:
        """The label, with the value in the user's units where it was typed in others."""
        shown = in_other_units(text, kind, self.job.units)
        return f"{label} (= {shown})" if shown else label

    def _show(self, key: str, value: Any) -> Any:
        """Have a widget show a value; gives it."""
        self._shown[key] = value
        return hold(key, value)

    def _newly_said(self, key: str) -> bool:
        """Whether a widget says something else than it was drawn with, and than it said before.

        The browser may report one that is on the page no more, as after undo: what that showed is not put in again.
        """
        before, self._shown[key] = self._shown[key], said(key)
        return bool(before != self._shown[key])

    def _take(self, place: Place, key: str) -> None:
        if not self._newly_said(key):
            return
        value = said(key)
        self._set(place, list(value) if isinstance(value, (list, tuple)) else value)
        if place[0] == "filter" and place[-1] == "kind":
            # No filter has no order and no frequency, and a high-pass just chosen starts with some.
            self._set(place[:-1], dict(NEW_FILTER if value == "highpass" else NO_FILTER))
        elif "filter" in place[:2] and place[-1] == "shape":
            self._set(place[:-1], reshaped(get(self.job.document, place[:-1]), value))
        elif place == ("chain", "low_pass"):
            self._set(place[:-1], crossed(get(self.job.document, place[:-1]), value) or None)

    def _take_text(self, place: Place, key: str, field: Field) -> None:
        if self._newly_said(key):
            self._set(place, self._typed(said(key), field))

    def _take_span(self, place: Place, keys: list[str], field: Field) -> None:
        new = [self._newly_said(key) for key in keys]
        if not any(new):
            return
        pair = [self._typed(said(key), field) for key in keys]
        self._set(place, None if pair == [None, None] else ["" if value is None else value for value in pair])

    def _typed(self, text: str, field: Field) -> Any:
        """What a field's text means; a price in a sign of money names the currency of a job that has none yet."""
        if field.kind in PRICE_KINDS and not self.job.document.get("currency") and (named := currency_in(text)):
            self._set(("currency",), named)
        return typed(text, field, self.job.units, as_text(self.job.document.get("currency")))

    def _stand_in(self, place: Place) -> str:
        """What is worked out from other fields where this one stays empty and may."""
        return "" if self._is_needed(place) else self._stand_ins.get(place) or ""

    def _placeholder(self, field: Field, *, needed: bool) -> str:
        """What holds if a field stays empty, or that it must not; and the unit of a bare number in it."""
        units = self.job.units
        if field.default is not None and not needed:
            default = (field.default_us if units == "us" else "") or field.default
            each = default if isinstance(default, list) else [default]
            return ", ".join(_in_units(str(one), field.kind, units) for one in each)
        said = _NEEDED if needed else "optional"
        if not (field.is_quantity and field.kind in KINDS):
            return said
        symbol = unit_of(field.kind, units).symbol
        return f"{said}, in {'inches' if symbol == 'in' else symbol}"

    def _set(self, place: Place, value: Any) -> None:
        self.job.document = without_empty(put(self.job.document, place, value), place[:-1])

    def _change_list(self, change: Any, place: Place, *arguments: Any) -> None:
        self.job.document = without_empty(change(self.job.document, place, *arguments), place[:-1])
        self.job.revision += 1


def next_filter(present: Sequence[Any]) -> dict[str, Any]:
    """A high-pass to add to those present: of the first usual order that none of them has."""
    taken = [each.get("order") for each in present if isinstance(each, dict) and "q" not in each]
    return {**NEW_FILTER, "order": next((order for order in USUAL_ORDERS if order not in taken), USUAL_ORDERS[0])}


def reshaped(table: dict[str, Any], shape: str) -> dict[str, Any]:
    """A high-pass turned into one of another shape: with an order that there is, and a Q only where it is its own."""
    changed = {**table, "shape": shape, "q": table.get("q", OWN_Q)}
    if table.get("order") not in SHAPES[shape].orders:
        changed["order"] = 2
    if not SHAPES[shape].own_q:
        del changed["q"]
    return changed


def crossed(table: dict[str, Any], shape: str) -> dict[str, Any]:
    """A signal chain with a crossover of a shape; none has no order and no frequency."""
    others = {key: value for key, value in table.items() if not key.startswith("low_pass")}
    if shape == "none":
        return others
    present = {key: table.get(key) or value for key, value in NEW_CROSSOVER.items()}
    return {**others, "low_pass": shape, **present}


def without_empty(document: Document, place: Place) -> Document:
    """The document without the table or list of tables at a place, where nothing is in it and none is due."""
    *above, key = place or ("",)
    table = ".".join(str(step) for step in above)
    optional = any(inner.key == key and not inner.required for inner in TABLES.get(table, ()))
    return put(document, place, None) if optional and get(document, place) in ({}, []) else document


def _in_units(text: str, kind: str, units: Units) -> str:
    """A default in the user's units, nothing at all among them."""
    if differs(kind) and parse(text, kind) == 0.0:
        return f"0 {unit_of(kind, units).symbol}"
    return in_other_units(text, kind, units) or text


def in_other_units(text: str, kind: str, units: Units) -> str:
    """A quantity in the user's units where it was typed in the other system's; else nothing."""
    if not differs(kind):
        return ""
    try:
        value, unit = parse(text, kind), split(text).unit
    except NotAQuantity:
        return ""
    if value == 0.0 or is_us(unit) == (units == "us"):
        return ""
    return show_size(value, units) if kind == "length" else show(value, kind, units, 2 if kind == "mass" else None)


def typed(text: str, field: Field, units: Units, currency: str) -> Any:
    """What a field's text means in the document; None where it is empty.

    A bare number takes the unit that its kind has in ``units``, a bare price the job's ``currency``, so that the
    document always states them.
    """
    if field.form == "list":
        parts = [_one(part, field, units, currency) for part in text.replace(";", ",").split(",")]
        return [part for part in parts if part is not None] or None
    return _one(text, field, units, currency)


def _one(text: str, field: Field, units: Units, currency: str) -> Any:
    text = text.strip()
    if field.kind == "ratio" and text.endswith("%"):
        share = as_number(text[:-1])
        return text if isinstance(share, str | None) else round(share / 100.0, 12)
    if field.kind in ("count", "ratio"):
        return as_number(text)
    return (with_unit(text, field.kind, units, currency=currency) if text and field.is_quantity else text) or None
