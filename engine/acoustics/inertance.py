"""What the air inside boxes weighs between drivers and openings: compiled loops over boxes (``cavity.py``)."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import NamedTuple

import numpy as np

from engine.acoustics.cavity import SLOT, SLOT_DOWN, Cavities, Cavity, Inside, Ports
from engine.acoustics.chamber import HEIGHTS, LENGTHS, PARTS, Chamber, chamber_of, shapes
from engine.acoustics.ends import pistons
from engine.acoustics.layer import Layer, Place, Tables, common, lay_flat, level_depth, put_place, spread
from engine.acoustics.modes import MODES, Modes, modes
from engine.acoustics.windows import Braces, crossing, weight
from engine.arrays import Floats
from engine.core.compiled import Table, borrowing, compiled, contiguous, in_pieces, table

SLOT_PLACES = 2  # in the window of a slot's chamber


class _Air(NamedTuple):
    """The air of a batch of boxes as compiled code takes it, braces as in ``Braces``."""

    cavity: Cavity
    ports: Ports
    brace_x: Floats
    brace_inertance: Floats
    wave_number: Floats


def inertance(*, cavities: Cavities, ports: Ports, wave_number: Floats, braces: Braces | None = None) -> Inside:
    """What the circuit needs: M of drivers and openings, the ports of each sort moving alike.

    ``wave_number`` (N,) is ω/c in rad/m of the frequency at which M is wanted, best the
    tuning; 0 gives the static M.  Compared up to 0.37 of the first mode's (``first_modes``), and
    held at 0.7 of it beyond.  Raises nothing: ports outside the cavity are drawn to its walls.
    """
    braces = braces or Braces.none(len(cavities))
    kind, opening = contiguous(ports.kind, np.int64), contiguous(ports.opening, np.bool_)
    places = Ports(kind, opening, *map(contiguous, ports[2:]))
    air = _Air(_cavity(cavities), places, *map(contiguous, (braces.x, braces.inertance, wave_number)))
    slots = np.any(np.isfinite(ports.radius) & (ports.kind >= SLOT))
    chambers = shapes() if slots else np.zeros((len(HEIGHTS), len(LENGTHS), len(PARTS), len(Chamber._fields)))
    found = np.empty((len(fields(Inside)), len(cavities)))
    scratch = table(Layer, 1), table(Place, ports.kind.shape[1] + SLOT_PLACES)
    in_pieces(_inertances, len(cavities), air, Tables(modes(), pistons()), chambers, *scratch, found)
    return Inside(**dict(zip((each.name for each in fields(Inside)), found, strict=True)))


def first_modes(*, cavities: Cavities, count: int) -> Floats:
    """Wave numbers k = ω/c of the lowest ``count`` modes across width and height, (N, count) rad/m.

    Of the empty cavity with rigid walls.  Those with a half wave or more in the depth are
    left out; they begin near π over the greatest depth.  ``count`` up to 5.
    """
    up = np.zeros((len(cavities), MODES + 1))
    in_pieces(_modes_up, len(cavities), _cavity(cavities), modes(), table(Layer, 1), up)
    across = np.arange(count + 1) * np.pi / cavities.width[:, np.newaxis]
    squares = (across[:, :, np.newaxis] ** 2 + up[:, np.newaxis, : count + 1] ** 2).reshape(len(cavities), -1)
    return np.asarray(np.sqrt(np.sort(squares, axis=-1)[:, 1 : count + 1]))


def _cavity(cavities: Cavities) -> Cavity:
    return Cavity(*(contiguous(getattr(cavities, name)) for name in Cavity._fields))


@borrowing
def _cavity_of(every: Cavity, i: int) -> Cavity:
    """That of a batch's box ``i``."""
    return Cavity(every.width[i], every.height[i], every.bottom_depth[i], every.top_depth[i], every.back_slope[i])


@compiled
def _modes_up(start: int, stop: int, cavity: Cavity, table: Modes, scratch: Table, up: Floats) -> None:
    layer = scratch.copy()[0]
    for i in range(start, stop):
        lay_flat(layer, _cavity_of(cavity, i), 0.0, table)
        for m in range(MODES):
            up[i, m + 1] = layer.numbers[m]


@compiled
def _inertances(
    start: int, stop: int, air: _Air, tables: Tables, chambers: Floats, layers: Table, scratch: Table, found: Floats
) -> None:
    """Write the figures of ``Inside`` (5, N) of boxes ``start`` to ``stop``."""
    layer, places = layers.copy()[0], scratch.copy()
    braces = air.brace_x.shape[1]
    at, inertance, cones, mouths = np.empty(braces), np.empty(braces), np.empty(braces), np.empty(braces)
    for i in range(start, stop):
        cavity, slot = _cavity_of(air.cavity, i), -1
        for port in range(air.ports.kind.shape[1]):
            if air.ports.kind[i, port] >= SLOT and not math.isnan(air.ports.radius[i, port]):
                slot = port
        if slot < 0:
            lay_flat(layer, cavity, air.wave_number[i], tables.modes)
            count, share = _put_ports(air, i, layer, cavity, places, 0.0, False, tables.modes), 0.0
            driver, mutual, opening = (
                common(layer, places, count, False, False, tables),
                common(layer, places, count, False, True, tables),
                common(layer, places, count, True, True, tables),
            )
        else:
            count, share, driver, mutual, opening = _with_slot(air, i, slot, cavity, tables, chambers, layer, places)
        stand = 0
        for brace in range(braces):
            if not math.isnan(air.brace_x[i, brace]):
                at[stand], inertance[stand] = air.brace_x[i, brace], air.brace_inertance[i, brace]
                window = _past(layer, places, count, at[stand], True)
                cones[stand] = _past(layer, places, count, at[stand], False) - share * window
                mouths[stand] = (1.0 - share) * window
                stand += 1
        most_cones, most_mouths = 0.0, 0.0
        if stand > 0:
            loads = weight(at[:stand], inertance[:stand], layer.width, layer.height * layer.depth, layer.wave_number)
            for b in range(stand):
                most_cones, most_mouths = max(most_cones, abs(cones[b])), max(most_mouths, abs(mouths[b]))
                for c in range(stand):
                    driver += cones[b] * loads[b, c] * cones[c]
                    mutual += cones[b] * loads[b, c] * mouths[c]
                    opening += mouths[b] * loads[b, c] * mouths[c]
        found[0, i], found[1, i], found[2, i] = driver, mutual, opening
        found[3, i], found[4, i] = most_cones, most_mouths


@borrowing
def _put_ports(
    air: _Air, i: int, layer: Layer, cavity: Cavity, places: Table, floor: float, only: bool, table: Modes
) -> int:
    """Write the ports that box ``i`` has, or ``only`` its drivers, into the first places, and say how many they are.

    The cavity's bottom is ``floor`` above that of the box.
    """
    count = 0
    for port in range(air.ports.kind.shape[1]):
        if math.isnan(air.ports.radius[i, port]) or (only and air.ports.opening[i, port]):
            continue
        place, y, z = places[count], air.ports.y[i, port] - cavity.back_slope * floor, air.ports.z[i, port] - floor
        put_place(layer, cavity, place, air.ports.kind[i, port], air.ports.x[i, port], y, z, table)
        place.opening, place.radius = air.ports.opening[i, port], air.ports.radius[i, port]
        place.outer, place.inside = air.ports.outer[i, port], air.ports.inside[i, port]
        count += 1
    return count


@borrowing
def _past(layer: Layer, places: Table, count: int, brace: float, opening: bool) -> float:
    """The part of the flow of openings, or of drivers, that passes a brace, when they move alike."""
    total, number = 0.0, 0
    for i in range(count):
        if places[i].opening == opening:
            total += crossing(places[i].x, brace, layer.width, layer.wave_number)
            number += 1
    return total / max(number, 1)


@borrowing
def _with_slot(
    air: _Air, i: int, slot: int, cavity: Cavity, tables: Tables, chambers: Floats, layer: Layer, places: Table
) -> tuple[int, float, float, float, float]:
    """Write layer and places of a box whose one opening is a slot, say how many places; share, driver, mutual, opening.

    The layer is what lies beyond the slot and its board.  The chamber before the mouth opens into it through a window,
    whose two places are ports of the layer.  A flow into all the air is one into the layer's, less ``share`` (the
    chamber's of the air) times the flow from the chamber to the layer, and that passes the window too.
    """
    kind, middle, height = air.ports.kind[i, slot], air.ports.z[i, slot], 2.0 * air.ports.radius[i, slot]
    taken = air.ports.radius[i, slot] + air.ports.outer[i, slot]
    turned, high = kind != SLOT, kind == SLOT_DOWN or (kind == SLOT and middle > 0.5 * cavity.height)
    floor = 0.0 if high else taken
    beyond = _beyond(cavity, taken, turned, high)
    lay_flat(layer, beyond, air.wave_number[i], tables.modes)
    count = _put_ports(air, i, layer, beyond, places, floor, True, tables.modes)

    # Across the window, and along it from the wall ahead of the mouth, in the layer's lengths.
    upright = 1.0 if turned else layer.secant
    ahead = (middle if high else cavity.height - middle) * layer.secant
    length = max(ahead if turned else cavity.width - air.ports.x[i, slot], height)
    along = layer.height if turned else layer.width
    shape = chamber_of(height * upright, taken * upright, length, along, chambers)
    near, far = min(length * shape.near, along), min(length * shape.far, along)
    for number, way in enumerate((near, far)):
        place = places[count + number]
        x = layer.width if turned else layer.width - way
        if high:
            up = way if turned else layer.height
        else:
            up = layer.height - way if turned else 0.0
        z = up / layer.secant
        y = cavity.back_slope * z + 0.5 * level_depth(beyond, z)  # half way between back and baffle
        put_place(layer, beyond, place, SLOT, x, y, z, tables.modes)
        place.opening = True
    one, other = places[count], places[count + 1]
    count += SLOT_PLACES
    driver = common(layer, places, count, False, False, tables)
    through = common(layer, places, count, False, True, tables)

    # The table's box is endless, as deep everywhere as at the window, and at rest.
    depth = math.sqrt(one.depth * other.depth)
    turns = 2.0 * (math.cos(math.pi * near / along) - math.cos(math.pi * far / along))
    rest = spread(layer, one, other) + math.log(abs(turns)) / (math.pi * depth)
    own, between, behind = shape.slot / depth + rest, shape.both / depth + rest, shape.air / depth + rest
    chamber = length * taken * upright * depth
    share = chamber / (chamber + layer.width * layer.height * layer.depth)
    return (
        count,
        share,
        driver - 2.0 * share * through + share * share * behind,
        (1.0 - share) * through - share * between + share * share * behind,
        own - 2.0 * share * between + share * share * behind,
    )


@compiled
def _beyond(cavity: Cavity, taken: float, turned: bool, high: bool) -> Cavity:
    """What a slot that takes so much of height, and of width where it is turned, leaves."""
    change = (cavity.top_depth - cavity.bottom_depth) / cavity.height * taken
    return Cavity(
        cavity.width - (taken if turned else 0.0),
        cavity.height - taken,
        cavity.bottom_depth + (0.0 if high else change),
        cavity.top_depth - (change if high else 0.0),
        cavity.back_slope,
    )
