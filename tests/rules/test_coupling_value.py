"""Corner frequencies of couplings, and who tells of them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "coupling-value"

STAGE = """
{policy}
hold B+ 250 V
V3 6SQ7: plate PLATE, grid VOL, cathode CHASSIS, diode1 open, diode2 open, heater H1 to CHASSIS
R7 220K: B+ to PLATE
R8 10 meg: VOL to CHASSIS
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS
R9 {leak}: DRIVE to CHASSIS
R12 330 ohm: KOUT to CHASSIS
T2 output, 5000 ohm: primary B+ to T2.plate
C14 {value}: PLATE to DRIVE
"""


def fires(linted: Linted, value: str, leak: str = "470K", policy: str = "") -> bool:
    return bool(linted(RULE, STAGE.format(value=value, leak=leak, policy=policy)).findings)


@pytest.mark.parametrize(
    ("value", "leak", "expected"),
    [
        (".01 mfd", "470K", False),
        (".05 mfd", "470K", False),  # 6.8 Hz
        (".1 mfd", "470K", True),  # 3.4 Hz
        (".1 mfd", "220K", False),  # 7.2 Hz
        (".002 mfd", "470K", False),  # 169 Hz: small sets
        (".0005 mfd", "470K", True),  # 677 Hz
        # A grid that biases itself is a megohm, whatever its leak.
        (".005 mfd", "10 meg", False),
        (".1 mfd", "10 meg", True),
    ],
)
def test_corners(linted: Linted, value: str, leak: str, expected: bool) -> None:
    assert fires(linted, f"{value} 600 V film", leak) is expected


def test_the_policy_moves_the_limit(linted: Linted) -> None:
    assert not fires(linted, ".1 mfd 600 V film", policy="policy coupling-value lowest-hz 2")
    assert fires(linted, ".05 mfd 600 V film", policy="policy coupling-value lowest-hz 10")


def test_off_from_what_it_replaces_is_told_once(linted: Linted) -> None:
    value = ".1 mfd 600 V film, replaces .01 mfd 600 V paper"
    assert not fires(linted, value)
    text = STAGE.format(value=value, leak="470K", policy="")
    assert linted("replacement-rating", text).findings


def test_a_small_coupling_of_radio_frequency_is_none_of_it(linted: Linted) -> None:
    text = (
        "hold B+ 250 V\nV1 6SK7: plate PLATE, screen B+, grid IN, cathode K, shell B-,\n"
        "   heater H to B-\n"
        "R1 10K: B+ to PLATE\nR2 300 ohm: K to B-\nR3 1M: IN to B-\n"
        "V2 6SK7: plate B+, screen B+, grid SIG, cathode B-, shell B-, heater H to B-\n"
        "C6 100 mmf 500 V mica: PLATE to SIG\nR4 1M: SIG to B-\n"
    )
    assert not linted(RULE, text).findings


def test_an_unknown_value_is_not_cleared(linted: Linted) -> None:
    report = linted(RULE, STAGE.format(value="?", leak="470K", policy=""))
    assert [n.parts for n in report.not_checked] == [("C14",)]
