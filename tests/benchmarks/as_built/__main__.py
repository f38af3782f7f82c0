"""Do the designs on the fronts work as they are built and used: ``python -m tests.benchmarks.as_built [CHECKOUT ...]``.

Searches the demos and ten invented jobs and counts, on each front, boxes whose air is not one body (by decomposing
their solids), designs that pass a limit as they are judged, and slants beyond 45°; says what the front reaches, and of
the opening pick whether it keeps what a good builder asks.  With other checkouts the same there, in the order given,
each with its own demos and the same ten jobs.  Exits with 1 where this checkout's fronts hold one that should not be.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import tomli_w

from tests.benchmarks.before_after.jobs import jobs
from tests.space.thin_jobs import THIN_JOBS

HERE = Path(__file__).resolve().parents[3]
OF_FOURTEEN = ("bench", "down", "side", "leaning", "forward", "slotted", "bounded", "inches")
SHARES = {"split": "sealed chamber", "over": "over a limit", "steep": "beyond 45°"}


def ten_jobs() -> dict[str, dict[str, Any]]:
    """Ten jobs unlike the demos: two thin ones and eight of those that checkouts are compared by."""
    return {**{name: tomllib.loads(text) for name, text in THIN_JOBS.items()}, **{n: jobs()[n] for n in OF_FOURTEEN}}


def asked(checkout: Path, requests: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What a process in ``checkout`` answers, in order."""
    environment = {**os.environ, "PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.run(
        [sys.executable, "-W", "ignore", str(Path(__file__).parent / "side.py")],
        cwd=checkout, env=environment, text=True, check=True, stdout=subprocess.PIPE,
        input="".join(json.dumps(each) + "\n" for each in requests),
    )  # fmt: skip
    return [json.loads(line) for line in process.stdout.splitlines()]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("checkouts", nargs="*", type=Path, help="others to measure before this one")
    parser.add_argument("--evaluations", type=int, default=32_768)
    parser.add_argument("--sample", type=int, default=150, help="designs of each front whose solids are decomposed")
    parser.add_argument("--out", type=Path, help="where to write all that was measured, as JSON")
    options = parser.parse_args()
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        own = {name: Path(folder) / f"{name}.toml" for name in ten_jobs()}
        for name, document in ten_jobs().items():
            own[name].write_text(tomli_w.dumps(document))
        for checkout in [*options.checkouts, HERE]:
            demos = {path.stem: path for path in sorted((checkout / "scenarios").glob("*.toml"))}
            paths = {**demos, **own}
            request = {"evaluations": options.evaluations, "seed": 1, "sample": options.sample}
            answers = asked(checkout.resolve(), [{"job": str(path.resolve()), **request} for path in paths.values()])
            found[str(checkout)] = dict(zip(paths, answers, strict=True))
            print(f"\n{checkout}")
            show(found[str(checkout)])
    if options.out:
        options.out.write_text(json.dumps(found, indent=1))
    wrong = sum(answer[key][0] for answer in found[str(HERE)].values() if answer["designs"] for key in SHARES)
    return 1 if wrong else 0


def show(answers: dict[str, Any]) -> None:
    """One job a line: shares, and the middle and most of what is reached."""
    print(
        f"{'job':20}{'designs':>8}" + "".join(f"{words:>18}" for words in SHARES.values()) + "   least / middle / most"
    )
    for name, answer in answers.items():
        if not answer["designs"]:
            print(f"{name:20}{0:>8}  {answer['reason']}")
            continue
        shares = "".join(f"{f'{answer[key][0]} of {answer[key][1]}':>18}" for key in SHARES)
        told = ", ".join(
            f"{key} {' / '.join(number(each) for each in three)}" for key, three in answer["figures"].items()
        )
        print(f"{name:20}{answer['designs']:>8}{shares}   {told}")


def number(value: float | None) -> str:
    return "-" if value is None else f"{value:.4g}"


if __name__ == "__main__":
    sys.exit(main())
