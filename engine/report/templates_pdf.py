"""Full-size templates as PDF of A4 or Letter pages at 1:1."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from engine.report.typeset import PAPER_SIZES, PAPERS, Paper, typeset
from engine.workshop.template_words import page_words
from engine.workshop.templates import (
    EDGE,
    RULERS,
    Template,
    Tiling,
    map_names,
    map_scale,
    map_svg,
    page_svg,
    ruler_words,
    tiled,
    window_of,
)

_MAP = (60.0, 60.0)  # mm, of each template on the first page
_ADVICE = (
    (
        "Print at 100 % (“actual size”): no “fit to page”, no borders. Before anything is cut, lay a steel rule on "
        f"the two rulers of every page: {RULERS['across'][0]} mm and {RULERS['across'][1]} inches across, "
        f"{RULERS['down'][0]} mm and {RULERS['down'][1]} inches down. Paper stretches with damp, and printers differ "
        "from one way to the other: if a ruler is off by more than half a millimetre, set the work out from the sizes "
        "of the build sheet instead."
    ),
    (
        "Trim each page along the dashed line towards its neighbour, lay it over the neighbour's overlap so that the "
        "long thin crosses at their corners cover each other, tape, and stick the whole down with a glue that lets go "
        "again. Spray adhesive: air the room, no flame, no sparks, a mask for organic vapours."
    ),
    (
        "Heavy lines are cut, thin ones are for setting out, a small cross in a ring is a screw, dashes lie on the "
        "other face or behind. Line widths and saw kerf are not allowed for: cut on the waste side of the line."
    ),
)


def templates_pdf(templates: Sequence[Template], *, job: str, written: date, paper: Paper = "a4") -> bytes:
    """All templates of a build; ``job`` says which job and design they belong to, and when they were made."""
    size = PAPER_SIZES[paper]
    tilings = [tiled(template, size) for template in templates]
    pages = [(number, tiling, tile) for number, tiling in enumerate(tilings) for tile in tiling.printed]
    told = {
        "title": f"Templates: {job}",
        "job": job,
        "paper": PAPERS[paper],
        "advice": _ADVICE,
        "window": window_of(size),
        "wide": size[0] - 2.0 * EDGE - 48.0,
        "figures": ruler_words(),
        "maps": [_map(number, tiling) for number, tiling in enumerate(tilings)],
        "pages": [
            {
                "picture": f"page-{page}.svg",
                "alt": f"{tiling.template.name}, page {tile.name}",
                "name": f"{tiling.template.name}: page {tile.name} of {_counted(tiling)}",
                "job": f"{job} – {tiling.template.face}",
                "placed": tiling.template.placed,
                "scale": "Print at 100 %; both rulers must agree with a steel rule.",
                "words": page_words(tiling, tile),
            }
            for page, (_, tiling, tile) in enumerate(pages)
        ],
    }
    pictures = {f"map-{number}.svg": map_svg(tiling, *_MAP) for number, tiling in enumerate(tilings)}
    pictures |= {f"page-{page}.svg": page_svg(tiling, tile) for page, (_, tiling, tile) in enumerate(pages)}
    return typeset("templates.typ", told, pictures=pictures, written=written)


def _map(number: int, tiling: Tiling) -> dict[str, object]:
    blank = [tile.name for tile in tiling.tiles if tile.blank]
    _, (width, height) = map_scale(tiling, *_MAP)
    return {
        "picture": f"map-{number}.svg",
        "width": width,
        "height": height,
        "name": tiling.template.name,
        "face": tiling.template.face,
        "said": tiling.template.said,
        "pages": f"{_counted(tiling)}." + (f" Blank, so not printed: {', '.join(blank)}." if blank else ""),
        "names": map_names(tiling, *_MAP),
    }


def _counted(tiling: Tiling) -> str:
    if len(tiling.tiles) == 1:
        return "1 page"
    return f"{len(tiling.tiles)} pages, {tiling.rows} down and {tiling.columns} across"
