"""The front of each demo job as a short search finds it, kept beside the job so that it is shown at once.

``python -m explorer.demo_fronts`` searches and writes them again, into ``scenarios/fronts/``; a test holds each
equal to a fresh search.
"""

from __future__ import annotations

from pathlib import Path

from engine.formats.front import read_run, write_run
from engine.formats.scenario import demo_scenarios, read_document, read_scenario
from engine.search.runs import Run, run
from explorer.session import Document, SearchResult, as_document, rows_of

EVALUATIONS = 49_152  # a front worth looking at, found in a few seconds


def folder_of(name: str) -> Path:
    """Where a demo job's stored front lies: ``front.csv``, ``left_out.csv`` and ``run.json``."""
    return demo_scenarios()[name].parent / "fronts" / name


def fresh_front(name: str) -> Run:
    """The search that a stored front is the outcome of, made anew."""
    return run(read_scenario(demo_scenarios()[name]), evaluations=EVALUATIONS)


def stored_front(name: str) -> Run:
    """A demo job's stored front.  Raises OSError where it is not there, InputFaults where it is another version's."""
    return read_run(folder_of(name))


def found_for(document: Document) -> SearchResult | None:
    """The stored front of the demo job that says just what ``document`` says; None where there is none."""
    for name, path in demo_scenarios().items():
        if as_document(read_document(path)) == document:
            stored = stored_front(name)
            return SearchResult(stored.front, stored.record, document, rows_of(stored.left_out), came_with_demo=True)
    return None


def write() -> None:
    """Search every demo job and write its front anew."""
    for name in demo_scenarios():
        folder = folder_of(name)
        folder.mkdir(parents=True, exist_ok=True)
        result = fresh_front(name)
        write_run(result, folder, keep=False)
        print(f"{name}: {len(result.front)} designs written to {folder}")


if __name__ == "__main__":
    write()
