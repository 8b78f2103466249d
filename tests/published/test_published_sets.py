"""The volts that the drawings state which were seen.

Belongs here: figures of the sets in `sets/`. Does not belong here: their findings (judged.py).
"""

from __future__ import annotations

import pytest

from netcheck.circuit import Circuit
from netcheck.findings import NotSolved
from netcheck.language import read

from ..judging import solved
from .judged import AMPLIFIER


@pytest.mark.parametrize(
    ("net", "printed"),
    [
        ("TREMPLATE", 155.0), ("TREMCATH", 1.5), ("INPLATE", 160.0), ("INCATH", 1.3),
        ("SECONDPLATE", 160.0), ("SPLITPLATE", 205.0), ("SPLITCATH", 50.0), ("TAIL", 48.7),
        ("B2", 330.0), ("B3", 260.0), ("GB", -31.0),
    ],
)  # fmt: skip
def test_volts_of_the_amplifier(net: str, printed: float) -> None:
    """From the two rails that are held as the sheet has them, its own 20 % narrowed to 15 %."""
    assert solved(AMPLIFIER).volts(net) == pytest.approx(printed, rel=0.15)


def test_without_its_rails_the_amplifier_says_what_is_missing() -> None:
    text = AMPLIFIER.read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith("hold ")]

    with pytest.raises(NotSolved, match="the volts of the winding high are not given"):
        Circuit(read("\n".join(kept))).operating.point()
