"""The volts and amperes of the sets that were typed from memory, as they are remembered.

Belongs here: figures of the sets in `sets/`. Does not belong here: their findings (judged.py).
"""

from __future__ import annotations

import pytest

from ..judging import solved
from .judged import RECEIVER, TRIODES


def test_current_of_the_triode_amplifier() -> None:
    """125 mA in both output valves together, set by R21 (from memory); R21 is all in here."""
    assert abs(solved(TRIODES).amperes("R22") or 0.0) == pytest.approx(0.125, rel=0.15)


def test_the_receiver_has_the_volts_of_its_type() -> None:
    """No volts are printed; some 120 V at the rectifier and 90 V behind 1200 ohm (from memory)."""
    point = solved(RECEIVER)

    assert point.volts("B1") == pytest.approx(120.0, rel=0.1)
    assert point.volts("B2") == pytest.approx(90.0, rel=0.15)
