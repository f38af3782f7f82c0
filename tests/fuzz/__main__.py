"""All readers fuzzed, one after the other: inputs tried, taken and refused, code reached, and what went wrong.

Run with ``python -m tests.fuzz [READER …] [--inputs N] [--seconds S] [--corpus FOLDER]``.  Of each reader's inputs a
tenth are made by Hypothesis (``properties.py``), the others go where they reach new code (``guided.py``; Atheris, in
processes of their own).  Inputs that reached something are kept in the corpus and tried first the next time.  Ends
with status 1 where something went wrong; the input that did it is then kept and named.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import time
import traceback
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz.properties import property_of
from tests.fuzz.readers import READERS, Reader

# Inputs of each reader where a million are asked for: by how fast it is and how much there is to get wrong.
SHARES = {
    "quantity": 180, "wished": 120, "cabin": 180, "sweep": 140, "wav": 90, "logo": 60, "link": 60, "steps": 60,
    "scenario": 20, "form": 25, "design": 40, "given": 15, "catalogue": 10, "front": 5, "job state": 5, "job file": 60,
}  # fmt: skip
PROPERTIES = 0.1  # of the inputs
_DONE = re.compile(r"#(\d+)\s+DONE\s+cov: (\d+)")
_TRIED = re.compile(r"#(\d+)\s")


@dataclass
class Outcome:
    """What came of a reader: inputs by Hypothesis, how many of them it took, guided ones, edges of code reached."""

    made: int
    taken: int
    guided: int
    edges: int
    wrong: str


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("readers", nargs="*", metavar="READER", help=", ".join(READERS))
    parser.add_argument("--inputs", type=int, default=1_100_000, help="in all, by each reader's share")
    parser.add_argument("--seconds", type=int, default=3_600, help="at most, of each reader's guided inputs")
    parser.add_argument("--corpus", type=Path, default=Path(".fuzz"), help="folder of what reached something")
    options = parser.parse_args()
    if unknown := set(options.readers) - set(READERS):
        parser.error(f"no reader is called {', '.join(sorted(unknown))}")
    names = options.readers or list(READERS)
    whole = sum(SHARES[name] for name in names)
    began, wrong, tried = time.monotonic(), 0, 0
    print(f"{'reader':<11}{'made':>9}{'taken':>9}{'guided':>10}{'edges':>8}{'seconds':>9}")
    for name in names:
        since = time.monotonic()
        inputs = max(20, round(options.inputs * SHARES[name] / whole))
        found = outcome(READERS[name], inputs, options.seconds, options.corpus)
        tried += found.made + found.guided
        took = time.monotonic() - since
        print(f"{name:<11}{found.made:>9}{found.taken:>9}{found.guided:>10}{found.edges:>8}{took:>9.0f}", flush=True)
        if found.wrong:
            wrong += 1
            print(found.wrong, flush=True)
    print(f"{tried} inputs in {time.monotonic() - began:.0f} s; {wrong} readers at fault")
    return 1 if wrong else 0


def outcome(reader: Reader, inputs: int, seconds: int, corpus: Path) -> Outcome:
    """What so many inputs to a reader come to."""
    seen: Counter[bool] = Counter()
    wrong = ""
    try:
        property_of(reader, examples=max(10, round(PROPERTIES * inputs)), seen=lambda taken: seen.update([taken]))()
    except Exception:
        wrong = traceback.format_exc()
    guided, edges, more = guided_by_code(reader.name, inputs - seen.total(), seconds, corpus / reader.name, reader)
    return Outcome(seen.total(), seen[True], guided, edges, wrong + more)


def guided_by_code(name: str, runs: int, seconds: int, corpus: Path, *readers: Reader) -> tuple[int, int, str]:
    """Inputs tried in a process of libFuzzer's, the edges of code that they reached, and what went wrong.

    ``name`` is a reader's or ``all``; the corpus begins with the seeds of ``readers``.
    """
    corpus.mkdir(parents=True, exist_ok=True)
    for reader in readers:
        for number, seed in enumerate(reader.seeds()):
            (corpus / f"seed-{number}").write_bytes(seed)
    words = corpus.with_name(f"{corpus.name}.words")
    quoted = {"".join(f"\\x{byte:02x}" for byte in word.encode()) for reader in readers for word in reader.words}
    words.write_text("".join(f'"{word}"\n' for word in sorted(quoted)))
    options = [f"-runs={runs}", f"-max_total_time={seconds}", "-seed=1", "-timeout=20", "-rss_limit_mb=4096"]
    options += ["-max_len=40000", f"-artifact_prefix={corpus.parent}/wrong-{corpus.name}-"]
    options += [f"-dict={words}"] if quoted else []
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz.guided", name, str(corpus), *options],
        env={**os.environ, "WEDGEFRONT_COMPILER": "off", "PYTHONHASHSEED": "0"},
        capture_output=True, text=True, errors="replace", check=False,
    )  # fmt: skip
    ended = _DONE.search(done.stderr)
    tried = max((int(number) for number in _TRIED.findall(done.stderr)), default=0)
    if done.returncode == 0 and ended:
        return int(ended[1]), int(ended[2]), ""
    return tried, 0, done.stdout[-3_000:] + done.stderr[-1_000:]


if __name__ == "__main__":
    sys.exit(main())
