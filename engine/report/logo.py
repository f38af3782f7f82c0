"""A shop's logo: a PNG or SVG file, checked at the door, kept as a PNG that nothing but its picture is left of."""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from xml.etree import ElementTree

import vl_convert
from PIL import Image

from engine.errors import refusal

MOST_BYTES = 1_000_000
MOST_SIDE = 4_000  # px that a PNG may be wide or high
MOST_PARTS = 5_000  # of an SVG
MOST_DEEP = 40  # parts within parts of an SVG
KEPT_SIDE = 900  # px: at 40 mm about 570 to the inch

_PNG = b"\x89PNG\r\n\x1a\n"
_SVG = "http://www.w3.org/2000/svg"
# What a picture is made of; whatever else stands in the file, scripts, styles, links, other pictures, is left out.
_DRAWN = {
    "svg", "g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan", "defs",
    "linearGradient", "radialGradient", "stop", "clipPath",
}  # fmt: skip
_UNSEEN = {"title", "desc", "metadata", "namedview", "script"}  # of which nothing is missed
_LOOKS = {
    "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "width", "height", "points", "transform", "id",
    "viewBox", "preserveAspectRatio", "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-linecap",
    "stroke-linejoin", "stroke-miterlimit", "stroke-dasharray", "stroke-dashoffset", "stroke-opacity", "opacity",
    "clip-path", "clip-rule", "offset", "stop-color", "stop-opacity", "gradientUnits", "gradientTransform",
    "spreadMethod", "fx", "fy", "clipPathUnits", "font-family", "font-size", "font-weight", "font-style",
    "text-anchor", "letter-spacing", "dx", "dy", "style", "display", "visibility", "color",
}  # fmt: skip
_OUTSIDE = re.compile(r"(?:url\s*\(\s*(?![\"']?#))|@|\\|expression|javascript:|data:", re.IGNORECASE)


@dataclass(frozen=True)
class Logo:
    """A logo as PNG, ``width`` × ``height`` px, and what of an SVG file it is drawn without."""

    png: bytes
    width: int
    height: int
    without: tuple[str, ...] = ()


def read_logo(data: bytes, *, name: str) -> Logo:
    """The picture in a PNG or SVG file of up to 1 MB; ``name`` is the file's.

    An SVG is taken apart first: only shapes, text, gradients and clips stay, with looks that lead nowhere.  Raises
    InputFaults where a file is neither, too large, or cannot be drawn.
    """
    if len(data) > MOST_BYTES:
        raise refusal(name, "logo_large", most=f"{MOST_BYTES // 1_000_000} MB")
    if data.startswith(_PNG):
        return _of_png(data, name)
    svg, without = _sanitised(data, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            drawn = bytes(vl_convert.svg_to_png(svg, scale=1.0))
    except (ValueError, RuntimeError):
        raise refusal(name, "logo_broken") from None
    logo = _of_png(drawn, name)
    return Logo(logo.png, logo.width, logo.height, without)


def _of_png(data: bytes, name: str) -> Logo:
    """A PNG read and written anew, so that what else stood in the file is gone."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(data), formats=("PNG",)) as image:
                if max(image.size) > MOST_SIDE:
                    raise refusal(name, "logo_wide", most=str(MOST_SIDE))
                image.load()
                picture = image.convert("RGBA")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Warning):
        raise refusal(name, "logo_broken") from None
    if picture.getbbox() is None:  # nothing but what one sees through
        raise refusal(name, "logo_broken")
    picture.thumbnail((KEPT_SIDE, KEPT_SIDE))
    kept = io.BytesIO()
    picture.save(kept, "PNG")
    return Logo(kept.getvalue(), *picture.size)


def _sanitised(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """What of an SVG may be drawn, sized so that it comes out sharp; and what is left out that would have shown."""
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if not head.startswith(b"<") or b"\x00" in data:
        raise refusal(name, "logo_kind")
    if b"<!doctype" in data.lower() or b"<!entity" in data.lower():
        data = re.sub(rb"<!DOCTYPE[^\[>]*>", b"", data, flags=re.IGNORECASE)
        if b"<!" in data.replace(b"<!--", b"").replace(b"<![CDATA[", b""):
            raise refusal(name, "logo_broken")
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError):
        raise refusal(name, "logo_kind") from None
    if root.tag not in (f"{{{_SVG}}}svg", "svg"):
        raise refusal(name, "logo_kind")
    if sum(1 for _ in root.iter()) > MOST_PARTS:
        raise refusal(name, "logo_large", most=f"{MOST_PARTS} parts")
    without: dict[str, None] = {}
    clean = _kept(root, without, 0, name)
    low_x, low_y, wide, high = _frame(root, name)
    scale = KEPT_SIDE / max(wide, high)
    clean.attrib |= {
        "viewBox": f"{low_x:g} {low_y:g} {wide:g} {high:g}",
        "width": f"{scale * wide:.0f}", "height": f"{scale * high:.0f}", "xmlns": _SVG,
    }  # fmt: skip
    return ElementTree.tostring(clean, encoding="unicode"), tuple(without)


def _kept(part: ElementTree.Element, without: dict[str, None], deep: int, name: str) -> ElementTree.Element:
    if deep > MOST_DEEP:
        raise refusal(name, "logo_large", most=f"{MOST_DEEP} parts within each other")
    clean = ElementTree.Element(_bare(part.tag))
    clean.text = part.text if clean.tag in ("text", "tspan") else None
    for key, value in part.attrib.items():
        if key in _LOOKS and not _OUTSIDE.search(value):
            clean.set(key, value)
    for inner in part:
        if (bare := _bare(inner.tag)) in _DRAWN:
            kept = _kept(inner, without, deep + 1, name)
            kept.tail = inner.tail if clean.tag in ("text", "tspan") else None
            clean.append(kept)
        elif bare not in _UNSEEN:
            without[bare] = None
    return clean


def _frame(root: ElementTree.Element, name: str) -> tuple[float, float, float, float]:
    """What of the plane an SVG shows: left, top, width, height."""
    try:
        if box := root.get("viewBox"):
            low_x, low_y, wide, high = map(float, box.replace(",", " ").split())
        else:
            low_x = low_y = 0.0
            wide, high = (float(re.sub(r"[a-z%]+$", "", root.get(key, ""))) for key in ("width", "height"))
    except ValueError:
        raise refusal(name, "logo_broken") from None
    if not (0.0 < wide < 1e6 and 0.0 < high < 1e6 and 0.02 < wide / high < 50.0 and abs(low_x) + abs(low_y) < 1e6):
        raise refusal(name, "logo_broken")
    return low_x, low_y, wide, high


def _bare(tag: str) -> str:
    """A tag without its namespace; what is of another one than SVG's is an editor's note, of which nothing shows."""
    space, _, bare = tag.rpartition("}")
    return bare if space in ("", f"{{{_SVG}") else "metadata"
