"""Line fuses: volts, the size that the set's rms current asks for, and what is not known."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.findings import Harm
from netcheck.rules._runner import Report

Linted = Callable[[str, str], Report]
RULE = "fuse-rating"

SET = """
line {line}
P1 plug, polarized: hot LINE, neutral B-
F1 {fuse}: LINE to FUSED
R1 {ohm} ohm 60 W: FUSED to B-
"""


def found(linted: Linted, fuse: str, line: str = "117 V 60 Hz", ohm: float = 468) -> Report:
    return linted(RULE, SET.format(line=line, fuse=fuse, ohm=ohm))


@pytest.mark.parametrize(
    ("fuse", "harm"),
    [
        # The set draws 0.25 A: 3/8 A fits, 1/2 A is the next size from twice.
        ("1/4 A 250 V", Harm.PERFORMANCE),
        ("300 mA 250 V", Harm.PERFORMANCE),
        ("3/8 A 250 V", None),
        ("1/2 A 250 V", None),
        ("0.6 A 250 V", Harm.PERFORMANCE),
        ("0.7 A 250 V", Harm.PERFORMANCE),
        ("1 A 250 V", Harm.DAMAGE),
        ("5 A 250 V", Harm.DAMAGE),
        ("1/2 A 125 V", None),
        ("1/2 A 32 V", Harm.SHOCK),
    ],
)
def test_a_set_of_a_quarter_ampere(linted: Linted, fuse: str, harm: Harm | None) -> None:
    report = found(linted, fuse)
    assert [each.harm for each in report.findings] == ([] if harm is None else [harm])
    assert not report.not_checked


def test_the_size_to_fit_is_a_standard_one_of_the_line(linted: Linted) -> None:
    (us,) = found(linted, "5 A 250 V").findings
    assert "0.375 A" in us.action
    # 230 V / 920 ohm = 0.25 A; the sizes of 230 V countries are those of IEC 60127.
    (eu,) = found(linted, "5 A 250 V", "230 V 50 Hz", 920).findings
    assert "0.4 A" in eu.action
    (low,) = found(linted, "1/2 A 125 V", "230 V 50 Hz", 920).findings
    assert low.harm is Harm.SHOCK
    assert "250 V" in low.action


def test_a_larger_fuse_than_before_is_told_once(linted: Linted) -> None:
    assert not found(linted, "2 A 250 V, replaces 1/2 A 250 V").findings
    assert found(linted, "2 A 250 V, replaces 2 A 250 V").findings


def test_amperes_are_not_cleared_where_the_set_is_not_solved(linted: Linted) -> None:
    report = linted(
        RULE, SET.format(line="117 V 60 Hz", fuse="1/2 A 32 V", ohm=468) + "R2 ?: FUSED to B-\n"
    )
    assert [each.harm for each in report.findings] == [Harm.SHOCK], "volts need no solution"
    assert [each.parts for each in report.not_checked] == [("F1",)]


@pytest.mark.parametrize("missing", ["F1 250 V: LINE to FUSED", "F1 ? 250 V: LINE to FUSED"])
def test_a_fuse_without_amperes_is_not_cleared(linted: Linted, missing: str) -> None:
    text = SET.format(line="117 V 60 Hz", fuse="X", ohm=468).replace("F1 X: LINE to FUSED", missing)
    assert [each.parts for each in linted(RULE, text).not_checked] == [("F1",)]


def test_pulses_count(linted: Linted) -> None:
    """200 mA of heaters alone ask for 3/8 A at the most; with the rectifier 1/2 A is right."""
    heaters = SET.format(line="117 V 60 Hz", fuse="1/2 A 250 V", ohm=780)
    rectifier = (
        "R2 47 ohm 5 W: FUSED to ANODE\nCR1 silicon 1000 V 1 A: anode ANODE, cathode B1\n"
        "C1 47 mfd 250 V electrolytic: + B1, - B-\nZ1 load 65 mA: B1 to B-\n"
    )
    assert linted(RULE, heaters).findings
    assert not linted(RULE, heaters + rectifier).findings


def test_a_set_with_parts_out_draws_less_than_it_will(linted: Linted) -> None:
    """Too large is then not said, too small is: it draws no less with the part in."""
    text = SET.format(line="117 V 60 Hz", fuse="{}", ohm=468) + "R2 470 ohm, removed: FUSED to B-\n"
    report = linted(RULE, text.format("1 A 250 V"))
    assert not report.findings
    assert [n.parts for n in report.not_checked] == [("F1",)]
    assert "R2" in report.not_checked[0].reason
    assert linted(RULE, text.format("1/4 A 250 V")).findings
