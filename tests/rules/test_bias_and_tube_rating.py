"""Output bias against published points, tubes against their maxima: one cause, one finding."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]


OUTPUT = """
line none
hold B+ {volts} V
V4 {tube}: plate T2.plate, screen B+, g1 DRIVE, cathode {cathode}, heater H1 to B-
R9 470K 1/2 W: DRIVE to {grid}
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
{more}
"""


def output(
    bias: str = "250 ohm", volts: int = 250, tube: str = "6V6GT", grid: str = "B-", more: str = ""
) -> str:
    lines = f"{more}\nR12 {bias} 2 W: KOUT to B-" if bias else more
    return OUTPUT.format(
        volts=volts, tube=tube, cathode="KOUT" if bias else "B-", grid=grid, more=lines
    )


@pytest.mark.parametrize(
    ("bias", "harm"),
    [("250 ohm", None), ("180 ohm", None), ("27 ohm", Harm.DAMAGE), ("4.7K", Harm.PERFORMANCE)],
)
def test_bias_by_the_cathode_resistor(linted: Linted, bias: str, harm: Harm | None) -> None:
    found = linted("bias-wrong", output(bias)).findings
    assert [each.harm for each in found] == ([harm] if harm else [])
    for each in found:
        assert "R12" in each.action
        assert [related.span.line for related in each.related] == [8, 5]


@pytest.mark.parametrize("volts", [180, 250, 285])
def test_other_volts_than_the_published_are_no_fault(linted: Linted, volts: int) -> None:
    assert not linted("bias-wrong", output("250 ohm", volts)).findings


def test_a_positive_grid_is_damage(linted: Linted) -> None:
    text = output("", 180, more="hold BIAS 3 V\nR8 1K 1/2 W: BIAS to DRIVE")
    (found,) = linted("bias-wrong", text).findings
    assert found.harm is Harm.DAMAGE
    assert found.calc[1].value > 0.2
    assert found.calc[1].limit is not None
    assert found.calc[1].limit < 0


def test_an_old_coupling_is_named_where_the_tube_draws_too_much(linted: Linted) -> None:
    old = "hold PLATE 150 V\nR7 100K 1 W: B+ to PLATE\nC14 .01 mfd 400 V paper: PLATE to DRIVE"
    (found,) = linted("bias-wrong", output("27 ohm", more=old)).findings
    assert "C14 for a leak" in found.action


def test_a_wrong_bias_is_not_told_again_as_dissipation(linted: Linted) -> None:
    hot = output("", grid="B-")
    assert linted("bias-wrong", hot).findings
    assert not linted("tube-rating", hot).findings


# --- maxima


def test_volts_over_the_maximum_by_more_than_a_tenth_are_damage(linted: Linted) -> None:
    # 6K6GT: plate 315 V, screen 285 V.
    for volts, harm in ((280, None), (320, Harm.PERFORMANCE), (350, Harm.DAMAGE)):
        found = linted("tube-rating", output("1K", volts, "6K6GT")).findings
        assert [each.harm for each in found] == ([harm] if harm else [])
        for each in found:
            assert each.calc[0].limit in (285.0, 315.0)
            assert "design-centre" in each.message


def test_tubes_on_too_many_volts_are_one_finding(linted: Linted) -> None:
    more = """V6 6K6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to B-"""
    (found,) = linted("tube-rating", output("510 ohm", 350, "6K6GT", more=more)).findings
    assert found.parts == ("V4", "V6")
    assert len(found.related) == 1


DESIGN_MAXIMUM = """
line {volts} V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate H5, cathode B1, heater LINE to H5 to H4
DS1 lamp 47: LINE to H5
V4 {tube}: plate T2.plate, screen B2, g1 DRIVE, cathode KOUT, heater H4 to B-
T2 output, 2500 ohm to 3.2 ohm, primary 190 ohm: primary B1 to T2.plate, secondary VC to VCR
R9 470K 1/2 W: DRIVE to B-
R10 1.2K 2 W: B1 to B2
R12 150 ohm 2 W: KOUT to B-
C1A 33 mfd 250 V electrolytic, new: + B1, - B-
"""


def test_a_design_maximum_type_is_held_to_the_highest_line(linted: Linted) -> None:
    # The 50C5 of the catalogue is design-maximum, 150 V plate; see which line brings it there.
    (found,) = linted("tube-rating", DESIGN_MAXIMUM.format(volts=145, tube="50C5")).findings
    assert found.state == "line high"
    assert "design-maximum" in found.message
    assert not linted("tube-rating", DESIGN_MAXIMUM.format(volts=117, tube="50C5")).findings


def test_a_type_without_maxima_is_not_cleared(linted: Linted) -> None:
    text = """
line none
hold B+ 100 V
V1 6SC7: plate1 PLA, grid1 IN, plate2 PLB, grid2 IN, cathode B-, heater H1 to B-
R1 250K 1/2 W: B+ to PLA
R2 250K 1/2 W: B+ to PLB
R3 1M 1/2 W: IN to B-
"""
    report = linted("tube-rating", text)
    assert not report.findings
    assert any("V1" in each.parts for each in report.not_checked)


def test_a_tube_at_work_is_not_starved(linted: Linted) -> None:
    """Push-pull with fixed bias: a fifth of what 338 V on its screen would draw in class A.

    Fender factory schematic 5F11: 340 V, bias -31 V; the tube turns over a third of its 12 W into
    heat. With 60 V of bias it does next to nothing.
    """
    text = output("", 340, grid="BIAS", more="hold BIAS {} V").replace("R9 470K", "R9 220K")
    assert not linted("bias-wrong", text.format("-31")).findings
    (found,) = linted("bias-wrong", text.format("-60")).findings
    assert "next to nothing" in found.message


PAIR = """
line none
hold B+ 280 V
V4 6V6GT: plate T2.a, screen B+, g1 UP, cathode {first}, heater H1 to B-
V5 6V6GT: plate T2.b, screen B+, g1 DOWN, cathode {second}, heater H1 to B-
R1 470K 1/2 W: UP to B-
R2 470K 1/2 W: DOWN to B-
{bias}
T2 output, 8000 ohm to 4 ohm, primary 150-150 ohm: primary T2.a to B+ to T2.b, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""


def test_what_is_left_of_a_pair_is_judged_with_the_other_cold(linted: Linted) -> None:
    text = PAIR.format(first="K", second="K", bias="R3 250 ohm 5 W: K to B-")
    (found,) = linted("tube-rating", text).findings
    assert found.state == "V5 cold"
    assert found.harm is Harm.RECORD
    assert found.message.startswith("once V5 (6V6GT) is pulled, cold or worn out, V4 (6V6GT) has")
    # Alone it is the single tube with all of the resistor to itself.
    single = OUTPUT.replace("primary 300 ohm", "primary 150 ohm").format(
        volts=280, tube="6V6GT", cathode="KOUT", grid="B-", more="R12 250 ohm 5 W: KOUT to B-"
    )
    (alone,) = linted("tube-rating", single).findings
    assert found.calc[0].value == pytest.approx(alone.calc[0].value, rel=1e-3)


def test_with_a_resistor_each_the_other_does_not_count(linted: Linted) -> None:
    text = PAIR.format(first="K4", second="K5", bias="R3 470 ohm 5 W: K4 to B-\n"
                       "R4 470 ohm 5 W: K5 to B-")  # fmt: skip
    assert not linted("tube-rating", text).findings
