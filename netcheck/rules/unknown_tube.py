"""The tube type is not in the catalogue.

Why: Without its pins, heater and limits nothing about this stage is checked: not its bias, not
    its supply, not its place in the heater string.

False alarm: None that can be accepted; define the type with a `type` statement from its data
    sheet, and it is checked like any other.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule

_SPARE = "\nZ1 load 35 mA: B+ to B-"
_TYPE = (
    "type 9ZZ9 triode, base octal, heater 6.3 V 0.3 A,\n"
    "  pins 2 heater 3 plate 5 grid 7 heater 8 cathode\n"
)


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example("line none\nV1 12AX9: plate B+, cathode B-  # <-" + _SPARE, says="12AX9"),
        Example("line none\nV1 9ZZ9: plate B+, cathode B-  # <-" + _SPARE, says="9ZZ9"),
    ),
    good=(
        Example("line none\nV1 6J5: plate B+, grid B-, cathode B-, heater open" + _SPARE),
        Example(
            "line none\n" + _TYPE + "V1 9ZZ9: plate B+, grid B-, cathode B-, heater open" + _SPARE
        ),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Pass on the types that the reader did not find."""
    yield from case.from_reading()
