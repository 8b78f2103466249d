"""Silent misreadings are impossible: what looks right and is not, with what must come of it.

Each row is a line as a hobbyist might write it. Either it is read with exactly the meaning given,
or it is refused with the sentence given, marked at exactly the words given.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.chassis import Chassis
from netcheck.language import read
from netcheck.parts import Part

BASE = (
    "line 117 V 60 Hz\n"
    "V3 12AV6: plate PX, grid GX, cathode B-, diode1 DET, diode2 open, heater H1 to B-\n"
)

# line, words marked, fragment of the message, fragment of the remedy
REFUSED = [
    ("C1 0,05 uF 400 V paper: PX to B-", "0,05", "comma inside the number", "0.05"),
    ("R1 1,000 ohm 1/2 W: PX to B-", "1,000", "comma inside the number", "write 1000 if thousands"),
    ("BT1 1.5 A: + AP, - B-", "1.5 A", "is a current", "1.5 V A-battery"),
    ("R1 1K: V3.plat to B-", "V3.plat", "has no terminal plat", "plate"),
    ("R1 1K: V33.plate to B-", "V33.plate", "there is no part V33", "V3?"),
    ("C1 8 mfd 450 V electrolytic: PX to B-", "PX to B-", "which end of it is plus", "+ B1, - B-"),
    ("R1 1K: PX to GND", "GND", "three things", "CHASSIS, B- or EARTH"),
    ("R1 1K: PX to ground", "ground", "three things", "CHASSIS, B- or EARTH"),
    ("R1 1K: PX to E", "E", "three things", "CHASSIS, B- or EARTH"),
    ("C1 10u 50 V electrolytic: + PX, - B-", "10u", "no unit", "10 uF or 10 mfd"),
    ("C1 100n 50 V film: PX to B-", "100n", "no unit", "100 nF"),
    ("C1 3p mica: PX to B-", "3p", "no unit", "3 pF"),
    ("C1 4u7 50 V film: PX to B-", "4u7", "no unit", "4.7 uF"),
    ("R1 470 1/2 W: PX to B-", "470", "one value or two", "470.5"),
    ("R1 470 5 W: PX to B-", "470", "no unit", "470K"),
    ("C1 20-20 mfd 150 V electrolytic: + PX, - B-", "20-20 mfd", "2 values", "C1A, C1B"),
    ("C1 8-8 electrolytic: + PX, - B-", "8-8", "two sections", "8 mfd 450 V"),
    ("R1 -470K: PX to B-", "-470K", "less than nothing", "sign"),
    ("R1 1K, measured 3 V: PX to B-", "3 V", "is a voltage", "unit"),
    (
        "P1 plug, not polarized: hot LA, neutral LB",
        "P1 plug, not polarized: hot LA, neutral LB",
        "either way round",
        "1 LA",
    ),
    ("P1 plug, polarized: 1 LA, 2 LB", "P1 plug, polarized: 1 LA, 2 LB", "is hot", "hot LINE"),
    ("L1 loop antenna loop 1.2 ohm: loop PX to GX, antenna ANT to B-", "loop", "belong", "comma"),
    ("R1 470K replaces 500K: PX to B-", "replaces", "clause of its own", "comma"),
    ("R1 250M 1/2 W: PX to B-", "250M", "250 megohm or 250,000 ohm", "notation M = 1000"),
    ("R1 10 mohm 1/2 W: PX to B-", "10 mohm", "milli or mega", "meg"),
    ("V4 12AV6: heater H1 to HT to B-", "heater H1 to HT to B-", "has no tap", "heater A to B"),
    ("V4 35W4: plate PX, tap HT", "tap HT", "in its place along the path", "A to TAP to B"),
    ("V4 50C5: 3 H4, heater H5 to H3", "3 H4", "pin 3 of a 50C5 is its heater1", "not both"),
    ("V4 50C5: plate PX, 7 GX", "7 GX", "pin 7 of a 50C5 is its plate", "not both"),
    ("V4 50C5: 8 GX", "8 GX", "no pin 8", "it has 1"),
    ("V4 50C5: 7 GX, 7 PX", "7 PX", "pin 7 is wired twice", "wire A to B"),
    ("V4 12BE6: grid GX", "grid", "could mean", "which of them"),
    ("V4 12AX9: plate PX", "12AX9", "do not know the tube type", "type 12AX9"),
    ("R1 1K: R5 to B-", "R5", "may not be named like a part", "another name"),
    ("R1 1K: D4 to B-", "D4", "there is no part D4", "give the node another name (NODE_D4)"),
    ("R1 1K: V3 to B-", "V3", "may not be named like a part", "V3.plate"),
    ("C1 .01 mfd, leaks 2 meg: PX to B-", "leaks", "a line of its own", "reading C1 leakage"),
    ("C1 .01 mfd paper, leaky: PX to B-", "leaky", "a line of its own", "reading C1 leakage"),
    ("R1 1K: PX to 0", "0", "no name for a node", "starts with a letter"),
    ("R1 1K: PX B-", "PX B-", "side by side", "PX to B-"),
    ("R1 1K 1/2 W PX to B-", "-", "no colon", "colon"),
    ("R1 1K: PX to", " ", "ends too early", "commas part clauses"),
    ("R1 1K: PX to B-,", ",", "ends in a comma", "add what is missing"),
    ("R1 1K 10 mfd: PX to B-", "10 mfd", "is a capacitance", "check the unit"),
    ("R1 1K 2K: PX to B-", "2K", "both 1K and 2K", "`or`"),
    ("C1 .1 mfd 400 V papr: PX to B-", "papr", "no word for a capacitor", "paper"),
    ("C1 .1 mdf 400 V: PX to B-", ".1 mdf", "no unit", "mfd (uF) or mmf (pF)"),
    ("R1 1K: PX to GX to B-", "PX to GX to B-", "has two ends", "control"),
    ("R1 100-200 ohm dropper: PX to GX to B- to H1", "100-200 ohm", "2 values", "each section"),
    ("DS1 lamp #47: PX to B-", "p", "comment from the #", "without the #"),
    ("Q1 1K: PX to B-", "Q1", "no part begins with Q", "D1"),
    ("tuchable: PX", "tuchable", "opens a statement", "touchable"),
    ("touchable: PXX", "PXX", "nothing is connected", "PX"),
    ("hold PX 3 mA", "3 mA", "held at a DC voltage", "hold B1 276 V"),
    ("switch S3 at MW", "S3", "no switch", "describe"),
    ('accept loose-end: " "', 'accept loose-end: " "', "needs its reason", "quotation"),
    ('R1 1K "unclosed: PX to B-', '"unclosed: PX to B-', "not closed", "close it"),
    ("R1 1K: PX to B-\x1b", "\x1b", "control character", "delete it"),
    ("line 120 V 60 Hz", "line 120 V 60 Hz", "in line 1", "keep one"),
    ("C1 .1 mfd, replaces .2 mfd, measured .3 mfd: PX to B-", "measured", "old part", "before"),
    ("C1 .1 mfd, replaces .2 mfd, new: PX to B-", "new", "old part", "before"),
    ("R1 1K, on: PX to B-", "on", "reference of a part", "on R6"),
    ("S1 on R9: ON PX to B-", "on R9", "there is no part R9", "describe"),
    ("T2 output: primery PX to B-", "primery", "no winding", "primary"),
    ("P1 plug: hott LA, neutral B-", "hott", "no terminal", "hot"),
    ("D1 silicon: PX to B-", "PX to B-", "which of its terminals", "anode"),
    ("S1: PX to B-", "PX to B-", "which position", "ON A to B"),
    (
        "D1 bridge 400 V 1 A: ac GX to DET, + PX",
        "D1 bridge 400 V 1 A: ac GX to DET, + PX",
        "nothing is told of its -",
        "`- open`",
    ),
    (
        "D1 bridge 400 V 1 A: ac GX, + PX, - B-",
        "D1 bridge 400 V 1 A: ac GX, + PX, - B-",
        "nothing is told of its ac2",
        "`ac A to open`",
    ),
    (
        "D1 bridge 400 V 1 A: + PX, - B-",
        "D1 bridge 400 V 1 A: + PX, - B-",
        "of its ac1 and ac2",
        "ac A to B",
    ),
    (
        "D1 bridge 400 V 1 A: ac GX to B- to DET, + PX, - B-",
        "ac GX to B- to DET",
        "two AC corners",
        "ac A to B, + C, - D",
    ),
    (
        "D1 bridge 400 V 1 A: ac GX, ac DET, ac H1, + PX, - B-",
        "ac H1",
        "two AC corners",
        "ac A to B, + C, - D",
    ),
    (
        "D1 bridge 400 V 1 A: ac GX to DET, ac1 H1, + PX, - B-",
        "H1",
        "its ac1 is connected twice",
        "keep one",
    ),
    (
        "D1 bridge 400 V 1 A: ac GX to DET, + PX, + H1, - B-",
        "H1",
        "its + is connected twice",
        "keep one",
    ),
    (
        "D1 bridge 400 V 1 A: GX to DET, + PX, - B-",
        "GX to DET",
        "two AC corners",
        "ac A to B, + C, - D",
    ),
    (
        "D1 bridge 400 V 1 A: ac open to open, + PX, - B-",
        "open",
        "two diodes in series",
        "anode D, cathode C",
    ),
    ("D1 selenium: ac GX to DET, + PX, - B-", "ac GX to DET", "AC corners", "say bridge"),
]


def _read(line: str) -> Chassis:
    return read(BASE + line, "set")


@pytest.mark.parametrize(
    ("line", "marked", "message", "remedy"), REFUSED, ids=[row[0][:40] for row in REFUSED]
)
def test_is_refused_at_its_words(line: str, marked: str, message: str, remedy: str) -> None:
    chassis = _read(line)

    (found,) = [f for f in chassis.findings if f.rule != "old-notation"]
    assert message in found.message
    assert remedy in found.action
    assert not chassis.was_read
    assert found.span.line == 3
    assert (line + " ")[found.span.column - 1 : found.span.end_column - 1] == marked


def _value(part: Part, role: str) -> float:
    return part.description.values[role].si


# line, what is asked of its last part, the answer
def _corners(part: Part) -> tuple[str, ...]:
    return tuple(t.node for name in ("ac1", "ac2", "+", "-") if (t := part.terminal(name)))


MEANT = [
    ("R1 250M 1/2 W: PX to B-\nnotation M = 1000", lambda p: _value(p, "resistance"), 250e3),
    ("R1 10M 1/2 W: GX to B-", lambda p: _value(p, "resistance"), 10e6),
    ("C1 .05 MFD 400 V: PX to B-", lambda p: _value(p, "capacitance"), 0.05e-6),
    ("C1 0.05 mF 400 V: PX to B-", lambda p: _value(p, "capacitance"), 0.05e-6),
    ("C1 0.05 µF 400 V: PX to B-", lambda p: _value(p, "capacitance"), 0.05e-6),
    ("C1 0.05 μF 400 V: PX to B-", lambda p: _value(p, "capacitance"), 0.05e-6),
    ("C1 250 mmf mica: PX to B-", lambda p: _value(p, "capacitance"), 250e-12),
    ("C1 5000 cm mica: PX to B-", lambda p: round(_value(p, "capacitance") / 5000 * 1e12, 2), 1.11),
    ("C1 8-450 electrolytic: + PX, - B-", lambda p: _value(p, "voltage"), 450.0),
    ("C1 8/450 electrolytic: + PX, - B-", lambda p: _value(p, "capacitance"), 8e-6),
    ("C1 2n2F mica: PX to B-", lambda p: _value(p, "capacitance"), 2.2e-9),
    ("R1 4K7 1/2 W: PX to B-", lambda p: _value(p, "resistance"), 4700.0),
    ("R1 470KΩ 1/2 W: PX to B-", lambda p: _value(p, "resistance"), 470e3),
    ("R1 470K ½ W: PX to B-", lambda p: _value(p, "power"), 0.5),
    ("BT1 22½ V C-battery: + AP, - B-", lambda p: _value(p, "voltage"), 22.5),
    ("R1 470K 1½ W: PX to B-", lambda p: _value(p, "power"), 1.5),
    ("R1 470K 1 1/2 W: PX to B-", lambda p: _value(p, "power"), 1.5),
    ("R1 470K ±10%: PX to B-", lambda p: _value(p, "tolerance"), 0.1),
    ("R1 470K: PX to B–", lambda p: p.nodes, ("PX", "B-")),
    ("R1 470K: PX to HT-", lambda p: p.nodes, ("PX", "B-")),
    ("R1\u00a0470K:\u00a0PX\u00a0to\u00a0B-", lambda p: p.nodes, ("PX", "B-")),
    ("r1 470k: px TO b-", lambda p: (p.ref, p.nodes), ("R1", ("PX", "B-"))),
    ("R1 470K “as found”: PX to B-", lambda p: p.note, "as found"),
    ("R1 470K: PX to V3.grid", lambda p: p.nodes, ("PX", "GX")),
    ("R1 470K: PX to V3.1", lambda p: p.nodes, ("PX", "GX")),
    ("R1 470K: PX to open", lambda p: p.terminals[1].unused, True),
    ("R1 470K: PX, # the comment\n   to B-", lambda p: p.broken, True),
    ("V4 50C5: 3 H4, heater H3 to H4", lambda p: p.broken, False),
    ("V4 50C5: plate PX, # remark\n   screen B2", lambda p: p.terminals[1].node, "B2"),
    ("V4 50C5: plate PX,\n\n   screen B2", lambda p: p.terminals[1].node, "B2"),
    ("C1 .1 mfd 400 V, replaces .2 mfd 600 V paper: PX to B-", lambda p: p.condition.value, "new"),
    ("RT1 ballast 185R8: PX to B-", lambda p: p.description.designation, "185R8"),
    ("RT1 ballast K55B: PX to B-", lambda p: p.description.designation, "K55B"),
    ("DS1 lamp 47: PX to B-", lambda p: p.description.designation, "47"),
    ("D1 bridge: ac GX, ac DET, + PX, - B-", _corners, ("GX", "DET", "PX", "B-")),
    ("D1 bridge: ac1 GX, ac2 DET, positive PX, negative B-", _corners, ("GX", "DET", "PX", "B-")),
    ("D1 bridge: - B-, + PX, AC GX to DET", _corners, ("GX", "DET", "PX", "B-")),
]  # fmt: skip


@pytest.mark.parametrize(("line", "ask", "meant"), MEANT, ids=[row[0][:40] for row in MEANT])
def test_is_read_as_meant(line: str, ask: Callable[[Part], object], meant: object) -> None:
    chassis = _read(line)
    part = next(p for p in chassis.parts if p.ref != "V3")

    assert ask(part) == meant


@pytest.mark.parametrize(
    "line", ["C1 0.05 mF 400 V: PX to B-", "C1 8-450 wet electrolytic: + PX, - B-"]
)
def test_old_notation_is_read_and_said(line: str) -> None:
    chassis = _read(line)

    assert [f.rule for f in chassis.findings] == ["old-notation"]
    assert chassis.was_read


def test_two_references_are_one_finding_that_names_both_lines() -> None:
    chassis = _read("R1 1K: PX to B-\nr01 2K: PX to B-")

    (found,) = chassis.findings
    assert found.rule == "twin-reference"
    assert (found.span.line, found.related[0].span.line) == (4, 3)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_byte_order_marks_move_nothing(end: str, mark: str) -> None:
    chassis = read(mark + (BASE + "R1 1K: V33.plate to B-\nR2 bad: PX to B-").replace("\n", end))

    assert [(f.span.line, f.span.column) for f in chassis.findings] == [(3, 8), (4, 4)]


def test_signs_outside_the_plane_count_as_one_column() -> None:
    line = 'R1 1K "😀 ½ wide": PX to V33.plate'

    (found,) = _read(line).findings

    assert line[found.span.column - 1 : found.span.end_column - 1] == "V33.plate"


def test_all_mistakes_of_a_file_come_in_one_pass() -> None:
    chassis = _read("R1 1K: V33.plate to B-\nC1 papr: PX to B-\nwire PX\nR3 1K PX to B-\nzzz")

    assert [f.span.line for f in chassis.findings] == [3, 4, 5, 6, 7]


def test_both_sides_of_one_part_are_told_at_once() -> None:
    chassis = _read("R1 1K ! 2 W: PX to B- to")

    assert len(chassis.findings) == 2


def test_a_broken_part_is_unknown_and_others_stay_quiet_about_it() -> None:
    chassis = _read("V4 6ZZ6: plate PX\nR1 1K: V4.plate to B-\nR2 1K: V4.screen to B-")

    assert [f.rule for f in chassis.findings] == ["unknown-tube"]


def test_a_lost_continuation_does_not_swallow_the_next_part() -> None:
    chassis = _read("V4 50C5: plate PX,\nR1 1K: PX to B-")

    assert chassis.part("R1") is not None
    assert [f.span.line for f in chassis.findings] == [3]
