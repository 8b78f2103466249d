"""What a description and its terminals mean: every clause of the reference, kind by kind.

Belongs here: the values, words, paths and terminals that the model holds for one line. Does not
belong here: whole sets (test_five_sets.py), traps (test_traps.py), what is refused (the page).
"""

from __future__ import annotations

import pytest

from netcheck.language import read
from netcheck.language.vocabulary import KINDS, LETTERS, phrase, word_list
from netcheck.parts import Condition, Description, Part

BASE = "R6 control, 500K: DET to VOL to B-\nT9 IF: primary PL to B1, secondary DIODE to DET\n"


def _part(line: str) -> Part:
    chassis = read(BASE + line, "set")
    assert [f.message for f in chassis.findings if f.rule != "old-notation"] == []
    return chassis.parts[-1]


def _values(description: Description) -> dict[str, tuple[float, ...]]:
    return {role: value.amounts for role, value in description.values.items()}


def _close(amounts: dict[str, tuple[float, ...]]) -> dict[str, object]:
    return {role: pytest.approx(each, rel=1e-9) for role, each in amounts.items()}


# --- values of a description --------------------------------------------------------------------

VALUES = [
    ("C1 .05 mfd 400 V: A1 to B-", {"capacitance": (0.05e-6,), "voltage": (400.0,)}),
    ("C1 .05 mfd 400 V DC: A1 to B-", {"capacitance": (0.05e-6,), "voltage": (400.0,)}),
    ("C1 1 mfd 275 V AC: A1 to B-", {"capacitance": (1e-6,), "voltage-ac": (275.0,)}),
    ("C1 8 mfd 450 V surge 525 V wet: + A1, - B-",
     {"capacitance": (8e-6,), "voltage": (450.0,), "surge": (525.0,)}),
    ("C1 8 mfd 450 V 525 V surge wet: + A1, - B-",
     {"capacitance": (8e-6,), "voltage": (450.0,), "surge": (525.0,)}),
    ("C1 surge 525 V, 450 V, wet 8 mfd: + A1, - B-",
     {"capacitance": (8e-6,), "voltage": (450.0,), "surge": (525.0,)}),
    ("C1 8-450 elko: + A1, - B-", {"capacitance": (8e-6,), "voltage": (450.0,)}),
    ("C1 elko 16/475: + A1, - B-", {"capacitance": (16e-6,), "voltage": (475.0,)}),
    ("C1 20 mfd +50% -10%: A1 to B-", {"capacitance": (20e-6,), "tolerance": (0.5, -0.1)}),
    ("R1 470K ±10% 1/2 W: A1 to B-",
     {"resistance": (470e3,), "tolerance": (0.1,), "power": (0.5,)}),
    ("R1 470 k ohm: A1 to B-", {"resistance": (470e3,)}),
    ("R1 1 1/2 meg 1½ W: A1 to B-", {"resistance": (1.5e6,), "power": (1.5,)}),
    ("R1 dropper 1-2-3 K: A1 to X to Y to B-", {"resistance": (1e3, 2e3, 3e3)}),
    ("R1 ?: A1 to B-", {"resistance": ()}),
    ("R1 1K ? W: A1 to B-", {"resistance": (1e3,), "power": ()}),
    ("C1 ?: A1 to B-", {"capacitance": ()}),
    ("RT1 1500 ohm, hot 45 ohm, 0.3 A: A1 to B-",
     {"resistance": (1500.0,), "hot": (45.0,), "current": (0.3,)}),
    ("RV1 275 VAC: A1 to B-", {"voltage-ac": (275.0,)}),
    ("L1 choke, 10 H 400 ohm 70 mA: A1 to B-",
     {"inductance": (10.0,), "resistance": (400.0,), "current": (0.07,)}),
    ("L1 80-300 uH: A1 to B-", {"inductance": (80e-6, 300e-6)}),
    ("T1 output, 2500 ohm to 3.2 ohm: primary A1 to B-, secondary X to Y",
     {"impedance": (2500.0,), "to-impedance": (3.2,)}),
    ("T1 IF, 455 kc: primary A1 to B-, secondary X to Y", {"frequency": (455e3,)}),
    ("F1 1 1/2 A 250 V slow: A1 to B-", {"current": (1.5,), "voltage": (250.0,)}),
    ("DS1 lamp 6.3 V 150 mA: A1 to B-", {"voltage": (6.3,), "current": (0.15,)}),
    ("DS1 lamp 47: A1 to B-", {}),
    ("LS1 3.2 ohm: A1 to B-", {"impedance": (3.2,)}),
    ("M1 1 mA 50 ohm: A1 to B-", {"current": (1e-3,), "resistance": (50.0,)}),
    ("G1 115 Hz 6.3 V: reed A1, coil B-", {"frequency": (115.0,), "voltage": (6.3,)}),
    ("BT1 6.3 V, running 7.2 V: + A1, - B-", {"voltage": (6.3,), "running": (7.2,)}),
    ("BT1 67½ V: + A1, - B-", {"voltage": (67.5,)}),
    ("Z1 load 35 mA: A1 to B-", {"current": (0.035,)}),
    ("CR1 selenium 130 VAC 75 mA: anode A1, cathode B-",
     {"voltage-ac": (130.0,), "current": (0.075,)}),
]  # fmt: skip


@pytest.mark.parametrize(("line", "values"), VALUES, ids=[row[0] for row in VALUES])
def test_values_have_their_roles(line: str, values: dict[str, tuple[float, ...]]) -> None:
    assert _values(_part(line).description) == _close(values)


def test_a_spread_is_told_from_values_along_a_path() -> None:
    assert _part("C1 10-420 mmf: A1 to B-").description.values["capacitance"].spread
    assert not _part("L1 1500-300 ohm: A1 to X to B-").description.values["resistance"].spread


def test_ac_volts_are_written_end_to_end_as_dc_volts_are() -> None:
    part = _part("T1 power, high 340-0-340 VAC: primary A1 to B-, high H1 to X to H2")

    assert _values(part.description.windings["high"]) == {"voltage-ac": (340.0, 0.0, 340.0)}


def test_values_of_windings_are_their_own() -> None:
    part = _part(
        "T1 power, 60 Hz, primary 117 V 6 ohm, high 340-0-340 V 70 mA 190 ohm each, heater ?:"
        " primary A1 to B-, high H1 to X to H2, heater HA to HB"
    )

    assert _values(part.description) == {"frequency": (60.0,)}
    assert {name: _values(each) for name, each in part.description.windings.items()} == {
        "primary": {"voltage": (117.0,), "resistance": (6.0,)},
        "high": {"voltage": (340.0, 0.0, 340.0), "current": (0.07,), "resistance-each": (190.0,)},
        "heater": {"resistance": ()},
    }


# --- words --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("C1 moulded paper: A1 to B-", {"moulded", "paper"}),
        ("C1 molded condenser paper: A1 to B-", {"moulded", "paper", "capacitor"}),
        ("R1 volume control: A1 to X to B-", {"control", "volume"}),
        ("R1 metal film, fixed: A1 to B-", {"metal-film"}),
        ("L1 smoothing choke: A1 to B-", {"filter", "choke"}),
        ("L1 aerial coil, aerial 3 ohm: aerial A1 to B-, secondary X to Y", {"antenna", "coil"}),
        ("T1 mains transformer: primary A1 to B-", {"power", "transformer"}),
        ("F1 slow-blow: A1 to B-", {"slow"}),
        ("P1 unpolarized, rubber: 1 A1, 2 B-", {"not-polarized", "rubber-cord"}),
        ("BT1 HT battery: + A1, - B-", {"B-battery"}),
        ("V1 6V6 metal, weak: plate A1", {"metal", "weak"}),
        ("J1 aerial: A1", {"antenna"}),
    ],
)
def test_words_are_read_as_the_canonical_ones(line: str, words: set[str]) -> None:
    assert set(_part(line).description.words) == words


_TERMINALS = {
    "diode": "anode A1, cathode B-", "bridge": "ac A1 to X, + B1, - B-", "jack": "A1",
    "plug": "1 A1, 2 B-", "polarized": "hot A1, neutral B-", "battery": "+ A1, - B-",
    "switch": "ON A1 to B-", "vibrator": "reed A1", "tube": "plate A1",
}  # fmt: skip
_POLAR = {"electrolytic", "wet", "polarized", "tantalum"}
_WORDS = [(kind, word) for kind in KINDS for word in word_list(kind)]


@pytest.mark.parametrize(("kind", "word"), _WORDS, ids=[" ".join(row) for row in _WORDS])
def test_every_word_of_every_list_is_read(kind: str, word: str) -> None:
    letters = next(letters for letters, named in LETTERS.items() if named == kind)
    found = phrase(kind, word.split())
    assert found is not None
    meant, taken = found
    terminals = _TERMINALS.get(kind, "A1 to B-")
    if kind == "capacitor" and _POLAR & set(meant) and "non-polarized" not in meant:
        terminals = "+ A1, - B-"
    if kind in ("diode", "plug") and {"bridge", "polarized"} & set(meant):
        terminals = _TERMINALS[meant[0]]

    part = _part(f"{letters}1 {'6V6 ' if kind == 'tube' else ''}{word}: {terminals}")

    assert taken == len(word.split())
    assert set(part.description.words) == set(meant)


# --- classes, designations ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "classes"),
    [
        ("250 VAC class Y2", [("Y2", 250.0)]),
        ("class Y2 250 VAC", [("Y2", 250.0)]),
        ("250 V AC y2", [("Y2", 250.0)]),
        ("300 VAC class X1/Y2", [("X1", 300.0), ("Y2", 300.0)]),
        ("X1 440 VAC Y2 300 VAC", [("X1", 440.0), ("Y2", 300.0)]),
        ("class X2", [("X2", None)]),
        ("400 V class X2", [("X2", None)]),
    ],
)
def test_a_safety_class_has_the_volts_beside_it(
    text: str, classes: list[tuple[str, float | None]]
) -> None:
    found = _part(f"C1 4.7 nF {text}: A1 to B-").description.classes

    assert [(name, volts and volts.si) for name, volts in found] == classes


@pytest.mark.parametrize(
    ("line", "designation"),
    [
        ("DS1 lamp 47: A1 to B-", "47"), ("DS1 dial lamp 1847: A1 to B-", "1847"),
        ("D1 silicon 1N4007: anode A1, cathode B-", "1N4007"),
        ("D1 1N34 germanium: anode A1, cathode B-", "1N34"),

        ("DS1 neon NE2: A1 to B-", "NE2"), ("DS1 lamp NE-2: A1 to B-", "NE-2"),
        ("DS1 lamp 6.3 V: A1 to B-", ""), ("RT1 ballast K55B: A1 to X to B-", "K55B"),
        ("RT1 ballast 49C: A1 to B-", "49C"), ("RT1 ballast 185R8: A1 to B-", "185R8"),
        ("RT1 barretter C1: A1 to B-", "C1"), ("RT1 ballast 300 ohm: A1 to B-", ""),
    ],
)  # fmt: skip
def test_a_type_number_is_taken_as_text(line: str, designation: str) -> None:
    assert _part(line).description.designation == designation


# --- what else a description says ---------------------------------------------------------------


def test_condition_note_place_mark_and_measured() -> None:
    part = _part(
        'C7A 8 mfd, "a, b: c # d", on R6, in T9, mark half moon, restuffed, measured 7 mfd:'
        " A1 to B-"
    )

    assert part.condition is Condition.RESTUFFED
    assert (part.note, part.on, part.inside, part.mark) == ("a, b: c # d", "R6", "T9", "half-moon")
    assert part.measured is not None
    assert part.measured.si == pytest.approx(7e-6)
    assert part.value("capacitance") == pytest.approx(7e-6)
    assert part.description.number("capacitance") == pytest.approx(8e-6)


@pytest.mark.parametrize(
    ("text", "condition", "fitted"),
    [
        ("", Condition.ORIGINAL, True), ("original", Condition.ORIGINAL, True),
        ("NEW", Condition.NEW, True), ("restuffed", Condition.RESTUFFED, True),
        ("removed", Condition.REMOVED, False), ("not fitted", Condition.NOT_FITTED, False),
        ("replaces 2K", Condition.NEW, True), ("was 2K", Condition.NEW, True),
        ("restuffed, replaces 2K", Condition.RESTUFFED, True),
        ("removed, replaces 2K", Condition.REMOVED, False),
    ],
)  # fmt: skip
def test_condition_says_what_is_there(text: str, condition: Condition, fitted: bool) -> None:
    part = _part(f"R1 1K, {text}: A1 to B-" if text else "R1 1K: A1 to B-")

    assert (part.condition, part.fitted) == (condition, fitted)


def test_replaces_takes_all_to_the_colon() -> None:
    part = _part("C1 .1 mfd 630 V film, replaces .2 mfd, 400 V or 600 V, paper, tubular: A1 to B-")

    assert part.replaces is not None
    assert _values(part.description) == _close({"capacitance": (0.1e-6,), "voltage": (630.0,)})
    assert _values(part.replaces) == _close({"capacitance": (0.2e-6,), "voltage": (400.0,)})
    assert set(part.replaces.words) == {"paper", "tubular"}
    assert [value.si for value in part.replaces.alternates] == [600.0]
    assert set(part.description.words) == {"film"}
    assert part.description.alternates == ()


def test_a_tube_replaces_a_type() -> None:
    part = _part("V1 6V6GT metal, replaces 6F6: plate A1")

    assert part.replaces is not None
    assert (part.tube_name, part.replaces.designation) == ("6V6GT", "6F6")


def test_alternates_stand_in_their_order() -> None:
    part = _part("C1 .1 mfd 400 V or .25 mfd, or .05 mfd: A1 to B-")

    assert [v.si for v in part.description.alternates] == pytest.approx([0.25e-6, 0.05e-6])


def test_reversed_windings_are_named() -> None:
    part = _part("L1 coil, tickler 2 ohm reversed, grid reversed: grid A1 to B-, tickler X to Y")

    assert set(part.reversed_windings) == {"tickler", "grid"}
    assert _values(part.description.windings["tickler"]) == {"resistance": (2.0,)}


# --- terminals ----------------------------------------------------------------------------------

# line, terminals as `name=node`, paths as `name: terminals`
TERMINALS = [
    ("R1 1K: A1 to B-", "a=A1 b=B-", [":a b"]),
    ("R1 1K: A1 to open", "a=A1 b=", [":a b"]),
    ("R1 dropper: A1 to X to Y to B-", "a=A1 tap1=X tap2=Y b=B-", [":a tap1 tap2 b"]),
    ("R1 control: A1 to X to B-", "a=A1 wiper=X b=B-", [":a wiper b"]),
    ("R1 control: A1 to X", "a=A1 wiper=X", [":a wiper"]),
    ("R1 rheostat: A1 to X", "a=A1 wiper=X", [":a wiper"]),
    ("R1 control: A1 to X to B-, slider Y", "a=A1 tap1=X b=B- wiper=Y", [":a tap1 b"]),
    ("R1 control: A1 to X, shaft CHASSIS", "a=A1 wiper=X shaft=CHASSIS", [":a wiper"]),
    ("C1 wet: negative B-, plus A1", "+=A1 -=B-", []),
    ("C1 can: case CHASSIS", "body=CHASSIS", []),
    ("L1: A1 to X to B-", "a=A1 tap1=X b=B-", [":a tap1 b"]),
    ("T1: pri A1 to X to B-, HT H1 to H2", "primary1=A1 primary2=X primary3=B- high1=H1 high2=H2",
     ["primary:primary1 primary2 primary3", "high:high1 high2"]),
    ("T1: primary A1 to B-, high open", "primary1=A1 primary2=B-", ["primary:primary1 primary2"]),
    ("V1 50C5: anode A1, 2 X, k B-, heater H1 to H2",
     "plate=A1 g1=X cathode=B- heater1=H1 heater2=H2", ["heater:heater1 heater2"]),
    ("V1 50C5: 3 H1, 4 H2", "heater1=H1 heater2=H2", ["heater:heater1 heater2"]),
    ("V1 35W4: heater LINE to X to H4", "heater1=LINE tap=X heater2=H4",
     ["heater:heater1 tap heater2"]),
    ("V1 80: filament A1 to B-", "heater1=A1 heater2=B-", ["heater:heater1 heater2"]),
    ("V1A 12AX7: plate A1, grid X", "plate1=A1 grid1=X", []),
    ("V1B 12AX7: plate A1, grid X, cathode Y", "plate2=A1 grid2=X cathode2=Y", []),
    ("V1 50C5: heater open, plate open", "heater1= heater2= plate=", []),
    ("D1 silicon: k A1, anode B-", "cathode=A1 anode=B-", []),
    ("D1 bridge: ac A1 to X, + B1, - B-", "ac1=A1 ac2=X +=B1 -=B-", ["ac:ac1 ac2"]),
    ("P1: live A1, n B-, ground EARTH", "hot=A1 neutral=B- earth=EARTH", []),
    ("P1: 1 A1, 2 B-", "1=A1 2=B-", []),
    ("J1: A1", "1=A1", []),
    ("J1: tip A1, ring X, sleeve B-", "tip=A1 ring=X sleeve=B-", []),
    ("BT1 6 V: - B-, positive A1", "-=B- +=A1", []),
    ("G1: reed A1, contacts X to Y, coil Z", "reed=A1 contact1=X contact2=Y coil=Z",
     ["contacts:contact1 contact2"]),
    ("G1: reed A1, contacts2 X to Y", "reed=A1 contact3=X contact4=Y",
     ["contacts2:contact3 contact4"]),
    ("S1: ON A1 to B-", "ON.1=A1 ON.2=B-", ["ON:ON.1 ON.2"]),
    ("S1: on A1 to X, on Y to B-", "ON.1=A1 ON.2=X ON.3=Y ON.4=B-",
     ["ON:ON.1 ON.2", "ON:ON.3 ON.4"]),
    ("S1: 127 A1 to X to Y, 220 open", "127.1=A1 127.2=X 127.3=Y",
     ["127:127.1 127.2 127.3", "220:"]),
    ("LS1 3 ohm: A1 to B-, basket CHASSIS", "a=A1 b=B- frame=CHASSIS", [":a b"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "terminals", "paths"), TERMINALS, ids=[row[0] for row in TERMINALS]
)
def test_terminals_stand_on_their_nodes(line: str, terminals: str, paths: list[str]) -> None:
    part = _part(line)

    assert sorted(f"{t.name}={'' if t.unused else t.node}" for t in part.terminals) == sorted(
        terminals.split()
    )
    assert [f"{p.name}:{' '.join(p.terminals)}" for p in part.paths] == paths
    switched = part.kind == "switch"
    assert [p.position for p in part.paths] == [p.name if switched else "" for p in part.paths]


def test_every_kind_has_its_terminals_here() -> None:
    tried = {_part(line).kind for line, *_ in (*VALUES, *TERMINALS)}

    assert tried == set(LETTERS.values())
