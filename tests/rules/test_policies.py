"""Where good practitioners differ: each setting of an option does what it says."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules import builtin
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

PAPER = "{}C1 .05 mfd 400 V paper: X1 to X2\n{}"
MEASURE = "policy aged-capacitor paper measure\n"
PLUG = (
    "{}line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 B-\nF1 1/2 A 250 V: LINE to FUSED\n"
    "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n{}"
)
AS_BUILT = "policy plug-not-polarized plug as-built\n"
UPSIZED = "{}C1 {} mfd 160 V electrolytic, new, replaces 20 mfd 150 V electrolytic: + X1, - B-\n"


@pytest.mark.parametrize(
    ("policy", "reading", "fires"),
    [
        ("", "reading C1 leakage 100000 meg at 400 V", True),
        (MEASURE, "reading C1 leakage 100000 meg at 400 V", False),
        (MEASURE, "reading C1 leakage 100000 meg at 9 V", True),  # no test of its volts
        (MEASURE, "reading C1 leakage 100 meg at 400 V", True),
        (MEASURE, "", True),
        ("policy aged-capacitor paper replace\n", "reading C1 leakage 100000 meg at 400 V", True),
    ],
)
def test_every_old_paper_capacitor_or_only_the_bad(
    linted: Linted, policy: str, reading: str, fires: bool
) -> None:
    assert bool(linted("aged-capacitor", PAPER.format(policy, reading)).findings) is fires


def test_to_measure_names_the_readings_to_take(linted: Linted) -> None:
    (told,) = linted("aged-capacitor", PAPER.format(MEASURE, "")).findings
    assert "no insulation of a new one is read at its volts" in told.message
    assert "measure each at its printed volts" in told.action
    (asked,) = linted("aged-capacitor", PAPER.format("", "")).findings
    assert "measure" not in asked.action


def test_paper_and_electrolytics_have_policies_of_their_own(linted: Linted) -> None:
    both = MEASURE + "C2 8 mfd 450 V electrolytic: + X3, - B-\nreading C2 leakage 0.1 mA at 450 V\n"
    assert len(linted("aged-capacitor", both).findings) == 1
    assert not linted(
        "aged-capacitor", both + "policy aged-capacitor electrolytics reform"
    ).findings


@pytest.mark.parametrize(
    ("policy", "more", "harm", "said"),
    [
        ("", "", Harm.SHOCK, "can be the hot line"),
        ("policy plug-not-polarized plug polarized\n", "", Harm.SHOCK, "can be the hot line"),
        (AS_BUILT, "", Harm.RECORD, "kept as built, by policy"),
        (AS_BUILT, "wire CHASSIS to B-\n", Harm.SHOCK, "CHASSIS with it, so it cannot stay"),
    ],
)
def test_a_plug_is_changed_or_kept_as_built(
    linted: Linted, policy: str, more: str, harm: Harm, said: str
) -> None:
    (told,) = linted("plug-not-polarized", PLUG.format(policy, more)).findings
    assert told.harm is harm
    assert said in told.message
    assert ("fit a polarized plug" in told.action) is (harm is Harm.SHOCK)


def test_a_plug_that_is_wired_wrong_is_never_kept(linted: Linted) -> None:
    wrong = "polarized: hot B-, neutral LINE"
    text = PLUG.format(AS_BUILT, "").replace("not polarized: 1 LINE, 2 B-", wrong)
    (told,) = linted("plug-not-polarized", text).findings
    assert told.harm is Harm.SHOCK


@pytest.mark.parametrize(
    ("value", "mfd", "fires"),
    [
        ("", "40", False), ("", "47", True), ("", "15", True),
        ("100", "40", False), ("50", "40", True), ("50", "30", False), ("20", "30", True),
        ("20", "24", False), ("20", "15", True),
    ],
)  # fmt: skip
def test_how_much_larger_an_electrolytic_may_be(
    linted: Linted, value: str, mfd: str, fires: bool
) -> None:
    policy = f"policy replacement-rating electrolytics {value}\n" if value else ""
    assert bool(linted("replacement-rating", UPSIZED.format(policy, mfd)).findings) is fires


SWITCH = (
    "{}line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V: LINE to FUSED\n"
    "S1 power: ON N to B-\nZ1 load 250 mA: FUSED to B-\n{}"
)
SWITCH_AS_BUILT = "policy switch-in-neutral switch as-built\n"


@pytest.mark.parametrize(
    ("policy", "more", "harm", "said"),
    [
        ("", "", Harm.SHOCK, "breaks the neutral lead"),
        (SWITCH_AS_BUILT, "", Harm.RECORD, "kept as built, by policy"),
        (SWITCH_AS_BUILT, "wire CHASSIS to B-\n", Harm.SHOCK, "so it cannot stay"),
    ],
)
def test_a_switch_is_moved_or_kept_as_built(
    linted: Linted, policy: str, more: str, harm: Harm, said: str
) -> None:
    (told,) = linted("switch-in-neutral", SWITCH.format(policy, more)).findings
    assert told.harm is harm
    assert said in told.message
    assert ("put S1 in the hot lead" in told.action) is (harm is Harm.SHOCK)
    assert ("pull the plug" in told.action) is (harm is Harm.RECORD)


BRIDGED = (
    "policy line-capacitor-class class {}\nline {}\n"
    "P1 plug, polarized: hot LINE, neutral B-\nF1 1/2 A 250 V slow: LINE to FUSED\n"
    "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\nC21 {}: B- to CHASSIS\n"
)


@pytest.mark.parametrize(
    ("policy", "line", "part", "harm"),
    [
        ("rated", "117 V 60 Hz", ".0047 mfd 630 V film, new", Harm.RECORD),
        ("practice", "117 V 60 Hz", ".0047 mfd 630 V film, new", Harm.SHOCK),
        ("strict", "117 V 60 Hz", ".0047 mfd 630 V film, new", Harm.SHOCK),
        ("rated", "117 V 60 Hz", ".0047 mfd 630 V film", Harm.SHOCK),  # no word that it is new
        ("rated", "117 V 60 Hz", ".0047 mfd 600 V paper, new", Harm.SHOCK),
        ("rated", "117 V 60 Hz", ".0047 mfd 400 V film, new", Harm.SHOCK),  # AC volts not known
        ("rated", "230 V 50 Hz", ".0022 mfd 630 V film, new", Harm.SHOCK),  # 220 V AC
        ("rated", "230 V 50 Hz", ".0022 mfd 1000 V film, new", Harm.RECORD),  # 350 V AC
        ("rated", "117 V 60 Hz", ".0047 mfd 275 VAC class X2, new", Harm.SHOCK),
    ],
)
def test_a_mark_is_asked_for_or_held_for_cosmetic(
    linted: Linted, policy: str, line: str, part: str, harm: Harm
) -> None:
    (told,) = linted("line-capacitor-class", BRIDGED.format(policy, line, part)).findings
    assert told.harm is harm


def test_what_an_unmarked_part_passes_is_judged_all_the_same(linted: Linted) -> None:
    """.02 mfd pass 0.965 mA on a line 10 % high: the policy spares the mark, not the current."""
    text = BRIDGED.format("rated", "117 V 60 Hz", ".02 mfd 630 V film, new")
    (told,) = linted("touch-current", text).findings
    assert told.harm is Harm.BURST
    assert "0.965 mA" in told.message


def test_no_mark_is_spared_before_a_jack(linted: Linted) -> None:
    text = BRIDGED.format("rated", "117 V 60 Hz", ".0022 mfd 630 V film, new") + (
        "J1 antenna: ANT\nC1 .001 mfd 630 V film, new: ANT to B-\n"
    )
    (told,) = linted("antenna-isolation", text).findings
    assert told.harm is Harm.SHOCK
    (kept,) = linted("line-capacitor-class", text).findings
    assert kept.parts == ("C21",)


FIELD = """{}line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, high 300-0-300 V 180 ohm each, rectifier 5 V 2 A: primary FUSED to COLD,
   high HA to CHASSIS to HB, rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
C16 8 mfd 525 V electrolytic, new: + B+, - CHASSIS
C17 100 mfd 525 V electrolytic, new: + B2, - CHASSIS
R30 1000 ohm {} W wirewound, replaces 1000 ohm field: B+ to B2
Z1 load 65 mA: B2 to CHASSIS
"""


@pytest.mark.parametrize(
    ("value", "watts", "asked"),
    [
        ("", "10", ""), ("", "7", "twice the 4.2"), ("", "3", ""),  # of 3 W `dissipation` tells
        ("twice", "10", ""), ("25", "25", ""), ("25", "10", "the 25 W asked"),
    ],
)  # fmt: skip
def test_the_watts_of_what_stands_for_a_field(
    linted: Linted, value: str, watts: str, asked: str
) -> None:
    """65 mA in 1000 ohm make 4.2 W: twice is 8.4 W, so that 10 W are enough by one school."""
    policy = f"policy field-substitute watts {value}\n" if value else ""
    text = FIELD.format(policy, watts)
    told = linted("field-substitute", text).findings
    assert [asked in each.message for each in told] == ([True] if asked else [])
    assert [each.action.split(" of ")[1] for each in told] == (
        [f"{value if value == '25' else '10'} W as R30"] if asked else []
    )
    found = linted("dissipation", text).findings
    burns = [each.harm for each in found if each.harm.at_least(Harm.DAMAGE)]
    assert burns == ([Harm.DAMAGE] if watts == "3" else [])  # one cause, one finding


@pytest.mark.parametrize(
    ("rule", "option", "choices"),
    [
        ("field-substitute", "watts", ("twice", "25")),
        ("aged-capacitor", "paper", ("replace", "measure")),
        ("aged-capacitor", "electrolytics", ("replace", "reform")),
        ("line-capacitor-class", "class", ("practice", "strict", "rated")),
        ("switch-in-neutral", "switch", ("moved", "as-built")),
        ("aged-vibrator", "vibrator", ("keep", "replace")),
        ("plug-not-polarized", "plug", ("polarized", "as-built")),
        ("replacement-rating", "electrolytics", ("100", "50", "20")),
        ("resistor-drift", "limit", ("effect", "tolerance", "10", "20")),
    ],
)
def test_what_practitioners_differ_on_is_an_option(
    rule: str, option: str, choices: tuple[str, ...]
) -> None:
    (found,) = [each for each in builtin() if each.name == rule]
    assert found.options[option].allowed == choices
