"""Whether the fast layout and solids agree: ``python -m tests.benchmarks.agreement [--count 10000]``.

Random boxes, drivers, pipes with bends and flares, slots, passive radiators and rules.  Every design
the layout accepts is built as solids and measured (``engine.space.solids``); the rule is that
none may fail.  For a sample of the refused ones a second search tries places one by one
(``packing.py``); what it can build, the layout missed.  The same search on accepted designs
says how much it can be trusted.  It knows closed boxes and pipes without flares, baffles of one layer.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Pool

# One core for each worker; read when NumPy is imported.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

from engine.constraints import CONSTRAINTS
from engine.facings import FACINGS
from engine.openings import pipe, slot
from engine.packing.inside import SLACKS
from engine.packing.placement import BESIDE, HIGH, LOW, NONE, NOWHERE
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.layout import lay_out
from engine.space.solids import TOLERANCE, exact_check
from tests.benchmarks.packing import Design, Packer
from tests.space.batches import Mixed, fitting, mixed

IN_A_BATCH = 250
LONG_SLOTS = 5  # one batch in so many has nothing but slots, many of which turn, and one baffles of two layers
SEARCH_SIZED = 4096
REFUSED_TRIED = 400
ACCEPTED_TRIED = 100
CANDIDATES = 6  # packings of one design that are measured before it is given up
LONGEST = 6.0  # s of computing spent on one design
PLACED = {code: names[0] for code, names in pipe.WAYS.items()} | slot.WAYS | {NONE: "closed"}
WHERE = {NOWHERE: "", LOW: "low", HIGH: "high", BESIDE: "beside"}


@dataclass
class Count:
    """What was seen, added up over batches."""

    designs: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    least: float = np.inf
    volume_error: float = 0.0
    refused: list[tuple[int, int]] = field(default_factory=list)  # seed and row
    accepted: list[tuple[int, int]] = field(default_factory=list)


def batch_of(seed: int) -> Mixed:
    if seed % LONG_SLOTS == 0:
        return mixed(IN_A_BATCH, seed=seed, long_slots=True)
    return mixed(IN_A_BATCH, seed=seed, others=True, double=seed % LONG_SLOTS == 1)


def check_batch(seed: int) -> Count:
    """Every accepted design of one random batch as solids."""
    batch = batch_of(seed)
    laid_out = batch.layout
    fits = fitting(laid_out)
    count = Count(designs=len(laid_out))
    for i in np.flatnonzero(fits).tolist():
        kind = describe(batch, i)
        found = exact_check(bodies_of(laid_out, i), **batch.surroundings)
        count.kinds[kind] += 1
        count.least = min(count.least, *(finding.margin for finding in found.findings))
        count.volume_error = max(count.volume_error, abs(found.net_volume / laid_out.net_volume[i] - 1.0))
        if not found.ok:
            count.wrong.append(f"batch {seed}, design {i} ({kind}): {'; '.join(found.sentences('metric')[:2])}")
    sizes = laid_out.contents.sizes
    known = np.isnan(sizes["slot_height"]) & (sizes["radiator_count"] == 0.0) & (sizes["flare_radius"] == 0.0)
    known &= laid_out.wedges.front == laid_out.wedges.board
    sound = known & (laid_out.slacks["walls"] > 0.0) & (laid_out.slacks["volume"] > 0.0)
    count.accepted = [(seed, i) for i in np.flatnonzero(known & fits).tolist()]
    count.refused = [(seed, i) for i in np.flatnonzero(sound & ~fits).tolist()]
    return count


def describe(batch: Mixed, i: int) -> str:
    laid_out = batch.layout
    things = laid_out.contents
    what = f"{PLACED[int(laid_out.vent_placement[i])]} {WHERE[int(laid_out.vent_where[i])]}".strip()
    if things.sizes["radiator_count"][i] > 0.0:
        what = "passive radiators"
    elif things.sizes["flare_radius"][i] > 0.0:
        what += ", flared"
    elif laid_out.slot_turn[i] > 0.0:
        what += ", turned"
    return f"driver {list(FACINGS)[things.driver('facing')[i]]}, {what}"


def tried_again(seed: int, i: int) -> tuple[str, bool]:
    """The limit that refused a design, and whether places can be found for it one by one."""
    batch = batch_of(seed)
    return str(batch.layout.tightest[i]), can_be_built(batch, i)


def can_be_built(batch: Mixed, i: int) -> bool:
    one, laid_out = np.array([i]), batch.layout
    packer = Packer(
        Design(
            wedge=laid_out.wedges.take(one),
            contents=laid_out.contents.take(one),
            rules=laid_out.rules,
            panels=bodies_of(batch.empty, i).of(roles.PANEL),
            tuning=float(batch.tuning[i]),
            brace_board=float(laid_out.brace_volume[i] / max(laid_out.brace_count[i], 1) / laid_out.wedges.board),
            free_width=batch.surroundings["free_width"],
            driver_air=batch.surroundings["driver_air"],
        )
    )
    start = time.process_time()
    for tried, parts in enumerate(packer.packings(), start=1):
        if not exact_check(parts, **batch.surroundings).broken:  # its braces are whole plates
            return True
        if tried >= CANDIDATES or time.process_time() - start > LONGEST:
            break
    return False


def seconds_for_a_thousand() -> float:
    """Time of ``lay_out`` for 1000 designs in batches as large as a search's, the best of five."""
    batch = mixed(SEARCH_SIZED, seed=1)
    laid_out, spent = batch.layout, []
    for _ in range(5):
        start = time.perf_counter()
        lay_out(
            laid_out.wedges,
            laid_out.contents,
            laid_out.rules,
            tuning=batch.tuning,
            free_width=batch.surroundings["free_width"],
            driver_air=batch.surroundings["driver_air"],
        )
        spent.append(time.perf_counter() - start)
    return min(spent) * 1000.0 / SEARCH_SIZED


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000, help="random designs")
    parser.add_argument("--refused", type=int, default=REFUSED_TRIED, help="refused designs searched for places")
    options = parser.parse_args()
    speed = seconds_for_a_thousand()
    start = time.perf_counter()
    whole = Count()
    with Pool() as pool:
        for count in pool.imap_unordered(check_batch, range(max(options.count // IN_A_BATCH, 1))):
            whole.designs += count.designs
            whole.kinds += count.kinds
            whole.wrong += count.wrong
            whole.least = min(whole.least, count.least)
            whole.volume_error = max(whole.volume_error, count.volume_error)
            whole.refused += count.refused
            whole.accepted += count.accepted
        checked = time.perf_counter() - start
        rng = np.random.default_rng(7)
        refused = _some(whole.refused, options.refused, rng)
        accepted = _some(whole.accepted, ACCEPTED_TRIED, rng)
        tried = pool.starmap(tried_again, refused, chunksize=4)
        known = pool.starmap(tried_again, accepted, chunksize=4)
    accepted_all = sum(whole.kinds.values())
    print(f"{whole.designs} random designs, {accepted_all} accepted; solids in {checked:.0f} s")
    for kind, number in sorted(whole.kinds.items()):
        print(f"  {kind:50}{number:6}")
    print(f"accepted, refused by the solids    {len(whole.wrong)}")
    print(f"least margin                       {whole.least * 1e3:.4f} mm (tolerance {TOLERANCE * 1e3:.2f} mm)")
    print(f"largest error of the net volume    {whole.volume_error * 100.0:.3f} %")
    print(f"lay_out, batches of {SEARCH_SIZED}           {speed * 1e3:.1f} ms for 1000 designs")
    built = sum(found for _, found in known)
    print(f"\nplaces one by one: {built} of {len(known)} accepted designs found again")
    built = sum(found for _, found in tried)
    print(
        f"refused, though walls stand and air is left: {len(whole.refused)}; {len(tried)} of them tried, {built} built"
    )
    for limit in SLACKS:
        results = [found for name, found in tried if name == limit]
        if results:
            print(f"  refused for {CONSTRAINTS[limit].short_of:58}{len(results):5}{sum(results):5} built")
    for line in whole.wrong:
        print(line)
    return 1 if whole.wrong else 0


def _some(pairs: list[tuple[int, int]], count: int, rng: np.random.Generator) -> list[tuple[int, int]]:
    pairs = sorted(pairs)
    return [pairs[number] for number in rng.permutation(len(pairs))[:count]]


if __name__ == "__main__":
    sys.exit(main())
