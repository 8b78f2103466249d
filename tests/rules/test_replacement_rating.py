"""Replacements against the parts they replace: volts, values, watts, amperes, reservoirs."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "replacement-rating"


@pytest.mark.parametrize(
    ("part", "fires"),
    [
        # Standard values for old ones, as the trade substitutes them: none may fire.
        ("C1 470 mmf 500 V mica, replaces .0005 mfd 500 V mica", False),
        ("C1 .0022 mfd 630 V film, replaces .002 mfd 600 V paper", False),
        ("C1 .0047 mfd 630 V film, replaces .004 mfd 600 V paper", False),
        ("C1 .0068 mfd 630 V film, replaces .006 mfd 600 V paper", False),
        ("C1 .022 mfd 630 V film, replaces .02 mfd 600 V paper", False),
        ("C1 .047 mfd 630 V film, replaces .05 mfd 600 V paper", False),
        ("C1 .22 mfd 630 V film, replaces .25 mfd 600 V paper", False),
        # Off in value.
        ("C1 .1 mfd 630 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .0047 mfd 630 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or .1 mfd, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film, measured .013 mfd, replaces .01 mfd 600 V paper", True),
        # Fewer volts, whatever the value; the worse of two alternates counts.
        ("C1 .01 mfd 400 V film, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or 400 V, replaces .01 mfd 600 V paper", True),
        ("C1 .01 mfd 630 V film or 1 kV, replaces .01 mfd 600 V paper", False),
        # AC and DC.
        ("C1 .01 mfd 250 VAC film, replaces .01 mfd 400 V paper", True),
        ("C1 .01 mfd 300 VAC film, replaces .01 mfd 400 V paper", False),
        ("C1 .01 mfd 630 V film, replaces .01 mfd 250 VAC paper", True),
        ("C1 .01 mfd 275 VAC film, replaces .01 mfd 250 VAC paper", False),
        ("C1 .01 mfd 250 VAC class Y2, replaces .2 mfd 400 V paper", False),
    ],
)
def test_capacitors(linted: Linted, part: str, fires: bool) -> None:
    assert bool(linted(RULE, f"{part}: X1 to X2").findings) is fires


@pytest.mark.parametrize(
    ("mfd", "fires"), [("39", True), ("40", False), ("100", False), ("102", True)]
)
def test_electrolytics_from_a_fifth_less_to_twice(linted: Linted, mfd: str, fires: bool) -> None:
    part = f"C1 {mfd} mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic: + X1, - B-"
    assert bool(linted(RULE, part).findings) is fires


@pytest.mark.parametrize(("mmf", "fires"), [("101", False), ("97", True), ("120", True)])
def test_tuned_circuits_are_held_to_two_percent(linted: Linted, mmf: str, fires: bool) -> None:
    text = (
        f"C1 {mmf} mmf 500 V mica, replaces 100 mmf 500 V mica: X1 to X2\n"
        "T1 IF: primary X1 to X2, secondary X3 to X4\n"
    )
    found = linted(RULE, text).findings
    assert bool(found) is fires
    assert all("tuned circuit" in each.message for each in found)


@pytest.mark.parametrize(
    ("part", "harm"),
    [
        ("R1 47K 1/2 W, replaces 47K 1 W", Harm.DAMAGE),
        ("R1 47K 1 W, replaces 47K 1 W", None),
        ("R1 56K 1 W, replaces 47K 1 W", None),
        ("R1 68K 1 W, replaces 47K 1 W", Harm.PERFORMANCE),
        ("R1 51K 1 W, replaces 47K 1 W 5%", Harm.PERFORMANCE),
        ("F1 1/2 A 250 V, replaces 1/2 A 125 V", None),
        ("F1 1/2 A 125 V, replaces 1/2 A 250 V", Harm.SHOCK),
        ("F1 0.8 A 250 V, replaces 0.25 A 250 V", Harm.SHOCK),
        ("F1 0.2 A 250 V, replaces 0.25 A 250 V", None),
    ],
)
def test_resistors_and_fuses(linted: Linted, part: str, harm: Harm | None) -> None:
    found = linted(RULE, f"{part}: X1 to X2").findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_too_few_ohms_under_a_cathode_are_worse(linted: Linted) -> None:
    stage = "V4 50C5: plate B+, screen B+, g1 B-, cathode KOUT, heater H1 to B-\nR12 "
    (low,) = linted(RULE, stage + "100 ohm 1 W, replaces 150 ohm 1 W: KOUT to B-").findings
    (high,) = linted(RULE, stage + "220 ohm 1 W, replaces 150 ohm 1 W: KOUT to B-").findings
    assert (low.harm, high.harm) == (Harm.DAMAGE, Harm.PERFORMANCE)


def test_an_unstated_rating_is_not_cleared(linted: Linted) -> None:
    report = linted(RULE, "C1 .01 mfd film, replaces .01 mfd 600 V paper: X1 to X2")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("C1",)]


RECTIFIER = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 {tube}: plate LINE, cathode B1, heater LINE to H4
R1 47 ohm 1 W: B1 to B2
C2 100 mfd 160 V electrolytic, new: + B3, - B-
R2 1K 2 W: B2 to B3
"""


@pytest.mark.parametrize(
    ("tube", "part", "fires"),
    [
        ("35W4", "47 mfd 160 V electrolytic, new", False),
        ("35W4", "47 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", False),
        ("35W4", "50 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", False),
        ("35W4", "68 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic", True),
        ("35W4", "68 mfd 160 V electrolytic, new", True),
        ("35W4", "68 mfd 160 V electrolytic", False),
        ("1V", "68 mfd 450 V electrolytic, new", False),
    ],
)
def test_reservoirs_against_their_tube(linted: Linted, tube: str, part: str, fires: bool) -> None:
    """An original one is the maker's choice; a tube without a published figure is not judged."""
    text = RECTIFIER.format(tube=tube) + f"C1 {part}: + B2, - B-\n"
    found = linted(RULE, text).findings
    assert bool(found) is fires
    assert all(each.parts == ("C1", "V5") for each in found)


def test_too_large_a_reservoir_is_one_finding(linted: Linted) -> None:
    part = "C1 220 mfd 160 V electrolytic, replaces 50 mfd 150 V electrolytic: + B2, - B-\n"
    assert len(linted(RULE, RECTIFIER.format(tube="35W4") + part).findings) == 1


LINE = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\nS1 power: ON LINE to SW\n"
    "V1 50C5: heater SW to H1\nV2 35W4: heater H1 to B-, plate ANODE, cathode B1\n"
)


@pytest.mark.parametrize(
    ("part", "harm"),
    [
        # What it passes through a hand falls with its ohms: less than before only is a fault.
        ("R20 470K 1/2 W, replaces 220K 1/2 W: B- to CHASSIS", None),
        ("R20 10M 1/2 W, replaces 220K 1/2 W: SW to CHASSIS", None),
        ("R20 100K 1/2 W, replaces 220K 1/2 W: B- to CHASSIS", Harm.SHOCK),
        ("R20 100K 1/2 W, replaces 220K 1/2 W: SW to CHASSIS", Harm.SHOCK),
        # Surge resistors may not rise before a tube: nothing there drops less than it did.
        ("R1 47 ohm 2 W, replaces 22 ohm 2 W: SW to ANODE", Harm.PERFORMANCE),
        ("R1 10 ohm 2 W, replaces 22 ohm 2 W: SW to ANODE", Harm.DAMAGE),
    ],
)
def test_resistors_at_the_line(linted: Linted, part: str, harm: Harm | None) -> None:
    found = linted(RULE, f"{LINE}{part}\n").findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_a_heater_dropper_of_too_few_ohms_over_runs_the_string(linted: Linted) -> None:
    string = LINE.replace("V1 50C5: heater SW", "R5 {} 20 W, replaces 100 ohm 20 W: SW to H0\n"
                          "V1 50C5: heater H0")  # fmt: skip
    (low,) = linted(RULE, string.format("68 ohm")).findings
    (high,) = linted(RULE, string.format("150 ohm")).findings
    assert (low.harm, high.harm) == (Harm.DAMAGE, Harm.PERFORMANCE)


@pytest.mark.parametrize(
    ("diode", "ohm", "harm"),
    [
        ("silicon 1000 V 1 A, replaces selenium 100 mA", 47, None),
        ("silicon 1000 V 1 A, replaces selenium 100 mA", 10, Harm.DAMAGE),
        ("silicon 1000 V 1 A, new", 47, Harm.PERFORMANCE),
        ("selenium 200 mA, replaces selenium 100 mA", 47, Harm.PERFORMANCE),
    ],
)
def test_a_resistor_makes_up_for_the_drop_of_selenium(
    linted: Linted, diode: str, ohm: int, harm: Harm | None
) -> None:
    text = (
        f"{LINE}R1 {ohm} ohm 5 W, replaces 22 ohm 2 W: SW to A1\n"
        f"CR1 {diode}: anode A1, cathode B2\nC1 40 mfd 150 V electrolytic: + B2, - B-\n"
    )
    found = linted(RULE, text).findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


@pytest.mark.parametrize(
    ("battery", "harm"),
    [
        ("90 V B-battery, replaces 67.5 V B-battery", Harm.DAMAGE),
        ("45 V B-battery, replaces 67.5 V B-battery", Harm.PERFORMANCE),
        ("6.3 V storage, replaces 6 V storage", None),
        ("67.5 V B-battery, replaces 67.5 V B-battery", None),
    ],
)
def test_batteries(linted: Linted, battery: str, harm: Harm | None) -> None:
    found = linted(RULE, f"line none\nBT1 {battery}: + X1, - X2\n").findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_a_battery_of_unknown_volts_is_not_cleared(linted: Linted) -> None:
    report = linted(RULE, "line none\nBT1 B-battery, replaces 67.5 V B-battery: + X1, - X2\n")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("BT1",)]


def test_nothing_across_an_output_transformer_is_tuned(linted: Linted) -> None:
    """The tube that would make it a tone capacitor is not in the text yet."""
    part = "C24 .0022 mfd 630 V film, replaces .002 mfd 600 V paper: PLATE to B+\n"
    output = "T3 output, 5000 ohm to 3.2 ohm: primary B+ to PLATE, secondary VC to VCR\n"
    assert not linted(RULE, part + output).findings
    assert linted(RULE, part + output.replace("output, 5000 ohm to 3.2 ohm", "IF")).findings


def test_the_nodes_of_the_part_are_told(linted: Linted) -> None:
    (found,) = linted(RULE, "wire X1 to X3\nR1 68K 1 W, replaces 47K 1 W: X3 to X2").findings
    assert set(found.nodes) == {"X1", "X2"}


DIAL = """C1A 12-420 mmf air gang: OSC to B-
C3 3-30 mmf mica trimmer: OSC to B-
L2 oscillator coil: grid OSC to PAD, tickler TICK to FEED
T3 IF, 455 kc: primary PLATE to B+, secondary DIODE to DET
C5 {}: PAD to B-
"""


@pytest.mark.parametrize(
    ("padder", "policy", "fires"),
    [
        # 430 to 443 mmf moves the dial by 7.4 kHz: `mica-substitution` tells it, and not both.
        ("443 mmf mica, replaces 430 mmf mica", "", False),
        ("443 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 5\n", False),
        ("443 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 10\n", True),
        # A choice that the other rule does not know leaves its own in force.
        ("443 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 20\n", False),
        ("443 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz some\n", False),
        ("443 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 2\n", False),
        ("435 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 2\n", False),
        ("430 mmf mica, measured 443 mmf, replaces 430 mmf mica", "", False),
        (
            "430 mmf mica, measured 443 mmf, replaces 430 mmf mica",
            "policy mica-substitution khz 10\n",
            True,
        ),
        ("417 mmf mica, replaces 430 mmf mica", "", False),
        ("417 mmf mica, replaces 430 mmf mica", "policy mica-substitution khz 10\n", True),
        # What has no one value is not computed by the other rule.
        ("300-600 mmf mica padder, replaces 430 mmf mica", "", False),
        ("600 mmf mica, replaces 430-500 mmf mica padder", "", True),
    ],
)
def test_what_moves_the_dial_is_told_by_one_rule(
    linted: Linted, padder: str, policy: str, fires: bool
) -> None:
    found = linted(RULE, policy + DIAL.format(padder)).findings
    assert bool(found) is fires, [each.message for each in found]
    told = linted("mica-substitution", policy + DIAL.format(padder)).findings
    assert not (told and found)


def test_a_part_that_may_be_a_tone_part_is_not_held_to_two_percent(linted: Linted) -> None:
    tuned = "T1 {}, 10 ohm to 10 ohm: primary X1 to X2, secondary X3 to X4\n"
    part = "C1 105 mmf 500 V mica, replaces 100 mmf 500 V mica: X1 to X2\n"
    assert linted(RULE, part + tuned.format("IF")).findings
    assert not linted(RULE, part + tuned.format("output")).findings


SERIES = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
{more}R1 47 ohm 5 W, replaces 22 ohm 5 W: {ends}
CR1 {diode}: anode ANODE, cathode B1
C1 47 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 60 mA: B1 to B-
Z2 load 60 mA: FUSED to B-
"""


@pytest.mark.parametrize(
    ("ends", "diode", "fires"),
    [
        ("FUSED to ANODE", "silicon 1 A 1000 V, replaces selenium 100 mA", False),
        ("FUSED to ANODE", "silicon 1 A 1000 V, replaces dry-disc 100 mA", False),
        ("FUSED to ANODE", "silicon 1 A 1000 V, replaces silicon 1 A 400 V", True),
        ("FUSED to ANODE", "silicon 1 A 1000 V, new", True),
        ("FUSED to ANODE", "selenium 150 mA, replaces selenium 100 mA", True),
        ("FUSED to ANODE", "dry-disc 150 mA, replaces dry-disc 100 mA", True),
        ("B1 to B2", "silicon 1 A 1000 V, replaces selenium 100 mA", False),
        ("B2 to B3", "silicon 1 A 1000 V, replaces selenium 100 mA", True),
    ],
)
def test_more_ohms_take_up_what_the_selenium_dropped(
    linted: Linted, ends: str, diode: str, fires: bool
) -> None:
    more = "" if ends == "FUSED to ANODE" else "R9 1 ohm 5 W: FUSED to ANODE\nR8 1K 1 W: B2 to B3\n"
    found = linted(RULE, SERIES.format(ends=ends, diode=diode, more=more)).findings
    assert bool(found) is fires, [each.message for each in found]


def test_all_that_is_unstated_is_named_together_and_all_else_is_checked(linted: Linted) -> None:
    report = linted(
        RULE,
        "C1 .01 mfd film, replaces .01 mfd 600 V paper: X1 to X2\n"
        "C2 .01 mfd 600 V film, replaces .01 mfd paper: X1 to X2\n"
        "C3 .01 mfd 600 V film, removed, replaces .01 mfd paper: X1 to X2\n"
        "R1 1K 1 W, replaces 1K: X1 to X2\nR2 1K 1 W: X1 to X2\nR3 1K, replaces 1K 1 W: X1 to X2\n"
        "BT1 B-battery, replaces 90 V B-battery: + X1, - X2\n"
        "C4 .01 mfd 400 V film, replaces .01 mfd 600 V paper: X1 to X2\n"
        "DS1 lamp 47, replaces lamp 40: X1 to X2\n",
    )
    assert [n.parts for n in report.not_checked] == [("C1", "C2", "R1", "R3", "BT1")]
    (untold,) = report.not_checked
    assert untold.reason == (
        "C1, C2, R1, R3 and BT1: the rating of the part or of the one it replaces is not stated"
    )
    assert [each.parts for each in report.findings] == [("C4",)]


def test_the_parts_of_a_reservoir_are_marked_at_their_farads(linted: Linted) -> None:
    text = RECTIFIER.format(tube="35W4") + (
        "C1 40 mfd 160 V electrolytic, new: + B1, - B-\n"
        "C3 47 mfd 160 V electrolytic, replaces 30 mfd 160 V electrolytic: + B1, - B-\n"
    )
    (found,) = linted(RULE, text).findings
    assert found.parts == ("C1", "C3", "V5")
    assert [(r.span.line, r.span.column) for r in found.related] == [(4, 4), (9, 4)]
    (calc,) = found.calc
    assert (calc.value, calc.limit) == pytest.approx((87.0, 40.0), rel=1e-9)
