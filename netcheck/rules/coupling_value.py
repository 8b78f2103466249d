"""Coupling capacitor too large or small for its grid.

Why: A coupling capacitor ten times too large lets the stages see each other through the common
supply at a cycle or two a second: the set putters (motorboats), and a grid driven positive takes
seconds to recover. One far too small leaves no bass.
False alarm: An amplifier designed down to a few cycles, with feedback or a decoupling stage for it:
accept it, or set `policy coupling-value lowest-hz 2`. Where a part is off the one it replaces,
`replacement-rating` tells that.
Source: .1 for .01 motorboats: nostalgiaair.org t23268; corner frequency 1 / (2 x pi x R x C):
elementary AC theory; 5 Hz and 400 Hz as the limits of sense in a receiver: common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from netcheck.catalog.preferred import nearest_preferred
from netcheck.circuit.wiring import Coupling
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules import _replaced
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._operating import output_bulbs
from netcheck.rules._words import amount, named

_HIGHEST_HZ = 400.0
_USUAL_HZ = 30.0
"""Where receivers with a small speaker have this corner (common practice)."""

_SELF_BIAS_OHM, _CONDUCTING_OHM = 4e6, 1e6
"""Leaks from here on bias a grid by its own current; its slope there is some microampere to the
volt (retarding field, 0.1 V a factor e at 0.1 uA: elementary)."""

_SET = """hold B+ 250 V
V3 6SQ7: plate PLATE, grid VOL, cathode CHASSIS, diode1 open, diode2 open, heater H1 to CHASSIS
R7 220K 1/2 W, new: B+ to PLATE
R8 10 meg 1/2 W, new: VOL to CHASSIS
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS
R9 470K 1/2 W, new: DRIVE to CHASSIS
R12 330 ohm 2 W: KOUT to CHASSIS
T2 output, 5000 ohm to 3.2 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 3.2 ohm: VC to VCR
"""


@rule(
    harm=Harm.PERFORMANCE,
    options={
        "lowest-hz": Option(
            "5", ("2", "5", "10"), "the lowest corner frequency a coupling may have, in hertz"
        )
    },
    bad=(
        Example(_SET + "C14 .1 mfd 630 V film, new: PLATE to DRIVE   # <-\n", "corner at 3.39 Hz"),
        Example(_SET + "C14 470 mmf 630 V film, new: PLATE to DRIVE   # <-\n", "corner at 720 Hz"),
    ),
    good=(
        _SET + "C14 .01 mfd 630 V film, new: PLATE to DRIVE\n",
        "policy coupling-value lowest-hz 2\n"
        + _SET
        + "C14 .1 mfd 630 V film, new: PLATE to DRIVE\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each coupling capacitor whose corner makes no sense."""
    lowest_hz = float(case.option("lowest-hz"))
    outputs = output_bulbs(case)
    unknown = []
    first = {c.ref: c for c in reversed(case.circuit.wiring.couplings)}
    for coupling in reversed(first.values()):
        part = case.chassis.part(coupling.ref)
        if part is None or _is_told(case, part):
            continue
        farad, leak = part.value("capacitance"), coupling.leak_ohm
        tube = case.chassis.part(coupling.tube)
        drives_output = tube is not None and tube.body_ref in outputs
        if not farad or not leak:  # a value of 0 F is told of by `value-implausible`
            unknown += [part.ref] if farad is None and coupling.leak else []
            continue
        leak = _grid_ohm(leak)
        corner_hz = 1 / (2 * math.pi * leak * farad)
        if corner_hz < lowest_hz:
            yield _finding(case, part, coupling, corner_hz, lowest_hz)
        elif drives_output and corner_hz > _HIGHEST_HZ:
            yield _finding(case, part, coupling, corner_hz, _HIGHEST_HZ)
    if unknown:
        yield case.not_checked("the capacitance of a coupling is not stated", unknown)


def _is_told(case: Case, part: Part) -> bool:
    """Whether `replacement-rating` tells that the value is off."""
    return any(_replaced.capacitance(part, case.circuit.wiring.role_of(part.ref), 1.0))


def _grid_ohm(leak_ohm: float) -> float:
    """The ohms that count: a grid biased by its own current is itself about a megohm."""
    return min(leak_ohm, _CONDUCTING_OHM) if leak_ohm >= _SELF_BIAS_OHM else leak_ohm


def _at(hertz: float, ohm: float) -> float:
    """The farads that have this corner frequency with so many ohms."""
    return 1 / (2 * math.pi * ohm * hertz)


def _finding(
    case: Case, part: Part, coupling: Coupling, corner_hz: float, limit_hz: float
) -> Finding:
    farad, leak = part.value("capacitance") or 0.0, _grid_ohm(coupling.leak_ohm or 0.0)
    low = corner_hz < limit_hz
    usual = nearest_preferred(_at(_USUAL_HZ, leak) * 1e12, "E6") * 1e-12
    leaks = [case.chassis.part(e.ref) for e in coupling.leak if e.ohm]
    result = "below" if low else "above"
    result += f" {limit_hz:g} Hz a receiver {'may motorboat' if low else 'has no bass'}"
    return case.finding(
        f"{named(part)} with {amount(leak, 'ohm')} at the {coupling.electrode} of {coupling.tube} "
        f"has its corner at {amount(corner_hz, 'Hz')}; {result}",
        part.span_of("capacitance"),
        parts=(part.ref,),
        related=[
            Related(p.span_of("resistance"), f"{named(p)} is its grid leak")
            for p in leaks if p is not None
        ],
        calc=(
            Calculation(
                "corner frequency", corner_hz, "Hz", limit_hz,
                f"1 / (2 x pi x {amount(leak, 'ohm')} x {amount(farad, 'F')})",
            ),
        ),
        action=f"compare {part.ref} and its grid leak with the maker's list: {amount(usual, 'F')} "
        f"with {amount(leak, 'ohm')} has a corner of {amount(_USUAL_HZ, 'Hz')}",
    )  # fmt: skip
