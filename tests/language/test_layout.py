"""Layout: what was written reads as the same chassis, and laying it out again changes nothing.

Belongs here: whole sets, those of the checkout and those that hypothesis makes of every kind of
part, clause and statement. Does not belong here: what a layout looks like on a screen.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from netcheck.chassis import Chassis
from netcheck.language import read, read_file
from netcheck.language.layout import NotWritable, write
from netcheck.language.quantities import UNITS
from netcheck.language.vocabulary import KINDS, LETTERS

from ..plausible import a_plausible_set, plausible_sets

WIDTH = 78
CHECKOUT = Path(__file__).resolve().parents[2]
SETS = sorted(
    [*CHECKOUT.glob("examples/*.chassis"), *CHECKOUT.glob("tests/language/sets/*.chassis")]
)

Draw = st.DrawFn


def _holds(chassis: Chassis) -> None:
    """All that the layout promises, for one chassis that was read."""
    text = write(chassis)
    again = read(text, chassis.file)

    assert again.findings == (), text
    assert again == chassis, text
    assert write(again) == text
    for line in text.split("\n"):
        assert _is_narrow(line), line


def _is_narrow(line: str) -> bool:
    """78 columns, unless one clause or one string alone is longer than a line."""
    outside = re.sub(r'"[^"]*"', '""', line.strip())
    return len(line) <= WIDTH or line.startswith("#") or not re.search(r"[,:] ", outside)


# --- sets of the checkout -----------------------------------------------------------------------


def test_there_are_sets_to_lay_out() -> None:
    assert len(SETS) >= 9


@pytest.mark.parametrize("file", SETS, ids=lambda file: file.stem)
def test_a_set_of_the_checkout_stays_itself(file: Path) -> None:
    _holds(read_file(file))


@given(plausible_sets())
@settings(max_examples=40)
@example(a_plausible_set(1, 2000))
def test_an_invented_set_stays_itself(text: str) -> None:
    chassis = read(text)
    assert chassis.findings == ()
    _holds(chassis)


@pytest.mark.parametrize("file", SETS, ids=lambda file: file.stem)
def test_comments_and_headings_stay_in_their_order(file: Path) -> None:
    chassis = read_file(file)

    kept = re.findall(r"(?m)^# ?(?:--- )?(.*)$", write(chassis))

    assert kept == [remark.text for remark in chassis.remarks]


def test_a_set_that_was_not_read_whole_is_not_written() -> None:
    chassis = read("R1 470K: A1 to B-\nC1 papr: A1 to B-\n", "broken.chassis")

    with pytest.raises(NotWritable, match=r"broken\.chassis was not read whole"):
        write(chassis)


def test_old_notation_is_written_in_the_canonical_one() -> None:
    chassis = read("C1 8-450 electrolytic: + B1, - B-\nC2 .05 mF 400 V: B1 to B-\n")

    text = write(chassis)

    assert "C1   8 mfd 450 V electrolytic:" in text
    assert "C2   0.05 mfd 400 V:" in text
    assert read(text).findings == ()


def test_what_a_used_file_says_stays_in_it(tmp_path: Path) -> None:
    (tmp_path / "more.chassis").write_text(
        "type 6ZZ6 triode, pins 1 plate 2 grid\nR1 1K: A1 to B-\n"
    )
    main = tmp_path / "main.chassis"
    main.write_text('use "more.chassis"\nV1 6ZZ6: plate A1\n')
    chassis = read_file(main)

    text = write(chassis)
    main.write_text(text)

    assert text.count("\n") == 2
    assert read_file(main) == chassis


def test_a_comment_behind_a_statement_stands_above_it() -> None:
    text = write(read("R1 1K: A1 to B-  # one\nR2 1K:  # two\n   A1 to B-  # three\n# four\n"))

    assert re.findall(r"# \w+|^R\d", text, re.MULTILINE) == [
        "# one", "R1", "# two", "# three", "R2", "# four",
    ]  # fmt: skip


def test_columns_are_those_of_the_reference() -> None:
    text = write(read("r1 .47 MEGOHM ½ W:b1 TO b2\nV3 12AV6:anode PX, grid GX\n"))

    assert text == (
        "R1   0.47 meg 1/2 W:                   b1 to b2\n"
        "V3   12AV6:                            plate PX, g1 GX\n"
    )


# --- sets that hypothesis makes -----------------------------------------------------------------

NODES = (
    "B+", "B-", "CHASSIS", "EARTH", "HT+", "ht-", "LINE", "DRIVE", "DET", "AVC", "H_1", "AUX-2",
    "A+", "Kathode", "Übertrager", "SCREEN", "OUTPUT9", "V1.plate", "V1.cathode", "R1.shaft",
    "T1.x",
)  # fmt: skip
_numbers = st.one_of(
    st.integers(1, 20).map(str),
    st.integers(1, 99).map(lambda n: f".{n:02}"),
    st.tuples(st.integers(1, 20), st.integers(1, 9)).map(lambda p: f"{p[0]}.{p[1]}0"),
    st.sampled_from(["1/2", "1 1/2", "3/4", "010", "5."]),
)
_prose = st.text(alphabet="abc ABC,:#'.;½é–0123", max_size=45).map(str.strip)
_notes = _prose.map(lambda text: f'"{text or "x"}"')
CHIEF = {
    "capacitor": "capacitance", "resistor": "resistance", "thermistor": "resistance",
    "varistor": "voltage", "coil": "inductance", "fuse": "current", "battery": "voltage",
    "load": "current", "speaker": "resistance", "meter": "current", "diode": "voltage",
    "switch": "voltage", "plug": "voltage", "lamp": "voltage", "vibrator": "voltage",
    "transformer": "voltage",
}  # fmt: skip
LETTER = {kind: letters for letters, kind in LETTERS.items()}  # of two, the last
MEASURED = {
    "capacitor": "capacitance", "resistor": "resistance", "thermistor": "resistance",
    "varistor": "resistance", "fuse": "resistance", "coil": "inductance", "speaker": "resistance",
    "meter": "resistance",
}  # fmt: skip
POLAR = {"electrolytic", "polarized", "tantalum", "wet", "non-polarized"}
SHAPED = {"control", "rheostat", "tapped", "dropper", "cord", "metal-clad", "bleeder", "bridge"}
CODED = {"lamp", "dial", "neon", "ballast", "barretter", "ntc"}


@st.composite
def _value(draw: Draw, role: str) -> str:
    spellings = sorted(spelled for spelled, unit in UNITS.items() if unit.role == role)
    unit = draw(st.sampled_from(spellings))
    number = draw(_numbers)
    return f"{number}{draw(st.sampled_from(['', ' ']))}{unit}"


def _nodes(draw: Draw, count: int) -> list[str]:
    return [draw(st.sampled_from((*NODES, "open"))) for _ in range(count)]


def _path(draw: Draw, count: int) -> str:
    return " to ".join(_nodes(draw, count))


def _one(draw: Draw) -> str:
    return _nodes(draw, 1)[0]


@st.composite
def _plain_clauses(draw: Draw, kind: str, banned: frozenset[str] = frozenset()) -> list[str]:
    """Values and words of a kind, in any order, some joined and some parted by commas."""
    usable = sorted(KINDS[kind].words - POLAR - SHAPED - CODED - banned)
    roles = sorted(KINDS[kind].roles & {unit.role for unit in UNITS.values()})
    chosen = draw(st.lists(st.sampled_from(roles), unique=True)) if roles else []
    items = [draw(_value(role)) for role in chosen]
    if CHIEF.get(kind) in chosen and draw(st.booleans()):
        items[chosen.index(CHIEF[kind])] += f" or {draw(_value(CHIEF[kind]))}"
    items += draw(st.lists(st.sampled_from(usable), unique=True, max_size=2)) if usable else []
    if kind in ("coil", "transformer", "tube"):
        return items  # one word a clause: two in a row could be a winding and its values
    clauses: list[str] = []
    for item in draw(st.permutations(items)):
        if clauses and draw(st.booleans()):
            clauses[-1] += f" {item}"
        else:
            clauses.append(item)
    return clauses


@st.composite
def _closing_clauses(draw: Draw, kind: str) -> list[str]:
    """What may stand at the end of any description: note, place, condition, measured, replaces."""
    clauses = []
    if draw(st.booleans()):
        clauses.append(draw(_notes))
    if draw(st.booleans()):
        clauses.append(draw(st.sampled_from(["on R1", "in T1", "on V1"])))
    condition = draw(
        st.sampled_from(["", "", "new", "original", "restuffed", "removed", "not fitted"])
    )
    if condition:
        clauses.append(condition)
    if kind in MEASURED and draw(st.booleans()):
        clauses.append(f"measured {draw(_value(MEASURED[kind]))}")
    if kind in CHIEF and draw(st.booleans()):
        old = draw(_plain_clauses(kind)) or [draw(_value(CHIEF[kind]))]
        clauses.append(f"replaces {', '.join(old)}")
    return clauses


@st.composite
def _two_ended(draw: Draw, number: int) -> str:
    kind = draw(st.sampled_from(["capacitor", "resistor", "thermistor", "varistor", "fuse", "load",
                                 "speaker", "meter", "coil"]))  # fmt: skip
    clauses = draw(_plain_clauses(kind)) + draw(_closing_clauses(kind))
    extra = {"resistor": ", shaft CHASSIS", "speaker": ", frame CHASSIS", "capacitor": ", body AVC"}
    tail = extra.get(kind, "") if draw(st.booleans()) else ""
    return f"{LETTER[kind]}{number} {', '.join(clauses)}: {_path(draw, 2)}{tail}"


@st.composite
def _polarized(draw: Draw, number: int) -> str:
    words = draw(st.sampled_from(["electrolytic", "wet electrolytic", "tantalum", "polarized"]))
    volts = draw(st.sampled_from(["", " 450 V", " 450 V surge 525 V", " 475 WVDC 525 V surge"]))
    clauses = [f"{draw(_value('capacitance'))}{volts} {words}"]
    clauses += draw(st.sampled_from([[], ["mark half-moon"], ["mark square"]]))
    clauses += [c for c in draw(_closing_clauses("capacitor")) if not c.startswith("replaces")]
    ends = draw(st.permutations([f"+ {_one(draw)}", f"- {_one(draw)}"]))
    section = draw(st.sampled_from(["", "A", "B"]))
    return f"C{number}{section} {', '.join(clauses)}: {', '.join(ends)}"


@st.composite
def _safety(draw: Draw, number: int) -> str:
    classes = draw(st.sampled_from(["class X2", "class Y2", "Y1", "class X1/Y2"]))
    volts = draw(st.sampled_from(["275 VAC", "250 V AC", "300 v.a.c."]))
    return f"C{number} {draw(_value('capacitance'))} {volts} {classes}: {_path(draw, 2)}"


@st.composite
def _shaped(draw: Draw, number: int) -> str:
    word, count, ohms = draw(
        st.sampled_from(
            [("control", 3, "500K"), ("control", 2, "1 meg"), ("rheostat", 2, "20 ohm"),
             ("dropper", 4, "200-620-230 ohm"), ("cord", 3, "20-140 ohm"),
             ("metal-clad", 4, "1-2-3 K"), ("tapped", 3, "470K"), ("bleeder", 3, "10K")]
        )
    )  # fmt: skip
    clauses = draw(st.sampled_from([[f"{word} {ohms}"], [ohms, word], [word, f"{ohms} 5 W"]]))
    clauses = clauses + draw(_closing_clauses("resistor"))
    tail = draw(st.sampled_from(["", "", ", case CHASSIS", ", shaft R1.shaft"]))
    if word == "control" and count == 3 and draw(st.booleans()):
        tail = f", wiper {_one(draw)}{tail}"
    return f"R{number} {', '.join(clauses)}: {_path(draw, count)}{tail}"


@st.composite
def _wound(draw: Draw, number: int) -> str:
    kind = draw(st.sampled_from(["coil", "transformer"]))
    usual = ["primary", "secondary", "high", "heater", "tickler", "bias"]
    names = draw(st.lists(st.sampled_from(usual), unique=True, min_size=1, max_size=3))
    clauses = draw(st.lists(st.sampled_from(sorted(KINDS[kind].words)), unique=True, max_size=2))
    if kind == "transformer" and draw(st.booleans()):
        clauses.append("2500 ohm to 3.2 ohm")
    ends = []
    for name in names:
        count = draw(st.integers(2, 4))
        ends.append(f"{name} {_path(draw, count)}")
        values = {2: "6.3 V 2 A", 3: "340-0-340 V 70 mA 190 ohm each", 4: "1-2-3 ohm"}[count]
        clause = draw(st.sampled_from(["", f"{name} {values}", f"{name} reversed",
                                       f"{name} {values} reversed", f"{name} ?"]))  # fmt: skip
        clauses += [clause] if clause else []
    tail = draw(st.sampled_from(["", f", {'can' if kind == 'coil' else 'core'} CHASSIS"]))
    clauses += [c for c in draw(_closing_clauses(kind)) if c[:4] not in ("repl", "meas")]
    return f"{LETTER[kind]}{number} {', '.join(clauses)}: {', '.join(ends)}{tail}"


@st.composite
def _tube(draw: Draw, number: int) -> str:
    name, ends = draw(
        st.sampled_from(
            [
                ("12AV6", ["plate", "grid", "cathode", "diode1", "diode2"]),
                ("50C5", ["plate", "screen", "g1", "k", "5", "7"]),
                ("80", ["plate1", "plate2"]),
                ("6A8", ["plate", "g1", "g2", "g4", "screen", "cathode", "shell"]),
                ("12AX7", ["plate1", "grid1", "cathode1", "plate2", "grid2", "cathode2"]),
                ("35W4", ["plate", "cathode", "1"]),
            ]
        )
    )
    same = {"50C5": {"5": "g1", "7": "plate"}, "6A8": {"screen": "g3"}}.get(name, {})
    chosen = draw(st.lists(st.sampled_from(ends), unique_by=lambda end: same.get(end, end)))
    connected = [f"{end} {_one(draw)}" for end in chosen]
    if name == "50C5" and draw(st.booleans()):
        connected += ["3 DRIVE", "4 DET"]
    elif draw(st.booleans()) or not connected:
        tapped = name in ("35W4", "12AX7") and draw(st.booleans())
        word = "filament" if name == "80" else "heater"
        connected.append(draw(st.sampled_from(
            [f"{word} A+ to {'B+ to ' if tapped else ''}B-", f"{word} open"])))  # fmt: skip
    clauses = draw(_closing_clauses("tube"))
    old = draw(st.sampled_from([[], ["replaces 6ZZ9"]]))
    words = draw(st.sampled_from(["", " metal", " glass", ", weak"]))
    return f"V{number} {', '.join([name + words, *clauses, *old])}: {', '.join(connected)}"


# Lines of parts whose every terminal has a word of its own; {r} is the number, the rest nodes.
SHAPES = (
    "D{r} silicon 1 kV 1 A: anode {0}, cathode {1}",
    "CR{r} selenium 75 mA: cathode {0}, anode {1}",
    "D{r} silicon 1N4007, new: anode {0}, cathode {1}",
    "D{r} bridge 400 V: ac A+ to B+, + {0}, - {1}",
    "S{r} spst, on R1: ON A+ to {0}",
    "S{r} wafer: LW A+ to B+, MW A+ to B+ to B-, MW DET to AVC, TA open",
    "S{r} voltage-selector: 127 A+ to B+, 220 A+ to B-, frame CHASSIS",
    "P{r} plug, polarized: hot {0}, neutral {1}, earth {2}",
    "P{r} not polarized, rubber cord: 1 {0}, 2 {1}",
    "P{r} speaker plug: 1 {0}, 2 {1}, 3 {2}, 4 {3}",
    "J{r} antenna: {0}",
    "J{r}: {0}",
    "J{r} phono: sleeve {0}, tip {1}",
    "BT{r} 1.5 V A-battery, running 1.3 V: + {0}, - {1}",
    "BT{r} 90 V B battery dry: - {0}, + {1}",
    "G{r} vibrator 115 Hz: reed {0}, contacts A+ to B+, coil {1}",
    "G{r} synchronous: contacts A+ to B+, contacts2 DET to AVC, reed {0}",
    "DS{r} lamp 47: {0} to {1}",
    "DS{r} dial lamp 6.3 V 0.15 A: {0} to {1}",
    "DS{r} neon NE2: {0} to {1}",
    "RT{r} ballast K55B: {0} to {1}",
    "RT{r} thermistor 1500 ohm hot 45 ohm: {0} to {1}",
    "C{r} can, insulated: body {0}",
    "L{r} field, 1500-300 ohm: A+ to {0} to B-",
    "L{r} loop antenna: {0} to {1}",
    "R{r} ? 1/2 W: {0} to {1}",
)


@st.composite
def _of_a_shape(draw: Draw, number: int) -> str:
    shape = draw(st.sampled_from(SHAPES))
    return str(shape).format(*_nodes(draw, 5), r=number)


_parts = st.integers(10, 99).flatmap(
    lambda number: st.one_of(
        [made(number) for made in (_two_ended, _polarized, _safety, _shaped, _wound, _tube,
                                   _of_a_shape)]
    )
)  # fmt: skip
_reasons = st.text(alphabet="abc :,#é", min_size=1, max_size=60).map(lambda t: f'"{t}x"')
_statements = st.one_of(
    st.sampled_from(
        [
            "wire B+ to SUPPLY to V1.g1", "wire CHASSIS to EARTH", "hold B+ 276 V",
            "hold V1.plate 1/2 kV", "policy touch-current limit 0.25 mA", "policy x-y class Strict",
            "reading V1.plate 110 V, meter 20 k/V 250 V, accuracy 2%", "reading B+ 6.3 VAC",
            "reading R1 .5 meg", "reading R1 leakage 3 uA at 90 V",
            "reading V1.g1 -0.1 V, meter 11 M",
            "reading R1 leakage 0.3 V at 90 V, meter 10 M", "# a remark", "# --- a heading", "#",
            "type 6ZZ6 pentode, base octal, heater 6.3 V 0.3 A, pins 1 shell 2 h 3 plate 4 screen "
            "5 g3 7 heater 8 k cap grid, limit plate 300 V 2.75 W, limit grid 1 meg, rating design "
            'centre, point plate 250 V 7 mA screen 100 V 1.7 mA grid -3 V gm 1450 umho, source "a"',
            "type 2ZZ3 triode, filament 2.5 V, pins 1 f 2 plate 3 g 4 f, note \"one\"",
        ]
    ),
    st.builds(lambda reason: f"accept aged-capacitor: {reason}", _reasons),
    st.builds(lambda reason: f"accept loose-end on R1, B+, V1.g1: {reason}", _reasons),
    _prose.map(lambda text: f"# {text}"),
)  # fmt: skip
_heads = st.sampled_from(
    [
        "line 117 V 60 Hz\n", "line 230 V 50 Hz +10% -6%\n", "line 220 V DC\n", "line none\n",
        'set "One", by "M. O.", note "n"\nline 117 V 60 Hz 5%\nmeasure from B-\n',
        'set "", licence "CC0-1.0"\nnotation M = 1000\nswitch S1 at mw\n', "",
        "touchable: CHASSIS, R1.shaft,\n  AVC\n",
        'set "A long title, of many words, as they are"\n',
    ]
)  # fmt: skip
BASE = (
    "R1 control 500K: DET to AVC to B-\nT1 output: primary B+ to T1.x, secondary DRIVE to CHASSIS\n"
    "V1 12AV6: grid DRIVE\nS1 band: LW A+ to DET, MW A+ to AVC\nR2 1K: B- to CHASSIS\n"
)


def _one_of_each(statements: list[str]) -> list[str]:
    """No reference and no type twice: that would be a mistake of the set."""
    firsts: dict[str, str] = {}
    for number, line in enumerate(statements):
        named = re.match(r"[A-Z]+\d+[A-Z]?(?=[ :])|type \S+", line)
        firsts.setdefault(named.group() if named else f"{number}", line)
    return list(firsts.values())


_sets = st.builds(
    lambda head, statements: head + BASE + "\n".join(_one_of_each(statements)) + "\n",
    _heads,
    st.lists(st.one_of(_parts, _parts, _statements), max_size=8),
)


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_of_a_line_stays_itself(shape: str) -> None:
    chassis = read(BASE + shape.format("B+", "B-", "open", "DET", "V1.plate", r=10), "set")

    assert chassis.findings == ()
    _holds(chassis)


@settings(deadline=None)
@given(_sets)
@example(BASE + 'R10 1K, "two, clauses: one # note": B+ to B-\n')
def test_any_set_stays_itself(text: str) -> None:
    chassis = read(text, "set")

    assert chassis.findings == (), text
    _holds(chassis)


@settings(deadline=None)
@given(_parts, _parts)
def test_the_sets_made_here_are_not_all_alike(one: str, other: str) -> None:
    """The strategy makes parts that read, each with its reference and its terminals."""
    for line in (one, other):
        chassis = read(BASE + line, "set")
        assert chassis.parts[-1].ref == re.split(r"[ :]", line)[0]
        assert chassis.parts[-1].terminals
