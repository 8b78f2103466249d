"""A grid has no DC return or too many ohms.

Why: A grid collects a little current, of its own and from traces of gas. Without a way to its
cathode it drifts: shut off, or so far up that an output tube runs away and burns its transformer.
Through too many ohms the same current moves the bias, and more current makes more gas.
False alarm: The part that returns it is not in the text yet: write it, or `Z1 load` for what is not
traced. A maker's own value above the tube's maximum is common in small sets: accept it.
Source: largest grid-circuit resistance: the tube's published limits (each with its source, see
`netcheck tube`); 0.5 megohm with cathode bias and 0.1 with fixed bias for most beam tubes:
stason.org FAQ on distorted audio. The microampere of grid current: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Electrode, Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._reach import (
    electrode_words,
    grouped,
    is_lone,
    lacking,
    place_of,
    reached,
)
from netcheck.rules._words import amount, listed, named

# Grid current of a good tube stays below this (common practice, no source).
_GRID_A = 1e-6
# Makers went somewhat over the maximum, and their sets live; twice as much is a slip or a wrong
# part (common practice, no source).
_FAR = 2.0


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            """
C14 .01 mfd 630 V film, new: X1 to DRIVE
V4 50C5: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H4 to H3   # <-
R12 150 ohm 1 W: KOUT to B-
""",
            "the g1 of V4 (50C5) has no DC path to its cathode or a return",
        ),
        Example(
            """
C14 .01 mfd 630 V film, new: X1 to DRIVE
V4 50C5: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H4 to H3
R12 150 ohm 1 W: KOUT to B-
R9 2.2M 1/2 W, new: DRIVE to B-   # <-
""",
            "through 2.2M, and at most 500K is published with cathode bias",
        ),
    ),
    good=(
        """
C14 .01 mfd 630 V film, new: X1 to DRIVE
V4 50C5: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H4 to H3
R12 150 ohm 1 W: KOUT to B-
R9 470K 1/2 W, new: DRIVE to B-
""",
        """
V4 50C5: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H4 to H3
R12 150 ohm 1 W: KOUT to B-
R9 470K 1/2 W 10%, new, measured 505K: DRIVE to B-
""",
        """
V2 12BA6: plate PLATE, screen B+, g1 SIGNAL, g3 B-, cathode B-, heater H4 to H3
T1 IF, 455 kc: primary X1 to X2, secondary SIGNAL to AVC
R3 2.2M 1/2 W, new: AVC to DET
R4 500K control: DET to VOL to B-
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each grid without a return, and for each return of too many ohms."""
    wiring = case.circuit.wiring
    grids = {(e.ref, e.net): e for e in reversed(wiring.electrodes) if e.duty == "grid"}
    if grids and not wiring.returns:
        yield case.not_checked("there is no B-, CHASSIS or other return in the text")
        return
    open_grids = []
    for grid in reversed(grids.values()):
        path = wiring.return_path(grid.net)
        if path is not None:
            yield from _over_maximum(case, grid, path)
        elif grid.net not in wiring.positive and not is_lone(case, grid.net):
            nets = reached(case, grid.net)
            if _cathode(case, grid) not in nets:
                open_grids.append((nets, grid))
    for nets, alike in grouped(open_grids).items():
        action = f"fit the grid resistor from {alike[0].net} to where the drawing returns it"
        yield lacking(case, nets, alike, "no DC path to its cathode or a return", action)


def _cathode(case: Case, grid: Electrode) -> str | None:
    """The net of the cathode that belongs to a grid."""
    for other in case.circuit.wiring.electrodes:
        if (other.ref, other.section, other.duty) == (grid.ref, grid.section, "cathode"):
            return other.net
    return None


def _above_measured(case: Case, element: Element) -> float:
    """By how many ohms the printed value of a whole resistor exceeds what was measured."""
    part = case.chassis.part(element.ref)
    printed = part.description.number("resistance") if part is not None else None
    if part is None or printed is None or len(case.circuit.wiring.of(element.ref)) > 1:
        return 0.0
    return printed - (part.value("resistance") or printed)


def _over_maximum(
    case: Case, grid: Electrode, path: tuple[Element, ...]
) -> Iterator[Finding | NotChecked]:
    tube = case.chassis.part(grid.ref)
    if tube is None or tube.tube is None:
        return
    fixed = any(element.kind is Kind.BATTERY for element in path)
    limit = tube.tube.limits.get("grid-ohm-fixed" if fixed else "grid-ohm-cathode")
    if limit is None:
        return
    ohm = case.circuit.wiring.grids.leak_ohm(grid.net)
    resistors = [element for element in path if element.kind is Kind.RESISTOR]
    if ohm is None:
        refs = [element.ref for element in resistors]
        yield case.not_checked(f"{listed(refs)}: an unknown value returns {grid.ref}", refs)
        return
    nominal_ohm = ohm + sum(_above_measured(case, element) for element in resistors)
    # A good resistor a little over its value is no fault, nor one that has come down to the limit.
    if min(ohm, nominal_ohm) <= limit and ohm <= _FAR * limit:
        return
    largest = max(resistors, key=lambda element: element.ohm or 0.0, default=None)
    part = case.chassis.part(largest.ref) if largest is not None else None
    if part is None:
        return
    bias = "fixed" if fixed else "cathode"
    said = " + ".join(f"{e.ref} {amount(e.ohm or 0.0, 'ohm')}" for e in resistors)
    yield case.finding(
        f"{named(part)} returns {electrode_words(case, grid)} through {amount(ohm, 'ohm')}, and at "
        f"most {amount(limit, 'ohm')} is published with {bias} bias",
        part.span_of("resistance"),
        harm=Harm.DAMAGE if ohm > _FAR * limit else Harm.PERFORMANCE,
        parts=(part.ref, grid.ref),
        nodes=(grid.net,),
        related=(Related(place_of(case, grid), electrode_words(case, grid)),),
        calc=(
            Calculation("grid circuit", ohm / 1e3, "kohm", limit / 1e3, said),
            Calculation(
                "shift by 1 uA of grid current", ohm * _GRID_A, "V", limit * _GRID_A,
                f"1 uA x {amount(ohm, 'ohm')} = {amount(ohm * _GRID_A, 'V')}",
            ),
        ),
        action=f"bring the grid circuit to {amount(limit, 'ohm')} or less",
    )  # fmt: skip
