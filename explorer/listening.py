"""The command that writes what designs sound like: WAV files, all to one scale, and what is said of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from engine.file_names import stem
from engine.hearing.beside import beside
from engine.hearing.sounds import Sound
from engine.hearing.wav import finer, written
from engine.hearing.words import INDICATION, MODELLED, START_LOW, difference, level_told, limits_told
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer.places import check_places, put


def listen(
    scenario: Scenario,
    rows: Sequence[Mapping[str, Any]],
    sound: Sound,
    *,
    folder: Path,
    units: Units,
    replace: bool = False,
    **how: Any,
) -> Iterator[str]:
    """Play a sound through rows of a scenario's front, write a file for each, and tell of them line by line.

    ``how`` as :func:`engine.hearing.beside.beside` takes it.  Raises Refusal, before anything is written.
    """
    names = [str(row["id"]) for row in rows]
    paths = [folder / f"{stem(name, usual='design')}.wav" for name in names]
    check_places(paths, replace=replace)
    heard = beside(JudgedDesign.batch(Evaluator(scenario), rows), sound, **how)
    put(folder, {path.name: written(finer(each.samples)) for path, each in zip(paths, heard, strict=True)})
    for name, path, each in zip(names, paths, heard, strict=True):
        yield f"{name}: {level_told(each)}. {limits_told(each, units)}"
        yield f"Written to {path}."
    for two in pairwise(range(len(heard))):
        yield difference([names[place] for place in two], [heard[place] for place in two])
    yield from ("", INDICATION, MODELLED, START_LOW)
