"""The openings as records: whole, apart from each other, and the whole of what the rest asks of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.openings import OPENINGS, added, making, opening_of, variables
from engine.search.families import group_columns


def test_an_opening_that_is_not_whole_is_refused() -> None:
    """Completeness: words that a reader would miss keep a record from being made at all."""
    for missing in ("box_kind", "instead"):
        with pytest.raises(ValueError, match="words are missing"):
            replace(OPENINGS["pipe"], **{missing: ""})


@pytest.mark.parametrize("changes", [{"name": "tube"}, {"name": "tube", "vent_kind": "tube"}, {"vent_kind": "tube"}])
def test_two_openings_are_never_taken_for_one(changes: dict[str, str]) -> None:
    """Completeness: an opening with the name, the look on the front or a variable of another is refused."""
    with pytest.raises(ValueError, match=r"name of its own|have the same"), added(replace(OPENINGS["pipe"], **changes)):
        pass
    assert list(OPENINGS) == ["none", "pipe", "slot", "radiator"]


def test_an_opening_added_for_a_test_is_gone_after_it() -> None:
    """Contract: an added opening makes boxes and has its variables, for as long as it is there."""
    vent = replace(OPENINGS["none"], name="gap", box_kind="vented", vent_kind="gap")
    with added(vent):
        assert making("vented")[-1] is vent
        assert opening_of({"box_kind": "vented", "vent_kind": "gap"}) is vent
    with pytest.raises(KeyError, match="gap"):
        opening_of({"box_kind": "vented", "vent_kind": "gap"})


def test_variables_follow_the_openings_and_their_order() -> None:
    """Pin: seeds give the same search only while the variables stand in this order."""
    assert [variable.name for variable in variables()] == ["vent_count", "pipe", "slot_height"]
    assert group_columns()[-4:] == ("vent_kind", "pipe_outlet", "radiator", "radiator_count")
