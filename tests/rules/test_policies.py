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


@pytest.mark.parametrize(
    ("rule", "option", "choices"),
    [
        ("aged-capacitor", "paper", ("replace", "measure")),
        ("aged-capacitor", "electrolytics", ("replace", "reform")),
        ("line-capacitor-class", "class", ("practice", "strict")),
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
