"""Sheet use and settings of the saw, against plain shelf packing and one board after the other.

``python -m tests.benchmarks.sheets [DESIGNS]`` takes so many designs of each demo's front, and invented carcasses.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from engine.build import box_of
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.parts import Cutting, SheetStock
from engine.search.evaluator import Evaluator
from engine.workshop.board import Board
from engine.workshop.sawing.order import saw_order
from engine.workshop.sawing.sheets import sheets_for
from explorer.demo_fronts import stored_front
from tests.workshop.carcass import carcass, plate

DESIGNS = 8
INVENTED = 20
STOCK = {
    "common sheets": [SheetStock(price=58.0)],
    "half sheets": [SheetStock(length=1.25, width=0.8, price=24.0)],
    "an offcut and sheets": [
        SheetStock(price=58.0), SheetStock(name="offcut", length=1.1, width=0.6, price=0.0, count=1)
    ],
}  # fmt: skip


def designs(count: int) -> Iterator[tuple[str, Sequence[Board], float]]:
    """Boards of designs from one end of each demo's front to the other."""
    for demo, path in demo_scenarios().items():
        front = stored_front(demo).front
        rows: Any = front.iloc[np.linspace(0, len(front) - 1, count).astype(int)].to_dict("records")
        for design in JudgedDesign.batch(Evaluator(read_scenario(path)), rows):
            box = box_of(design)
            yield demo, box.boards, box.board


def invented(count: int) -> Iterator[tuple[str, Sequence[Board], float]]:
    """Carcasses of any shape with up to three braces."""
    draw = random.Random(5)
    for _ in range(count):
        height, bottom, top = draw.uniform(0.25, 0.6), draw.uniform(0.25, 0.6), draw.uniform(0.15, 0.5)
        boards = carcass(draw.uniform(0.4, 1.3), height, bottom, top, lean=draw.choice([0.0, 0.0, 0.2, 0.35]))
        brace = (height - 0.05, min(bottom, top) - 0.05)
        boards += [plate(f"brace {k}", *brace) for k in range(draw.randrange(4))]
        yield "invented", boards, 0.018


def main(count: int) -> None:
    boxes = [*designs(count), *invented(INVENTED)]
    heads = ("boxes", "stock", "no.", "price", "shelves", "used m²", "shelves", "gap %", "worst", "filled %", "set",
             "one by one", "s")  # fmt: skip
    print(" | ".join(heads))
    for stock, sheets in STOCK.items():
        for job in dict.fromkeys(name for name, _, _ in boxes):
            rows = []
            for name, boards, board in boxes:
                if name != job:
                    continue
                began = time.perf_counter()
                found = sheets_for(boards, sheets, Cutting(), board=board)
                plain = sheets_for(boards, sheets, Cutting(shared=False), board=board, nodes=0)
                took = time.perf_counter() - began
                order = saw_order(found)
                shelf = [(group.packing.price, group.packing.used) for group in plain.groups]
                own = [(group.packing.price, group.packing.used) for group in found.groups]
                assert sum(own[0][:1]) <= sum(shelf[0][:1])
                figures = (*np.sum(own, axis=0), *np.sum(shelf, axis=0), found.gap, found.filled, order.set_up,
                           order.one_by_one, took)  # fmt: skip
                rows.append(figures)
            price, used, shelf_price, shelf_used, _, filled, set_up, one_by_one, took = np.mean(rows, axis=0)
            gaps = [row[4] for row in rows]
            print(f"{job} | {stock} | {len(rows)} | {price:.2f} | {shelf_price:.2f} | {used:.3f} | {shelf_used:.3f} | "
                  f"{100 * np.mean(gaps):.1f} | {100 * max(gaps):.1f} | {100 * filled:.0f} | {set_up:.1f} | "
                  f"{one_by_one:.1f} | {took:.2f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DESIGNS)
