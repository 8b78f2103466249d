"""A leaking coupling capacitor against tables of figures.

Sources: grid shift and least leak: arithmetic, computed from Vg = V x Rg / (Rg + Rleak) (elementary
circuit theory) outside this project, printed to two or three digits; the case of 400 V, 499 megohm
and 1 megohm: a forum thread at tubeamparchive, whose 0.8 uA is right and whose 2 mV is not; the
meter in series: R = Rm (V - Vm) / Vm, method of the Collins list, February 2003.
"""

from __future__ import annotations

import pytest

from netcheck.chassis import Reading
from netcheck.findings import Span
from netcheck.language import read
from netcheck.parts import Value
from netcheck.rules._capacitors import leak_of, leakage_reading
from netcheck.rules._divider import least_leak_ohm, shift_v
from netcheck.rules._runner import lint
from netcheck.rules.coupling_leakage import check as coupling_leakage

LEAKS_MEGOHM = (1, 5, 10, 20, 50, 100, 500)
TABLE = [
    (80, 470e3, ("25.6", "6.87", "3.59", "1.84", "0.74", "0.37", "0.08")),
    (80, 1e6, ("40.0", "13.3", "7.27", "3.81", "1.57", "0.79", "0.16")),
    (100, 470e3, ("32.0", "8.59", "4.49", "2.30", "0.93", "0.47", "0.09")),
    (100, 500e3, ("33.3", "9.09", "4.76", "2.44", "0.99", "0.50", "0.10")),
    (60, 470e3, ("19.2", "5.16", "2.69", "1.38", "0.56", "0.28", "0.06")),
]
CASES = [
    pytest.param(volts, grid, leak * 1e6, printed, id=f"{volts} V {grid / 1e3:g}K {leak}M")
    for volts, grid, row in TABLE
    for leak, printed in zip(LEAKS_MEGOHM, row, strict=True)
]


def digits(text: str) -> int:
    return len(text.partition(".")[2])


@pytest.mark.parametrize(("volts", "grid_ohm", "leak_ohm", "printed"), CASES)
def test_the_shift_is_the_printed_one(
    volts: float, grid_ohm: float, leak_ohm: float, printed: str
) -> None:
    shift = shift_v(volts, grid_ohm, leak_ohm)
    # Half a unit of the last digit; 0.785 is printed 0.79.
    assert shift == pytest.approx(float(printed), abs=0.501 * 10 ** -digits(printed))


@pytest.mark.parametrize(
    ("volts", "leak_ohm", "grid_ohm", "grid_v"),
    [
        (250, 10e6, 470e3, 11.22),
        (250, 100e6, 470e3, 1.170),
        (90, 20e6, 470e3, 2.066),
        (200, 50e6, 1e6, 3.922),
        (400, 499e6, 1e6, 0.8),
    ],
)
def test_worked_cases(volts: float, leak_ohm: float, grid_ohm: float, grid_v: float) -> None:
    assert shift_v(volts, grid_ohm, leak_ohm) == pytest.approx(grid_v, rel=5e-4)


def test_the_return_point_counts() -> None:
    """205 V through 10 megohm to 220K that returns to -31 V: the grid comes to -25.9 V."""
    assert -31 + shift_v(205 + 31, 220e3, 10e6) == pytest.approx(-25.9, abs=0.05)


@pytest.mark.parametrize(("shift", "megohm"), [(0.1, 469.5), (0.5, 93.5)])
def test_the_least_leak_is_the_printed_one(shift: float, megohm: float) -> None:
    assert least_leak_ohm(100, 470e3, shift) / 1e6 == pytest.approx(megohm, abs=0.05)


def test_the_least_leak_gives_just_the_shift() -> None:
    ohm = least_leak_ohm(182, 470e3, 0.5)
    assert shift_v(182, 470e3, ohm) == pytest.approx(0.5)
    assert least_leak_ohm(0.3, 470e3, 0.5) == 0


@pytest.mark.parametrize(("read_v", "megohm"), [(1, 4389), (0.1, 43989), (10, 429), (50, 77)])
def test_insulation_by_an_11_megohm_meter_on_400_volts(read_v: float, megohm: float) -> None:
    here = Span("<text>", 1, 1, 1, 2)
    reading = Reading(
        "C1", Value((read_v,), "voltage", f"{read_v} V", here), here, "C1", leakage=True,
        at_v=Value((400.0,), "voltage", "400 V", here), meter_ohm=11e6,
    )  # fmt: skip
    leak = leak_of(reading)
    assert leak is not None
    assert leak.ohm / 1e6 == pytest.approx(megohm, abs=0.5)


SET = """
hold B1 100 V
R7 100K 1/2 W, new: B1 to V3.plate
V3 6J5GT: plate V3.plate, grid B-, cathode B-, heater HA to B-
C14 .01 mfd 400 V {what}: V3.plate to DRIVE
R9 470K 1/2 W, new: DRIVE to B-
V4 6V6GT: plate B1, screen B1, g1 DRIVE, cathode B-, heater HA to B-
R99 ? 1 W, "of unknown ohms: the table is for a set that is not solved": B1 to B-
{more}
"""


def test_the_rule_prints_the_figures_of_the_table() -> None:
    report = lint(read(SET.format(what="paper", more="")), [coupling_leakage])
    (found,) = report.findings
    least, shift = found.calc
    assert (least.name, f"{least.value:.1f}", least.unit) == ("least insulation", "93.5", "Mohm")
    assert shift.name.endswith("10M")
    assert f"{shift.value:.2f}" == "4.49"
    assert "470K" in shift.sum
    assert "upper bound" in shift.sum


@pytest.mark.parametrize(("read_v", "fires"), [(9.6, False), (9.7, True)])
def test_a_reading_is_judged_by_the_same_figure(read_v: float, fires: bool) -> None:
    """93.53 megohm at 100 V drive 9.66 V into an 11 megohm meter, counted from R = Rm(V-Vm)/Vm."""
    more = f"reading C14 leakage {read_v} V at 92 V, meter 11 M"
    chassis = read(SET.format(what="film, new", more=more))
    reading = leakage_reading(chassis, "C14")
    assert reading is not None
    assert bool(lint(chassis, [coupling_leakage]).findings) is fires
