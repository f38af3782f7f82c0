"""Making wedgefront ready: what geometry runs on is compiled once after an installation or an update.

Compiling holds the interpreter, so that no page would answer meanwhile.  It is done by processes of their own, side by
side, which leave what they compiled in the compiler's cache; this process then loads it in a moment.
"""

from __future__ import annotations

import gc
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

import explorer
from engine.core import compiled
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.openings import OPENINGS, opening_of
from engine.openings.none import NONE
from engine.search.evaluator import Designs, Evaluator
from engine.search.front import designs_of
from engine.search.optimise import FEWEST, ArchiveSearch
from engine.search.problem import BoxProblem
from explorer.demo_fronts import stored_front

PROCESSES = 2  # that compile side by side
WORDS = "wedgefront is making itself ready, which takes about a minute, once after an installation or an update"
_MARK = "complete"  # a file in the compiler's cache that says nothing is missing there

_log = logging.getLogger(__name__)


def is_compiled() -> bool:
    """Whether nothing has to be compiled any more."""
    return not compiled.ENABLED or (compiled.FOLDER / _MARK).exists()


def compile_all() -> None:
    """Compile what is not in the cache yet, in processes of their own."""
    if is_compiled() or not compiled.KEEPS:
        return
    root = str(Path(explorer.__file__).parents[1])
    path = os.pathsep.join(filter(None, [root, os.environ.get("PYTHONPATH")]))
    command = [sys.executable, "-P", "-m", "explorer.readiness"]
    # In a session of their own: Ctrl-C is for whoever waits, and what is compiled is not in vain.
    given: dict[str, Any] = {"stdin": subprocess.DEVNULL, "start_new_session": True}
    environment = {**os.environ, "PYTHONPATH": path}
    started = [subprocess.Popen([*command, str(part)], env=environment, **given) for part in range(PROCESSES)]
    codes = [process.wait() for process in started]
    if not any(codes):
        (compiled.FOLDER / _MARK).touch()


def _few(openings: tuple[object, ...]) -> Iterator[tuple[Evaluator, Designs]]:
    """Of each demo job's stored front one design of each kind of box, placement and facing with these openings."""
    for name, path in demo_scenarios().items():
        front = stored_front(name).front
        rows = front[[opening_of(row) in openings for _, row in front.iterrows()]]
        if len(rows):
            few = rows.drop_duplicates(["box_kind", "vent_kind", "vent_placement", "facing"])
            evaluator = Evaluator(read_scenario(path))
            yield evaluator, designs_of(evaluator, few)


def _compile_part(part: int) -> None:
    """One process's share, in an order in which each comes to what both need when the other has left it in the cache.

    The first packs boxes that have all the room they want, then hears them without the air inside and outside; the
    second finds out where boxes stand and weighs that air, first in closed boxes, which are packed first; a search's
    first designs, which need all of it, come last.
    """
    if part == 0:
        for evaluator, designs in _few(OPENINGS.records):
            wedges, endless = evaluator.wedges(designs), np.full(len(designs), np.inf)
            evaluator.layout_within(designs, wedges, free_width=endless)
        for evaluator, designs in _few(OPENINGS.records):
            Evaluator(evaluator.scenario, without=frozenset({"thin box"})).judge(designs, exact=True)
    else:
        _load_largest()
        for openings in ((NONE,), OPENINGS.records):
            for evaluator, designs in _few(openings):
                evaluator.built(designs, hear_all=True)
        _load_search()


def _load_largest() -> None:
    for path in demo_scenarios().values():
        scenario = read_scenario(path)
        evaluator = Evaluator(scenario)
        evaluator.envelope.largest(board=scenario.stock.board_thickness, back_angle=scenario.box.back_angle)


def _load_search() -> None:
    """What a search itself runs on, whatever its job: told of a few designs."""
    problem = BoxProblem(read_scenario(next(iter(demo_scenarios().values()))))
    search = ArchiveSearch(problem, seed=1)
    X = search.ask(FEWEST)
    search.tell(X, *problem.evaluate(X, return_values_of=["F", "G"]))


class Readiness:
    """A thread that sees to it that all is compiled, then loads it by judging a few designs of each demo job."""

    def __init__(self) -> None:
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._work, name="wedgefront-readiness", daemon=True)
        self._thread.start()

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until all is ready, at most so long; True where it is."""
        return self._ready.wait(seconds)

    def _work(self) -> None:
        try:
            compile_all()
            for evaluator, designs in _few(OPENINGS.records):
                evaluator.judge(designs)
            _load_largest()
            # Streamlit collects garbage after every run of a page, and would look through all this each time: for a
            # fifth of a second, in which nothing else runs here.
            gc.collect()
            gc.freeze()
        except Exception:
            _log.exception("what is compiled in the background broke off; it is compiled when first asked for")
        finally:
            self._ready.set()


@cache
def readiness() -> Readiness:
    """The one of this process, begun at the first call."""
    return Readiness()


if __name__ == "__main__":
    _compile_part(int(sys.argv[1]))
