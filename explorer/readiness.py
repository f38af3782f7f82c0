"""Making wedgefront ready in the background: what geometry runs on is compiled while the first page is read."""

from __future__ import annotations

import logging
import threading
from functools import cache

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.search.evaluator import Evaluator
from explorer.demo_fronts import stored_front
from explorer.session import rows_of

_log = logging.getLogger(__name__)


class Readiness:
    """A thread that judges a few designs of each demo job, so that every rule they need is compiled or loaded."""

    def __init__(self) -> None:
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._work, name="wedgefront-readiness", daemon=True)
        self._thread.start()

    def wait(self, seconds: float) -> bool:
        """Wait until all is ready, at most so long; True where it is."""
        return self._ready.wait(seconds)

    def _work(self) -> None:
        try:
            for name, path in demo_scenarios().items():
                front = stored_front(name).front
                # One design of each kind of box and opening.
                few = front.drop_duplicates(["box_kind", "vent_kind", "vent_placement", "facing"])
                for design in JudgedDesign.batch(Evaluator(read_scenario(path)), rows_of(few)):
                    _ = design.bodies
        except Exception:
            _log.exception("what is compiled in the background broke off; it is compiled when first asked for")
        finally:
            self._ready.set()


@cache
def readiness() -> Readiness:
    """The one of this process, begun at the first call."""
    return Readiness()
