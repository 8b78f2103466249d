"""Suppositions in words: what they change, and the nearest right word."""

from __future__ import annotations

import pytest

from netcheck.bench.asked import NotUnderstood
from netcheck.bench.suppose import suppose
from netcheck.chassis import Chassis
from netcheck.circuit.states import Edit
from netcheck.language import read
from tests.bench.conftest import example


def test_a_value_is_measured(larkfield: Chassis) -> None:
    part = suppose(larkfield, ["r9 610K"]).chassis.part("R9")
    assert part is not None
    assert part.value("resistance") == 610e3


def test_a_value_follows_the_notation_of_the_drawing() -> None:
    chassis = read("notation M = 1000\nR1 47M: X to Y")
    part = suppose(chassis, ["R1 250M"]).chassis.part("R1")
    assert part is not None
    assert part.value("resistance") == 250e3


@pytest.mark.parametrize(
    ("text", "edit"),
    [
        ("C14 leaks 2M", Edit("leak", "C14", 2e6)),
        ("C14 short", Edit("leak", "C14", 0.01)),
        ("R9 shorted", Edit("leak", "R9", 0.01)),
    ],
)
def test_a_leak_is_an_edit_of_the_state(larkfield: Chassis, text: str, edit: Edit) -> None:
    assert suppose(larkfield, [text]).state.edits == (edit,)


@pytest.mark.parametrize("text", ["R9 open", "C14 out", "cut R9", "DS1 out", "F1 blown"])
def test_what_is_open_is_out(larkfield: Chassis, text: str) -> None:
    ref = next(word for word in text.split() if word[-1].isdigit())
    part = suppose(larkfield, [text]).chassis.part(ref)
    assert part is not None
    assert not part.fitted


def test_a_plug_takes_along_what_is_on_it(tansley: Chassis) -> None:
    chassis = suppose(tansley, ["P2 out"]).chassis
    assert [r for r in ("L5", "T2", "L6", "LS1") if getattr(chassis.part(r), "fitted", True)] == []


def test_a_control_does_not_take_its_switch_along(larkfield: Chassis) -> None:
    switch = suppose(larkfield, ["R6 out"]).chassis.part("S1")
    assert switch is not None
    assert switch.fitted


def test_one_winding_opens_and_the_other_stays(larkfield: Chassis) -> None:
    part = suppose(larkfield, ["T2 primary open"]).chassis.part("T2")
    assert part is not None
    assert [path.name for path in part.paths] == ["secondary"]


def test_wires_and_cuts_change_nodes(larkfield: Chassis) -> None:
    assert suppose(larkfield, ["wire B1 to B2"]).chassis.net("B2") == larkfield.net("B1")
    part = suppose(larkfield, ["cut V3.plate"]).chassis.part("V3")
    terminal = part.terminal("plate") if part is not None else None
    assert terminal is not None
    assert terminal.node not in larkfield.nodes


def test_a_switch_moves() -> None:
    chassis = example("ellernbach-live-restored")
    body = next(part for part in chassis.of_kind("switch") if len(part.positions) > 1)
    moved = suppose(chassis, [f"{body.body_ref} at {body.positions[-1]}"]).chassis
    assert {s.switch: s.position for s in moved.settings}[body.body_ref] == body.positions[-1]


def test_suppositions_add_up(larkfield: Chassis) -> None:
    found = suppose(larkfield, ["R9 610K", "C14 leaks 2M", "V4 weak", "oscillator dead"])
    assert found.said == ("R9 610K", "C14 leaks 2M", "V4 weak", "oscillator dead")
    assert (found.state.emission, found.state.oscillator) == ((("V4", 0.5),), "dead")
    assert found.weak == ("V4",)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("R99 1K", "did you mean R9?"),
        ("R9 opn", "did you mean open?"),
        ("R9 610", "units are always written"),
        ("R9 5 V", "5 V is no resistance"),
        ("R9", "say what of which part"),
        ("C14 leeks 2M", "did you mean leaks?"),
        ("C14 leaks", "nothing is no resistance"),
        ("C1 short", "C1A or C1B"),
        ("T2 open", "primary or secondary"),
        ("T2 primry open", "did you mean primary?"),
        ("V4 puled", "did you mean pulled?"),
        ("S1 at LW", "ON and OFF"),
        ("wire B1 to B22", "did you mean B2?"),
        ("wire B1", "two nodes"),
        ("cut V3.plaet", "no terminal plaet"),
        ("oscillator slow", "`dead` or `running`"),
        ("", "say what of which part"),
        ("R9 1K\nR1 5: x", "is no resistance"),
    ],
)
def test_what_cannot_be_read_is_answered_with_the_right_word(
    larkfield: Chassis, text: str, says: str
) -> None:
    with pytest.raises(NotUnderstood, match="--suppose") as caught:
        suppose(larkfield, [text])
    assert says in str(caught.value)


def test_a_part_that_is_not_there_cannot_be_different(larkfield: Chassis) -> None:
    with pytest.raises(NotUnderstood, match="not fitted"):
        suppose(larkfield, ["R9 out", "R9 610K"])


def test_shorted_turns_of_a_power_transformer_are_not_guessed(tansley: Chassis) -> None:
    with pytest.raises(NotUnderstood, match="not computed"):
        suppose(tansley, ["T1 high short"])


@pytest.mark.parametrize("text", ["D1 short", "D1 leaks 10K"])
def test_a_bridge_does_not_short_as_one_diode(text: str) -> None:
    chassis = read("line none\nD1 bridge 400 V 1 A: ac HA to HB, + B1, - B-\n")

    with pytest.raises(NotUnderstood, match=r"four diodes.*wire D1\.ac1 to D1\.\+"):
        suppose(chassis, [text])
    (wire,) = suppose(chassis, ["wire D1.ac1 to D1.+"]).chassis.wires
    assert set(wire.nodes) == {"HA", "B1"}
