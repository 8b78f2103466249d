"""An uninsulated can joins its minus to its metal.

Why: The body of most electrolytic cans is their common minus. In sets whose B- floats, or whose
negative lead makes the bias, the can stood on insulating wafers: an uninsulated replacement joins
B- to the chassis, which then is live, or bridges the bias resistor, and the output tube runs hot.
False alarm: The can stands on wafers or in a sleeve after all: write `insulated`. Where the two
nodes are one anyway, nothing is told.
Source: insulated cans replaced by uninsulated ones: philcoradio.com forum posts 85441 and 196153;
what the joint does to the bias: solved.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.states import SHORT_OHM, Edit, State
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._burnt import Burnt, Comparison
from netcheck.rules._operating import NOMINAL, tried
from netcheck.rules._words import listed, named

_LIVE = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
CR1 silicon 1000 V 1 A: anode SURGE, cathode B1
R1 47 ohm 5 W: FUSED to SURGE
R2 470K 1/2 W, new: B- to CHASSIS
C1 can, {can}: body CHASSIS{mark}
C1A 47 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 60 mA: B1 to B-
"""
_BIASED = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 6 ohm, high 240-0-240 V 80 mA 180 ohm each, heater 6.3 V 2 A,
   rectifier 5 V 2 A: primary FUSED to COLD, high HA to CT to HB, heater H to CHASSIS,
   rectifier B+ to FIL
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
C1 can, {can}: body CHASSIS{mark}
C1A 8 mfd 525 V electrolytic, new: + B+, - CT
R25 390 ohm 5 W: CT to CHASSIS
V4 6F6: plate T2.plate, screen B+, grid DRIVE, cathode CHASSIS, shell CHASSIS,
   heater H to CHASSIS
T2 output, 7000 ohm to 4 ohm, primary 400 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
R16 100K 1/2 W, new: DRIVE to CT
"""


@rule(
    harm=Harm.SHOCK_NOW,
    bad=(
        Example(
            _LIVE.format(can="uninsulated", mark="   # <-"), "joins B- to CHASSIS"
        ),
        Example(
            _BIASED.format(can="uninsulated", mark="   # <-"), "joins CT to CHASSIS"
        ),
    ),
    good=(
        _LIVE.format(can="insulated", mark=""),
        _BIASED.format(can="insulated", mark=""),
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each uninsulated can whose body and minus are on two nets."""
    chassis = case.chassis
    for can in chassis.of_kind("capacitor"):
        body = can.terminal("body")
        if body is None or body.unused or not can.description.has("uninsulated"):
            continue
        metal = chassis.net(body.node)
        sections = [
            (part, minus) for part in chassis.of_kind("capacitor")
            if part.body_ref == can.body_ref and (minus := part.terminal("-")) is not None
            and not minus.unused and chassis.net(minus.node) != metal
        ]  # fmt: skip
        if sections:
            nets = list(dict.fromkeys(chassis.net(minus.node) for _, minus in sections))
            yield from _joined(case, can, metal, nets, [part for part, _ in sections])


def _joined(
    case: Case, can: Part, metal: str, nets: list[str], sections: list[Part]
) -> Iterator[Finding | NotChecked]:
    wiring = case.circuit.wiring
    live = [net for net in (*nets, metal) if net in wiring.line_side]
    touched = [net for net in (*nets, metal) if net in wiring.touchable]
    shock = bool(live and touched)
    state = State(
        f"{can.ref}'s body joined to {listed(nets)}",
        edits=tuple(Edit("join", ohm=SHORT_OHM, nets=(metal, net)) for net in nets),
    )
    burnt: tuple[Burnt, ...] = ()
    calc: list[Calculation] = []
    sound, fault = tried(case, [NOMINAL, state])
    if isinstance(sound, NotSolved) or isinstance(fault, NotSolved):
        why = sound if isinstance(sound, NotSolved) else fault
        if isinstance(why, NotSolved):
            yield case.not_checked(f"what the body of {can.ref} does: {why.reason}", (can.ref,))
    else:
        burnt = Comparison(case, sound).burnt_by(fault)
        for net in nets:
            volts = sound.between(net, metal)
            if volts is not None:
                said = "solved without the joint, which makes it 0 V"
                calc.append(Calculation(f"{net} against {metal}", volts, "V", None, said))
        calc += [b.calculation("the body joined") for b in burnt]
    line = case.chassis.line
    if shock and line is not None and line.volts:
        name = f"{metal} to earth, plug or outlet the other way round"
        calc.append(Calculation(name, line.volts, "V", None, "the line's volts, through nothing"))
    yield _finding(case, can, metal, nets, sections, state, burnt, calc, shock=shock)


def _finding(
    case: Case, can: Part, metal: str, nets: list[str], sections: list[Part], state: State,
    burnt: tuple[Burnt, ...], calc: list[Calculation], *, shock: bool,
) -> Finding:  # fmt: skip
    does = ""
    if shock:
        does = f": {metal} is joined to the line"
    elif burnt:
        does = f", which would {burnt[0].said}"
    return case.finding(
        f"{named(can)} joins {listed(nets)} to {metal} through its body{does}",
        can.span_of("uninsulated"),
        harm=_harm(case, burnt, shock=shock),
        parts=[can.ref, *(part.ref for part in sections)],
        nodes=[metal, *nets],
        related=[
            Related(part.span_of("-"), f"{named(part)}: its minus is the body") for part in sections
        ],
        state=state.name,
        calc=calc,
        action=f"put {can.ref} on insulating wafers and a sleeve, and measure no contact from its "
        f"body to {metal}",
    )


def _harm(case: Case, burnt: tuple[Burnt, ...], *, shock: bool) -> Harm:
    """A polarized plug keeps the joint at neutral, until an outlet is wired the wrong way."""
    if shock:
        plug = case.circuit.wiring.line_plug
        polarized = plug is not None and plug.description.has("polarized", "earthed")
        return Harm.SHOCK if polarized else Harm.SHOCK_NOW
    return Harm.DAMAGE if burnt else Harm.PERFORMANCE
