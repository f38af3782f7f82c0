"""Many browsers at once: what each waits for answers, what `/health` takes meanwhile, and what memory all of it takes.

    python -m tests.benchmarks.crowd [BROWSERS ...]

Each browser is a socket of its own, as a page opens it, on a job of its own, whose search it begins and follows until
it has ended.  Told are, for so many at once: seconds until a page is first drawn, and drawn again while all search;
milliseconds that /health takes, asked ten times a second; seconds until the first and the last job has its front;
whether each front is its own job's; memory of the server and all it started, at most and once nobody searches any more.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from copy import deepcopy
from pathlib import Path
from statistics import median
from typing import Any
from urllib.request import urlopen

import psutil
import websockets
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from engine.formats.scenario import demo_scenarios, read_document
from explorer.helpers import IDLE
from explorer.session import Job, JobStore
from tests.explorer.browsing import Running, opened

USUAL = (1, 5, 20)
TRIES = 60_000  # of each search
AGAIN = 1.0  # s between two looks of a browser
ENDED = b"Search again"  # stands on the page once a search has ended


def kept_jobs(folder: Path, count: int) -> list[str]:
    """Jobs that differ in the width of their space, none of them searched."""
    base = read_document(demo_scenarios()["van-bench"])
    ids = []
    for number in range(count):
        document = deepcopy(base)
        document["space"]["width"] = f"{1_100 + 5 * number} mm"
        document["search"] = {"evaluations": TRIES}
        ids.append(f"browser{number:04d}")
        JobStore(folder).save(Job(id=ids[-1], source="x.toml", document=document))
    return ids


class Browser:
    """One browser on one job."""

    def __init__(self, running: Running, job: str) -> None:
        token, port = running.entry.partition("token=")[2], running.address.rpartition(":")[2]
        self._cookie = {"Cookie": f"wedgefront-{port}={token}", "Origin": running.address}
        self._address = running.address.replace("http", "ws") + "/_stcore/stream"
        self._job = job
        self.waits: list[float] = []
        self.done = 0.0  # s after the beginning that its front lay on disk
        self.own = False  # whether that is of its own job

    async def follow(self, state: Path, begin: float) -> None:
        """Open the page, and look at it until its search has ended."""
        async with websockets.connect(
            self._address, additional_headers=self._cookie, subprotocols=[websockets.Subprotocol("streamlit")],
            max_size=None, open_timeout=None, ping_interval=None,
        ) as socket:  # fmt: skip
            while not await self._looked(socket):
                await asyncio.sleep(AGAIN)
        self.done = time.monotonic() - begin
        self.own = await asyncio.to_thread(is_own, state, self._job)

    async def _looked(self, socket: Any) -> bool:
        """Have the page drawn; whether its search has ended."""
        asked = BackMsg()
        asked.rerun_script.query_string = f"job={self._job}"
        begin, ended = time.monotonic(), False
        await socket.send(asked.SerializeToString())
        while True:
            data = await socket.recv()
            ended = ended or ENDED in data
            said = ForwardMsg.FromString(data)
            if said.WhichOneof("type") == "script_finished":
                self.waits.append(time.monotonic() - begin)
                return ended


def is_own(state: Path, job: str) -> bool:
    """Whether what a job on disk has found is its own."""
    kept = JobStore(state).load(job)
    return kept is not None and kept.found is not None and kept.found.document == kept.document


def watch_health(address: str, taken: list[tuple[float, float]], over: threading.Event) -> None:
    """Note when /health was asked and how long it took."""
    while not over.wait(0.1):
        begin = time.monotonic()
        with urlopen(f"{address}/health", timeout=120) as answer:
            answer.read()
        taken.append((begin, time.monotonic() - begin))


def watch_memory(process: int, most: list[float], over: threading.Event) -> None:
    while not over.wait(1.0):
        most.append(memory_now(process))


def memory_now(process: int) -> float:
    """MB of a process and all that it started, what they share counted once each."""
    found = 0
    for each in [psutil.Process(process), *psutil.Process(process).children(recursive=True)]:
        try:
            found += each.memory_full_info().uss
        except psutil.Error:
            continue
    return found / 1e6


async def crowd(running: Running, state: Path, jobs: Sequence[str]) -> None:
    browsers = [Browser(running, job) for job in jobs]
    health: list[tuple[float, float]] = []
    memory: list[float] = []
    over = threading.Event()
    beside = [
        threading.Thread(target=watch_health, args=(running.address, health, over)),
        threading.Thread(target=watch_memory, args=(running.process.pid, memory, over)),
    ]
    for each in beside:
        each.start()
    begin = time.monotonic()
    try:
        await asyncio.gather(*(browser.follow(state, begin) for browser in browsers))
    finally:
        over.set()
        for each in beside:
            each.join()
    drawn = begin + max(each.waits[0] for each in browsers)
    early, later = ([took for at, took in health if (at < drawn) is first] or [0.0] for first in (True, False))
    first, again = [each.waits[0] for each in browsers], [wait for each in browsers for wait in each.waits[1:]] or [0.0]
    own = sum(each.own for each in browsers)
    done = sorted(each.done for each in browsers)
    print(
        f"{len(jobs):3d} browsers: page first {median(first):5.2f} s (slowest {max(first):5.2f}), "
        f"again {median(again):5.2f} s (slowest {max(again):5.2f}); "
        f"/health {1e3 * median(later):4.0f} ms (slowest {1e3 * max(later):4.0f} of {len(later)}; "
        f"until all pages were drawn {1e3 * max(early):4.0f} of {len(early)}); "
        f"fronts after {done[0]:.0f} to {done[-1]:.0f} s, {own} of {len(jobs)} their own; memory {max(memory):.0f} MB",
        flush=True,
    )


def main(counts: Sequence[int]) -> None:
    print(
        f"{TRIES} designs tried for each job, {os.cpu_count()} cores, load before {os.getloadavg()[0]:.1f}", flush=True
    )
    for count in counts:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            first, *jobs = kept_jobs(folder / "state", count + 1)
            with opened(folder) as running:
                # Loading compiled code, once after a start, holds the interpreter; that is not what is asked here.
                asyncio.run(Browser(running, first).follow(folder / "state", time.monotonic()))
                print(f"    started: {memory_now(running.process.pid):.0f} MB", flush=True)
                asyncio.run(crowd(running, folder / "state", jobs))
                print(f"    idle: {idle(running):.0f} MB", flush=True)


def idle(running: Running) -> float:
    """Memory once helpers and sessions were let go, which takes some minutes."""
    time.sleep(IDLE + 150.0)
    return memory_now(running.process.pid)


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1:]] or USUAL)
