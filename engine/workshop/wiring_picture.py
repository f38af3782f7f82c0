"""A wiring as a picture: amplifier, drivers and coils with every lead, plus and minus told by shape, dash and word.

Plus leads run down from the amplifier at the left, minus leads at the right, so that none cross: strings of drivers
hang between a rail of each.  Not to scale.
"""

from __future__ import annotations

import math

from engine.quantities import Units
from engine.wiring import Network
from engine.words.voice import listed
from engine.workshop.svg import INK, NOTE, PAD, WIDTH, Keys, Point, Sheet

_PLUS_AT, _MINUS_AT = PAD + 18.0, WIDTH - PAD - 18.0  # of the leads down from the amplifier, on the page
_AMPLIFIER = (12.0, 70.0)  # its top and bottom
_COIL = 34.0  # from one coil to the next across
_NAME, _RIM = 24.0, 8.0  # of a driver, for its name and beside its coils
_TALL = 62.0  # a coil with its terminals
_SLOT = 76.0  # from one coil to the next down
_LEAD = 20.0  # from a driver's rim to its first coil, and from its last
_BAR = 8.0  # from a driver's coils to what joins them
_GAP = 22.0  # between drivers of a string, and strings of a bank
_BANK = 26.0  # from a rail to the drivers; and from one bank to the next


def wiring_of(network: Network, units: Units, *, amplifier: str = "Amplifier", name: str = "wiring") -> str:
    """One wiring as SVG text; ``name`` begins its ids: several on one page need several names."""
    load = f"{network.load:.3g} Ω"
    sheet = Sheet(name, f"Wiring: {network.words}, {load}", " ".join(connections(network)), units)
    _amplifier(sheet, amplifier, load)
    deep, wide = network.coil_strings
    width, height = _NAME + _COIL * wide + _RIM, 2.0 * _LEAD + _SLOT * (deep - 1) + _TALL
    most = max(int((_MINUS_AT - _PLUS_AT - 24.0 + _GAP) // (width + _GAP)), 1)
    banks = math.ceil(network.in_parallel / most)
    each = math.ceil(network.in_parallel / banks)
    string = network.in_series * height + (network.in_series - 1) * _GAP
    plus_from = minus_from = _AMPLIFIER[1]
    top, number = _AMPLIFIER[1] + 34.0, 0
    for first in range(0, network.in_parallel, each):
        here = min(each, network.in_parallel - first)
        taken = here * width + (here - 1) * _GAP
        left = 0.5 * (WIDTH - taken)
        middles = [left + place * (width + _GAP) + _NAME + 0.5 * _COIL * wide for place in range(here)]
        bottom = top + string + 2.0 * _BANK
        sheet.rule((_PLUS_AT, top), (middles[-1], top), "cut")
        sheet.rule((middles[0], bottom), (_MINUS_AT, bottom), "hidden")
        last = first + here == network.in_parallel
        _dot(sheet, (_PLUS_AT, top), joined=not last)
        _dot(sheet, (_MINUS_AT, bottom), joined=not last)
        for place, x in enumerate(middles):
            _dot(sheet, (x, top), joined=place < here - 1)
            _dot(sheet, (x, bottom), joined=place > 0)
            y = top + _BANK
            sheet.rule((x, top), (x, y), "cut")
            for step in range(network.in_series):
                number += 1
                _driver(sheet, network, number, (x, y), width, height)
                y += height
                if step < network.in_series - 1:
                    sheet.rule((x, y), (x, y + _GAP), "outline")
                    y += _GAP
            sheet.rule((x, y), (x, bottom), "hidden")
        sheet.rule((_PLUS_AT, plus_from), (_PLUS_AT, top), "cut")
        sheet.rule((_MINUS_AT, minus_from), (_MINUS_AT, bottom), "hidden")
        plus_from, minus_from = top, bottom
        top = bottom + _BANK
    keys: Keys = [("cut", "plus lead"), ("hidden", "minus lead"), ("outline", "minus to the next plus")]
    shapes = "Ring with a cross: plus. Square with a bar: minus."
    linked = network.in_series > 1 or deep > 1
    sheet.notes([f"{shapes}{' Numbers are those of coils.' * (network.driver.coils > 1)} Not to scale."],
                keys if linked else keys[:2], bottom + 30.0)  # fmt: skip
    return sheet.svg()


def connections(network: Network) -> list[str]:
    """Every lead of a wiring in words, from the coils out."""
    coils, drivers = network.driver.coils, network.count
    inside = "In each driver" if drivers > 1 else "On the driver"
    found = []
    if network.coils == "parallel":
        found.append(f"{inside} join plus of every coil, and minus of every coil.")
    elif network.coils == "series":
        steps = ", ".join(f"minus of coil {coil} to plus of coil {coil + 1}" for coil in range(1, coils))
        found.append(
            f"{inside} join {steps}. Plus of coil 1 is then the driver's plus, minus of coil {coils} its minus."
        )
    elif network.coils == "mixed":
        deep, wide = network.coil_strings
        heads = range(1, 1 + deep * wide, deep)
        pairs = listed([f"minus of coil {head} to plus of coil {head + 1}" for head in heads])
        plus = [f"plus of coil 1 with plus of coil {head}" for head in heads[1:]]
        minus = [f"minus of coil {deep} with minus of coil {head + deep - 1}" for head in heads[1:]]
        found.append(
            f"{inside} join {pairs}, then {listed([*plus, *minus])}. Plus of coil 1 is then the driver's plus, minus "
            f"of coil {deep} its minus."
        )
    strings = [range(first, first + network.in_series) for first in range(1, drivers + 1, network.in_series)]
    for string in strings if network.in_series > 1 else ():
        steps = ", ".join(f"minus of driver {one} to plus of driver {one + 1}" for one in string[:-1])
        found.append(f"Join {steps}.")
    for pole, ends in (("plus", [each[0] for each in strings]), ("minus", [each[-1] for each in strings])):
        of = f"driver{'s' * (len(ends) > 1)} {listed([str(end) for end in ends])}" if drivers > 1 else "the driver"
        found.append(f"Lead the amplifier's {pole} to the {pole} of {of}.")
    return found


def _amplifier(sheet: Sheet, name: str, load: str) -> None:
    top, bottom = _AMPLIFIER
    _box(sheet, (PAD, top), (WIDTH - 2.0 * PAD, bottom - top), "cut")
    sheet.text(name if len(name) <= 30 else f"{name[:29]}…", (0.5 * WIDTH, top + 18.0))
    sheet.text(f"sees {load}", (0.5 * WIDTH, top + 40.0))
    sheet.text("plus", (_PLUS_AT + 14.0, bottom - 14.0), anchor="start")
    sheet.text("minus", (_MINUS_AT - 14.0, bottom - 14.0), anchor="end")
    _plus(sheet, (_PLUS_AT, bottom - 14.0))
    _minus(sheet, (_MINUS_AT, bottom - 14.0))


def _driver(sheet: Sheet, network: Network, number: int, at: Point, width: float, height: float) -> None:
    """A driver whose leads enter in the middle of its coils' upper rim, ``at``, and leave below."""
    (x, y), coils = at, network.driver.coils
    deep, wide = network.coil_strings
    left = x - 0.5 * _COIL * wide
    _box(sheet, (left - _NAME, y), (width, height), "thin")
    sheet.text("Driver" if network.count == 1 else f"Driver {number}", (left - 0.5 * _NAME, y + 0.5 * height),
               turned=True)  # fmt: skip
    first, last = y + _LEAD, y + height - _LEAD
    apart = _BAR if wide > 1 else 0.0
    sheet.rule((x, y), (x, first - apart), "outline")
    sheet.rule((x, last + apart), (x, y + height), "outline")
    if wide > 1:
        ends = (left + 0.5 * _COIL, left + (wide - 0.5) * _COIL)
        for bar in (first - _BAR, last + _BAR):
            sheet.rule((ends[0], bar), (ends[1], bar), "outline")
            for place in range(wide):
                _dot(sheet, (ends[0] + place * _COIL, bar), joined=0 < place < wide - 1)
            _dot(sheet, (x, bar), joined=True)
    for coil in range(coils):
        across, down = divmod(coil, deep)
        middle, top = left + (across + 0.5) * _COIL, first + down * _SLOT
        if wide > 1 and down == 0:
            sheet.rule((middle, first - _BAR), (middle, first), "outline")
        if wide > 1 and down == deep - 1:
            sheet.rule((middle, last), (middle, last + _BAR), "outline")
        if down:
            sheet.rule((middle, top - _SLOT + _TALL), (middle, top), "outline")
        _coil(sheet, (middle, top), str(coil + 1) if coils > 1 else "")


def _coil(sheet: Sheet, at: Point, number: str) -> None:
    """One coil from its plus terminal down to its minus terminal; 62 high."""
    x, y = at
    turns = " ".join("a 5 4 0 0 1 0 8" for _ in range(4))
    look = f'fill="none" stroke-width="1.3" style="stroke:{INK}"'
    sheet.parts.append(f'<path d="M{x:.2f} {y + 15.0:.2f} {turns}" {look}/>')
    _plus(sheet, (x, y + 7.5))
    _minus(sheet, (x, y + 54.5))
    if number:
        sheet.text(number, (x - 8.0, y + 31.0))


def _plus(sheet: Sheet, at: Point) -> None:
    """A ring with a cross."""
    x, y = at
    look = f'stroke-width="1.3" style="fill:var(--drawing-paper, transparent);stroke:{INK}"'
    sheet.parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="7.5" fill="none" {look}/>')
    cross = f"M{x - 4.0:.2f} {y:.2f} h8 M{x:.2f} {y - 4.0:.2f} v8"
    sheet.parts.append(f'<path d="{cross}" fill="none" stroke-width="1.6" style="stroke:{INK}"/>')


def _minus(sheet: Sheet, at: Point) -> None:
    """A square with a bar."""
    x, y = at
    look = f'stroke-width="1.3" style="fill:var(--drawing-paper, transparent);stroke:{INK}"'
    sheet.parts.append(f'<rect x="{x - 7.0:.2f}" y="{y - 7.0:.2f}" width="14" height="14" fill="none" {look}/>')
    sheet.parts.append(f'<path d="M{x - 4.0:.2f} {y:.2f} h8" fill="none" stroke-width="1.6" style="stroke:{INK}"/>')


def _dot(sheet: Sheet, at: Point, *, joined: bool) -> None:
    """Where more than two leads meet."""
    if joined:
        place = f'cx="{at[0]:.2f}" cy="{at[1]:.2f}"'
        sheet.parts.append(f'<circle {place} r="3" fill="currentColor" style="fill:{NOTE}"/>')


def _box(sheet: Sheet, at: Point, size: Point, pen: str) -> None:
    place = f'x="{at[0]:.2f}" y="{at[1]:.2f}" width="{size[0]:.2f}" height="{size[1]:.2f}" rx="5"'
    thick = {"cut": 2.4, "thin": 0.8}[pen]
    sheet.parts.append(f'<rect {place} fill="none" stroke-width="{thick}" style="stroke:{INK}"/>')
