"""The page as a link, promises to the user: it opens the same view; what does not fit is left out and told."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pandas as pd
import pytest

from explorer.links import address_of, is_view, query_of, take_view
from explorer.session import DRIVERS, Job, SearchResult, choose

FILTERS = {
    "f3_hz": [None, 40.25],
    "weight_kg": [1e-7, None],
    "driver": ["Ten", "a & b=c#/?..'\""],
    DRIVERS: ["2 × Tèn"],
}


@pytest.fixture
def job(front: pd.DataFrame) -> Job:
    record = {"evaluations": 1, "seconds": 1.0, "stopped_by": "budget", "objectives": ["f3_hz", "output_db"]}
    found = SearchResult(front, record, {})
    return Job(
        id="abcdefgh", source="x.toml", document={}, found=found, pick=choose(found, "D0007"),
        axes={"x": "f3_hz", "y": "weight_kg", "colour": "output_db"}, filters=dict(FILTERS),
    )  # fmt: skip


def opened(job: Job, address: str) -> tuple[Job, list[str]]:
    """The same job as somebody else left it, after the link was followed."""
    there = Job(id=job.id, source="x.toml", document={}, found=job.found, filters={"cost": [0.0, 1.0]})
    query = parse_qs(urlsplit(address).query, keep_blank_values=True)
    assert is_view(query)
    return there, take_view(there, query)


def test_a_link_opens_the_same_view(job: Job) -> None:
    there, lost = opened(job, address_of(job, "http://localhost:8501/shortlist?job=other"))
    assert not lost
    assert (there.pick, there.axes, there.filters) == (job.pick, job.axes, job.filters)


def test_it_names_the_page_and_the_job(job: Job) -> None:
    address = urlsplit(address_of(job, "http://localhost:8501/shortlist?job=other"))
    assert (address.netloc, address.path) == ("localhost:8501", "/shortlist")
    assert parse_qs(address.query)["job"] == [job.id]


def test_an_address_with_the_job_alone_changes_nothing(job: Job) -> None:
    assert not is_view({"job": [job.id]})


def test_a_pick_of_another_front_is_not_taken_for_one_of_the_same_number(job: Job) -> None:
    address = address_of(job, "http://localhost:8501/")
    assert job.found is not None
    job.found.front["f3_hz"] += 1.0
    there, lost = opened(job, address)
    assert there.pick is None
    assert lost == ["the pick, which is not on the front any more"]


@pytest.mark.parametrize(
    ("query", "left_out"),
    [
        ("x=nonsense", ["an axis"]),
        ("only-f3_hz=1", ["a filter"]),
        ("only-f3_hz=a..b", ["a filter"]),
        ("only-f3_hz=nan..", ["a filter"]),
        ("only-nothing=1..2", ["a filter"]),
        ("pick=", ["the pick, which is not on the front any more"]),
        ("pick=D9999.00000000", ["the pick, which is not on the front any more"]),
    ],
)
def test_what_does_not_fit_is_left_out_and_told(job: Job, query: str, left_out: list[str]) -> None:
    there, lost = opened(job, f"http://localhost/?job=abcdefgh&{query}")
    assert lost == left_out
    assert there.axes == {}
    assert there.filters == {}


def test_a_job_without_a_pick_or_front_has_a_link_too(job: Job) -> None:
    job.found = None
    assert "pick" not in query_of(job)
