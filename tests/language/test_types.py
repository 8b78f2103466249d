"""`type`: a tube defined in a file is equal in every way to a built-in one.

Belongs here: every clause of the statement, every mistake it can hold, and the comparison with the
whole catalogue. Does not belong here: whether the catalogue is right (tests/catalog).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.catalog import tubes
from netcheck.catalog.electrodes import electrode, electrode_words
from netcheck.chassis import Chassis
from netcheck.findings import Finding, Span
from netcheck.language import read
from netcheck.language.layout import write
from netcheck.language.type_words import FIGURES, KINDS, KNOWN_ELECTRODES, LIMITS, RATINGS
from netcheck.parts import TubeType

LIKE_50C5 = (
    "type 50C5 beam pentode, base 7-pin miniature, heater 50 V 0.15 A, "
    "pins 1 cathode 2 grid 3 heater 4 heater 5 grid 6 screen 7 plate, limit plate 150 V 7 W, "
    "limit screen 130 V 1.4 W, limit heater-cathode 180 V, limit grid 0.5 meg, "
    "limit grid-fixed 100K, rating design-maximum, "
    "point plate 110 V 49 mA screen 110 V 4 mA grid -7.5 V gm 7500 umho rp 10K load 2500 ohm "
    "output 1.9 W"
)
LIKE_12AX7 = (
    "type 12AX7 twin triode, base 9-pin miniature, heater 12.6 V 0.15 A tap 6.3 V, "
    "pins 1 plate2 2 grid2 3 cathode2 4 heater 5 heater 6 plate1 7 grid1 8 cathode1 9 tap, "
    "limit plate 300 V 1 W, limit heater-cathode 180 V, rating design-centre, "
    "point plate1 250 V 1.2 mA grid1 -2 V gm 1600 umho rp 62500 ohm mu 100, "
    "point plate2 250 V 1.2 mA grid2 -2 V gm 1600 umho rp 62500 ohm mu 100"
)
LIKE_80 = (
    "type 80 full-wave rectifier, base UX4, filament 5 V 2 A, "
    "pins 1 filament 2 plate2 3 plate1 4 filament, limit inverse 1400 V, limit output 125 mA, "
    "limit reservoir 20 mfd, limit impedance 50 ohm, limit drop 60 V 125 mA, limit plate 350 VAC, "
    "limit peak 440 mA, rating design-centre"
)
COMPARED = (
    "kind", "base", "pins", "heating", "heater_v", "heater_a", "tap_v", "limits", "rating_system",
    "sections",
)  # fmt: skip


def _made(text: str) -> TubeType:
    chassis = read(text, "set")
    assert [f.message for f in chassis.findings] == []
    (made,) = chassis.types
    return made


def _built_in(name: str) -> TubeType:
    tube = tubes.find_tube(name)
    assert tube is not None
    return tube


def _plain(tube: TubeType, what: str) -> object:
    value = getattr(tube, what)
    return dict(value) if what in ("pins", "limits") else value


# --- equal to a built-in one --------------------------------------------------------------------


@pytest.mark.parametrize("text", [LIKE_50C5, LIKE_12AX7, LIKE_80], ids=["50C5", "12AX7", "80"])
@pytest.mark.parametrize("what", COMPARED)
def test_a_built_in_type_written_as_a_statement_is_the_same(text: str, what: str) -> None:
    made = _made(text)
    built_in = _built_in(made.name)

    if what == "pins":
        ends = {"heater1": "heater", "heater2": "heater"}  # which end is which is the text's choice
        for tube in (made, built_in):
            assert len(tube.pins) == len(built_in.pins)
        assert {p: [ends.get(e, e) for e in group] for p, group in made.pins.items()} == {
            p: [ends.get(e, e) for e in group] for p, group in built_in.pins.items()
        }
    else:
        assert _plain(made, what) == _plain(built_in, what)


@pytest.mark.parametrize("text", [LIKE_50C5, LIKE_12AX7, LIKE_80], ids=["50C5", "12AX7", "80"])
def test_every_word_for_an_electrode_means_the_same_on_both(text: str) -> None:
    made = _made(text)
    built_in = _built_in(made.name)
    words = (
        *electrode_words(built_in), "anode", "a", "k", "g", "p", "g1", "grid", "control-grid",
        "screen", "g2", "a1", "a2", "k2", "heater", "tap", "suppressor", "cap", "nonsense",
    )  # fmt: skip

    for word in words:
        assert electrode(made, word) == electrode(built_in, word), word


@pytest.mark.parametrize("text", [LIKE_50C5, LIKE_12AX7], ids=["50C5", "12AX7"])
def test_points_have_the_figures_and_the_section_of_the_built_in_ones(text: str) -> None:
    made = _made(text)
    built_in = _built_in(made.name)

    def facts(tube: TubeType) -> list[tuple[object, ...]]:
        return [
            (p.section, dict(p.volts), dict(p.amperes), p.gm_s, p.rp_ohm, p.mu, p.load_ohm,
             p.output_w)
            for p in tube.points
        ]  # fmt: skip

    assert facts(made) == facts(built_in)


@pytest.mark.parametrize("name", ["50C5", "12AX7", "80"])
def test_a_part_of_either_type_has_the_same_terminals(name: str) -> None:
    line = {
        "50C5": "V1 50C5: anode B1, screen B2, 2 DRIVE, k KOUT, heater H1 to H2",
        "12AX7": "V1 12AX7: a1 B1, g1 OPEN1, anode2 B2, heater H1 to HT to H2",
        "80": "V1 80: p1 A1, anode2 A2, filament FA to FB",
    }[name].replace(", g1 OPEN1", "")
    text = {"50C5": LIKE_50C5, "12AX7": LIKE_12AX7, "80": LIKE_80}[name]

    (own,) = read(f"{text}\n{line}", "set").parts
    (built_in,) = read(line, "set").parts

    assert own.terminals == built_in.terminals
    assert own.paths == built_in.paths
    assert not own.broken


@pytest.mark.parametrize("name", sorted(tubes.all_tubes()))
def test_every_type_of_the_catalogue_can_be_written_as_a_statement(name: str) -> None:
    built_in = _built_in(name)
    span = Span("<text>", 1, 1, 1, 2)
    text = write(Chassis(types=(replace(built_in, span=span, points=()),)))

    made = _made(text)

    assert {what: _plain(made, what) for what in COMPARED} == {
        what: _plain(built_in, what) for what in COMPARED
    }, text


def test_a_type_of_the_file_comes_before_a_built_in_one() -> None:
    text = "V1 50C5: plate B1\ntype 50C5 triode, pins 1 plate 2 grid\n"

    (part,) = read(text, "set").parts

    assert part.tube is not None
    assert part.tube.kind == "triode"
    assert part.terminals[0].pin == "1"


@pytest.mark.parametrize("said", ["6ZZ6", "6zz6", "6ZZ6 metal"])
def test_the_name_is_matched_whatever_its_case(said: str) -> None:
    text = f"type 6zZ6 triode, pins 1 plate\nV1 {said}: plate B1\n"

    assert read(text, "set").findings == ()


# --- the clauses --------------------------------------------------------------------------------


def _with(clause: str, kind: str = "triode") -> TubeType:
    return _made(f"type 6ZZ6 {kind}, pins 1 plate 2 grid 3 cathode 4 heater 5 heater, {clause}")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_read(kind: str) -> None:
    assert _with('note "x"', kind).kind == KINDS[kind]


@pytest.mark.parametrize(
    "kind", ["remote cutoff pentode", "HALF WAVE rectifier", "duo diode triode"]
)
def test_kinds_are_read_without_their_hyphen(kind: str) -> None:
    assert _with('note "x"', kind).kind == kind.casefold().replace(" ", "-", 1)


@pytest.mark.parametrize("said", RATINGS)
def test_every_rating_system_is_read(said: str) -> None:
    assert _with(f"rating {said}").rating_system == RATINGS[said]
    assert _with(f"rating {said.replace('-', ' ')}").rating_system == RATINGS[said]


UNIT_OF = {
    "voltage": ("3 V", 3.0), "voltage-ac": ("3 VAC", 3.0), "current": ("3 mA", 3e-3),
    "power": ("3 W", 3.0), "capacitance": ("3 mfd", 3e-6), "resistance": ("3 ohm", 3.0),
    "conductance": ("3 umho", 3e-6), "ratio": ("3", 3.0),
}  # fmt: skip


@pytest.mark.parametrize(("word", "dimension"), LIMITS)
def test_every_limit_is_read(word: str, dimension: str) -> None:
    text, si = UNIT_OF[dimension]

    assert _with(f"limit {word} {text}").limits == {LIMITS[word, dimension]: pytest.approx(si)}


def test_two_limits_of_one_electrode_stand_in_one_clause_or_two() -> None:
    one = _with("limit plate 300 V 2.75 W")
    two = _with("limit plate 300 V, limit plate 2.75 W")

    assert one.limits == two.limits == {"plate-v": 300.0, "plate-w": 2.75}


@pytest.mark.parametrize("word", FIGURES)
def test_every_figure_of_a_point_is_read(word: str) -> None:
    text, si = UNIT_OF[FIGURES[word]]
    names = {"gm": "gm_s", "rp": "rp_ohm", "mu": "mu", "load": "load_ohm", "output": "output_w",
             "bias": "cathode_ohm"}  # fmt: skip

    (point,) = _with(f"point plate 250 V {word} {text}").points

    assert getattr(point, names[word]) == pytest.approx(si)
    assert point.volts == {"plate": 250.0}


@pytest.mark.parametrize("word", sorted(KNOWN_ELECTRODES))
def test_every_electrode_is_read_in_pins(word: str) -> None:
    other = {"heater1": " 2 heater2", "heater2": " 2 heater1"}.get(word, "")

    made = _made(f"type 6ZZ6 triode, pins 1 {word}{other}")

    assert made.pins["1"] == (word,)


def test_pins_may_be_joined_empty_on_the_cap_or_unknown() -> None:
    made = _made("type 6ZZ6 pentode, pins 1 nc 2 none 3 4 plate 5 k g3 cap grid ? screen")

    assert made.pins == {
        "1": (), "2": (), "3": (), "4": ("plate",), "5": ("cathode", "g3"), "cap": ("g1",),
    }  # fmt: skip
    assert electrode(made, "screen") == "g2"


@pytest.mark.parametrize(
    ("clause", "heating", "volts", "amperes", "tap"),
    [
        ("heater 6.3 V 0.3 A", "indirect", 6.3, 0.3, None),
        ("heater 300 mA 6.3 V", "indirect", 6.3, 0.3, None),
        ("heater 0.15 A", "indirect", None, 0.15, None),
        ("heater 35 V 0.15 A tap 7.5 V", "indirect", 35.0, 0.15, 7.5),
        ("filament 1.4 V 50 mA", "direct", 1.4, 0.05, None),
    ],
)
def test_a_heater_is_told_by_its_figures(
    clause: str, heating: str, volts: float | None, amperes: float, tap: float | None
) -> None:
    made = _with(clause)

    assert (made.heating, made.heater_v, made.heater_a, made.tap_v) == (
        heating, volts, pytest.approx(amperes), tap,
    )  # fmt: skip


def test_the_source_of_a_type_is_that_of_its_points() -> None:
    made = _with('point plate 250 V 1 mA, source "a leaflet", note "a remark"')

    assert made.sources == {"all": "a leaflet"}
    assert made.points[0].source == "a leaflet"
    assert made.note == "a remark"


# --- mistakes -----------------------------------------------------------------------------------

# clauses behind `type 6ZZ6 `, what is marked, the sentence, the remedy
MISTAKES = [
    ("pentod, pins 1 plate", "pentod", "no kind of tube", "pentode"),
    ("triode pins 1 plate", "triode pins 1 plate", "pins 1 plate is no kind", "a comma parts"),
    ("triode", "type 6ZZ6 triode", "has no pins", "add a clause like"),
    ("triode, pins", "pins", "`pins` says nothing", "add what"),
    ("triode, pins 1 plate, gm 2 umho", "gm", "opens no clause", "the clauses are"),
    ("triode, pins 1 plate, sorce \"x\"", "sorce", "opens no clause", "source"),
    ("triode, pins 1 plate, 5 V", "5 V", "5 V opens no clause", "the clauses are"),
    ("triode, pins 1 plate, pins 2 grid", "pins", "`pins` stands twice", "keep one"),
    ("triode, pins 1 plate, base octal, base UX4", "base", "`base` stands twice", "keep one"),
    ("triode, pins 1 f 2 f, heater 5 V, filament 5 V", "filament", "stands twice", "keep one"),
    ("triode, pins 1 plate, note \"a\", note \"b\"", "note", "`note` stands twice", "keep one"),
    ("triode, pins 1 plate, base octle", "octle", "no base I know", "octal"),
    ("triode, base octal, pins 9 plate", "9", "the base octal has no pin 9", "perhaps a cap"),
    ("triode, base UX4, pins 1 plate 5 grid", "5", "has no pin 5", "it has 1, 2, 3 and 4"),
    ("triode, pins 1 plate 1 grid", "1", "pin 1 stands twice", "keep one"),
    ("triode, pins plate 1", "plate", "on which pin is the plate", "pin number first"),
    ("triode, pins 1 plat", "plat", "plat is no electrode", "plate"),
    ("triode, pins 1 h 2 h 3 h", "h", "this is a third pin", "`tap`"),
    ("triode, pins 1 plate 2 heater", "type 6ZZ6", "only one is on a pin", "both heater pins"),
    ("triode, pins 1 plate, heater 5 V", "type 6ZZ6", "no pin for it", "both heater pins"),
    ("triode, pins 1 h 2 h, heater 6.3 ohm", "6.3 ohm", "told by volts", "0.3 A"),
    ("triode, pins 1 h 2 h, heater 6.3", "6.3", "told by volts", "0.3 A"),
    ("triode, pins 1 h 2 h, heater 6.3 V 5 V", "5 V", "stands twice", "0.3 A"),
    ("triode, pins 1 h 2 h, heater six V", "six", "six is no value", "with its unit"),
    ("triode, pins 1 plate, limit plte 300 V", "plte", "plte is no limit", "plate"),
    ("triode, pins 1 plate, limit plate 300 mA", "300 mA", "cannot limit the plate", "unit"),
    ("triode, pins 1 plate, limit plate", "plate", "has no value", "limit plate 250 V"),
    ("triode, pins 1 plate, limit plate high", "high", "no value", "with its unit"),
    ("triode, pins 1 plate, limit plate 1 V 2 V", "2 V", "limited twice", "keep one"),
    ("triode, pins 1 plate, limit plate 300", "300", "cannot limit", "unit"),
    ("triode, pins 1 plate, rating good", "good", "no rating system", "design-centre"),
    ("triode, pins 1 plate, point 250 V", "250 V", "nothing that a point has", "point plate"),
    ("triode, pins 1 plate, point plat 250 V", "plat", "no electrode and no figure", "plate"),
    ("triode, pins 1 plate, point plate 2 ohm", "2 ohm", "nothing that plate has", "point plate"),
    ("triode, pins 1 plate, point gm 2000 ohm", "2000 ohm", "nothing that gm has", "umho"),
    ("triode, pins 1 plate, point mu 20 ohm", "20 ohm", "nothing that mu has", "point plate"),
    ("triode, pins 1 plate, point plate 5 V 6 V", "6 V", "two values of one kind", "keep one"),
]  # fmt: skip


def _only(text: str) -> Finding:
    chassis = read(text, "set")
    assert not chassis.was_read
    (found,) = chassis.findings
    return found


@pytest.mark.parametrize(
    ("clauses", "marked", "message", "remedy"), MISTAKES, ids=[row[0][:50] for row in MISTAKES]
)
def test_a_mistake_has_its_sentence_at_its_words(
    clauses: str, marked: str, message: str, remedy: str
) -> None:
    line = f"type 6ZZ6 {clauses}"

    found = _only(line)

    assert message in found.message
    assert remedy in found.action
    written = line[found.span.column - 1 : found.span.end_column - 1]
    assert written == marked or (marked == "type 6ZZ6" and written == line)


@pytest.mark.parametrize("clauses", ["pentod, pins 1 plate", "triode, pins 1 -"])
def test_a_type_that_cannot_be_read_is_one_finding_whoever_uses_it(clauses: str) -> None:
    found = _only(
        f"type 6ZZ6 {clauses}\nV1 6ZZ6: plate B1\nV2 6ZZ6: plate B1\nR1 1K: V1.grid to B1"
    )

    assert found.rule == "unreadable"
    assert found.span.line == 1


def test_a_type_defined_twice_is_told_at_the_second() -> None:
    found = _only("type 6ZZ6 triode, pins 1 plate\ntype 6zz6 triode, pins 2 plate\n")

    assert "defined twice" in found.message
    assert found.span.line == 2


def test_no_message_shows_the_inside_of_the_reader() -> None:
    for clauses, *_ in MISTAKES:
        found = _only(f"type 6ZZ6 {clauses}")
        assert not any(word in found.message for word in ("Tree", "Token", "token(", "quantity"))
