"""The example sets: what they are, and the exact list of findings of each.

Belongs here: promises about the files in examples/. Does not belong here: rules one by one.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.chassis import Chassis
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Harm
from netcheck.language import read_file
from netcheck.parts import Part

from .table import EXAMPLES, EXPECTED, expected, marked, report, table

FOUND = [each for each in EXAMPLES if each.stem.endswith("-as-found")]
RESTORED = [each for each in EXAMPLES if each.stem.endswith("-restored")]

# Parts whose capacitance a hand sets: they are made of plates, and no volts are printed on them.
_SET_BY_HAND = {"trimmer", "padder", "gang", "variable", "air"}
_DIELECTRICS = {"paper", "electrolytic", "film", "mica", "ceramic", "air"}


def _each(chosen: list[Path] | tuple[Path, ...]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("example", chosen, ids=lambda path: path.stem)


def _named(folder_part: str) -> Chassis:
    (found,) = [each for each in EXAMPLES if each.stem == folder_part]
    return read_file(found)


# --- the tables ---------------------------------------------------------------------------------


@_each(EXAMPLES)
def test_the_findings_are_exactly_those_of_the_table(example: Path) -> None:
    assert table(report(example)) == expected(example).read_text(encoding="utf-8"), (
        "if the new list is right, write it with: python tests/examples/table.py"
    )


def test_every_table_has_its_example() -> None:
    assert {each.stem for each in EXPECTED.iterdir()} == {each.stem for each in EXAMPLES}


# --- what the sets are --------------------------------------------------------------------------


def test_each_set_is_there_as_found_and_as_restored() -> None:
    assert len(FOUND) == len(RESTORED) == len(EXAMPLES) / 2 >= 2
    assert {each.stem.removesuffix("-as-found") for each in FOUND} == {
        each.stem.removesuffix("-restored") for each in RESTORED
    }


@_each(EXAMPLES)
def test_the_set_is_read_whole_and_says_that_it_is_invented(example: Path) -> None:
    chassis = read_file(example)

    assert chassis.findings == ()
    assert "invented" in chassis.travels["source"]
    assert "invented" in example.read_text(encoding="utf-8").splitlines()[0]


@_each(EXAMPLES)
def test_the_set_has_the_parts_of_a_real_one(example: Path) -> None:
    assert 50 <= len(read_file(example).parts) <= 90


@_each(EXAMPLES)
def test_no_line_is_longer_than_a_forum_shows(example: Path) -> None:
    lines = example.read_text(encoding="utf-8").splitlines()

    assert [line for line in lines if len(line) > 78] == []


@_each(EXAMPLES)
def test_no_node_hangs_in_the_air(example: Path) -> None:
    chassis = read_file(example)
    mechanical = {"shaft", "frame"}

    alone = [
        node.name
        for node in chassis.nodes.values()
        if len(node.connections) < 2 and node.connections[0][1] not in mechanical
    ]

    assert alone == []


@_each(EXAMPLES)
def test_every_capacitor_has_volts_and_a_dielectric(example: Path) -> None:
    for part in read_file(example).of_kind("capacitor"):
        if "body" in {t.name for t in part.terminals}:
            continue
        described = part.description
        assert set(described.words) & _DIELECTRICS or described.classes, part.ref
        by_hand = set(described.words) & _SET_BY_HAND
        assert by_hand or {"voltage", "voltage-ac"} & set(described.values), part.ref


@_each(EXAMPLES)
def test_every_resistor_has_watts_and_a_tolerance(example: Path) -> None:
    for part in read_file(example).of_kind("resistor"):
        assert {"resistance", "power", "tolerance"} <= set(part.description.values), part.ref


def test_the_series_string_adds_up_to_the_line() -> None:
    for name in ("larkfield-five-as-found", "larkfield-five-restored"):
        tubes = list(_named(name).of_kind("tube"))
        volts = sum(each.tube.heater_v or 0 for each in tubes if each.tube)

        assert {each.tube.heater_a for each in tubes if each.tube} == {0.15}
        assert volts == pytest.approx(117, rel=0.05)


def test_the_heater_winding_carries_the_tubes_and_lamps() -> None:
    for name in ("tansley-console-as-found", "tansley-console-restored"):
        chassis = _named(name)
        tubes = [each.tube for each in chassis.of_kind("tube") if each.tube]
        amperes = sum(t.heater_a or 0 for t in tubes if t.heater_v == 6.3)
        lamps = 0.15 * len(list(chassis.of_kind("lamp")))  # lamp 40

        transformer = chassis.part("T1")
        assert transformer is not None
        rated_a = transformer.description.windings["heater"].number("current")
        assert amperes + lamps == pytest.approx(2.2)
        assert rated_a is not None
        assert amperes + lamps <= rated_a


# --- as found -----------------------------------------------------------------------------------


def _reported(stem: str) -> set[tuple[str, str]]:
    """Rule and first part of every finding."""
    (example,) = [each for each in EXAMPLES if each.stem == stem]
    return {
        (found.rule, found.parts[0] if found.parts else "") for found in report(example).findings
    }


def test_the_transformerless_set_as_found_shows_what_such_sets_arrive_with() -> None:
    assert {
        ("unfused-hot-lead", "P1"),
        ("plug-not-polarized", "P1"),
        ("switch-in-neutral", "S1"),
        ("line-capacitor-class", "C20"),
        ("line-capacitor-class", "C21"),
        ("antenna-isolation", "C22"),
        ("aged-capacitor", "C1A"),
        ("coupling-leakage", "C14"),
        ("replacement-rating", "C15"),
        ("parallel-original", "C1A"),
        ("resistor-drift", "R7"),
        ("aged-cord", "P1"),
    } <= _reported("larkfield-five-as-found")


def test_the_coupling_capacitor_is_told_with_its_way_to_the_grid() -> None:
    (example,) = [each for each in FOUND if each.stem.startswith("larkfield")]
    of = report(example)
    (found,) = [f for f in of.findings if f.rule == "coupling-leakage" and "C14" in f.parts]
    lines = {of.chassis.line_text(each.span).split()[0] for each in found.related}

    assert "R9" in lines
    assert "V4" in found.parts


def test_the_transformer_set_as_found_shows_what_such_sets_arrive_with() -> None:
    assert {
        ("unfused-hot-lead", "P1"),
        ("plug-not-polarized", "P1"),
        ("line-capacitor-class", "C30"),
        ("aged-capacitor", "C16"),
        ("replacement-rating", "C17"),
        ("parallel-original", "C16"),
        ("resistor-drift", "R14"),
        ("aged-cord", "P1"),
    } <= _reported("tansley-console-as-found")


@_each(FOUND)
def test_the_marked_text_is_the_users_own(example: Path) -> None:
    of = report(example)

    for found in of.findings:
        assert marked(of, found), found


# --- restored -----------------------------------------------------------------------------------


@_each(RESTORED)
def test_nothing_of_harm_damage_or_worse_stands(example: Path) -> None:
    assert report(example).standing(Harm.DAMAGE) == ()


@_each(RESTORED)
def test_at_most_two_findings_are_accepted_and_say_why(example: Path) -> None:
    chassis = read_file(example)

    assert len(chassis.acceptances) <= 2
    assert sum(found.accepted is not None for found in report(example).findings) <= 2
    assert all(len(each.reason.split()) >= 4 for each in chassis.acceptances)


def _on_line() -> list[Path]:
    return [each for each in RESTORED if (line := read_file(each).line) and line.volts is not None]


def test_there_are_sets_on_the_line_and_on_batteries() -> None:
    assert 0 < len(_on_line()) < len(RESTORED)


@_each(_on_line())
def test_fuse_then_switch_in_the_hot_lead_of_a_polarized_plug(example: Path) -> None:
    chassis = read_file(example)
    plug, fuse, switch = (_part(chassis, ref) for ref in ("P1", "F1", "S1"))

    assert plug.description.has("polarized")
    assert _node(fuse, "a") == _node(plug, "hot")
    assert _node(switch, "ON.1") == _node(fuse, "b")


@_each(RESTORED)
def test_what_stands_behind_replaces_is_what_was_found(example: Path) -> None:
    """An earlier repairer's part stands in the as-found file with the same original behind it."""
    found = read_file(example.with_stem(example.stem.replace("-restored", "-as-found")))
    compared = 0
    for part in read_file(example).parts:
        if part.replaces is None:
            continue
        before = _part(found, part.ref)
        old = before.replaces or before.description
        assert part.replaces.words == old.words, part.ref
        for role, value in part.replaces.values.items():
            assert value.amounts == old.values[role].amounts, part.ref
        compared += 1

    assert compared >= 10


@_each(RESTORED)
def test_new_capacitors_stand_at_least_the_volts_of_the_old_ones(example: Path) -> None:
    for part in read_file(example).of_kind("capacitor"):
        if part.replaces is None or part.description.classes:
            continue
        new_v, old_v = part.description.number("voltage"), part.replaces.number("voltage")
        assert new_v is not None
        assert old_v is not None
        assert new_v >= old_v, part.ref


@_each(RESTORED)
def test_new_filter_capacitors_stand_the_unloaded_peak(example: Path) -> None:
    """Nothing draws current and the line is 10 % high, or the batteries are fresh."""
    chassis = read_file(example)
    b_plus = Wiring(chassis).b_plus
    # Those of bias and filament lines have their plus elsewhere.
    filters = [
        part
        for part in chassis.of_kind("capacitor")
        if part.description.has("electrolytic")
        and (plus := part.terminal("+")) is not None
        and chassis.net(plus.node) in b_plus
    ]

    assert filters
    for part in filters:
        assert (part.description.number("voltage") or 0) >= _unloaded_v(chassis), part.ref


def _unloaded_v(chassis: Chassis) -> float:
    """The crest of the AC; of a vibrator's square wave its height; of batteries all their volts."""
    transformer = chassis.part("T1")
    high = transformer.description.windings.get("high") if transformer is not None else None
    winding_v = high.values["voltage"].highest if high is not None else None
    if chassis.line is not None and chassis.line.volts is not None:
        return (winding_v or chassis.line.volts) * 1.1 * 2**0.5
    batteries = list(chassis.of_kind("battery"))
    assert batteries
    if winding_v is not None:
        (battery,) = batteries
        return winding_v * _volts(battery, "running") / _volts(battery, "voltage")
    return sum(_volts(battery, "voltage") for battery in batteries)


def _volts(battery: Part, role: str) -> float:
    volts = battery.description.number(role)
    assert volts is not None, f"{battery.ref}: {role}"
    return volts


def test_one_restored_set_keeps_its_floating_b_minus() -> None:
    chassis = _named("larkfield-five-restored")
    capacitor, bleeder = _part(chassis, "C21"), _part(chassis, "R20")

    for part in (capacitor, bleeder):
        assert {_node(part, "a"), _node(part, "b")} == {"B-", "CHASSIS"}
    assert [name for name, _ in capacitor.description.classes] == ["Y2"]


def _part(chassis: Chassis, ref: str) -> Part:
    part = chassis.part(ref)
    assert part is not None, ref
    return part


def _node(part: Part, terminal: str) -> str:
    found = part.terminal(terminal)
    assert found is not None, f"{part.ref}.{terminal}"
    return found.node
