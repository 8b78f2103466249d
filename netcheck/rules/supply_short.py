"""Too few ohms across the plate supply to switch on.

Why: What an ohmmeter reads from B+ to B- with the set off and the filter capacitors charged is tens
of kilohms in a sound set. A short in the wiring, or a part on the wrong node, takes more than the
rectifier gives: it is lost in seconds, and the transformer with it.
False alarm: A set whose bleeder or filament string draws that much by design has a rectifier for
it: check its type.
Source: tens of kilohms or more, below that find the short first: geofex.com ampdbug rectubes;
volts of the rectifier's source over its published output as the least ohms: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Calculation, Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._cold import LowSupply, low_supplies
from netcheck.rules._line import parts_of, path_lines
from netcheck.rules._reversed import reversed_rectifiers
from netcheck.rules._words import amount, listed, named

# Less than this is no resistance: only the source limits what flows.
_DEAD_OHM = 0.1

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
R14 22 ohm 2 W: FUSED to PLATE
V5 35W4: plate PLATE, cathode B1, heater FUSED to open to H4
R13 550 ohm 20 W: H4 to B-
R10 1.2K 10 W: B1 to B2
C1 33 mfd 250 V electrolytic, new: + B1, - B-
C2 47 mfd 250 V electrolytic, new: + B2, - B-
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(_SET + "R1 470 ohm 2 W: B1 to B-   # <-\n", "B1 to B- reads 470 ohm"),
        Example(_SET.replace("R10 1.2K", "R10 120 ohm").replace("B2\n", "B2   # <-\n", 1)
                + "wire B2 to B-\n", "B1 to B- reads 120 ohm"),
    ),
    good=(
        _SET + "R1 47K 1 W: B1 to B-\nZ1 load 50 mA: B2 to B-\n",
        _SET + "Z1 load 40 mA: B2 to B-\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each rectifier supply whose cold ohms are too low."""
    wiring = case.circuit.wiring
    if not wiring.rectifiers:
        yield from _grounded(case)
        return
    for each in low_supplies(case):
        if isinstance(each, str):
            yield case.not_checked(each)
        else:
            yield _finding(case, each)


def _grounded(case: Case) -> Iterator[Finding]:
    """Driven diodes whose cathode is on the return, in a set that nothing else feeds."""
    wiring = case.circuit.wiring
    if wiring.supplies:
        return
    told = {e.ref for each in reversed_rectifiers(case) for e in each.elements}
    for element in sorted(wiring.supply.power_diodes, key=lambda e: e.ref):
        if element.ref in told:  # a bridge the wrong way round: `rectifier-reversed`
            continue
        part = case.chassis.part(element.ref)
        cathode = part.terminal(element.terminals[1]) if part is not None else None
        if part is None or element.b not in wiring.returns:
            continue
        told.add(element.ref)
        yield case.finding(
            f"the output of {named(part)} is joined to the return {element.b}, and nothing else "
            "feeds the set",
            cathode.span if cathode is not None else part.ref_span or part.span,
            parts=(part.ref,),
            nodes=(element.b,),
            action=f"find what joins the output of {part.ref} to {element.b} before power is "
            "applied",
        )


def _finding(case: Case, each: LowSupply) -> Finding:
    parts = parts_of(case, each.path)
    marked = [p for ref in each.refs if (p := case.chassis.part(ref)) is not None]
    first = (parts or marked)[0]
    driven = f"{amount(each.volts, 'V')} rms of the source would drive "
    if each.ohm > _DEAD_OHM:
        driven += f"{amount(each.volts / each.ohm, 'A')} through it"
    else:
        driven += "all the amperes it can give"
    rectifier = listed(named(part) for part in marked)
    is_are = "is" if len(marked) == 1 else "together are"
    output = (
        f"; {rectifier} {is_are} published for {amount(each.output_a, 'A')}"
        if each.output_a
        else ""
    )
    said = f"off and cold, {each.plus} to {each.minus} reads {amount(each.ohm, 'ohm')}"
    todo = f"lift {parts[0].ref if parts else 'one end of the supply'} and measure again: "
    todo += f"find what joins {each.plus} to {each.minus} before power is applied"
    if each.plus == each.minus:
        said = f"the output of {rectifier} is joined to its own return {each.minus}, 0 ohm"
        todo = f"find what joins the output of {listed(each.refs)} to {each.minus} before power is "
        todo += "applied"
    return case.finding(
        f"{said}{output}",
        first.ref_span or first.span,
        parts=[part.ref for part in parts] or each.refs,
        nodes=(each.plus, each.minus),
        related=list(path_lines(case, each.plus, each.path)),
        calc=(
            Calculation(
                "off and cold", each.ohm, "ohm", each.limit_ohm,
                driven,
            ),
        ),
        action=todo,
    )  # fmt: skip
