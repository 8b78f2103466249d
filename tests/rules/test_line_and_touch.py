"""Leads, plug, switch, live metal: one cause is one finding; harm follows who can touch it."""

from __future__ import annotations

import pytest

from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

NAMES = (
    "unfused-hot-lead", "fuse-misplaced", "switch-in-neutral", "plug-not-polarized",
    "line-capacitor-class", "live-chassis", "antenna-isolation", "two-in-series",
)  # fmt: skip
RULES = [rule for rule in builtin() if rule.name in NAMES]
LINE = "line 117 V 60 Hz\n"
FUSED = "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
LOAD = "V1 35W4: heater SW to H1\nV2 50C5: heater H1 to B-\n"
PLUG = "P1 plug, polarized: hot LINE, neutral B-\n"
TRANSFORMER = (
    "T1 power, primary 117 V, high 300-0-300 V:\n   primary SW to N, high HA to CHASSIS to HB\n"
    "V1 5Y3: plate1 HA, plate2 HB, heater RAIL to FIL\nZ1 load 60 mA: RAIL to CHASSIS\n"
)


def report(text: str) -> Report:
    return lint(read(text), RULES)


def findings(text: str) -> list[Finding]:
    return list(report(text).findings)


def names(text: str) -> list[str]:
    return [found.rule for found in findings(text)]


def test_a_set_wired_right_is_silent() -> None:
    assert names(LINE + PLUG + FUSED + LOAD) == []


def test_a_plug_wired_backwards_is_one_finding() -> None:
    backwards = "P1 plug, polarized: hot B-, neutral LINE\n"
    assert names(LINE + backwards + FUSED + LOAD) == ["plug-not-polarized"]


def test_a_missing_fuse_is_one_finding_even_with_a_turning_plug() -> None:
    turning = "P1 plug, not polarized: 1 LINE, 2 N\nS1 power: ON LINE to SW\n"
    found = findings(LINE + turning + TRANSFORMER)
    assert [each.rule for each in found] == ["unfused-hot-lead", "plug-not-polarized"]
    assert found[1].harm is Harm.RECORD


def test_a_turning_plug_is_a_warning_where_the_set_hangs_on_the_line() -> None:
    turning = "P1 plug, not polarized: 1 LINE, 2 B-\n"
    (found,) = findings(LINE + turning + FUSED + LOAD)
    assert found.rule == "plug-not-polarized"
    assert found.harm is Harm.SHOCK


def test_isolation_is_not_claimed_where_the_text_does_not_tell() -> None:
    turning = "P1 plug, not polarized: 1 LINE, 2 N\n" + FUSED
    for unknown in ("", TRANSFORMER.replace("power, primary", "gizmo, primary")):
        result = report(LINE + turning + unknown)
        assert not [f for f in result.findings if f.rule == "plug-not-polarized"]
        assert "plug-not-polarized" in {each.rule for each in result.not_checked}


def test_a_switch_in_both_leads_leaves_nothing_joined() -> None:
    both = "P1 plug, not polarized: 1 LINE, 2 N\nF1 1/2 A 250 V slow: LINE to FUSED\n"
    switch = "S1 power, DPST: ON FUSED to SW, ON N to CHASSIS\nZ1 load 250 mA: SW to CHASSIS\n"
    found = {each.rule: each for each in findings(LINE + both + switch)}
    assert set(found) == {"live-chassis", "plug-not-polarized"}
    assert found["live-chassis"].state == "with the plug one way round"
    assert "F1 is in the neutral lead one way round" in found["plug-not-polarized"].message


def test_two_fuses_that_share_the_load_protect_it() -> None:
    shared = (
        "S1 power: ON F to SW\nF1 .3 A 250 V: SW to HEAT\nF2 .1 A 250 V: SW to PLATE\n"
        "Z1 load 150 mA: HEAT to B-\nZ2 load 60 mA: PLATE to B-\nF3 1 A 250 V: LINE to F\n"
    )
    assert names(LINE + PLUG + shared) == []
    unshared = shared.replace("F3 1 A 250 V: LINE to F\n", "wire LINE to F\n")
    (found,) = findings(LINE + PLUG + unshared)
    assert found.rule == "fuse-misplaced"
    assert found.harm is Harm.DAMAGE
    assert "behind the switch S1" in found.message
    assert found.parts == ("F1", "F2", "S1")


def test_a_fuse_that_could_not_be_read_is_not_called_missing() -> None:
    broken = (LINE + PLUG + FUSED + LOAD).replace("1/2 A 250 V slow", "1/2 henry")
    result = report(broken)
    assert "unfused-hot-lead" not in {found.rule for found in result.findings}
    assert "unfused-hot-lead" in {each.rule for each in result.not_checked}


def test_a_fuse_in_b_plus_is_no_line_fuse() -> None:
    text = LINE + "P1 plug, polarized: hot LINE, neutral N\nS1 power: ON LINE to SW\n" + TRANSFORMER
    fuse = "F1 .1 A 250 V: RAIL to B1\nR1 10K 5 W: B1 to CHASSIS\n"
    (found,) = findings(text + fuse)
    assert found.rule == "unfused-hot-lead"
    assert "F1 is not in it" in found.message


def test_a_voltage_selector_is_no_line_switch() -> None:
    text = (
        "line 230 V 50 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
        "F1 .5 A 250 V slow: LINE to FUSED\nS2 voltage selector: 230 N to END\n"
        "S1 power: ON FUSED to SW\n"
        + TRANSFORMER.replace("117 V", "230 V").replace("SW to N", "SW to END")
    )
    assert names(text) == []


LIVE = LINE + "P1 plug, polarized: hot LINE, neutral N\n" + FUSED.replace(
    "S1 power: ON FUSED to SW", "S1 power: ON N to CHASSIS"
) + "V1 35W4: heater FUSED to H1\nV2 50C5: heater H1 to CHASSIS\n"  # fmt: skip


def live(text: str) -> Finding:
    (found,) = [each for each in findings(text) if each.rule == "live-chassis"]
    return found


def test_live_metal_is_danger_where_a_hand_reaches_it_else_a_warning() -> None:
    assert live(LIVE).harm is Harm.SHOCK_NOW
    covered = live(LIVE + "R6 500K control: A1 to A2 to A3\ntouchable: R6.shaft\n")
    assert covered.harm is Harm.SHOCK
    assert "does not call it touchable" in covered.message


def test_the_way_to_the_line_is_told_element_by_element() -> None:
    found = live(LIVE)
    assert [each.message for each in found.related] == [
        "contact S1 joins CHASSIS to N",
        "pin neutral of P1",
    ]
    assert [each.span.line for each in found.related] == [4, 2]
    assert found.state == "through what S1 leaves joined when it is off"


def test_metal_live_through_a_wire_and_through_a_tube_string() -> None:
    wired = live(LINE + PLUG + FUSED + LOAD + "wire CHASSIS to SHIELD to B-\n")
    assert wired.span.line == 7
    midway = live(LINE + PLUG + FUSED + LOAD + "wire CHASSIS to H1\n")
    assert midway.parts[0] in ("V1", "V2")
    assert midway.state == "in use"


def test_metal_is_named_as_the_text_names_it() -> None:
    text = LINE + PLUG + FUSED + LOAD + "LS1 3.2 ohm: VA to VB, frame METAL\nwire METAL to B-\n"
    found = live(text + "touchable: METAL\n")
    assert found.message.startswith("METAL is joined to the line")
    assert found.span.line == 8


def test_jacks_on_live_metal_are_one_finding_with_it() -> None:
    jack = "J1 earth: CHASSIS\nL1 antenna coil 3 ohm: ANT to CHASSIS\nJ2 antenna: ANT\n"
    assert "antenna-isolation" not in names(LIVE + jack)
    # A covered chassis leaves the jacks as the metal a hand reaches.
    apart = [f for f in findings(LIVE + jack + "touchable: ANT\n") if f.rule == "antenna-isolation"]
    assert {f.parts[0]: f.harm for f in apart} == {"J1": Harm.SHOCK, "J2": Harm.SHOCK_NOW}


@pytest.mark.parametrize(
    ("jack", "harm"),
    [
        ("J1 antenna: ANT\nC1 100 mmf 500 V mica: ANT to SW\n", Harm.SHOCK),
        ("J1 headphone: tip PH, sleeve B-\nC1 .1 mfd 400 V: H1 to PH\n", Harm.SHOCK_NOW),
        ("J1 antenna: ANT\nL1 antenna coil 3 ohm: ANT to B-\n", Harm.SHOCK_NOW),
        ("J1 phono: PU\nR6 500K control: PU to VOL to B-\n", None),
    ],
)
def test_jacks(jack: str, harm: Harm | None) -> None:
    found = findings(LINE + PLUG + FUSED + LOAD + jack)
    assert {f.rule for f in found} == ({"antenna-isolation"} if harm else set())
    assert min((f.harm for f in found), key=lambda h: h.rank, default=None) is harm


@pytest.mark.parametrize(
    ("first", "second", "strict", "harm"),
    [
        (".01 mfd 250 VAC class Y2", ".01 mfd 250 VAC class Y2", True, None),
        (".01 mfd 250 VAC class Y2", ".01 mfd 250 VAC class Y2", False, None),
        (".01 mfd 250 VAC class Y2", ".0047 mfd 250 VAC class Y2", True, Harm.SHOCK),
        (".01 mfd 250 VAC class Y2", ".0047 mfd 250 VAC class Y2", False, Harm.RECORD),
        (".01 mfd 250 VAC class Y2", ".01 mfd 630 V film", False, Harm.RECORD),
        (".01 mfd 250 VAC class Y2", ".01 mfd 630 V film", True, Harm.SHOCK),
        (".01 mfd 275 VAC class X2", ".01 mfd 275 VAC class X2", False, Harm.SHOCK),
        (".01 mfd 100 VAC class Y2", ".01 mfd 100 VAC class Y2", False, Harm.SHOCK),
        (".01 mfd 250 VAC class Y1", ".02 mfd 400 V paper", True, None),
    ],
)
def test_two_in_series(first: str, second: str, strict: bool, harm: Harm | None) -> None:
    policy = "policy line-capacitor-class class strict\n" if strict else ""
    pair = f"C1 {first}: B- to MID\nC2 {second}: MID to CHASSIS\n"
    found = findings(LINE + PLUG + FUSED + LOAD + policy + pair)
    assert [(f.rule, f.harm) for f in found] == ([("two-in-series", harm)] if harm else [])


def test_a_changeover_in_the_other_lead_is_no_line_switch() -> None:
    text = (
        LINE + "P1 plug, not polarized: 1 LINE, 2 N\nF1 1/2 A 250 V slow: LINE to FUSED\n"
        "S1 power: ON N to B-\nS2 {}\nBT1 90 V: + BBAT, - B-\n"
        "V1 35W4: heater SW to H1\nV2 50C5: heater H1 to B-\n"
    )
    seen = {
        "changeover: LINE FUSED to SW, BATTERY BBAT to SW": True,
        "power: ON FUSED to SW": False,
        "rotary: OFF open, MW FUSED to SW, SW FUSED to SW": False,
        "rotary: MW FUSED to SW, SW FUSED to SW": False,
    }
    for switch, told in seen.items():
        assert ("switch-in-neutral" in names(text.format(switch))) is told, switch


def test_a_changeover_that_opens_both_leads_leaves_nothing_joined() -> None:
    text = (
        LINE + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V slow: LINE to FUSED\n"
        "BT1 90 V: + BBAT, - BLOW\nZ1 load 250 mA: SW to B-\n"
        "S2 changeover: LINE FUSED to SW, LINE N to B-, BATTERY BBAT to SW, BATTERY BLOW to B-\n"
    )
    assert "switch-in-neutral" not in names(text)


def test_what_hangs_on_the_hot_line_through_the_rectifier_is_told() -> None:
    text = (
        LINE + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V slow: LINE to FUSED\n"
        "CR1 silicon 1000 V 1 A: anode FUSED, cathode B1\nR5 2500 ohm 10 W: B1 to B-\n"
        "S1 power: ON N to B-\n"
    )
    (found,) = [each for each in findings(text) if each.rule == "switch-in-neutral"]
    assert "B- stays joined to LINE through F1, CR1 and R5" in found.message


BUILT_LIVE = (
    "line 230 V 50 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power, DPST: ON FUSED to SW, ON N to CHASSIS\n"
    "V5 UY85: plate SW, cathode B1, heater SW to H1\nV4 UL84: heater H1 to CHASSIS\n"
    "J3 gram: tip GRAM, sleeve LOW\nC7 .0022 mfd 250 VAC class Y2: LOW to CHASSIS\n"
    "C6 .0022 mfd 250 VAC class Y2: GRAM to TOP\nR1 1M 1/2 W: TOP to CHASSIS\n"
)


@pytest.mark.parametrize(
    ("touchable", "chassis"),
    [("GRAM, LOW", Harm.SHOCK), ("GRAM, LOW, CHASSIS", Harm.SHOCK_NOW), ("", Harm.SHOCK_NOW)],
)
def test_a_socket_wired_to_a_live_chassis_is_told_at_the_socket(
    touchable: str, chassis: Harm
) -> None:
    """Where the chassis itself can be touched it is the worse fault, and one with the socket."""
    said = f"touchable: {touchable}\n" if touchable else ""
    wired = findings(BUILT_LIVE + said + "wire LOW to CHASSIS\n")
    harms = {each.rule: each.harm for each in wired}
    assert harms["live-chassis"] is chassis
    own = [each for each in wired if each.rule == "antenna-isolation"]
    if chassis is Harm.SHOCK:
        (socket,) = own
        assert (socket.harm, socket.parts) == (Harm.SHOCK_NOW, ("J3", "C7"))
        assert "across C7" in socket.message
        assert {each.rule for each in findings(BUILT_LIVE + said)} == {"live-chassis"}
    else:
        assert not own


def test_a_set_built_on_the_line_is_not_told_to_use_a_b_minus_it_lacks() -> None:
    assert "B-" not in live(BUILT_LIVE).action
    floating = LINE + PLUG + FUSED + LOAD + "wire CHASSIS to B-\n"
    assert "join it to B- only through" in live(floating).action


CAR = (
    "line none\nBT1 {battery}: + {plus}, - {minus}\n{fuse}"
    "S1 power: ON ALEAD to A+\nL6 choke, .02 ohm: A+ to TAP\n"
    "G1 vibrator: reed CHASSIS, contacts VA to VB, coil VA\n"
    "T1 vibrator, high 235-0-235 V:\n   primary VA to TAP to VB, high HA to CHASSIS to HB\n"
    "V6 6X5GT: plate1 HA, plate2 HB, cathode B1, heater A+ to CHASSIS\nF2 1/4 A 250 V: B1 to B2\n"
    "Z1 load 50 mA: B2 to CHASSIS\n"
)
FUSE = "F1 10 A 32 V: BATTERY to ALEAD\n"
WIRE = "wire BATTERY to ALEAD\n"


@pytest.mark.parametrize(
    ("battery", "plus", "minus", "fuse", "fires"),
    [
        ("6 V storage", "BATTERY", "CHASSIS", FUSE, False),
        ("6 V storage", "CHASSIS", "BATTERY", FUSE, False),
        ("6 V", "BATTERY", "CHASSIS", FUSE, False),
        # The fuse in B+ is not in the lead.
        ("6 V storage", "BATTERY", "CHASSIS", WIRE, True),
        ("6 V storage", "CHASSIS", "BATTERY", WIRE, True),
        ("6 V", "BATTERY", "CHASSIS", WIRE, True),
    ],
)
def test_the_lead_of_a_car_battery(
    battery: str, plus: str, minus: str, fuse: str, fires: bool
) -> None:
    text = CAR.format(battery=battery, plus=plus, minus=minus, fuse=fuse)
    assert [f.rule for f in findings(text)] == (["unfused-hot-lead"] if fires else [])


def test_a_battery_lead_that_could_not_be_read_is_not_called_unfused() -> None:
    text = CAR.format(battery="6 V storage", plus="BATTERY", minus="CHASSIS", fuse=FUSE)
    result = report(text.replace("10 A 32 V", "10 henry"))
    assert "unfused-hot-lead" not in {found.rule for found in result.findings}
    assert "unfused-hot-lead" in {each.rule for each in result.not_checked}


def test_dry_batteries_need_no_fuse() -> None:
    assert not names("line none\nBT1 1.5 V A-battery, dry: + A+, - B-\nZ1 load .1 A: A+ to B-\n")
