"""Heaters of different currents stand in one series string.

Why: One current flows through a string. A tube that wants less is over-run, brightest at switch-on,
and burns out; one that wants more stays cold and dull. A 0.3 A tube in a 0.15 A string takes the
place of one that another maker or another series would have had there.
False alarm: A resistor or lamp across a heater lets the currents differ: such a string is not
judged, and said not to be. A type whose heater was made in two currents: define it by `type`.
Source: equal currents in series: elementary circuit theory; rated heater volts and amperes: tube
data (see `netcheck tube`); how far makers let the current of one type stray, 8 %: from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._strings import Strings, fits, unlike_groups
from netcheck.rules._words import amount, listed, named


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            """
V4 50L6GT: heater H5 to H4
V2 6SK7: heater H4 to H3   # <-
V1 12SA7: heater H3 to H2
V3 12SQ7: heater H2 to B-
""",
            "V2 (6SK7) wants 300 mA in a string of 150 mA",
        ),
        Example(
            """
R1 cord, 150 ohm: LINE to H5
V5 25Z6GT: heater H5 to H4
V4 25L6GT: heater H4 to H3
S2 phono: ON H3 to H2
V3 12SQ7: heater H2 to B-   # <-
""",
            "V3 (12SQ7) wants 150 mA in a string of 300 mA",
        ),
    ),
    good=(
        """
V4 50L6GT: heater H5 to H4
V2 12SK7: heater H4 to H3
V1 12SA7: heater H3 to H2
V3 12SQ7: heater H2 to B-
""",
        """
V5 25Z6GT: heater H5 to H4
V3 12SQ7: heater H4 to B-
R2 84 ohm 5 W: H4 to B-
V6 6V6GT: heater HA to HB
V7 6SK7: heater HA to HB
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each tube whose heater current differs from that of its string."""
    heaters = [e for e in case.circuit.wiring.elements if e.kind is Kind.HEATER and e.a != e.b]
    strings = Strings(case)
    for tubes, amperes, usual in unlike_groups(case, strings):
        fitting = [t for t in tubes if fits(amperes[t.ref], usual)]
        for tube in tubes:
            if tube not in fitting:
                yield _finding(case, tube, amperes, usual, fitting)
    met = strings.unlike_beside_others(heaters)
    if met:
        yield case.not_checked(
            f"{listed(met)}: heaters of different currents with a part beside them, whose currents "
            "are not solved here",
            met,
        )


def _finding(
    case: Case, tube: Part, amperes: dict[str, float], usual_a: float, others: list[Part]
) -> Finding:
    volts = tube.tube.heater_v if tube.tube is not None else None
    wants_a = amperes[tube.ref]
    wants, usual = amount(wants_a, "A"), amount(usual_a, "A")
    action = f"fit the type of {usual} that belongs here"
    calc = [Calculation(f"heater of {tube.ref}", wants_a, "A", usual_a, f"{wants} against {usual}")]
    if wants_a < usual_a and volts:
        ohm = volts / (usual_a - wants_a)
        said = f"{amount(volts, 'V')} / ({usual} - {wants}) = {amount(ohm, 'ohm')}"
        calc.append(Calculation(f"resistor across {tube.ref}", ohm, "ohm", None, said))
        watt = volts * (usual_a - wants_a)
        action += f", or {amount(ohm, 'ohm')} across its heater (it loses {amount(watt, 'W')})"
    return case.finding(
        f"{named(tube)} wants {wants} in a string of {usual}",
        tube.span_of("type"),
        parts=[tube.ref, *(other.ref for other in others)],
        related=[
            Related(
                other.span_of("type"), f"{named(other)} wants {amount(amperes[other.ref], 'A')}"
            )
            for other in others
        ],
        calc=calc,
        action=action,
    )
