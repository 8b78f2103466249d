"""The current of a line capacitor against a table of figures.

Source: arithmetic, computed from the formula I = 2 x pi x f x C x V (elementary AC theory) outside
this project and printed to four decimals of a milliampere; the limits are those of UL 1711:2006
clause 39 (0.5 and 0.75 mA) and IEC 60950 as quoted on the emc-pstc list (0.25 and 3.5 mA).
"""

from __future__ import annotations

import pytest

from netcheck.language import read
from netcheck.rules._runner import lint
from netcheck.rules._words import capacitor_current_a
from netcheck.rules.line_capacitor_class import check as line_capacitor_class

# (mfd, mA at 120 V 60 Hz, mA at 230 V 50 Hz), as printed.
TABLE = [
    ("0.0022", "0.0995", "0.1590"),
    ("0.0033", "0.1493", "0.2384"),
    ("0.0047", "0.2126", "0.3396"),
    ("0.005", "0.2262", "0.3613"),
    ("0.01", "0.4524", "0.7226"),
    ("0.015", "0.6786", "1.0838"),
    ("0.02", "0.9048", "1.4451"),
    ("0.022", "0.9953", "1.5896"),
    ("0.047", "2.1262", "3.3961"),
    ("0.05", "2.2619", "3.6128"),
    ("0.1", "4.5239", "7.2257"),
]
CASES = [
    pytest.param(mfd, volts, hertz, printed, id=f"{mfd} mfd {volts} V {hertz} Hz")
    for mfd, american, european in TABLE
    for volts, hertz, printed in ((120, 60, american), (230, 50, european))
]
# (limit mA, volts, hertz, largest nanofarads), four digits as printed.
LARGEST = [
    (0.25, 120, 60, "5.526"), (0.25, 117, 60, "5.668"), (0.25, 230, 50, "3.460"),
    (0.25, 240, 50, "3.316"), (0.5, 120, 60, "11.05"), (0.5, 117, 60, "11.34"),
    (0.5, 230, 50, "6.920"), (0.5, 240, 50, "6.631"), (0.75, 120, 60, "16.58"),
    (0.75, 117, 60, "17.00"), (0.75, 230, 50, "10.38"), (0.75, 240, 50, "9.947"),
    (3.5, 120, 60, "77.37"), (3.5, 117, 60, "79.35"), (3.5, 230, 50, "48.44"),
    (3.5, 240, 50, "46.42"),
]  # fmt: skip


@pytest.mark.parametrize(("mfd", "volts", "hertz", "printed"), CASES)
def test_the_formula_gives_the_printed_digits(
    mfd: str, volts: float, hertz: float, printed: str
) -> None:
    milliampere = capacitor_current_a(float(mfd) * 1e-6, volts, hertz) * 1e3
    assert f"{milliampere:.4f}" == printed


@pytest.mark.parametrize(("mfd", "volts", "hertz", "printed"), CASES)
def test_the_finding_carries_the_printed_digits(
    mfd: str, volts: float, hertz: float, printed: str
) -> None:
    text = (
        f"line {volts} V {hertz} Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
        f"C1 {mfd} mfd 400 V paper: B- to CHASSIS\n"
    )
    (found,) = lint(read(text), [line_capacitor_class]).findings
    calculation = found.calc[0]
    assert f"{calculation.value:.4f}" == printed
    assert calculation.unit == "mA"
    assert calculation.limit == pytest.approx(0.5)
    assert f"x {volts} V = {float(printed):.3g} mA" in calculation.sum or "uA" in calculation.sum


@pytest.mark.parametrize(("limit_ma", "volts", "hertz", "printed"), LARGEST)
def test_the_largest_capacitor_within_a_limit(
    limit_ma: float, volts: float, hertz: float, printed: str
) -> None:
    nanofarad = float(printed)
    half_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    below = capacitor_current_a((nanofarad - half_digit) * 1e-9, volts, hertz) * 1e3
    above = capacitor_current_a((nanofarad + half_digit) * 1e-9, volts, hertz) * 1e3
    assert below <= limit_ma <= above


def test_worst_case_of_ten_nanofarads() -> None:
    assert f"{capacitor_current_a(10e-9, 132, 60) * 1e3:.4f}" == "0.4976"
    assert f"{capacitor_current_a(12e-9, 120, 60) * 1e3:.4f}" == "0.5429"
    assert f"{capacitor_current_a(12e-9, 132, 60) * 1e3:.4f}" == "0.5972"
