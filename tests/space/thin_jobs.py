"""Two invented jobs in thin spaces, where a brace's window has hardly any room: no real vehicle, driver or shop."""

from __future__ import annotations

import tomllib

from engine.formats.scenario import parse_scenario
from engine.scenario import Scenario

SHALLOW = """
fs = "38 Hz"
qes = 0.55
qms = 5.0
vas = "14 L"
sd = "215 cm^2"
re = "3.4 ohm"
le = "1.0 mH"
xmax = "9 mm"
rated_power = "250 W"
coils = 1
coil_impedance = "4 ohm"
outer_diameter = "212 mm"
cutout_diameter = "184 mm"
magnet_diameter = "130 mm"
mounting_depth = "74 mm"
rear_gap = "6 mm"
displacement = "0.8 L"
mass = "3.2 kg"
price = "110 EUR"
"""

COMMON = """
[amplifier]
name = "mono 500"
lowest_load = "2 ohm"

[[amplifier.load]]
impedance = "4 ohm"
power = "300 W"

[[amplifier.load]]
impedance = "2 ohm"
power = "500 W"

[stock.terminal_cup]
cutout_diameter = "54 mm"
flange_diameter = "78 mm"
depth = "30 mm"
"""

GOALS = """
[goals]
music_band = ["30 Hz", "80 Hz"]
vent_speed_limit = "17 m/s"
objectives = ["f3_hz", "output_db", "cost"]

[goals.limits]
excursion_ratio = 3.0
"""

WEDGE = f"""
title = "Two inches at the top, five at the bottom"
currency = "EUR"

[space]
width = "1300 mm"
margin = "3 mm"

[[space.measured]]
height = "0 mm"
back = "0 mm"
depth = "172 mm"

[[space.measured]]
height = "510 mm"
back = "0 mm"
depth = "92 mm"

[space.door]
width = "900 mm"
height = "900 mm"
turning_room = "1600 mm"

[box]
kinds = ["closed", "vented"]
back_angle = "0 deg"
breathing_gap = "6 mm"

[[driver]]
name = "shallow 8"
counts = [1, 2]
{SHALLOW}
{COMMON}
[stock]
board_thickness = "15 mm"
board_density = "700 kg/m^3"
board_price = "14 EUR/m^2"

[[stock.pipe]]
name = "pipe 50"
inner_diameter = "46 mm"
outer_diameter = "50 mm"
elbow_radius = "40 mm"
price = "4 EUR/m"

[stock.slot]
height = ["15 mm", "20 mm"]

{GOALS}"""

WHEEL_WELL = f"""
title = "Behind the trim beside a wheel arch"
currency = "EUR"

[space]
width = "760 mm"
margin = "4 mm"

[[space.measured]]
height = "0 mm"
back = "0 mm"
depth = "176 mm"

[[space.measured]]
height = "420 mm"
back = "60 mm"
depth = "136 mm"

[space.door]
width = "700 mm"
height = "700 mm"
turning_room = "1200 mm"

[box]
kinds = ["closed", "radiator"]
back_angle = "8 deg"
breathing_gap = "8 mm"

[[driver]]
name = "shallow 8"
counts = [1]
{SHALLOW}
{COMMON}
[stock]
board_thickness = "15 mm"
board_density = "700 kg/m^3"
board_price = "14 EUR/m^2"
brace_span = "340 mm"

[[radiator]]
name = "radiator 8"
counts = [1]
fs = "20 Hz"
qms = 6.0
vas = "30 L"
sd = "215 cm^2"
xmax = "12 mm"
outer_diameter = "212 mm"
cutout_diameter = "184 mm"
mounting_depth = "50 mm"
most_added = "200 g"
displacement = "0.5 L"
mass = "0.6 kg"
price = "40 EUR"

{GOALS}"""

THIN_JOBS = {"wedge": WEDGE, "wheel-well": WHEEL_WELL}


def thin_job(name: str) -> Scenario:
    return parse_scenario(tomllib.loads(THIN_JOBS[name]), source=name)
