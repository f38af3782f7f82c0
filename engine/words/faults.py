"""Every fault there is: its code, what kind of thing is wrong, and its sentence in the words of a file and of a form.

The registry is closed: a fault of another code cannot be made, and a sentence without one of its two forms, or a
form that speaks of a file's signs, fails the import.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from engine.words.voice import Voice, names_in

Concern = Literal["wrong", "missing", "empty", "unknown", "part", "apart"]


@dataclass(frozen=True)
class Sentence:
    """One code's templates; see :mod:`engine.words.voice` for what may stand in them.

    ``concern`` says what kind of thing is wrong: a value is ``wrong``; something is ``missing`` that must be there;
    a list is there, but ``empty`` or too short; the key is ``unknown``; a whole ``part`` of the file is none; or two
    values that read well are ``apart``, which may be so only because one of them is still to be typed.
    """

    file: str
    form: str
    concern: Concern = "wrong"

    @property
    def parameters(self) -> set[str]:
        return names_in(self.file) | names_in(self.form)


def _missing(file: str, form: str | None = None) -> Sentence:
    """Something that must be there: a form asks for it in its own words, or says to fill it in and why."""
    return Sentence(f"is missing: {file}", form or f"fill it in; {file}", "missing")


def _apart(words: str) -> Sentence:
    """Of values that contradict each other."""
    return Sentence(words, words, "apart")


def _row(words: str) -> tuple[str, str]:
    """Of a row of measurements: beside it in the form nobody needs to be told which."""
    return f"row {{row}}: {words}", words


_NO_SUCH_FIELD = "a job has no such field: drop it or rename it"
_NO_PART = "what the file says here cannot be read: fill in the fields of this part"
_POINT = "write {point} with a point"
_THOUSANDS = "write {point} with a point, or {without} without the comma"
_ADD_VENT = "add at least one pipe or a slot, or untick Vented under Boxes to try"
_ADD_RADIATOR = "add at least one, or untick Passive radiator under Boxes to try"
_NOTHING_LEFT = "nothing of the space that a box could stand in"
_CELLS = "expected {columns} cells, as many as there are columns, not {count}"
_CHECK = "check their positions and sizes"
_BOARD = "the board's thickness ({board})"
_BEHIND = "the board behind its flange ({board})"  # of a double baffle both layers, less what the flange is sunk
_AS_THE_ROW_BELOW = "stands at {height} as row {below} does"

# What a sentence is in the words of a file; a form's are beside it where labels alone do not make the one of the other.
_TEMPLATES: dict[str, Sentence | tuple[str, str] | str] = {
    # keys and tables
    "unknown_key": Sentence("is not a key here; known are {known}", _NO_SUCH_FIELD, "unknown"),
    "unknown_key_near": Sentence("is not a key here{near}", _NO_SUCH_FIELD, "unknown"),
    "unknown_key_of_nothing": Sentence("is not a key here; nothing stands here", _NO_SUCH_FIELD, "unknown"),
    "missing_field": _missing("expected {wanted}", "fill in {wanted:fill}"),
    "missing_table": _missing("expected a table {part}", _NO_PART),
    "missing_tables": _missing("expected one or more tables [{part}]", _NO_PART),
    "one_table": Sentence("expected one table {part}", _NO_PART, "part"),
    "one_table_single_brackets": Sentence("expected one table with single brackets, {part}", _NO_PART, "part"),
    "tables_double_brackets": Sentence("expected one or more tables with double brackets, [{part}]", _NO_PART, "part"),
    "too_many_tables": ("expected at most {most} tables", "expected at most {most} of them"),
    # values
    "other_form": "expected {wanted}",
    "empty_list": Sentence("expected {wanted}", "expected {wanted}", "empty"),
    "empty": Sentence("expected {wanted:one}", "fill in {wanted:fill}", "missing"),
    "empty_quantity": Sentence("expected a finite number, then its unit", "fill in {wanted:fill}", "missing"),
    "too_many_items": "expected at most {most} items",
    "item_twice": "expected each item once",
    "no_corner": ("expected a pair of lengths [forward, up] such as {wanted:corner}",
        "expected two lengths, forward and up, such as {wanted:corner}"),
    "no_point": "expected a pair, {wanted:one}, then {against:one}",
    "lowest_first": "expected the lowest first, then the highest",
    "out_of_range": "expected {wanted:span}{near}",
    "too_long_text": "expected at most {most} characters",
    "unfit_text": ("has a sign in it that nobody can read ({sign}): take it out, or write it anew",
        "there is a sign in it that nobody can read ({sign}): write it anew"),
    "no_text": "expected {wanted:one}",
    "no_choice": "expected {wanted:one}{near}",
    "bare_number": ("a bare number: expected {wanted:one}, in quotes", "add the unit: expected {wanted:one}"),
    "text_without_unit": ("a bare number: expected {wanted:one}", "add the unit: expected {wanted:one}"),
    "no_quantity": ("expected {wanted:one}, in quotes", "expected {wanted:one}"),
    "no_number": "expected {wanted:one}",
    "number_in_quotes": ("expected {wanted:one}, without quotes", "expected {wanted:one}"),
    "number_with_decimal_comma": ("expected {wanted:one}, without quotes", _POINT),
    "number_with_comma_of_thousands": ("expected {wanted:one}, without quotes", _THOUSANDS),
    "decimal_comma": ("write decimals with a point, such as 1.5, and no thousands separators", _POINT),
    "comma_of_thousands": ("write decimals with a point, such as 1.5, and no thousands separators", _THOUSANDS),
    "too_long_for_a_quantity": "expected a number and a unit, nothing longer",
    "inches_after_feet": "expected less than 12 inches after the feet",
    "ounces_after_pounds": "expected less than 16 ounces after the pounds",
    "other_currency": "all prices are in one currency, here {currency}: expected {wanted:one}",
    "no_finite_number": ("expected a finite number, then its unit", "expected a number, then its unit"),
    "zero_below_the_line": ("expected a finite number, then its unit: a fraction cannot have 0 below the line",
        "expected a number, then its unit: a fraction cannot have 0 below the line"),
    "unit_does_not_fit": ('the unit "{unit}" does not fit: expected {wanted:one}',
        "the unit {unit} does not fit: expected {wanted:one}"),
    # the document itself
    "no_file": "is no file",
    "no_such_file": "there is no such file",
    "file_too_large": "is {size:.1f} MB: expected a text file of at most 1 MB",
    "not_utf8": "is not text in UTF-8: save it as plain text, encoding UTF-8",
    "unreadable": "cannot be read: {reason}",
    "empty_file": "is empty",
    "no_toml": "is not valid TOML at line {line}, column {column}: {reason}",
    "stands_twice": "is not valid TOML at line {line}, column {column}: a key or table stands there twice",
    "endless_number": "is not valid TOML: a number has far too many digits",
    "nested_too_deeply": "is not valid TOML: tables or brackets are nested too deeply",
    "endless_number_at": "holds a number that has far too many digits",
    "too_many_keys": ("holds {count} keys: expected at most {most} in one table",
        "holds {count} fields: expected at most {most} in one part"),
    "too_many_values": "holds far more than any job does: expected at most {most} values",
    "line_too_long": "is longer than any row of figures: expected at most {most} signs",
    "too_many_faults": "was read no further, since nearly all of it is at fault",
    "too_many_columns": "has {count} columns: expected at most {most}",
    "too_many_lines": "has {count} lines: expected at most {most} drivers",
    "no_column": "expected a column of this name",
    # a catalogue of drivers
    "catalogue_empty": "is empty: expected a line that names the columns, then a line for each driver",
    "no_csv": "is not valid CSV at line {line}: {reason}",
    "column_unnamed": Sentence("expected a name, since something stands below it", _NO_PART, "part"),
    "column_twice": "expected each column once",
    "too_many_cells": (f"{_CELLS}: put quotes round what has a comma in it", _CELLS),
    # the job as a whole
    "no_currency": "expected three capital letters, such as EUR or USD",
    "currency_missing": _missing("prices need one, such as EUR"),
    "needed_by_goals": _missing("{goals} among the goals {goals:needs/need} it"),
    "one_goal": Sentence("expected at least two objectives to trade", "choose at least two goals", "empty"),
    "no_levels": "expected one to {most} whole frequencies, rising",
    "level_not_fed": "expected none below {least}, the lowest frequency that the box is fed",
    "level_not_named": "expected a level at one of the frequencies named in levels: {levels}",
    "no_band": "expected a band: the highest above the lowest",
    "vent_missing": _missing('vented boxes need a pipe size or {slot}, or set box.kinds = ["closed"]', _ADD_VENT),
    "radiator_missing": _missing(
        'expected one or more tables [[radiator]], or take "radiator" out of box.kinds', _ADD_RADIATOR),
    "name_twice": "expected another name than that of {other}",
    # a box that is given
    "size_twice": "expected either {stated:or}, not both",
    "bound_of_held": ("{held} holds it already: leave one of them out",
        "the size that every box shall have holds it already: leave one of them out"),
    "held_beyond_space": "expected at most {most}, which is what the space leaves a box",
    "held_beyond_door": "expected at most {most}, or no box of it can be turned behind the door",
    "held_without_place": "no place in the space holds a box of these sizes: they are too large by {by}",
    "held_not_through_door": "no box of these sizes goes through the door: they are too large by {by}",
    "held_too_thin": "expected at least {least} between the boards where the box is thinnest ({at})",
    "held_too_steep": "these sizes lean the baffle by {lean}: expected at most {most}, as far as the saw tilts ({saw})",
    "lean_besides": "expected two of the section: {stated} already give it",
    "volume_besides": "expected one of the sizes left out, to be worked out from it",
    "volume_of_no_size": "no size that is left out gives it",
    "size_missing": _missing("expected {sizes:or}"),
    "walls_meet": f"these sizes leave no inside: expected more than {_BOARD} on all sides",
    "not_of_this_kind": "{noun} has none: leave it out",
    "opening_twice": "expected either {ways:or}, not both",
    "opening_missing": _missing("expected {ways:or}"),
    "given_untuned": _missing("expected {ways:or}, the other is worked out"),
    "no_such_part": "expected one of {known:or}, as listed",
    "part_unnamed": _missing("expected one of {known:or}"),
    "piece_without_shape": "expected one of {stated:or}",
    "no_such_load": "expected {loads:or}, to which its drivers can be wired",
    "no_air_left": "drivers, braces and vents leave no air in the box",
    "no_such_tuning": "the box cannot be brought to it, only from {low} to {high}",
    "tuning_jumps": "the box cannot be brought to it, only to {low} and to {high}: "
    "in between pipes, slot or braces have to lie otherwise",
    # the space
    "outline_twice": (
        "expected either section (corners) or measured (rows of measurements), not both: take one of them out",
        "expected either corners or measurements, not both: take one of them out"),
    "outline_missing": _missing("expected section (corners) or measured (rows of measurements)",
        "fill it in; expected corners or measurements"),
    "few_corners": "expected at least 3 corners, in order around the outline; there are {count}",
    "last_corner_first": "the last corner repeats the first: leave it out, the outline closes by itself",
    "corner_twice": "corners {one} and {other} are the same point: name each corner once",
    "corners_on_a_line": "the outline encloses no area: its corners lie on one line",
    "outline_crosses": "the outline crosses or touches itself: the edge from corner {one} to {one_end} "
    "meets the one from {other} to {other_end}; list the corners in order around it",
    "corner_behind": "corner {corner} lies behind the rearmost point of the space, from where measurements are taken",
    "corner_below": "corner {corner} lies below the floor, from where measurements are taken",
    "two_stretches": "the outline turns back at a height of {height}, so some height has two stretches of space",
    "outline_unfinished": "fill in every field and put right what is marked first; then it can be changed over",
    "space_too_thin": "expected a space at least {least}; were {mixed}?",
    "few_rows": "expected at least two rows, from the lowest height to the highest",
    "rows_without_area": "the rows enclose no area: expected at least one of them to have a depth above {nothing}",
    "row_order_within": _row(
        "expected a height from {low} (row {below}) to {high} (row {above}): list the rows from the floor up"),
    "row_order_low": _row("expected a height of at least {low} (row {below}): list the rows from the floor up"),
    "row_order_high": _row("expected a height of at most {high} (row {above}): list the rows from the floor up"),
    "row_unit_within": _row("expected a height from {low} (row {below}) to {high} (row {above}); were {mixed}?"),
    "row_unit_low": _row("expected a height of at least {low} (row {below}); were {mixed}?"),
    "row_unit_high": _row("expected a height of at most {high} (row {above}); were {mixed}?"),
    "ledge_of_three": _row(f"{_AS_THE_ROW_BELOW}, and a level ledge is two rows: leave this one out"),
    "row_twice": _row(f"{_AS_THE_ROW_BELOW}, and says the same: leave it out"),
    "ledge_at_the_bottom": _row(
        f"{_AS_THE_ROW_BELOW}, and nothing lies below them to make it a ledge: leave one of them out"),
    "ledge_at_the_top": _row(
        f"{_AS_THE_ROW_BELOW}, and nothing lies above them to make it a ledge: leave one of them out"),
    "ledge_apart": _row(_AS_THE_ROW_BELOW + ", and its space from {back} to {front} forward does not meet that row's "
        "from {back_below} to {front_below}: check both"),
    "row_without_depth": _row(
        "a depth of {nothing} would cut the space in two; only the lowest and the highest row may have it"),
    "depth_in_other_unit": _row("rows {one} and {other} lead to about {leads} here; were {mixed}? "
        "If it is right, add a row close below and one close above it"),
    "end_in_other_unit": _row(
        "rows {one} and {other} lead to about {leads} here; were {mixed}? If it is right, add a row close to it"),
    "keepout_without_extent": "expected two different places, from and to",
    "keepout_unplaced": _missing("expected a range from and to, or section (corners) in place of forward and up",
        "fill it in; expected a range from and to, or corners in place of forward and up"),
    "keepout_placed_twice": ("expected either section or forward and up, not {stated}",
        "expected either corners or forward and up, not both"),
    "too_many_keepouts": "expected at most {most}: join those that stand together into one",
    "keepout_beside": "beside the space, so it keeps nothing out: check from where it was measured",
    "keepout_outside": "outside the space's cross-section, so it keeps nothing out: check from where it was measured",
    "keepout_leaves_nothing": f"leaves {_NOTHING_LEFT}: check its position and size",
    "keepouts_leave_nothing": f"together the keep-outs leave {_NOTHING_LEFT}: {_CHECK}",
    "keepouts_and_clearances_leave_nothing": f"together keep-outs and clearances leave {_NOTHING_LEFT}: {_CHECK}",
    "clearance_leaves_nothing": f"leaves {_NOTHING_LEFT}",
    "clearances_leave_nothing": f"together the clearances leave {_NOTHING_LEFT}",
    "margin_leaves_nothing": "leaves nothing of the space",
    "margin_leaves_no_box": "leaves no room for a box of this board ({board})",
    "board_leaves_no_room": "leaves no room inside a box: margin off, a round bar in the space is at most {bar} thick",
    # drivers and radiators
    "sheet_disagrees": _apart("{given} give {follows} ({deviation}): check which of them was mistyped; "
        "if the sheet is printed so, leave out {extra:or}"),
    "sheet_disagrees_on": _apart("{given} give {follows} ({deviation}): the rest of the sheet agrees, so check "
        "{suspects}; if the sheet is printed so, leave out {extra:or}"),
    "moving_mass": _apart("{given} give a moving mass of {mass}, where {least} to {most} is plausible: "
        "check their units and digits"),
    "driver_falls_through": _apart("expected less than {outer} ({size}), or the driver falls through"),
    "magnet_through_hole": _apart("expected at most {cutout} ({size}), or the driver cannot go in from the front"),
    "cone_beyond_flange": _apart("expected less than the area within {outer} ({area})"),
    "goes_together": _missing("{one} and {other} go together"),
    "losses_twice": _apart("is another way to state the losses that {lossy} state: leave one of the two out"),
    "coil_twice": _apart("expected {nothing}: {wright} {wright:states/state} the coil in another way"),
    "coil_otherwise": _apart("{wright} {wright:states/state} the coil in another way: leave it out"),
    "coil_nominal": _apart("one coil of {each} is nominally {nominal}, so expected {low:.3g} to {high}: "
        "check {suspects}"),
    "coils_nominal": _apart("{coils} coils of {each} in {wiring} are nominally {nominal}, so expected {low:g} to "
        "{high}: check {suspects}"),
    "within_board": f"expected more than {_BEHIND}",
    "magnet_too_deep": _apart("expected less than {most}, which is {mounting} ({depth})"),
    "magnet_too_deep_less_board": _apart("expected less than {most}, which is {mounting} ({depth}) less " + _BEHIND),
    "terminals_too_deep": _apart("expected at most {mounting} ({depth})"),
    # amplifier and stock
    "load_twice": "expected each load once",
    "loads_too_low": "expected at least one load of {lowest} ({which}) or more",
    "elbow_too_tight": "expected at least half of {outer} ({size}): it is of the centre line",
    "socket_without_bend": "a socket is that of a bend; state {bend} too",
    "socket_not_whole": "expected {other} with it",
    "socket_too_narrow": "expected more than {outer} ({size}), which goes into it",
    "no_wall": "expected less than {outer} ({size})",
    "double_not_in_front": "expected single alone, since drivers may sit elsewhere than in the baffle ({facings})",
    "recess_too_deep": "expected at most {most}: screws need {hold} of board behind the flange",
    "rounder_than_board": f"expected at most {_BOARD}",
    "steeper_than_saw": "expected at most {most} either way, as far as the saw tilts ({saw})",
    "back_is_bevelled": "expected 1 or more, since the back leans ({back})",
    "cup_within_board": f"expected more than {_BOARD}, from its outer face",
    "cup_falls_through": "expected more than {cutout} ({size}), or the cup falls through",
    # filters and chain
    "no_filter_has_none": ('a filter of kind "none" has none', "no filter has none"),
    "no_filter_twice": ('expected one filter of kind "none"; widen its frequency range instead',
        "expected no filter only once"),
    "filter_twice": "expected one filter of order {order}, {shape}; widen its frequency range instead",
    "own_filter_twice": "expected one filter of order 2 and Q {q}; widen its frequency range instead",
    "high_pass_incomplete": _missing("a high-pass needs order and frequency"),
    "own_filter_of_order_2": "expected 2, or none stated: a filter of your own Q has order 2",
    "own_filter_without_q": _missing("a filter of your own needs its Q"),
    "q_follows": ('the Q of a {shape} follows from its order: leave it out or set shape = "own"',
        "the Q of a {shape} follows from its order: leave it out or choose your own Q as shape"),
    "no_such_order": "there is no {shape} of order {order}: {orders:or}",
    "no_crossover": ("there is no crossover to have it: set low_pass = {shapes:or}",
        "there is no crossover to have it: choose one first"),
    "crossover_incomplete": _missing("a crossover needs order and frequency"),
    "band_incomplete": _missing("{stated} is of a band, which needs {band}"),
    # the cabin
    "no_cabin": Sentence(
        "expected one of largest_dimension (an estimate), file or table (a measurement); none is stated", _NO_PART,
        "part"),
    "cabin_twice": Sentence(
        "expected one of largest_dimension (an estimate), file or table (a measurement); {stated} are stated", _NO_PART,
        "part"),
    "offset_of_estimate": "is added to what was measured, and an estimate has nothing of the kind: leave it out",
    "leak_of_measurement": "is of the estimate, and a measurement has the leaks in it: leave it out",
    "file_from_nowhere": "cannot be looked for from here: expected its points under table",
    "few_points": "expected at least {least} points",
    "point_not_rising": "expected a frequency above the {before} Hz of the point before",
    "measurement_too_large": "expected a text file of at most 1 MB",
    "measurement_empty": "is empty: expected rows of frequency in Hz and level in dB",
    "mixed_commas": "commas between columns and in numbers: "
    "write decimals with a point, or a semicolon between columns",
    "in_kilohertz": "expected frequencies in Hz, not in kHz",
    "columns_swapped": "expected frequency first, then dB",
    "few_columns": "expected two columns: frequency in Hz and level in dB",
    "no_frequency": "expected a frequency of {low} to {high} Hz, as a plain number",
    "no_frequency_but_kilohertz": "expected a frequency of {low} to {high} Hz, as a plain number; was it in kHz?",
    "no_level": "expected a level of {low} to {high} dB, as a plain number",
    "line_not_rising": "expected a frequency above the {before} Hz of line {line}",
    "few_lines": "has {count} points: expected at least {least}",
    "many_lines": "has {count} points: expected at most {most}",
    "no_bass": "goes from {low} Hz to {high} Hz: expected bass, some 20 Hz to 200 Hz; is it in Hz?",
    # a sweep of impedance
    "sweep_empty": "is empty: expected rows of frequency and impedance",
    "sweep_no_figures": "expected rows of figures, frequency and impedance, and found none",
    "sweep_one_column": "expected at least two figures, frequency and impedance",
    "sweep_row": "expected {columns} figures, as in the other rows",
    "sweep_columns": "{count} columns that nothing names: expected frequency, impedance and, if it is there, phase, in "
    "that order, or a line above them that names them, such as Frequency (Hz), Impedance (ohm), Phase (deg)",
    "sweep_column_twice": "more than one column is named as {role}: leave one of them out",
    "sweep_no_column": "no column is named as {role}",
    "sweep_decibels": "expected the impedance in ohm or kohm, not in dB",
    "sweep_no_number": "expected {role}, a plain finite number",
    "sweep_frequency": "expected a frequency above 0 and up to {high} Hz",
    "sweep_impedance": "expected an impedance of {low} to {high} ohm",
    "sweep_kilohertz": "goes from {low} Hz to {high} Hz: write kHz above the column if that is what they are",
    "sweep_phase_unit_missing": "has phases up to {most}, which may be radians or a few degrees: write deg or "
    "rad above the column, or leave it out",
    "sweep_phase_range": "has phases up to {most}: that of a loudspeaker's impedance lies within 90 degrees (1.57 rad) "
    "of 0; is the unit right?",
    "sweep_phase_unit": "has phases that go with the impedance as {other}, not as {stated}: write the right unit above "
    "the column",
    "sweep_phase_sign": "has phases of the wrong sign: below a peak of the impedance the phase of a loudspeaker is "
    "positive; turn the sign, or leave the column out",
    "sweep_phase_apart": "has phases that do not go with the impedance: is the column a phase, and of this "
    "sweep? Leave it out",
    "sweep_span": "goes from {low} Hz to {high} Hz: expected it from {first} Hz or below to {last} Hz or above, since "
    "the resonances lie between",
    "sweep_coarse": "has {count} points from {low} Hz to {high} Hz, where the resonances lie: at least {least} are due",
    "sweep_flat": "is flat, {low} to {high} ohm: is the loudspeaker connected, and not a resistor or a short?",
    "sweep_clipped": "stays at {most} ohm from {low} Hz to {high} Hz, over {count} points: the instrument was at its "
    "end there; choose a larger range or a larger series resistor",
    "sweep_noisy": "scatters by {scatter} % from point to point, too much to tell the resonances: measure at a higher "
    "level or in a quieter place, with all contacts tight",
    "sweep_no_peak": "shows no peak between {low} Hz and {high} Hz, where one is due: is this the sweep of the "
    "loudspeaker, and does it go through its resonance?",
    "sweep_low_peak": "shows {count} of the {due} peaks that are due: does it begin low enough? It does so at {low} Hz",
    "sweep_one_peak": "shows {count} of the {due} peaks that are due between {low} Hz and {high} Hz: one is what a box "
    "without its opening has. Is the opening shut, does the box leak widely, or is this a sweep of something else?",
    "no_sweep": "expected a file with a sweep of the finished box or of its driver",
    "no_amount": "expected an amount above 0 with its unit, such as {example}",
    "not_so_in_series": "expected a number that divides the {count} drivers of the design",
    "sweep_unsure": "leaves the tuning open between {low} Hz and {high} Hz, which tells nothing: more points between "
    "10 Hz and 100 Hz, and less noise",
    # one stated design
    "vent_loss_of_none": "is the loss of a vent, and {noun} has none",
    "vent_loss_of_radiator": "is the loss of a vent, and a passive radiator states its own, as qms",
    "inertance_of_none": "is shared by driver and opening, and {noun} has none",
    "vent_table_missing": _missing("{noun} needs a table [vent] with diameter and tuning or length", "add a vent"),
    "vent_of_other": ('{noun} has no vent: take [vent] out, or set box.kind = "{kind}"',
        "{noun} has no vent: leave it out"),
    "no_bore": "expected diameter, or width and height of a slot; none is stated",
    "bore_twice": "expected diameter, or width and height of a slot; {stated} {stated:is/are} stated",
    "radiator_table_missing": _missing(
        "{noun} needs a table [radiator] with their data sheet and tuning or added_mass", "add a passive radiator"),
    "radiator_of_other": ('{noun} has no passive radiator: take [radiator] out, or set box.kind = "{kind}"',
        "{noun} has no passive radiator: leave it out"),
    "tuning_of_own_air": _missing("with the box's own air stated {built} does not tell it"),
    "tuned_twice": "expected either {built} or tuning, the other is worked out; both are stated",
    "untuned": "expected either {built} or tuning, the other is worked out; neither is stated",
    "sweep_backwards": ("expected more than sweep.start", "expected more than the lowest frequency"),
    "vent_shorter_than_none": "expected less than {highest}, which a mere hole of this size gives: "
    "lower the tuning, widen the vent or add one",
    "radiator_lighter_than_bare": "expected less than {highest}, which the radiator with nothing added gives: "
    "lower the tuning or take a lighter radiator",
    # the command line
    "no_demo": "there is no such file, nor a demo job of that name ({known}){near}",
    "no_table": "expected a table as a search writes it: {reason}",
    "table_not_as_written": "is not as the search wrote it, damaged or changed since; {others:and} beside it "
    "{others:is/are} whole: search again, or put the file back as it was",
    "record_not_as_written": "is not as the search wrote it, damaged or changed since, so nothing tells whether what "
    "lies beside it is whole: search again, or put the file back as it was",
    "search_before": "holds the search before that one, whole: name this folder to go on with it",
    "too_large_for_search": "is larger than anything that a search writes",
    "no_job": "is no job that wedgefront saved, or not all of it",
    "job_too_large": "is larger than any job that wedgefront saves",
    "job_of_later_version": "was saved by {by}, which is newer than {own}: update wedgefront to open it; "
    "the file stays as it is",
    "no_record": "expected the record that a search writes, with the goals it was for",
    "other_job": "was found with another job: expected the scenario that was searched, but for its tolerances",
    "no_figures": "is a goal of the search, but the front has no figures of it",
    "no_price": "no design that can be built was found, so there is none to price more room by: "
    "let it try more, or search the job to see what it is short of",
    "no_folder": "say with --found in which folder the front of this design lies",
    "no_design": "the front has no such design: expected the id of one of its {designs}",
    "no_wish": "say with --more what there should be more of, or with --at a level, such as {example}",
    "no_goal": "is no goal of this front: expected one of {known}{near}",
    "wished_twice": "is wished for in two ways: name it once",
    "no_wished_level": "expected a goal and its level, such as {example}",
    "no_group": "there is no such group: expected one of {known}",
    "group_twice": "is the same group twice: expected two that differ",
    "one_group": "leaves nothing to compare: there is {known} only",
    "many_groups": "there are {known}: name two of them",
    "out_is_a_file": "expected a folder, but {existing} is a file",
    "out_is_blocked": "{name} in it is a folder and in the way",
    "out_in_the_way": "{name} in it is none that this command wrote, was changed since or is locked: take another "
    "folder, or ask to replace it (--replace)",
    "build_in_the_way": "{name} in it is none that a build wrote, or was changed since: take another folder, or ask "
    "to replace it (--replace)",
    "build_needs_sizes": (
        "states a box by its volume, from which no board can be cut: expected a table [given] with its sizes",
        "a volume says nothing of boards: state the box by its sizes",
    ),
    "build_needs_job": "does not say of which job it is: name that with --job",
    "build_which": "say which design: the id of one of its {designs}, such as {example}",
    "build_one": "the file gives one box: there is no id to choose by",
    "build_no_pick": "has no front to build of: search it first",
    "build_sticks_out": "cannot be built: {one} sticks out of {other}",
    "build_shares_place": "cannot be built: {one} and {other} are in the same place",
    "build_does_not_fit": "of board as thick as that ({board}) the box has no air left inside",
    "out_unwritable": "expected a folder you may write to: {reason}",
    "catalogue_changed": "holds a catalogue that was begun with another {changed:or}: go on with that one, "
    "or take another folder",
    "catalogue_at_work": "is being searched into by another running wedgefront: wait until that has ended, or take "
    "another folder",
    "inputs_unreadable": "is not as it was written, damaged or changed since: delete it, and the same command goes on "
    "with the tasks that are kept there, if they are of the same catalogue",
    "task_unreadable": "is not as it was written: delete it, and what it held is tried again",
    "workers_lost": "the processes that searched were lost: what they had finished is kept, the same command goes on",
    "other_version": "its workers have version {theirs} of wedgefront, this is {own}: install the same",
    "no_cluster": "no cluster answers there: {reason}",
    "no_dask": "needs a part that is not installed: install wedgefront with its extra dask",
    "workers_of_cluster": "the cluster at {address} has its own: leave it out",
    "no_wav": "cannot be read as a WAV file: export it anew as WAV with 16 bits",
    "wav_large": "is larger than {megabytes} MB: cut out the part you want to hear",
    "wav_channels": "has {count} channels: expected one or two",
    "wav_rate": "has {rate} samples a second: expected 4000 to 384 000",
    "wav_length": "lasts {seconds} s: expected 0.1 s to {minutes} minutes",
    "wav_numbers": "holds samples that are no numbers: export it anew",
    "wav_without_bass": "has nothing below 200 Hz, so a subwoofer would be silent",
    "no_sound": "there is no such sound: expected {known:or}, or a WAV file",
    "driven_too_hard": "driven so hard, cone or coil would find no end: nothing true could be heard",
    "port_in_use": "cannot be used ({reason}): close what uses it, or choose another",
    "port_in_use_but": "cannot be used ({reason}): {free} is free, --port {free} takes it",
    "no_such_host": "is no address of this computer to listen at ({reason}): leave it out, or take 0.0.0.0 for all",
    "no_password": "lets other computers in, which needs a password: put it into a file (--password-file) or into the "
    "environment variable {variable}, or start this in a terminal, where it is asked for",
    "passwords_differ": "the two passwords differ: start again",
    "password_too_short": "is too short a password: expected {least} characters or more",
    "sheet_designs": "holds one to three boxes: expected as many ids of the front, parted by spaces",
    "not_on_sheet": "is none of the boxes of the sheet: expected one of {known}",
    "sheet_price": "expected the id of a box on the sheet and what the customer is to read, such as {example}",
    "sheet_text": "is longer than there is room for on the sheet: expected {most} letters at most",
    "logo_large": "is too large for a logo: expected at most {most}",
    "logo_wide": "is too large for a logo: expected at most {most} pixels each way",
    "logo_kind": "is no picture that can be a logo: expected a PNG or SVG file",
    "logo_broken": "cannot be read as a picture: save it as a PNG once more",
    # why a search is impossible
    "nothing_in_stock": "only {kinds} boxes are allowed, but what these need is not listed: "
    "add a pipe size or a slot for vented boxes, a passive radiator for radiator boxes",
    "no_wiring": "no wiring of {drivers} gives a load that {amplifier} may drive (lowest load {lowest_load}): "
    "add a load to {part} or another driver",
    "bound_outside": "{bound} asks for {least} to {most}, but the board needs {low}, the space leaves {high}, and "
    "sizes come in steps of {step}: loosen the bound or measure the space again",
    "nothing_left_of_space": "margin, clearances, carpet and keep-outs leave nothing of the space: lower them or "
    "measure again",
    "none_of_catalogue": "of {drivers} drivers none goes into a box that can be built: {table} "
    "says what each is short of",
    "none_tried": "the search was cancelled before any design was tried",
    "few_tried": "none of the {tried} boxes tried can be built: the nearest one is short of {short}. "
    "So few tell little: let it try {enough} or more",
    "none_feasible": "none of the {tried} boxes tried can be built: the nearest one is short of {short}. "
    "Try a smaller or shallower driver, a larger space, or looser bounds and limits",
}  # fmt: skip
_OF_A_FILE = re.compile(r'["\[\]=]|\b[a-z]+_[a-z]+\b|\b[a-z]+\.[a-z]+\b')


def _whole(templates: Mapping[str, Sentence | tuple[str, str] | str]) -> dict[str, Sentence]:
    """The registry, each code with both its sentences.  Raises ValueError where one of them is none."""
    found = {}
    for code, template in templates.items():
        match template:
            case Sentence():
                found[code] = template
            case (file, form):
                found[code] = Sentence(file, form)
            case str():
                found[code] = Sentence(template, template)
        sentence = found[code]
        bare = re.sub(r"\{[^}]*\}", "", sentence.form)
        if not sentence.file or not sentence.form or _OF_A_FILE.search(bare):
            raise ValueError(f"{code} has no sentence for a file, or none for a form: {bare!r}")
    return found


SENTENCES = _whole(_TEMPLATES)


def check_fault(code: str, parameters: Mapping[str, Any]) -> None:
    """Raise ValueError for a code that is none, or without all that its sentences ask for."""
    if code not in SENTENCES:
        raise ValueError(f"there is no fault {code!r}")
    if lacking := SENTENCES[code].parameters - set(parameters):
        raise ValueError(f"{code} must say {lacking}")


def what_is_wrong(code: str, parameters: Mapping[str, Any], voice: Voice) -> str:
    """A fault's sentence in a voice, without where it is or what stands there."""
    sentence = SENTENCES[code]
    return voice.say(sentence.form if voice.form else sentence.file, parameters)
