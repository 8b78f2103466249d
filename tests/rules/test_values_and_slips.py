"""Values that cannot be, parts wired to themselves: what fires, and what is only not yet whole."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
VALUE = "value-implausible"
SHORTED = "shorted-part"

STAGE = (
    "hold B+ 100 V\nV1 6SQ7: plate PX, grid GX, cathode KX, diode1 DX\n"
    "R1 {load} 1/2 W: B+ to PX\nR2 {leak} 1/2 W: GX to B-\nR3 {bias} 1/2 W: KX to B-\n"
    "C1 {tone} 400 V: PX to B-\nC2 {coupling} 400 V: INPUT to GX\nR4 1M 1/2 W: INPUT to B+\n"
)
RIGHT = {"load": "220K", "leak": "10M", "bias": "2.2K", "tone": "220 mmf", "coupling": ".01 mfd"}


def test_a_stage_of_usual_values_is_silent(linted: Linted) -> None:
    assert not linted(VALUE, STAGE.format(**RIGHT)).findings


@pytest.mark.parametrize(
    ("what", "value", "says"),
    [
        ("load", "22 ohm", "no resistance that a plate load has"),
        ("leak", "10 ohm", "no resistance that a grid leak has"),
        ("bias", "2.2M", "no resistance that a cathode bias has"),
        ("coupling", "10 mfd", "no capacitance that a coupling has"),
    ],
)
def test_a_value_is_held_against_its_place(
    linted: Linted, what: str, value: str, says: str
) -> None:
    (found,) = linted(VALUE, STAGE.format(**{**RIGHT, what: value})).findings
    assert says in found.message


@pytest.mark.parametrize(
    "text",
    [
        # The cathode is not in the text, so that its resistor only ends what the grid's begins.
        "V1 6J5: plate PX, grid GX\nR6 47K 1/2 W: GX to KX\nR5 180 ohm 1/2 W: KX to B-\n",
        # From a plate to a diode whose load is not in the text: no tone capacitor.
        "V1 6SQ7: plate PX, grid GX, cathode B-, diode2 DX\nC24 33 mmf 500 V: PX to DX\n"
        "R12 1M 1/2 W: DX to B-\nR2 10M 1/2 W: GX to B-\n",
        "T1 output, 5000 ohm: primary B+ to PX, secondary VC to VCR\nC1 .02 mfd 600 V: PX to B+\n",
    ],
)
def test_without_a_sure_role_there_is_no_verdict(linted: Linted, text: str) -> None:
    assert not linted(VALUE, text).findings


@pytest.mark.parametrize(("ampere", "fires"), [("30 A", False), ("40 A", False), ("50 A", True)])
def test_fuses_up_to_those_of_a_car(linted: Linted, ampere: str, fires: bool) -> None:
    assert bool(linted(VALUE, f"line none\nF1 {ampere} 32 V: X1 to X2\n").findings) is fires


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("V4 3S4: filament A+ to B- to A+", None),
        ("V7 12AX7: heater HA to HB to HA", None),
        ("R6 500K control: X1 to X2 to X1", None),
        ("V4 3S4: filament A+ to A+ to A+", "both ends of its filament on A+"),
        ("V3 1S5: filament A+ to A+", "both ends of its filament on A+"),
        ("V7 12AX7: heater HA to HA", "both ends of its heater on HA"),
        # Halves of a winding in series work against each other: it is shorted with any tap.
        ("L1 coil, 10 ohm: X1 to X2 to X1", "both ends"),
        ("R6 500K control: X1 to X1 to X1", "both ends"),
    ],
)
def test_a_tap_on_another_net_makes_two_halves(linted: Linted, part: str, says: str | None) -> None:
    messages = [found.message for found in linted(SHORTED, f"line none\n{part}\n").findings]
    assert len(messages) == (says is not None)
    assert all(says is not None and says in message for message in messages)
