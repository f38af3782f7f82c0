"""A shop's logo, promises to the user: what is no picture is refused, and nothing but a picture comes through."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from engine.errors import InputFaults
from engine.report.logo import KEPT_SIDE, MOST_BYTES, read_logo
from tests.report.sheets import png

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20">{}</svg>'
ENTITIES = (
    b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'
    b'<svg xmlns="http://www.w3.org/2000/svg"><text>&b;</text></svg>'
)
SQUARE = '<rect x="2" y="2" width="16" height="16" fill="#c00"/>'


def picture(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data)).convert("RGBA")


def test_a_png_keeps_its_picture_and_nothing_else() -> None:
    image = Image.new("RGB", (30, 10), (200, 10, 10))
    kept = io.BytesIO()
    image.save(kept, "PNG")
    hidden = kept.getvalue() + b"<script>more</script>"
    logo = read_logo(hidden, name="logo.png")
    assert (logo.width, logo.height) == (30, 10)
    assert b"script" not in logo.png
    assert picture(logo.png).getpixel((5, 5)) == (200, 10, 10, 255)


def test_a_large_png_is_made_smaller() -> None:
    logo = read_logo(png(3_000, 1_500), name="logo.png")
    assert max(logo.width, logo.height) == KEPT_SIDE


def test_an_svg_is_drawn() -> None:
    logo = read_logo(SVG.format(SQUARE).encode(), name="logo.svg")
    assert (logo.width, logo.height) == (KEPT_SIDE, KEPT_SIDE // 2)
    assert picture(logo.png).getpixel((KEPT_SIDE // 4, KEPT_SIDE // 4)) == (204, 0, 0, 255)


@pytest.mark.parametrize(
    "part",
    [
        "<script>alert(1)</script>",
        '<image href="file:///etc/hostname" width="9" height="9"/>',
        '<image href="http://invented.example/x.png" width="9" height="9"/>',
        '<foreignObject width="9" height="9"><b xmlns="http://www.w3.org/1999/xhtml">x</b></foreignObject>',
        '<use href="http://invented.example/x.svg#a"/>',
        "<style>@import url(http://invented.example/x.css); rect { fill: blue }</style>",
        '<rect width="40" height="20" fill="url(http://invented.example/x.svg#a)" fill-opacity="0"/>',
        '<a href="javascript:alert(1)"><rect width="40" height="20" fill="blue"/></a>',
    ],
)
def test_what_leads_elsewhere_is_left_out_of_an_svg(part: str) -> None:
    logo = read_logo(SVG.format(SQUARE + part).encode(), name="logo.svg")
    assert picture(logo.png).getpixel((KEPT_SIDE // 4, KEPT_SIDE // 4)) == (204, 0, 0, 255)
    assert b"invented" not in logo.png


def test_what_is_missed_in_an_svg_is_named() -> None:
    logo = read_logo(SVG.format(f'{SQUARE}<image href="x.png"/><metadata/><filter/>').encode(), name="logo.svg")
    assert logo.without == ("image", "filter")


def many(part: str, count: int) -> str:
    return SVG.format(part * count)


def bomb(side: int) -> bytes:
    """The head of a PNG that says it is very large."""
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", len(head)) + chunk + struct.pack(">I", zlib.crc32(chunk))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no picture"),
        (b"GIF89a....", "no picture"),
        (b"<html><body/></html>", "no picture"),
        (b"<svg", "no picture"),
        (b"\x89PNG\r\n\x1a\nbroken", "cannot be read"),
        (png()[:60], "cannot be read"),
        (bomb(60_000), "too large|cannot be read"),
        (b"x" * (MOST_BYTES + 1), "at most 1 MB"),
        (many(SQUARE, 6_000).encode(), "parts"),
        (SVG.format("<g>" * 60 + "</g>" * 60).encode(), "each other"),
        (ENTITIES, "cannot be read"),
        (SVG.format("").encode(), "cannot be read"),
        (b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1e9"/>', "cannot be read"),
        (b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="a b c d"/>', "cannot be read"),
    ],
)  # fmt: skip
def test_what_is_no_logo_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(InputFaults, match=words):
        read_logo(data, name="logo")
