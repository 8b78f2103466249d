"""Output transformers without a load, and what a pulled speaker plug does."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]

STAGE = """
hold B+ 250 V
V4 6V6GT: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS
R1 470K: DRIVE to CHASSIS
R2 250 ohm: KOUT to CHASSIS
T2 output, 5000 ohm to 3.2 ohm: primary B+ to PLATE, secondary VC to VCR
"""
UNLOADED = "output-unloaded"


@pytest.mark.parametrize(
    ("rest", "harms"),
    [
        ("LS1 3.2 ohm: VC to VCR", []),
        ("LS1 3.2 ohm, removed: VC to VCR", [Harm.DAMAGE]),
        ("LS1 3.2 ohm: VC to CHASSIS", [Harm.DAMAGE]),
        ("wire VCR to CHASSIS\nLS1 3.2 ohm: VC to CHASSIS", []),
        ("R5 8.2 ohm 5 W: VC to VCR", []),
        # Feedback is no load.
        ("R5 4.7K: VC to KOUT\nwire VCR to CHASSIS", [Harm.DAMAGE]),
        ("C5 10 mfd: VC to VCR", [Harm.DAMAGE]),
        # Through a hum-bucking coil, a fuse, a closed switch.
        ("L6 hum bucking, .3 ohm: VC to VC2\nLS1 3.2 ohm: VC2 to VCR", []),
        ("S4 slide: A VC to VC2, B VC to VC3\nLS1 3.2 ohm: VC2 to VCR\nR5 8 ohm: VC3 to VCR", []),
        ("S4 slide: A VC to VC2, B open\nLS1 3.2 ohm: VC2 to VCR", [Harm.DAMAGE]),
        ("S4 slide: A open, B VC to VC2\nLS1 3.2 ohm: VC2 to VCR", [Harm.DAMAGE]),
        ("S4 slide: ON VC to VC2\nLS1 3.2 ohm: VC2 to VCR", [Harm.DAMAGE]),
        # A plug is out on the bench only.
        ("P2 speaker plug: 1 VC, 2 VCR\nLS1 3.2 ohm, on P2: VC to VCR", [Harm.RECORD]),
    ],
)
def test_what_loads_a_secondary(linted: Linted, rest: str, harms: list[Harm]) -> None:
    assert [each.harm for each in linted(UNLOADED, f"{STAGE}{rest}\n").findings] == harms


def test_an_output_tube_drawn_in_two_halves_is_one_too(linted: Linted) -> None:
    halves = (
        "V4A 6BM8: 6 PLATE, 7 B+, 3 DRIVE, 2 KOUT\nV4B 6BM8: 9 PT, 1 TG, 8 KOUT\n"
        "R3 470K: TG to CHASSIS\nR4 100K: B+ to PT\n"
    )
    six = next(line for line in STAGE.splitlines() if line.startswith("V4 "))
    (told,) = linted(UNLOADED, STAGE.replace(six + "\n", halves)).findings
    assert told.parts == ("T2",)


def test_what_is_outside_of_the_text_is_not_judged(linted: Linted) -> None:
    report = linted(UNLOADED, STAGE + "J4 speaker: 1 VC, 2 VCR\n")
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("T2",)]
    bare = linted(UNLOADED, STAGE.replace(", secondary VC to VCR", ""))
    assert not bare.findings
    assert [n.parts for n in bare.not_checked] == [("T2",)]


def test_a_transformer_that_no_tube_drives_is_left_alone(linted: Linted) -> None:
    report = linted(UNLOADED, STAGE.replace("V4 6V6GT:", "V4 6V6GT, removed:"))
    assert not report.findings
    assert not report.not_checked


SET = """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
T1 power, primary 117 V 6 ohm, high 250-0-250 V 70 mA 180 ohm each, heater 6.3 V 2 A:
   primary LINE to COLD, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS
C1 10 mfd 450 V electrolytic: + B+, - CHASSIS
C2 10 mfd 450 V electrolytic: + B2, - CHASSIS
V4 6F6: plate PLATE, screen B2, g1 DRIVE, cathode KOUT, heater H to CHASSIS, shell CHASSIS
R1 470K: DRIVE to CHASSIS
R2 450 ohm: KOUT to CHASSIS
L5 field, 1500 ohm{field}: B+ to B2
T2 output, 7000 ohm to 4 ohm, primary 400 ohm{output}: primary B2 to PLATE, secondary VC to VCR
LS1 4 ohm, on P2: VC to VCR
P2 speaker plug: 1 B+, 2 B2, 3 PLATE
"""
ON = ", on P2"


@pytest.mark.parametrize(
    ("field", "output", "harm"),
    [("", "", None), (ON, "", Harm.RECORD), (ON, ON, Harm.RECORD), ("", ON, Harm.DAMAGE)],
)
def test_what_hangs_on_the_plug(linted: Linted, field: str, output: str, harm: Harm | None) -> None:
    """With the field out nothing is fed; with the transformer alone out the screen burns."""
    found = linted("speaker-plug", SET.format(field=field, output=output)).findings
    assert [each.harm for each in found] == ([] if harm is None else [harm])


def test_the_open_socket_has_the_peak_on_it(linted: Linted) -> None:
    (found,) = linted("speaker-plug", SET.format(field=ON, output=ON)).findings
    by_name = {each.name: each.value for each in found.calc}
    # 250 V at 70 mA, 5 % or so more unloaded, 10 % of line, the peak of it.
    assert 1.414 * 250 * 1.1 < by_name["open socket"] < 1.414 * 250 * 1.1 * 1.15
    assert "1 (B+)" in found.message


def test_without_a_solution_the_unloaded_peak_is_told(linted: Linted) -> None:
    report = linted("speaker-plug", SET.format(field=ON, output="") + "R9 ?: B2 to CHASSIS\n")
    (found,) = report.findings
    assert "up to 389 V" in found.message
    assert [n.parts for n in report.not_checked] == [("P2",)]


def test_a_text_that_nothing_feeds_is_not_cleared(linted: Linted) -> None:
    """Solved as it stands it has no volts anywhere, and a plug that is out looks harmless."""
    report = linted(
        "speaker-plug",
        "line 117 V 60 Hz\nmeasure from CHASSIS\nP2 speaker plug: 1 B+, 2 B2\n"
        "L5 field, 1500 ohm, on P2: B+ to B2\nC1 10 mfd 500 V electrolytic: + B+, - CHASSIS\n"
        "V4 6F6: plate B2, screen B2, g1 CHASSIS, cathode CHASSIS\n",
    )
    assert [(each.rule, each.parts) for each in report.not_checked] == [("speaker-plug", ("P2",))]
    assert "nothing in the text feeds this set" in report.not_checked[0].reason
