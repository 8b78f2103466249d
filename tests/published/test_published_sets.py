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


@pytest.mark.parametrize(("tap_v", "bias_v"), [(35.0, -26.0), (40.0, -31.0), (50.0, -38.0)])
def test_the_bias_of_the_amplifier_computed(tap_v: float, bias_v: float) -> None:
    """The sheet prints -31 V and no volts of the winding: a tap of some 40 V would give them.

    So it holds that 10K, rectifier, 25 mfd and 56K are computed, and that they give a bias of this
    size from a tap of a likely one; each row within a tenth.
    """
    text = AMPLIFIER.read_text(encoding="utf-8")
    text = text.replace("hold BIAS -31 V\n", "").replace(
        "rectifier 5 V:", f"rectifier 5 V, high 320-{tap_v:g}-{320 - tap_v:g} V:"
    )
    point = Circuit(read(text)).operating.point()
    assert point.volts("BIAS") == pytest.approx(bias_v, rel=0.1)
    assert point.volts("GRID3") == pytest.approx(point.volts("BIAS"), rel=1e-3)
