"""Text with units to SI numbers and back: the one place where millimetres and inches are known.

Files say ``"18 mm"``, ``"2 3/8 in"`` or ``"1.25 ft^3"``; everything inside is SI.  Numbers are
read here, exactly; pint is asked only what a unit is worth.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple

Units = Literal["metric", "us"]

MISSING = "–"  # shown where there is no figure


class Unit(NamedTuple):
    """A unit to show and write: ``symbol`` on screen, ``text`` in files, SI = value·scale + zero."""

    symbol: str
    text: str
    scale: float
    digits: int
    zero: float = 0.0


class Kind(NamedTuple):
    """A kind of quantity: its name in sentences, its SI unit, examples, how it is shown.

    ``us`` is its US customary unit where that is another, ``common`` lists units people mix up, for hints.  ``only``
    replaces pint where its answer would be wrong or too free (rpm are no Hz here): unit -> (scale, zero).
    """

    name: str
    si: str
    examples: tuple[str, ...]
    metric: Unit
    us: Unit | None = None
    common: tuple[str, ...] = ()
    only: dict[str, tuple[Fraction, Fraction]] | None = None


_INCH = 0.0254
_FOOT = 12 * _INCH
_POUND = 0.45359237
_OUNCE = _POUND / 16.0
_ZERO, _ONE = Fraction(0), Fraction(1)
_AS_IT_IS = (_ONE, _ZERO)
_DEGREE = Fraction(math.pi) / 180
_CELSIUS = (_ONE, Fraction("273.15"))
_FAHRENHEIT = (Fraction(5, 9), Fraction("459.67") * 5 / 9)
_C, _F = ("degC", "°C", "C"), ("degF", "°F", "F")

KINDS: dict[str, Kind] = {
    "length": Kind("a length", "m", ("18 mm", "2 3/8 in"), Unit("mm", "mm", 1e-3, 0), Unit("in", "in", _INCH, 2),
                   ("in", "mm", "cm", "ft", "m")),
    "area": Kind("an area", "m^2", ("330 cm^2", "51 in^2"),
                 Unit("cm²", "cm^2", 1e-4, 1), Unit("in²", "in^2", _INCH**2, 1), ("cm^2", "in^2", "m^2", "mm^2")),
    "volume": Kind("a volume", "m^3", ("35 L", "1.25 ft^3"),
                   Unit("L", "L", 1e-3, 1), Unit("ft³", "ft^3", _FOOT**3, 2), ("L", "ft^3", "in^3", "m^3")),
    "mass": Kind("a mass", "kg", ("4.2 kg", "120 g", "6 lb 4 oz"),
                 Unit("kg", "kg", 1.0, 1), Unit("lb", "lb", _POUND, 1), ("kg", "g", "lb", "oz")),
    # Every data sheet says it in grams, in whatever country.
    "moving_mass": Kind("a moving mass", "kg", ("120 g",), Unit("g", "g", 1e-3, 0), common=("g", "kg", "oz", "lb")),
    # What is screwed onto a cone, as a kitchen scale has it.
    "added_mass": Kind("a mass", "kg", ("120 g", "4 oz"),
                       Unit("g", "g", 1e-3, 0), Unit("oz", "oz", _OUNCE, 1), ("g", "kg", "oz", "lb")),
    "frequency": Kind("a frequency", "Hz", ("34 Hz",), Unit("Hz", "Hz", 1.0, 1), common=("Hz", "kHz"),
                      only={"Hz": _AS_IT_IS, "kHz": (Fraction(1000), _ZERO)}),
    "speed": Kind("a speed", "m/s", ("17 m/s", "56 ft/s"), Unit("m/s", "m/s", 1.0, 1), Unit("ft/s", "ft/s", _FOOT, 0),
                  ("m/s", "ft/s")),
    "voltage": Kind("a voltage", "V", ("2.83 V",), Unit("V", "V", 1.0, 2), common=("V", "mV")),
    "power": Kind("a power", "W", ("300 W",), Unit("W", "W", 1.0, 0), common=("W", "kW")),
    "resistance": Kind("a resistance", "ohm", ("3.4 ohm",), Unit("Ω", "ohm", 1.0, 2), common=("ohm",)),
    "inductance": Kind("an inductance", "H", ("1.4 mH",), Unit("mH", "mH", 1e-3, 2), common=("mH", "uH", "H")),
    "force_factor": Kind("a force factor", "T m", ("12.5 T m", "12.5 N/A"), Unit("T m", "T m", 1.0, 1)),
    "compliance": Kind("a compliance", "m/N", ("0.21 mm/N",), Unit("mm/N", "mm/N", 1e-3, 3),
                       common=("mm/N", "um/N", "m/N")),
    "mechanical_resistance": Kind("a mechanical resistance", "kg/s", ("4.1 kg/s",), Unit("kg/s", "kg/s", 1.0, 2)),
    "angle": Kind("an angle", "rad", ("18 deg",), Unit("°", "deg", math.pi / 180.0, 1), common=("deg", "rad"),
                  only=dict.fromkeys(("deg", "°", "degree", "degrees"), (_DEGREE, _ZERO)) | {"rad": _AS_IT_IS}),
    "temperature": Kind("a temperature", "K", ("20 degC", "68 degF"), Unit("°C", "degC", 1.0, 0, 273.15),
                        Unit("°F", "degF", float(_FAHRENHEIT[0]), 0, float(_FAHRENHEIT[1])), ("degC", "degF", "K"),
                        dict.fromkeys(_C, _CELSIUS) | dict.fromkeys(_F, _FAHRENHEIT) | {"K": _AS_IT_IS}),
    "temperature_difference": Kind(
        "a difference of temperature", "K", ("60 K", "108 degF"),
        Unit("K", "K", 1.0, 0), Unit("°F", "degF", float(_FAHRENHEIT[0]), 0),
        only=dict.fromkeys(("K", *_C), _AS_IT_IS) | dict.fromkeys(_F, (_FAHRENHEIT[0], _ZERO))),
    "thermal_resistance": Kind("a thermal resistance", "K/W", ("0.4 K/W",), Unit("K/W", "K/W", 1.0, 2),
                               only=dict.fromkeys(("K/W", "°C/W", "degC/W", "C/W"), _AS_IT_IS)),
    "density": Kind("a density", "kg/m^3", ("740 kg/m^3", "46 lb/ft^3"), Unit("kg/m³", "kg/m^3", 1.0, 0),
                    Unit("lb/ft³", "lb/ft^3", _POUND / _FOOT**3, 1), ("kg/m^3", "lb/ft^3", "g/cm^3")),
    "pressure": Kind("a pressure", "Pa", ("1013 hPa",), Unit("hPa", "hPa", 100.0, 0), common=("hPa", "kPa", "Pa")),
    "level": Kind("a level", "dB", ("112 dB",), Unit("dB", "dB", 1.0, 1), only={"dB": _AS_IT_IS}),
}  # fmt: skip


class PriceKind(NamedTuple):
    """Money has no SI unit: the currency goes first, and what it buys may follow (a length, an area)."""

    name: str
    example: float
    buys: str = ""
    metric: str = ""
    us: str = ""

    def per(self, units: Units) -> str:
        """What the money buys one of: "m^2"; empty where it buys the thing itself."""
        return self.metric if units == "metric" else self.us


PRICE_KINDS = {
    "price": PriceKind("a price", 120),
    "price_per_area": PriceKind("a price by area", 38, "area", "m^2", "ft^2"),
    "price_per_length": PriceKind("a price by length", 6, "length", "m", "ft"),
}


class NotAQuantity(ValueError):
    """A text is no quantity: ``code`` says why, ``parameters`` are those of its sentence in :mod:`engine.words`."""

    def __init__(self, code: str, **parameters: str) -> None:
        self.code, self.parameters = code, parameters
        super().__init__(code)


_DECIMAL = r"\d+(?:\.\d*)?(?:[eE][+-]?\d{1,2})?|\.\d+(?:[eE][+-]?\d{1,2})?"
_FRACTION = r"(?:(\d{1,6})[ -]+)?(\d{1,6})\s*/\s*(\d{1,6})"
_QUANTITY = re.compile(
    rf"([+-]?)\s*(?:(?P<fraction>{_FRACTION})|(?P<decimal>{_DECIMAL}))\s*(?P<unit>(?![\s\d.,+-]|[eE][+-]?\d).*)"
)
# What is counted in two units: a sign, the larger ones, the rest with or without its own unit.
_FEET_AND_INCHES = re.compile(
    r"([+-]?)\s*(\d{1,6})\s*(?:'|′|’|ft\.?|feet|foot)[\s,-]*(\d[\d\s/.-]*?)\s*(?:\"|″|”|''|in\.?|inch|inches)?",
    re.IGNORECASE,
)
_POUNDS_AND_OUNCES = re.compile(
    r"([+-]?)\s*(\d{1,6})\s*(?:lbs?\.?|pounds?)[\s,-]*(\d[\d\s/.-]*?)\s*(?:oz\.?|ounces?)?", re.IGNORECASE
)
_COMMA = re.compile(r"([+-]?\d+),(\d+)(.*)")
_CURRENCY = re.compile(r"[A-Z]{3}")
_CURRENCY_FIRST = re.compile(r"([+-]?)\s*([^\W\d_]{0,3}[$€£¥₹]|[A-Za-z]{3})\s*(\d[^A-Za-z/]*|\.\d+\s*)(/.*)?")
# What a sign of money may stand for.
_MONEY = {
    "$": ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN", "BRL", "ARS", "CLP", "COP"),
    "€": ("EUR",), "£": ("GBP",), "¥": ("JPY", "CNY"), "₹": ("INR",), "US$": ("USD",), "C$": ("CAD",),
    "CA$": ("CAD",), "A$": ("AUD",), "AU$": ("AUD",), "NZ$": ("NZD",), "R$": ("BRL",),
    "kr": ("SEK", "NOK", "DKK", "ISK"),
    "zł": ("PLN",), "Kč": ("CZK",), "Ft": ("HUF",), "Fr": ("CHF",), "Fr.": ("CHF",), "R": ("ZAR",),
}  # fmt: skip
_UNIT_TEXT = re.compile(
    r"[A-Za-zµμΩ]+[23]?(?:(?:\^|\*\*)[123])?(?:\s*[ */·]\s*[A-Za-zµμΩ]+[23]?(?:(?:\^|\*\*)[123])?){0,3}"
)
_LONGEST = 60
FINEST_FRACTION = 64  # of an inch, on a rule
FRACTION_WITHIN = 6e-7  # m; what the front's rounding may take off a size
_US_NAMES = {
    "in", "inch", "inches", "ft", "foot", "feet", "lb", "lbs", "pound", "pounds", "oz", "ounce", "ounces",
    "degF", "F", '"', "'", "cu", "sq", "cubic", "square",
}  # fmt: skip

_SIGNS = str.maketrans(
    {"−": "-", "¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
)
_SPELLINGS = {
    '"': "in", "″": "in", "”": "in", "in.": "in", "''": "in", "'": "ft", "′": "ft", "’": "ft", "ft.": "ft",
    "ohms": "ohm", "Ohm": "ohm", "Ohms": "ohm",
    "\N{GREEK CAPITAL LETTER OMEGA}": "ohm", "\N{OHM SIGN}": "ohm",
    "hz": "Hz", "HZ": "Hz", "khz": "kHz", "w": "W", "Watt": "W", "Watts": "W", "v": "V", "Volt": "V",
    "Tm": "T m", "Litre": "L", "Liter": "L", "Litres": "L", "Liters": "L",
    "cu ft": "ft^3", "cu. ft.": "ft^3", "cu in": "in^3", "cu. in.": "in^3",
    "cuft": "ft^3", "cubic feet": "ft^3", "cubic foot": "ft^3", "cubic inches": "in^3", "cubic inch": "in^3",
    "sq in": "in^2", "sq. in.": "in^2", "sq ft": "ft^2", "sq. ft.": "ft^2", "square inches": "in^2",
    "square feet": "ft^2", "square cm": "cm^2", "sq cm": "cm^2", "db": "dB", "DB": "dB", "mh": "mH", "MH": "mH",
    "lbs": "lb", "lbs.": "lb", "lb.": "lb", "oz.": "oz", "hertz": "Hz", "Hertz": "Hz", "watt": "W", "watts": "W",
}  # fmt: skip


class Stated(NamedTuple):
    """A number as it was written: its exact value, half a unit of its last place, and its unit's text."""

    number: Fraction
    half_unit: Fraction
    unit: str


def split(text: str) -> Stated:
    """Read the number off the front of ``text``; the rest is its unit.

    Takes decimals, fractions and mixed numbers, feet with inches, which come back as inches, pounds with ounces, which
    come back as ounces, and a currency before its number.  Raises NotAQuantity where there is no finite number or its
    decimal sign is a comma.
    """
    tidy = " ".join(text.translate(_SIGNS).split())
    if len(tidy) > _LONGEST:
        raise NotAQuantity("too_long_for_a_quantity")
    if money := _CURRENCY_FIRST.fullmatch(tidy):
        minus, currency, amount, per = money.groups("")
        tidy = f"{minus}{amount.strip()} {currency}{per}"
    if comma := comma_in(tidy):
        raise comma
    for pattern, most, unit, code in (
        (_FEET_AND_INCHES, 12, "in", "inches_after_feet"),
        (_POUNDS_AND_OUNCES, 16, "oz", "ounces_after_pounds"),
    ):
        if both := pattern.fullmatch(tidy):
            rest = split(both[3])
            if rest.number >= most:
                raise NotAQuantity(code)
            total = most * int(both[2]) + rest.number
            return Stated(-total if both[1] == "-" else total, rest.half_unit, unit)
    if (match := _QUANTITY.fullmatch(tidy)) is None:
        raise NotAQuantity("no_finite_number")
    sign = -1 if match[1] == "-" else 1
    if match["fraction"]:
        whole, top, bottom = (int(match[group] or 0) for group in (3, 4, 5))
        if bottom == 0:
            raise NotAQuantity("zero_below_the_line")
        number, half_place = whole + Fraction(top, bottom), Fraction(1, 2 * bottom)
    else:
        number = Fraction(match["decimal"])
        mantissa, _, exponent = match["decimal"].lower().partition("e")
        decimals = len(mantissa.partition(".")[2])
        half_place = Fraction(1, 2) * Fraction(10) ** (int(exponent or 0) - decimals)
    return Stated(sign * number, half_place, match["unit"].strip())


def parse(text: str, kind: str, *, currency: str | None = None) -> float:
    """The SI value of ``text`` as a quantity of ``kind``.

    ``currency`` is the one a price must be in; without it any three capital letters will do.  Raises NotAQuantity.

    >>> parse("18 mm", "length"), round(parse("2 3/8 in", "length"), 6)
    (0.018, 0.060325)
    """
    stated = split(text)
    if not stated.unit:
        raise NotAQuantity("text_without_unit")
    scale, zero = _unit_worth(stated.unit, kind, currency)
    return float(stated.number * scale + zero)


def with_unit(text: str, kind: str, units: Units, *, currency: str = "") -> str:
    """What somebody typed, with the unit that figures of its kind have in ``units`` where it is a bare number.

    A bare price is one in ``currency``; where that is not known, and where the text is no number, it stays as it is.

    >>> with_unit("3/4", "length", "us"), with_unit("120", "moving_mass", "us"), with_unit("18 mm", "length", "us")
    ('3/4 in', '120 g', '18 mm')
    """
    try:
        bare = not split(text).unit
    except NotAQuantity:
        return text
    if not bare:
        return text
    if kind not in PRICE_KINDS:
        return f"{text.strip()} {unit_of(kind, units).text}"
    per = PRICE_KINDS[kind].per(units)
    return f"{text.strip()} {currency}{f'/{per}' if per else ''}" if currency else text


def currency_in(text: str) -> str:
    """The currency that a price names without a doubt, "$" being taken for the US dollar; empty where it names none."""
    try:
        money = split(text).unit.partition("/")[0].strip()
    except NotAQuantity:
        return ""
    known = {currency for meant in _MONEY.values() for currency in meant}
    return money.upper() if _CURRENCY.fullmatch(money) or money.upper() in known else _MONEY.get(money, ("",))[0]


def half_unit(text: str, kind: str) -> float:
    """Half a unit of the last printed place of ``text``, in SI: what rounding may have taken."""
    stated = split(text)
    return float(stated.half_unit * _unit_worth(stated.unit, kind, None)[0])


def comma_in(text: str) -> NotAQuantity | None:
    """What is wrong with a number whose decimal sign, or the sign between its thousands, is a comma; else None."""
    if (match := _COMMA.match(text)) is None:
        return None
    whole, rest, unit = match.groups()
    code = "comma_of_thousands" if len(rest) == 3 else "decimal_comma"
    return NotAQuantity(code, point=f"{whole}.{rest}{unit}", without=f"{whole}{rest}{unit}")


def examples(kind: str, units: Units, currency: str | None = None) -> tuple[str, tuple[str, ...]]:
    """What a kind of quantity is called and what it looks like: "a length", "18 mm" and "2 3/8 in".

    For somebody who thinks in US units the examples are in those; ``currency`` is the one that prices are in.
    """
    if kind in PRICE_KINDS:
        price = PRICE_KINDS[kind]
        per = f"/{price.per(units)}" if price.buys else ""
        return price.name, (f"{price.example:g} {currency or 'EUR'}{per}",)
    texts = KINDS[kind].examples
    return KINDS[kind].name, tuple(text for text in texts if units == "metric" or not differs(kind) or is_us(text))


def differs(kind: str) -> bool:
    """Whether a kind is shown in one unit in the metric system and in another in the US customary one."""
    return kind in KINDS and KINDS[kind].us is not None


def show(value: float, kind: str, units: Units, digits: int | None = None) -> str:
    """A figure with its unit, as a reader sees it; a dash for nan.

    ``digits`` is the number of decimals; without it a length under 100 mm that is not whole gets one, and everything
    else what its unit asks for.
    """
    if not math.isfinite(value):
        return MISSING
    unit, number = unit_of(kind, units), float(to_display(value, kind, units))
    if digits is None:
        digits = unit.digits
        if unit.symbol == "mm" and abs(number) < 99.95 and abs(number - round(number)) >= 0.05:
            digits = 1
    text = f"{number:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return f"{text}°" if unit.symbol == "°" else f"{text} {unit.symbol}"


def show_size(value: float, units: Units) -> str:
    """A length to the last digit that is set out: inches and a fraction where it is one, hundredths of a millimetre.

    >>> show_size(0.7493, "us"), show_size(0.019, "us"), show_size(0.01905, "metric")
    ('29 1/2 in', '0.748 in', '19.05 mm')
    """
    if not math.isfinite(value):
        return MISSING
    if units == "metric":
        return f"{round(value * 1e3, 2):.12g} mm"
    return _in_fractions(value) or f"{value / _INCH:.3f} in"


def write_size(value: float, units: Units) -> str:
    """A length as text for a file: inches and a fraction where it is one, else as :func:`write` has it."""
    return (_in_fractions(value) if units == "us" else "") or write(value, "length", units)


def _in_fractions(value: float) -> str:
    """A length as inches and a fraction; empty where it is none that a rule has."""
    parts = round(value / _INCH * FINEST_FRACTION)
    if abs(value - parts * _INCH / FINEST_FRACTION) > FRACTION_WITHIN:
        return ""
    whole, rest = divmod(abs(parts), FINEST_FRACTION)
    fraction = str(Fraction(rest, FINEST_FRACTION)) if rest else ""
    return ("-" if parts < 0 else "") + " ".join(
        filter(None, (str(whole) if whole or not rest else "", fraction, "in"))
    )


def show_sawn(value: float, units: Units) -> str:
    """A length that a builder measures off: as ever in metric units, in inches as a fraction, sixteenths if need be.

    >>> show_sawn(0.7493, "us"), show_sawn(0.00079375, "us"), show_sawn(0.1, "us"), show_sawn(0.412, "metric")
    ('29 1/2 in', '1/32 in', '3 15/16 in', '412 mm')
    """
    if units == "metric" or not math.isfinite(value):
        return show(value, "length", units)
    sixteenth = _INCH / 16
    return _in_fractions(value) or _in_fractions(round(value / sixteenth) * sixteenth)


def show_set_out(value: float, units: Units) -> str:
    """A length that a saw is set to or that is marked on wood: to a tenth of a millimetre; in inches a fraction where
    it is one, else thousandths with millimetres beside them.

    A slanted edge is nearly never a whole sixteenth: rounded to one, its long and its short point may read the same.

    >>> show_set_out(0.41253, "metric"), show_set_out(0.412, "metric")
    ('412.5 mm', '412 mm')
    >>> show_set_out(0.41275, "us"), show_set_out(0.32774, "us")
    ('16 1/4 in', '12.903 in (327.7 mm)')
    """
    if not math.isfinite(value):
        return MISSING
    metric = f"{round(value * 1e3, 1) + 0.0:.12g} mm"
    if units == "metric":
        return metric
    return _in_fractions(value) or f"{bare_set_out(value, units)} in ({metric})"


def bare_set_out(value: float, units: Units) -> str:
    """The same without its unit, for drawings and tables that say it once; inches without millimetres.

    >>> bare_set_out(0.41253, "metric"), bare_set_out(0.41275, "us"), bare_set_out(0.32774, "us")
    ('412.5', '16 1/4', '12.903')
    """
    if units == "us" and math.isfinite(value) and not _in_fractions(value):
        return f"{value / _INCH:.3f}"
    return show_set_out(value, units).rpartition(" ")[0]


def show_drill(value: float, units: Units) -> str:
    """A diameter that is drilled, as bits come: tenths of a millimetre or sixty-fourths of an inch.

    >>> show_drill(0.0028, "metric"), show_drill(0.0028, "us")
    ('2.8 mm', '7/64 in')
    """
    if units == "metric" or not math.isfinite(value):
        return show_set_out(value, units)
    part = _INCH / FINEST_FRACTION
    return _in_fractions(round(value / part) * part)


def show_run(value: float, units: Units) -> str:
    """A length that is bought off a roll.

    >>> show_run(3.21, "metric"), show_run(3.21, "us")
    ('3.2 m', '10.5 ft')
    """
    return f"{value:.1f} m" if units == "metric" else f"{value / _FOOT:.1f} ft"


def show_surface(value: float, units: Units) -> str:
    """An area that is bought or covered.

    >>> show_surface(1.25, "metric"), show_surface(1.25, "us")
    ('1.25 m²', '13.5 ft²')
    """
    return f"{value:.2f} m²" if units == "metric" else f"{value / _FOOT**2:.1f} ft²"


def show_shortage(value: float, units: Units) -> str:
    """A length that something is short of, which is there however small it is: never nothing; a dash for nan.

    In inches it is the next thirty-second up.

    >>> show_shortage(4e-6, "metric"), show_shortage(4e-6, "us"), show_shortage(0.0124, "metric")
    ('less than 1 mm', 'less than 1/32 in', '12.4 mm')
    >>> show_shortage(0.0124, "us"), show_shortage(1.5 * 0.0254, "us")
    ('1/2 in', '1 1/2 in')
    """
    if not math.isfinite(value):
        return MISSING
    least, said = (1e-3, "1 mm") if units == "metric" else (_INCH / 32, "1/32 in")
    if value < least:
        return f"less than {said}"
    return show(value, "length", units) if units == "metric" else _in_fractions(math.ceil(value / least - 1e-6) * least)


def small_mass(kilograms: float, units: Units) -> str:
    """What is screwed onto a cone, in grams or ounces; empty where it is nothing."""
    return show(kilograms, "added_mass", units) if kilograms >= 0.5e-3 else ""


def display_unit(kind: str, units: Units) -> str:
    """The unit a kind is shown in: "mm", "ft³"."""
    return unit_of(kind, units).symbol


def is_us(unit: str) -> bool:
    """Whether the text of a unit names one of the US customary system, in part or whole: "in", "lb/ft^3"."""
    return any({name, name.lower()} & _US_NAMES for name in re.findall(r"[A-Za-z]+|[\"']", unit))


def length_units(text: str) -> Units | None:
    """The system that a length is written in; None where the text is none."""
    try:
        unit = split(text).unit
    except NotAQuantity:
        return None
    unit = _SPELLINGS.get(unit, unit)
    return "metric" if unit in ("mm", "cm", "m") else "us" if unit in ("in", "ft") else None


def to_display(value: Any, kind: str, units: Units) -> Any:
    """SI to the number shown; floats and arrays alike."""
    unit = unit_of(kind, units)
    return (value - unit.zero) / unit.scale


def from_display(value: Any, kind: str, units: Units) -> Any:
    """The number shown back to SI; floats and arrays alike."""
    unit = unit_of(kind, units)
    return value * unit.scale + unit.zero


def write(value: float, kind: str, units: Units = "metric", *, currency: str = "") -> str:
    """A quantity as text for a file; :func:`parse` gives it back within 1e-9 of itself."""
    if kind in PRICE_KINDS:
        price = PRICE_KINDS[kind]
        if not (per := price.per(units)):
            return f"{value:.12g} {currency}"
        return f"{value * float(_unit_worth(per, price.buys, None)[0]):.12g} {currency}/{per}"
    return f"{float(to_display(value, kind, units)):.12g} {unit_of(kind, units).text}"


def unit_of(kind: str, units: Units) -> Unit:
    """The unit a kind is shown and written in."""
    return (KINDS[kind].us if units == "us" else None) or KINDS[kind].metric


@lru_cache(maxsize=1024)
def _unit_worth(text: str, kind: str, currency: str | None) -> tuple[Fraction, Fraction]:
    """What one ``text`` is in SI: scale and zero, as exact as their 15 digits."""
    if kind in PRICE_KINDS:
        money, _, per = (part.strip() for part in text.partition("/"))
        buys = PRICE_KINDS[kind].buys
        meant = _MONEY.get(money) or ((money.upper(),) if _CURRENCY.fullmatch(money.upper()) else ())
        if meant and bool(per) == bool(buys):
            worth = _pint_worth(_SPELLINGS.get(per, per), KINDS[buys].si) if buys else _ONE
            if worth is not None and currency and currency not in meant:
                raise NotAQuantity("other_currency", currency=currency)
            if worth is not None:
                return 1 / worth, _ZERO
    else:
        text = text.lower() if kind == "length" else text  # nobody means a megametre by "18 Mm"
        only = KINDS[kind].only
        for spelt in (text, text.lower()):  # "LBS", "Cu Ft"
            unit = _SPELLINGS.get(spelt, spelt)
            if only is None and (worth := _pint_worth(unit, KINDS[kind].si)) is not None:
                return worth, _ZERO
        unit = _SPELLINGS.get(text, text)
        if only is not None and unit in only:
            return only[unit]
    raise NotAQuantity("unit_does_not_fit", unit=text if len(text) <= 24 else text[:23] + "…")


@cache
def _registry() -> Any:
    """Our own pint registry, loaded when first asked for: it takes a third of a second."""
    import pint

    return pint.UnitRegistry()


def _pint_worth(unit: str, si: str) -> Fraction | None:
    """One ``unit`` in ``si``, or None where it is no such thing."""
    plain = unit.replace("²", "^2").replace("³", "^3")
    if not _UNIT_TEXT.fullmatch(plain):
        return None
    plain = re.sub(r"(?<=[A-Za-z])([23])(?![A-Za-z0-9])", r"^\1", plain)
    import pint

    registry = _registry()
    try:
        factor = registry.Quantity(1.0, registry.parse_units(plain)).to(si).magnitude
    except (pint.errors.PintError, ValueError, AssertionError):  # the latter two from its tokenizer
        return None
    return Fraction(f"{factor:.15g}")  # free of its last binary digit's noise: 0.0254 is 254/10000
