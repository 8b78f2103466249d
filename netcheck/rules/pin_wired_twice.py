"""Pin and electrode of one tube disagree.

Why: A socket pin and the electrode on it are the same wire. With two nodes one of the two is a
    slip, and whatever is computed from the wrong one is wrong.

False alarm: A tube of another basing than the catalogue's: define it with `type` and its own pins.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule

_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            "line none\nV1 6J5: plate B+, 3 B-, grid B-, cathode B-, heater open  # <-" + _REST,
            says="pin 3",
        ),
        Example(
            "line none\nV1 50C5: plate B+, heater B+ to B-, 3 B+, 4 KX  # <-\n"
            "R1 1K 1 W 10%: KX to B-",
            says="pin 4",
        ),
    ),
    good=(
        Example("line none\nV1 6J5: plate B+, 3 B+, grid B-, cathode B-, heater open" + _REST),
        Example("line none\nV1 6J5: 3 B+, 5 B-, 8 B-, heater open" + _REST),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Pass on the pins that the reader found on two nodes."""
    yield from case.from_reading()
