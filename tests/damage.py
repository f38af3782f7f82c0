"""Ways in which a file gets damaged."""

from __future__ import annotations

from collections.abc import Iterator

FLIPS = 24  # bits flipped in each file, each by itself


def damaged(content: bytes) -> Iterator[tuple[str, bytes]]:
    """A file cut off at several places, with a bit flipped at many, and with what is not text in it."""
    for share in (0.0, 0.25, 0.5, 0.75):
        yield f"cut off at {share}", content[: int(len(content) * share)]
    yield "cut off by a sign", content[:-2]
    for number in range(FLIPS):
        place = (2 * number + 1) * len(content) // (2 * FLIPS)
        yield f"bit {number % 8} of byte {place} flipped", _flipped(content, place, 1 << number % 8)
    yield "a block of zeros", content[: len(content) // 2] + bytes(64) + content[len(content) // 2 + 64 :]
    yield "no text", b"\xff\xfe" + content


def tables_damaged(table: bytes, figure: str) -> Iterator[tuple[str, bytes]]:
    """A table that is one still: rows are gone, or something else stands in a figure."""
    head, *rows = table.splitlines(keepends=True)
    place = head.decode().rstrip().split(",").index(figure)
    yield "rows cut off", b"".join([head, *rows[: len(rows) // 2]])
    yield "a row twice", b"".join([head, *rows, rows[-1]])
    yield "no rows", head
    for name, word in (("text", b"low"), ("nothing", b""), ("no end", b"inf"), ("truth", b"True")):
        cells = rows[0].split(b",")
        cells[place] = word
        yield f"{name} in a figure", b"".join([head, b",".join(cells), *rows[1:]])


def _flipped(content: bytes, place: int, bit: int) -> bytes:
    return content[:place] + bytes([content[place] ^ bit]) + content[place + 1 :]
