"""The operating point of the set could not be computed.

Why: Without the voltages inside the set no rating, no bias and no dissipation is checked. What is
    missing is named; until then those rules say `not checked`, which is no clearance.

False alarm: A set that is described in part: hold a measured rail with `hold B1 121 V`, or stand in
    for what has not been traced with a load.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.rules._base import Case, Example, rule

_STAGE = (
    "V1 {tube}: plate PX, grid GX, cathode B-, heater open{mark}\n"
    "R1 {load} 1/2 W 10%: B+ to PX\nR2 470K 1/2 W 10%: GX to B-\nZ1 load 35 mA: B+ to B-\n"
)


@rule(
    harm=Harm.RECORD,
    bad=(
        Example(
            "line none\nhold B+ 100 V\n" + _STAGE.format(tube="6J5", load="?", mark="  # <-"),
            says="R1",
        ),
        Example(
            "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
            "F1 1/2 A 250 V: LINE to SW\nCR1 selenium: anode SW, cathode RAW\n"
            + _STAGE.format(tube="6J5", load="?", mark="  # <-"),
            says="not solved",
        ),
    ),
    good=(
        Example("line none\nhold B+ 100 V\n" + _STAGE.format(tube="6J5", load="47K", mark="")),
        Example("line none\nR1 1K 1 W 10%: B+ to B-\nZ1 load 35 mA: B+ to B-"),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report a set with tubes whose operating point has no answer, with the reason."""
    fault, tube = case.circuit.unsolved, next(case.chassis.of_kind("tube"), None)
    if fault is None or tube is None:
        return
    yield case.finding(
        f"the operating point is not solved: {fault.reason}",
        tube.ref_span or tube.span,
        nodes=fault.nodes,
        action="give what is missing, or hold a rail that you have measured",
    )
