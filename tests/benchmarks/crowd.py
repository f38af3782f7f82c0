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
import time
from collections.abc import Sequence
from copy import deepcopy
from pathlib import Path
from statistics import median
from typing import Any

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
        self.done = 0.0

    async def follow(self, state: Path, begin: float) -> None:
        """Open the page, and look at it until its search has ended."""
        async with websockets.connect(
            self._address, additional_headers=self._cookie, subprotocols=[websockets.Subprotocol("streamlit")],
            max_size=None, open_timeout=120,
        ) as socket:  # fmt: skip
            while not self.done:
                await self._looked(socket)
                if found_of(state, self._job):
                    self.done = time.monotonic() - begin
                await asyncio.sleep(AGAIN)

    async def _looked(self, socket: Any) -> None:
        asked = BackMsg()
        asked.rerun_script.query_string = f"job={self._job}"
        begin = time.monotonic()
        await socket.send(asked.SerializeToString())
        while True:
            said = ForwardMsg()
            said.ParseFromString(await socket.recv())
            if said.WhichOneof("type") == "script_finished":
                break
        self.waits.append(time.monotonic() - begin)


def found_of(state: Path, job: str) -> dict[str, Any]:
    """What a job on disk has found; empty as long as that is nothing."""
    try:
        kept = JobStore(state).load(job)
    except Exception:  # being written
        return {}
    return {} if kept is None or kept.found is None else {"document": kept.found.document, "job": kept.document}


async def health_of(address: str, taken: list[float], over: asyncio.Event) -> None:
    host, port = "127.0.0.1", int(address.rpartition(":")[2])
    while not over.is_set():
        begin = time.monotonic()
        reader, writer = await asyncio.open_connection(host, port)
        writer.write(f"GET /health HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n\r\n".encode())
        await reader.read()
        writer.close()
        taken.append(time.monotonic() - begin)
        await asyncio.sleep(0.1)


async def memory_of(process: int, most: list[float], over: asyncio.Event) -> None:
    while not over.is_set():
        most.append(memory_now(process))
        await asyncio.sleep(0.5)


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
    health: list[float] = []
    memory: list[float] = []
    over = asyncio.Event()
    beside = [
        asyncio.create_task(health_of(running.address, health, over)),
        asyncio.create_task(memory_of(running.process.pid, memory, over)),
    ]
    begin = time.monotonic()
    await asyncio.gather(*(each.follow(state, begin) for each in browsers))
    over.set()
    await asyncio.gather(*beside)
    first, again = [each.waits[0] for each in browsers], [wait for each in browsers for wait in each.waits[1:]] or [0.0]
    own = sum(found_of(state, job)["document"] == found_of(state, job)["job"] for job in jobs)
    done = sorted(each.done for each in browsers)
    print(
        f"{len(jobs):3d} browsers: page first {median(first):5.2f} s (slowest {max(first):5.2f}), "
        f"again {median(again):5.2f} s (slowest {max(again):5.2f}); "
        f"/health {1e3 * median(health):4.0f} ms (slowest {1e3 * max(health):4.0f} of {len(health)}); "
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
            jobs = kept_jobs(folder / "state", count)
            with opened(folder) as running:
                print(f"    started: {memory_now(running.process.pid):.0f} MB", flush=True)
                asyncio.run(crowd(running, folder / "state", jobs))
                print(f"    idle: {idle(running):.0f} MB", flush=True)


def idle(running: Running) -> float:
    """Memory once helpers and sessions were let go, which takes some minutes."""
    time.sleep(IDLE + 150.0)
    return memory_now(running.process.pid)


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1:]] or USUAL)
