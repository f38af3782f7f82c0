"""The customer's sheet as one HTML file that needs nothing else: no script, no outside file; it prints too."""

from __future__ import annotations

import base64
import re
from importlib.resources import files

from engine.markup import in_markup
from engine.report.pictures import drawing_svg, own_ids
from engine.report.sheet import Box, Sheet
from engine.report.sheet_figures import Cell, Line

# All that the page is made of stands in it: nothing is loaded, nothing runs.
_LOADS = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def html_of(sheet: Sheet) -> str:
    """The sheet as HTML text; all of it that users write is escaped."""
    style = files("engine.report").joinpath("sheet.css").read_text(encoding="utf-8")
    title = in_markup(" – ".join(part for part in (sheet.title, sheet.customer) if part))
    boxes = "".join(_box(box) for box in sheet.boxes)
    first = f'{_head(sheet)}\n{_advice(sheet)}\n<div class="boxes">{boxes}</div>\n{_note(sheet)}'
    second = f'<div class="second">{_charts(sheet)}\n{_table(sheet)}\n{_cautions(sheet)}</div>'
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_LOADS}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n{first}\n{second}\n</main>\n"
        "</body>\n</html>\n"
    )


def _head(sheet: Sheet) -> str:
    logo = ""
    if sheet.logo is not None:
        data = base64.b64encode(sheet.logo.png).decode("ascii")
        logo = f'<img src="data:image/png;base64,{data}" alt="{in_markup(sheet.shop) or "Logo"}">'
    shop = f"<p>{in_markup(sheet.shop)}</p>" if sheet.shop else ""
    whom = f"For {in_markup(sheet.customer)} – " if sheet.customer else ""
    return f"<header><div>{shop}<h1>{in_markup(sheet.title)}</h1><p>{whom}{sheet.day}</p></div>{logo}</header>"


def _advice(sheet: Sheet) -> str:
    said = f"<h2>{in_markup(sheet.recommendation)}</h2><p>{in_markup(sheet.reason)}</p>"
    return f'<section class="advice">{said}</section>'


def _box(box: Box) -> str:
    facts = "".join(f"<dt>{in_markup(what)}</dt><dd>{in_markup(words)}</dd>" for what, words in box.facts)
    price = f'<dt>Price</dt><dd class="price">{in_markup(box.price)}</dd>' if box.price else ""
    gives = f"<dt>Gives up</dt><dd>{in_markup(box.gives_up)}</dd>" if box.gives_up else ""
    beside = f'<p class="small">{in_markup(box.beside)}</p>' if box.beside else ""
    ours = '<p class="small">Our recommendation</p>' if box.recommended else ""
    return (
        f'<section class="box{" first" if box.recommended else ""}">'
        f'<h3><span class="letter">{box.letter}</span>{in_markup(box.name)}</h3>{ours}'
        f'<p class="headline">{in_markup(box.headline)}</p>{beside}'
        f"{own_ids(drawing_svg(box.picture), f'picture-{box.letter}-')}<dl>{gives}{facts}{price}</dl></section>"
    )


def _note(sheet: Sheet) -> str:
    return f'<p class="note">{in_markup(sheet.note)}</p>' if sheet.note else ""


def _charts(sheet: Sheet) -> str:
    figures = "".join(
        f"<figure><h3>{in_markup(chart.title)}</h3>{own_ids(chart.svg, f'chart-{number}-')}"
        f"<figcaption>{in_markup(chart.caption)}</figcaption></figure>"
        for number, chart in enumerate(sheet.charts)
    )
    return f'<h2>How they play</h2>\n<div class="pair">{figures}</div>'


def _table(sheet: Sheet) -> str:
    heads = "".join(f'<th scope="col"><span class="letter">{box.letter}</span></th>' for box in sheet.boxes)
    lines = "".join(_line(line) for line in sheet.lines)
    table = f'<table><thead><tr><th scope="col">Box</th>{heads}</tr></thead><tbody>{lines}</tbody></table>'
    said = "".join(f'<p class="small">{in_markup(words)}</p>' for words in sheet.explained)
    return f'<h2>Side by side</h2>\n<div class="scroll">{table}</div>{said}'


def _line(line: Line) -> str:
    small = f"<small>{in_markup(line.small)}</small>" if line.small else ""
    return f'<tr><th scope="row">{in_markup(line.label)}{small}</th>{"".join(map(_cell, line.cells))}</tr>'


def _cell(cell: Cell) -> str:
    band = f"<small>{_unbroken(cell.band)}</small>" if cell.band else ""
    look = ' class="best"' if cell.best else ""
    return f"<td{look}>{_unbroken(cell.figure)}{band}</td>"


def _unbroken(figures: str) -> str:
    """Figures that keep their units beside them where a line is short."""
    return re.sub(r"(?<=\d) (?=[^\W_]|[°%])(?!to )", "\N{NO-BREAK SPACE}", in_markup(figures))


def _cautions(sheet: Sheet) -> str:
    items = "".join(f"<li>{in_markup(caution)}</li>" for caution in sheet.cautions)
    return (
        f'<h2>Please note</h2>\n<ul class="cautions">{items}</ul>\n'
        f"<footer>{in_markup(sheet.rests_on)} Made with wedgefront.</footer>"
    )
