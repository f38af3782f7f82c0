"""The folder that a build is: every file of it, from one box, each by who writes it."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

from engine.errors import refusal
from engine.files import Content
from engine.formats.box import NAME, box_text
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.report.build_files import files_to_build_from
from engine.report.cutting import Sawn, cutting_files, sawn_of
from engine.report.typeset import Paper
from engine.seal import digest_of
from engine.together import is_inside, settle, write_together
from engine.workshop.board import Box

WRITTEN = "files"  # in box.json: what was written with it, each with its digest


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A box to be written down, and how."""

    box: Box
    design: JudgedDesign  # judged with the board as measured
    units: Units
    paper: Paper
    written: date

    @cached_property
    def sawn(self) -> Sawn:
        """How it is cut, worked out once for all files."""
        return sawn_of(self.box, self.design, self.units)


def _printed(asked: Asked) -> dict[str, bytes]:
    return files_to_build_from(
        asked.box, asked.design, asked.sawn, asked.units, paper=asked.paper, written=asked.written
    )


def _cutting(asked: Asked) -> dict[str, str]:
    return cutting_files(asked.sawn, asked.design, asked.units)


# Each gives files by their names, "/" between a folder in the folder and what is in it; box.json comes of itself.
WRITERS: tuple[Callable[[Asked], Mapping[str, Content]], ...] = (_printed, _cutting)


def files_of(asked: Asked) -> dict[str, Content]:
    """Every file of a build by its name, box.json with a digest of each other."""
    found = {name: content for writer in WRITERS for name, content in writer(asked).items()}
    digests = {name: digest_of(content) for name, content in sorted(found.items())}
    return {NAME: box_text(asked.box, {WRITTEN: digests}), **found}


def write_folder(files: Mapping[str, Content], folder: Path, *, replace: bool = False) -> None:
    """Write a build into a folder, whole or not at all.

    What an earlier build wrote there is replaced, and what of it there is no more of goes.  Where a name is taken by
    anything else, or by what somebody has changed since, the folder is left as it is unless ``replace`` is asked for.
    Raises InputFaults where something is in the way, and OSError.
    """
    if folder.is_dir():
        settle(folder)
    before = _earlier(folder)
    foreign = [name for name in files if _is_foreign(folder / name, before.get(name))]
    if foreign and not replace:
        raise refusal("--out", "build_in_the_way", value=str(folder), name=foreign[0])
    gone = [name for name, digest in before.items() if name not in files and not _is_foreign(folder / name, digest)]
    write_together(folder, files, record=NAME, gone=gone)


def _earlier(folder: Path) -> dict[str, str]:
    """What the build whose box.json lies in a folder wrote, by name with its digest; nothing where there is none."""
    try:
        text = (folder / NAME).read_text(encoding="utf-8")
        stated = json.loads(text)[WRITTEN]
        found = {str(name): str(digest) for name, digest in stated.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}
    inside = {name: each for name, each in found.items() if is_inside(name)}
    return {NAME: digest_of(text), **inside}


def _is_foreign(path: Path, digest: str | None) -> bool:
    """Whether something is there that no build has written so."""
    if not os.path.lexists(path):
        return False
    return digest is None or not path.is_file() or digest_of(path.read_bytes()) != digest
