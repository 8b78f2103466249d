"""What rules about the line ask of a set, one question at a time on sets drawn by hand."""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._base import Case
from netcheck.rules._line import (
    breaking_switches,
    hot_when,
    is_line_fed,
    is_reached,
    is_reversed,
    is_unread,
    jacks_apart,
    line_fuses,
    line_of,
    metal_with,
    path_lines,
    plug_pin,
    state_of,
    straight_poles,
    switches,
    touch_calculation,
    two_pole_switches,
)

LINE = "line 117 V 60 Hz\n"
FIXED = LINE + "P1 plug, polarized: hot LINE, neutral N\n"
TURNING = LINE + "P1 plug, not polarized: 1 LINE, 2 N\n"
WOUND = (
    "T1 power, primary 117 V, high 300 V: primary SW to N, high HA to CHASSIS\n"
    "Z1 load 60 mA: HA to CHASSIS\nV1 6J5: plate HA, grid CHASSIS, cathode CHASSIS\n"
)


def case_of(text: str) -> Case:
    chassis = read(text, "set")
    assert chassis.was_read, [f.message for f in chassis.findings]
    return Case(builtin()[0], chassis, Circuit(chassis))


def cuts(case: Case, pole: str) -> tuple[str, ...]:
    return breaking_switches(case, case.circuit.wiring.lead(pole).cuts)


@pytest.mark.parametrize(
    ("switch", "breaks"),
    [
        ("S1 power: ON N to B-\n", ("S1",)),
        ("S1: ON N to B-, OFF open\n", ("S1",)),
        ("S1: on N to B-, off open, third open\n", ("S1",)),
        # Off is no position of its own where every position closes the lead.
        ("S1: LW N to B-, MW N to B-\n", ("S1",)),
        ("S1 changeover: RADIO N to B-, GRAM open\n", ()),
        ("S1 interlock: ON N to B-\n", ()),
        ("S1 selector: 110 N to B-, 220 N to B-\n", ()),
        ("S1 voltage selector: 110 N to B-, 220 N to B-\n", ()),
        ("S1A wafer: ON N to B-\nS1B wafer: ON X to Y, PHONO open\n", ()),
        ("S1 interlock: ON N to X\nS2 power: ON X to B-\n", ("S2",)),
    ],
)
def test_a_switch_breaks_the_lead_if_off_is_where_it_can_stand(
    switch: str, breaks: tuple[str, ...]
) -> None:
    assert cuts(case_of(FIXED + switch + "R1 470 ohm 50 W: LINE to B-\n"), "N") == breaks


def test_only_contacts_of_line_switches_are_switches_of_a_lead() -> None:
    case = case_of(FIXED + "F1 1 A 250 V: LINE to FUSED\nS1: ON FUSED to SW\nR1 470 ohm: SW to N\n")
    assert switches(case, case.circuit.wiring.elements) == ("S1",)
    assert [e.ref for e in line_fuses(case.circuit.wiring)] == ["F1"]


@pytest.mark.parametrize(
    ("text", "both"),
    [
        ("S1 dpst: ON LINE to SW, ON N to B-\nR1 470 ohm 50 W: SW to B-\n", {"S1"}),
        ("S1: ON LINE to SW\nS2: ON N to B-\nR1 470 ohm 50 W: SW to B-\n", set()),
        ("S1: ON LINE to SW\nR1 470 ohm 50 W: SW to N\n", set()),
    ],
)
def test_a_switch_of_two_poles_opens_both_leads(text: str, both: set[str]) -> None:
    assert two_pole_switches(case_of(FIXED + text)) == both


def test_one_lead_alone_has_no_switch_of_two_poles() -> None:
    case = case_of(LINE + "P1 plug, polarized: hot LINE\nS1: ON LINE to SW\nR1 470 ohm: SW to B-\n")
    assert two_pole_switches(case) == frozenset()


@pytest.mark.parametrize(
    ("text", "fed", "backwards", "straight"),
    [
        (FIXED + "wire N to B-\nR1 470 ohm 50 W: LINE to B-\n", True, False, {"N"}),
        (FIXED + "wire LINE to B-\nR1 470 ohm 50 W: N to B-\n", True, True, {"LINE"}),
        (TURNING + "wire N to B-\nR1 470 ohm 50 W: LINE to B-\n", True, False, {"N"}),
        (FIXED + "S1: ON LINE to SW\n" + WOUND, False, False, {"N"}),
        (TURNING + "S1: ON LINE to SW\n" + WOUND, False, False, set()),
        # A tube on the line makes a set line-fed, though its common net is not there.
        (
            FIXED + "V1 6J5: plate LINE, grid X, cathode N\nR1 1K: B- to X\n",
            True,
            False,
            {"N"},
        ),
    ],
)
def test_which_way_round_a_set_hangs_on_its_plug(
    text: str, fed: bool, backwards: bool, straight: set[str]
) -> None:
    wiring = case_of(text).circuit.wiring
    nets = {wiring.chassis.net(name) for name in straight}
    assert is_line_fed(wiring) is fed
    assert is_reversed(wiring) is backwards
    assert straight_poles(wiring) == nets


def test_a_common_net_on_no_pole_of_a_line_fed_set_is_not_reversed() -> None:
    wiring = case_of(
        FIXED + "R1 470 ohm 50 W: LINE to B-\nR2 470 ohm 50 W: B- to N\n"
    ).circuit.wiring
    assert is_line_fed(wiring)
    assert not is_reversed(wiring)


def test_a_part_that_could_not_be_read_makes_its_own_lead_uncertain_and_no_other() -> None:
    chassis = read(
        FIXED + "F1 1 A strange: LINE to FUSED\nZ1 load 1 A: FUSED to B-\nS1: ON N to B-\n", "set"
    )
    wiring = Circuit(chassis).wiring
    assert is_unread(wiring, ["LINE"])
    assert not is_unread(wiring, ["N"])
    assert not is_unread(wiring, [])


def test_conductors_join_metal_through_any_number_of_nets_and_nothing_else_does() -> None:
    case = case_of(
        FIXED + "L1 choke 2 ohm: MID to NEAR1\nL2 choke 2 ohm: MID to NEAR2\n"
        "L3 choke 2 ohm: NEAR1 to FAR1\nL4 choke 2 ohm: NEAR2 to FAR2\nR1 1 ohm: FAR2 to BEYOND\n"
    )
    assert metal_with(case.circuit.wiring, "MID") == {"MID", "NEAR1", "NEAR2", "FAR1", "FAR2"}
    assert metal_with(case.circuit.wiring, "BEYOND", "N") == {"BEYOND", "N"}


JACKS = "J1 phono: tip TIP, sleeve CHASSIS\nJ2 antenna: ANT\nR1 1K: TIP to B-\nR2 1K: ANT to B-\n"


def test_jacks_and_chassis_are_reached_where_nothing_else_is_said() -> None:
    case = case_of(LINE + JACKS)
    assert is_reached(case, "CHASSIS")
    assert is_reached(case, "ANT")
    assert not is_reached(case, "B-")


@pytest.mark.parametrize(
    ("touchable", "reached"),
    [
        ("touchable: CHASSIS\n", {"CHASSIS"}),
        ("touchable: J1.tip\n", set()),
        # The sleeve is the chassis.
        ("touchable: ANT, J1.sleeve\n", {"CHASSIS"}),
        ("touchable: R3.shaft, ANT\n", {"B-"}),
    ],
)
def test_a_terminal_of_a_jack_alone_reaches_no_metal_behind_it(
    touchable: str, reached: set[str]
) -> None:
    case = case_of(LINE + JACKS + "R3 control, 500K: X to Y to B-, shaft B-\n" + touchable)
    assert {net for net in ("CHASSIS", "ANT", "TIP", "B-") if is_reached(case, net)} == reached


def test_jacks_on_the_chassis_are_not_apart_from_it_while_it_can_be_touched() -> None:
    two = "J3 phono: tip TIP, sleeve open\nL1 coil 1 ohm: ANT to CHASSIS\n"
    apart = {
        net: [jack.ref for jack in jacks]
        for net, jacks in jacks_apart(case_of(LINE + JACKS + two)).items()
    }
    assert apart == {"TIP": ["J1", "J3"]}


def test_jacks_on_a_chassis_that_nobody_reaches_are_apart() -> None:
    case = case_of(LINE + JACKS + "touchable: J2\n".replace("J2", "ANT"))
    apart = {net: [jack.ref for jack in jacks] for net, jacks in jacks_apart(case).items()}
    assert apart == {"TIP": ["J1"], "CHASSIS": ["J1"], "ANT": ["J2"]}


def test_two_switches_in_the_neutral_lead_are_both_said_to_leave_it_joined() -> None:
    case = case_of(
        FIXED + "S1 power: ON N to N2\nF1 1 A 250 V: N2 to N3\nS2 toggle: ON N3 to B-\n"
        "Z1 load 1 A: LINE to B-\nL1 coil 1 ohm: B- to FAR\n"
    )
    assert hot_when(case, "B-") == ("through what S1 or S2 leaves joined when it is off",)
    assert hot_when(case, "FAR") == hot_when(case, "B-")
    assert hot_when(case, "N3") == hot_when(case, "B-")
    assert hot_when(case, "N") == ()
    assert hot_when(case, "LINE") == ("whenever it is plugged in",)
    assert state_of(case, "N") == "with an outlet wired the wrong way round"
    assert state_of(case, "LINE") == "whenever it is plugged in"


def test_a_plug_that_turns_makes_both_leads_hot_one_way_round() -> None:
    case = case_of(TURNING + "S1: ON N to B-\nR1 470 ohm 50 W: LINE to B-\n")
    assert state_of(case, "B-") == (
        "with the plug one way round or through what S1 leaves joined when it is off"
    )
    assert state_of(case, "LINE") == "with the plug one way round"


def test_the_way_to_the_line_is_told_part_by_part_in_walking_order() -> None:
    case = case_of(FIXED + "F1 1 A 250 V: LINE to FUSED\nS1: ON FUSED to SW\nR1 470 ohm: SW to N\n")
    told = list(path_lines(case, "SW", case.circuit.wiring.line_path("SW")))
    assert [(each.span.line, each.message) for each in told] == [
        (4, "contact S1 joins SW to FUSED"),
        (3, "fuse F1 joins FUSED to LINE"),
    ]
    assert [each.span.column for each in told] == [1, 1]


def test_the_pin_of_the_plug_is_named_where_it_is_on_the_net() -> None:
    case = case_of(FIXED + "wire N to B-\nR1 470 ohm: LINE to B-\n")
    pin = plug_pin(case, case.chassis.net("B-"))
    assert pin is not None
    assert pin.message == "pin neutral of P1"
    assert plug_pin(case, "NOWHERE") is None


@pytest.mark.parametrize("line", ["", "line none\n"])
def test_without_volts_of_the_line_no_hand_current_is_reckoned(line: str) -> None:
    case = case_of(line + "R1 1K: B- to CHASSIS\n")
    assert line_of(case) is None
    assert touch_calculation(case, "through a hand") == ()


def test_the_line_is_high_by_what_the_text_allows_it() -> None:
    line = line_of(case_of("line 230 V 50 Hz +6% -10%\nR1 1K: B- to CHASSIS\n"))
    assert line is not None
    assert (line.volts, line.hertz) == (230.0, 50.0)
    assert line.high_v == pytest.approx(243.8)
