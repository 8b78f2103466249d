"""Electrolytics and dial lamps that are open: solved with the rest, or refused with the reason.

Belongs here: that an open part's state is that of a text without it, in the one batch, and the sums
of a reservoir that is open. Does not belong here: what rules make of it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.circuit import Circuit
from netcheck.circuit.edits import without
from netcheck.circuit.states import NOMINAL, Edit, State
from netcheck.findings import NotSolved
from netcheck.language import read, read_file

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"

HALF_WAVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: LINE to SURGE
C1 47 mfd 250 V electrolytic: + B1, - B-
R2 2K 20 W: B1 to B-
"""
BEHIND = HALF_WAVE.replace("R2 2K 20 W: B1", "R3 1K 10 W: B1 to B2\nR2 2K 20 W: B2")
DOUBLER = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral N
CR1 silicon 1000 V 1 A: anode AC, cathode B1
CR2 silicon 1000 V 1 A: anode B-, cathode AC
R1 10 ohm 5 W: LINE to AC
C1 47 mfd 250 V electrolytic: + B1, - N
C2 47 mfd 250 V electrolytic: + N, - B-
R2 5K 20 W: B1 to B-
"""


def opened(ref: str) -> State:
    return State(f"{ref} open", edits=(Edit("open", ref),))


@pytest.mark.parametrize(
    ("example", "refs"),
    [
        ("larkfield-five-restored", ("C1A", "C1B", "DS1")),
        ("hollin-lock-in-restored", ("C1A", "C1B", "DS1")),
        ("plovermere-three-way-restored", ("C1A", "C1B", "C1C")),
        ("tansley-console-restored", ("C16", "C17", "C25", "DS1")),
    ],
)
def test_an_open_part_is_a_text_without_it(example: str, refs: tuple[str, ...]) -> None:
    chassis = read_file(EXAMPLES / f"{example}.chassis")
    operating = Circuit(chassis).operating
    for ref, point in zip(refs, operating.points([opened(ref) for ref in refs]), strict=True):
        other = Circuit(without(chassis, {ref})).operating.point()
        for net in chassis.nodes:
            volts, bare = point.volts(net), other.volts(net)
            if volts is not None and bare is not None and net not in other.model.floating:
                assert volts == pytest.approx(bare, abs=2e-3), (ref, net)
        for mine, theirs in zip(point.supplies, other.supplies, strict=True):
            assert mine.source.reservoir.refs == theirs.source.reservoir.refs
            assert mine.amperes == pytest.approx(theirs.amperes, rel=1e-4, abs=1e-7)


def test_they_are_solved_in_one_batch_with_the_sound_set() -> None:
    operating = Circuit(read_file(EXAMPLES / "larkfield-five-restored.chassis")).operating
    operating.points([NOMINAL, opened("C1A"), opened("C1B"), opened("DS1")])
    assert operating.solves == 1


def test_ohms_and_the_next_capacitor_are_what_an_open_reservoir_leaves() -> None:
    """Behind 1047 ohm at 2 kohm the half waves keep up far less than the 137 V of the peak."""
    text = BEHIND + "C2 1000 mfd 250 V electrolytic: + B2, - B-\n"
    point = Circuit(read(text)).operating.point(opened("C1"))
    (supply,) = point.supplies
    volts = point.between("B2", "B-")
    assert volts is not None
    # Mean of the half waves above `volts` through 1047 ohm equals volts / 2000 ohm.
    steps = [2**0.5 * 117 * _sine(k / 20000) - 0.75 - volts for k in range(20000)]
    mean_a = sum(max(each, 0.0) for each in steps) / len(steps) / 1047
    assert mean_a == pytest.approx(volts / 2000, rel=0.01)
    assert supply.source.reservoir.refs == ("C2",)
    assert float(supply.cycle.peak_v[0, 0]) > supply.volts + 20


def _sine(turn: float) -> float:
    import math

    return math.sin(2 * math.pi * turn)


def test_current_drawn_ahead_of_the_ohms_leaves_the_mean_as_it_is() -> None:
    """A load at the rectifier draws from it and, between pulses, backwards through the ohms.

    With i the pulses and d the load there, the ohms carry i - d: the next capacitor stands R d
    higher than with all drawn behind them, and the mean at the rectifier is the same.
    """
    # The ripple of a kilofarad does not count.
    wet = BEHIND.replace("R2 2K 20 W: B2 to B-", "Z1 load 30 mA: {at} to B-")
    wet += "C2 1000 mfd 250 V electrolytic: + B2, - B-\n"
    behind, ahead = (
        Circuit(read(wet.format(at=at))).operating.point(opened("C1")) for at in ("B2", "B1")
    )
    assert ahead.between("B1", "B-") == pytest.approx(behind.between("B1", "B-"), abs=1e-3)
    assert ahead.between("B2", "B-") == pytest.approx((behind.between("B2", "B-") or 0) + 30)


@pytest.mark.parametrize("ref", ["C1", "C2"])
def test_half_a_doubler_is_refused_by_name(ref: str) -> None:
    (found,) = Circuit(read(DOUBLER)).operating.tried([opened(ref)])
    assert isinstance(found, NotSolved)
    assert f"Without {ref} the circuit of CR1, CR2 is another one" in found.reason


def test_bare_pulses_are_refused() -> None:
    (found,) = Circuit(read(HALF_WAVE)).operating.tried([opened("C1")])
    assert isinstance(found, NotSolved)
    assert "Without C1 no filter capacitor is left behind CR1" in found.reason
