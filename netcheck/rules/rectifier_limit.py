"""Rectifier beyond its published volts, currents or supply resistance.

Why: Peak plate current far over the published one strips the cathode or sparks it over; volts over
the peak inverse arc inside the tube, or short a silicon diode. A rectifier that shorts puts
alternating current on the filter capacitors and the full line on the transformer.
False alarm: Winding ohms that the text leaves out are taken as typical: write what the meter reads.
Where the maker built it so and it lasted, accept it. A reservoir larger than published is told by
`replacement-rating` where somebody fitted it.
Source: the tube's published limits, as cited with each; 60 mA with a dial lamp on the tap, 90 mA
with a resistor across the lamp: from memory (RCA RC-19, 35Z5-GT and 35W4); design-centre limits
are kept at the nominal line: from memory (rating systems, EIA RS-239); semiconductor ratings are
absolute, and count at the highest line without load: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.language.mistakes import joined
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._rectifiers import Excess, Rectifier, excesses, rectifiers
from netcheck.rules._words import listed, named

_HALF_WAVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
"""
_FULL_WAVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral NEUTRAL
F1 3/4 A 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, {high}, heater 6.3 V 2 A:
   primary FUSED to NEUTRAL, high HA to CHASSIS to HB, heater H to CHASSIS
V5 6X5GT: plate1 HA, plate2 HB, cathode B+, heater H to CHASSIS{mark}
C1 {farad} 450 V electrolytic, new: + B+, - CHASSIS
Z1 load {load}: B+ to CHASSIS
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _FULL_WAVE.format(
                high="high 250-0-250 V 60 mA 180 ohm each", farad="10 mfd", load="110 mA",
                mark="   # <-",
            ),
            "110 mA of output (published: 70 mA",
        ),
        Example(
            _FULL_WAVE.format(
                high="high 250-0-250 V 60 mA 20 ohm each", farad="10 mfd", load="65 mA",
                mark="   # <-",
            ),
            "54.5 ohm in series with a plate (published: at least 150 ohm",
        ),
        Example(
            _HALF_WAVE
            + "CR1 silicon 200 V 1 A: anode FUSED, cathode B1   # <-\n"
            + "C1 47 mfd 200 V electrolytic, new: + B1, - B-\nZ1 load 60 mA: B1 to B-\n",
            "364 V of peak inverse (rated: 200 V)",
        ),
        Example(
            _HALF_WAVE
            + "V5 35W4: plate TAP, cathode B1, heater FUSED to TAP to H4   # <-\n"
            + "DS1 lamp 47: FUSED to TAP\nR1 550 ohm 20 W: H4 to B-\n"
            + "C1 33 mfd 160 V electrolytic, new: + B1, - B-\nZ1 load 75 mA: B1 to B-\n",
            "with a lamp on its tap",
        ),
    ),
    good=(
        _FULL_WAVE.format(
            high="high 250-0-250 V 60 mA 180 ohm each", farad="10 mfd", load="60 mA", mark=""
        ),
        _HALF_WAVE
        + "CR1 silicon 1000 V 1 A: anode SURGE, cathode B1\nR1 47 ohm 5 W: FUSED to SURGE\n"
        + "C1 47 mfd 200 V electrolytic, new: + B1, - B-\nZ1 load 60 mA: B1 to B-\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each rectifier with all the limits it exceeds."""
    if not case.circuit.wiring.rectifiers:
        return
    for each in rectifiers(case):
        if isinstance(each, str):
            yield case.not_checked(each)
            continue
        for part in each.parts:
            found = list(excesses(case, each, part))
            if found:
                yield _finding(case, each, part, found)
        if each.unsolved:
            yield case.not_checked(f"currents: {each.unsolved}", [p.ref for p in each.parts])
        for part in each.parts:
            lacking = _unpublished(part)
            if lacking:
                yield case.not_checked(f"no {joined(lacking, 'or')} is known of {named(part)}",
                                       (part.ref,))  # fmt: skip


def _unpublished(part: Part) -> list[str]:
    """The figures that there is no limit for."""
    if part.tube is None:
        rated = {r for r in ("voltage", "voltage-ac", "current") if part.description.number(r)}
        volts = [] if rated & {"voltage", "voltage-ac"} else ["peak inverse"]
        return volts + ([] if "current" in rated else ["current"])
    limits = part.tube.limits
    names = {"inverse-v": "peak inverse", "output-a": "output", "peak-a": "peak plate current"}
    if "plate-ac-v" in limits:
        del names["inverse-v"]
    return [said for name, said in names.items() if name not in limits]


def _finding(case: Case, each: Rectifier, part: Part, found: Sequence[Excess]) -> Finding:
    words = "; ".join(e.words for e in found)
    return case.finding(
        f"{named(part)} has {words}",
        part.span_of("type") if part.tube is not None else part.ref_span or part.span,
        harm=min((e.harm for e in found), key=lambda harm: harm.rank),
        parts=(part.ref,),
        related=[
            Related(p.span_of("capacitance"), f"{named(p)} is its reservoir")
            for p in each.reservoir
        ],
        calc=[Calculation(e.name, e.value, e.unit, e.limit, e.sum) for e in found],
        state=listed(e.state for e in found),
        action="; ".join(dict.fromkeys(e.action for e in found if e.action)),
    )
