"""Fourteen invented jobs that together hold every kind of opening, facing, placement, filter and rule."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

PARTS: dict[str, dict[str, Any]] = tomllib.loads((Path(__file__).parent / "parts.toml").read_text())

NO_FILTER = {"kind": "none"}
SECOND = {"kind": "highpass", "order": 2, "frequency": ["16 Hz", "30 Hz"]}
FOURTH = {"kind": "highpass", "order": 4, "frequency": ["16 Hz", "28 Hz"]}
FIRST = {"kind": "highpass", "order": 1, "frequency": ["15 Hz", "25 Hz"]}
LINKWITZ = {"kind": "highpass", "shape": "linkwitz-riley", "order": 4, "frequency": ["16 Hz", "26 Hz"]}
OWN = {"kind": "highpass", "shape": "own", "q": 1.2, "frequency": ["20 Hz", "34 Hz"]}
BASE_GOALS = ("f3_hz", "output_db", "excursion_ratio", "vent_speed_m_s")


def _corners(*corners: tuple[float, float]) -> list[list[str]]:
    return [[f"{y} mm", f"{z} mm"] for y, z in corners]


ROOM = _corners((0, 0), (520, 0), (480, 460), (0, 460))
WEDGE = _corners((0, 0), (300, 0), (170, 520), (0, 520))
STEPPED = _corners((0, 90), (70, 0), (560, 0), (560, 300), (420, 520), (0, 520))
LEANING = _corners((0, 0), (560, 0), (500, 320), (340, 520), (182, 520))
SLOPED_BACK = _corners((120, 0), (560, 0), (560, 480), (0, 480))
ARCH = {"name": "arch", "across": ["0 mm", "130 mm"], "section": _corners((200, 0), (560, 0), (500, 240), (260, 200))}
REEL = {"name": "reel", "across": ["900 mm", "1300 mm"], "forward": ["0 mm", "90 mm"], "up": ["360 mm", "560 mm"]}
BOLT = {"name": "bolt", "across": ["400 mm", "430 mm"], "forward": ["70 mm", "110 mm"], "up": ["200 mm", "230 mm"]}


def _job(
    title: str,
    *,
    section: list[list[str]],
    width: str,
    drivers: dict[str, list[int]],
    pipes: tuple[str, ...] = (),
    radiators: dict[str, list[int]] | None = None,
    filters: tuple[dict[str, Any], ...] = (NO_FILTER, FOURTH),
    objectives: tuple[str, ...] = BASE_GOALS,
    **others: dict[str, Any],
) -> dict[str, Any]:
    """A job as a document: parts by their names in parts.toml; ``others`` are tables, or go into those stated here."""
    loads = [{"impedance": f"{ohms} ohm", "power": f"{power} W"} for ohms, power in ((4, 250), (2, 420), (1, 600))]
    document: dict[str, Any] = {
        "title": title,
        "currency": "EUR",
        "space": {"section": section, "width": width, "margin": "5 mm"},
        "driver": [{**PARTS["driver"][name], "counts": counts} for name, counts in drivers.items()],
        "amplifier": {"name": "amplifier", "lowest_load": "1 ohm", "load": loads},
        "stock": {
            "board_thickness": "18 mm",
            "board_price": "14 EUR/m^2",
            **({"pipe": [PARTS["pipe"][name] for name in pipes]} if pipes else {}),
        },
        "filter": list(filters),
        "goals": {"objectives": list(objectives)},
    }
    if radiators:
        document["radiator"] = [{**PARTS["radiator"][name], "counts": counts} for name, counts in radiators.items()]
    for name, table in others.items():
        document[name] = {**document.get(name, {}), **table}
    return document


def jobs() -> dict[str, dict[str, Any]]:
    """Every job by a short name."""
    cup, cooled = PARTS["cup"]["round"], {"temperature": "5 degC", "altitude": "900 m"}
    return {
        "closed": _job(
            "Closed boxes, filled or not, one to three small drivers",
            section=ROOM,
            width="950 mm",
            drivers={"eight": [1, 2, 3], "ten": [1]},
            filters=(NO_FILTER, FIRST, SECOND),
            objectives=("f3_hz", "output_db", "outer_volume_m3", "cost"),
            box={"kinds": ["closed"], "fillings": ["none", "lined", "half", "full"], "round_over": "6 mm"},
            stock={"terminal_cup": cup},
        ),
        "piped": _job(
            "Pipes straight, bent and through the sides",
            section=ROOM,
            width="1000 mm",
            drivers={"eight": [1, 2], "ten": [1]},
            pipes=("50", "75", "110"),
            box={"kinds": ["vented"]},
        ),
        "flared": _job(
            "Flared pipes, a cup and a heavy board",
            section=ROOM,
            width="1100 mm",
            drivers={"twelve": [1], "ten": [1, 2]},
            pipes=("75flared", "63imperial", "110"),
            filters=(NO_FILTER, LINKWITZ, OWN),
            objectives=("f3_hz", "output_db", "vent_speed_m_s", "weight_kg"),
            box={"kinds": ["vented"], "carpet": "3 mm"},
            stock={"board_thickness": "22 mm", "terminal_cup": cup, "brace_span": "350 mm"},
        ),
        "slotted": _job(
            "Slots of the box's own board",
            section=ROOM,
            width="1000 mm",
            drivers={"eight": [1, 2], "ten": [1], "twelve": [1]},
            filters=(NO_FILTER, SECOND, FOURTH),
            box={"kinds": ["vented"]},
            stock={"slot": {"height": ["15 mm", "40 mm"]}},
        ),
        "radiators": _job(
            "Passive radiators, one and two",
            section=ROOM,
            width="1100 mm",
            drivers={"eight": [1, 2], "shallow": [1]},
            radiators={"flat": [1, 2], "small": [1, 2]},
            objectives=("f3_hz", "output_db", "radiator_ratio", "excursion_ratio"),
            box={"kinds": ["radiator"]},
            stock={"terminal_cup": cup},
        ),
        "bench": _job(
            "A thin wedge with something in each upper corner",
            section=WEDGE,
            width="1250 mm",
            drivers={"shallow": [1, 2]},
            pipes=("50", "75"),
            radiators={"flat": [1]},
            objectives=(*BASE_GOALS, "weight_kg"),
            space={"keepout": [REEL], "clearance": {"front": "8 mm", "top": "5 mm"}},
            box={"kinds": ["closed", "vented", "radiator"], "breathing_gap": "8 mm"},
            stock={"board_thickness": "15 mm", "slot": {"height": ["15 mm", "22 mm"]}, "terminal_cup": cup},
            cabin={"largest_dimension": "2.1 m", "leak": "12 Hz"},
        ),
        "down": _job(
            "Drivers that face the floor, on feet",
            section=STEPPED,
            width="900 mm",
            drivers={"eight": [1, 2], "ten": [1]},
            pipes=("50", "75", "75flared"),
            box={"kinds": ["closed", "vented"], "facings": ["down"], "fillings": ["none", "half"]},
            stock={"slot": {"height": ["18 mm", "35 mm"]}},
        ),
        "side": _job(
            "Drivers that face sideways, between arches",
            section=STEPPED,
            width="1200 mm",
            drivers={"eight": [1, 2], "ten": [1], "twelve": [1]},
            pipes=("75", "110"),
            filters=(SECOND,),
            space={"keepout": [ARCH], "door": {"width": "900 mm", "height": "520 mm", "turning_room": "1200 mm"}},
            box={"kinds": ["closed", "vented"], "facings": ["side"]},
            stock={"terminal_cup": cup},
        ),
        "every way": _job(
            "Every facing and every opening in one job",
            section=STEPPED,
            width="1150 mm",
            drivers={"eight": [1, 2], "ten": [1]},
            pipes=("75", "75flared"),
            radiators={"small": [1]},
            box={"kinds": ["closed", "vented", "radiator"], "facings": ["front", "down", "side"]},
            stock={"slot": {"height": ["15 mm", "30 mm"]}, "terminal_cup": cup},
        ),
        "leaning": _job(
            "A back that leans with a seat, limits set, through a small hatch",
            section=LEANING,
            width="960 mm",
            drivers={"ten": [1], "eight": [1, 2]},
            pipes=("50", "75"),
            filters=(NO_FILTER, FOURTH, LINKWITZ),
            objectives=("f3_hz", "output_db", "outer_depth_m", "cost"),
            space={"keepout": [ARCH, BOLT], "door": {"width": "800 mm", "height": "420 mm"}},
            box={"kinds": ["closed", "vented"], "back_angle": "20 deg", "carpet": "4 mm"},
            stock={"slot": {"height": ["15 mm", "25 mm"]}},
            goals={"limits": {"f3_hz": "75 Hz", "excursion_ratio": 2.5, "cost": "900 EUR"}},
        ),
        "forward": _job(
            "A back that leans the other way, radiators and slots",
            section=SLOPED_BACK,
            width="1050 mm",
            drivers={"eight": [1, 2]},
            radiators={"small": [2], "flat": [1]},
            box={"kinds": ["vented", "radiator"], "back_angle": "-14 deg", "facings": ["front", "side"]},
            stock={"slot": {"height": ["20 mm", "45 mm"]}},
        ),
        "bounded": _job(
            "Sizes, tuning and vents bounded, in thin air",
            section=ROOM,
            width="1000 mm",
            drivers={"ten": [1], "twelve": [1]},
            pipes=("75", "110"),
            air=cooled,
            box={"kinds": ["closed", "vented"], "ql": 10},
            bounds={
                "outer_width": ["500 mm", "900 mm"],
                "outer_height": ["300 mm", "430 mm"],
                "tuning": ["26 Hz", "42 Hz"],
                "vent_count": [1, 2],
            },
            goals={"limits": {"vent_speed_m_s": "25 m/s"}},
        ),
        "cabin": _job(
            "Judged in the vehicle, with crossover and one band raised",
            section=LEANING,
            width="1000 mm",
            drivers={"eight": [1, 2], "twelve": [1]},
            pipes=("75flared", "110"),
            filters=(NO_FILTER, FIRST, OWN),
            objectives=("f3_cabin_hz", "output_cabin_db", "vent_speed_m_s", "outer_volume_m3"),
            space={"keepout": [BOLT]},
            box={"kinds": ["closed", "vented"], "fillings": ["none", "full"]},
            chain={
                "low_pass": "linkwitz-riley",
                "low_pass_order": 4,
                "low_pass_frequency": "90 Hz",
                "band_frequency": "45 Hz",
                "band_gain": "3 dB",
                "band_q": 1.5,
            },
            cabin={"largest_dimension": "2.4 m"},
        ),
        "inches": _job(
            "Stated in US customary units",
            section=[["0 in", "3 in"], ["2 in", "0 in"], ["19 in", "0 in"], ["15 in", "18 in"], ["0 in", "18 in"]],
            width="40 in",
            drivers={"eight": [1, 2], "ten": [1]},
            pipes=("63imperial", "75"),
            filters=(NO_FILTER, SECOND),
            space={"margin": "1/4 in", "clearance": {"front": "1/8 in"}},
            box={"kinds": ["closed", "vented"], "breathing_gap": "3/8 in", "round_over": "1/4 in"},
            stock={"board_thickness": "3/4 in", "slot": {"height": ["5/8 in", "1 1/2 in"]}},
        ),
    }
