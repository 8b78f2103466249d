"""The fuse that `high-tension-fuse` names is a size that is sold.

Sizes: lists of UL 248-14 and IEC 60127-2, from memory.
"""

from __future__ import annotations

import pytest

from netcheck.rules.high_tension_fuse import _size

SOLD = (0.05, 0.063, 0.1, 0.125, 0.15, 0.2)


@pytest.mark.parametrize(("below", "size"), list(zip((0.0, *SOLD), SOLD, strict=False)))
def test_the_next_size_from_one_and_a_half_times_the_current_on(below: float, size: float) -> None:
    assert _size(size / 1.5 * 0.999) == size
    assert _size(below / 1.5 * 1.001) == size


def test_above_every_size_that_is_sold_the_amperes_themselves_are_told() -> None:
    assert _size(100 / 1.5) == 100.0
