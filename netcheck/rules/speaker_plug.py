"""Field coil or output transformer hangs on a plug.

Why: With the plug out nothing, or little, loads the supply: the filter capacitors charge to the
peak, and that stands on the open socket. Where the output tube's plate is open and its screen is
fed, the screen takes the whole current and burns.
False alarm: None of it happens while the plug stays in: it is told once, for whoever works at the
set. What a capacitor then sees is judged by `voltage-rating`.
Source: common practice, no source; screen limits as published with the tube.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING

from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._operating import Stream, line_high, plug_out, speaker_plugs, streams, tried
from netcheck.rules._unloaded import unloaded_supply
from netcheck.rules._words import amount, listed, named
from netcheck.rules._worst_volts import at_line_high

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point

_LOW_V = 30.0
"""Below this nobody is hurt and nothing burns: the plug is not told of (common practice)."""

_SET = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/2 A 250 V slow: LINE to FUSED
T1 power, primary 117 V 6 ohm, high 285-0-285 V 80 mA 180 ohm each, rectifier 5 V 2 A,
   heater 6.3 V 1 A: primary FUSED to COLD, high HA to CHASSIS to HB, rectifier B+ to FIL,
   heater H to CHASSIS
V5 80: plate1 HA, plate2 HB, filament B+ to FIL
C1 10 mfd 500 V electrolytic, new: + B+, - CHASSIS
C2 22 mfd 500 V electrolytic, new: + B2, - CHASSIS
V4 6F6: plate PLATE, screen B2, g1 DRIVE, cathode KOUT, heater H to CHASSIS, shell CHASSIS
R1 470K 1/2 W, new: DRIVE to CHASSIS
R2 450 ohm 2 W: KOUT to CHASSIS
LS1 4 ohm{ls}: VC to VCR
"""
_OUTPUT = "T2 output, 7000 ohm to 4 ohm, primary 400 ohm{on}: primary B2 to PLATE, " \
    "secondary VC to VCR\n"  # fmt: skip
_FIELD = "L5 field, 1500 ohm{on}: B+ to B2\n"


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SET.format(ls=", on P2") + _OUTPUT.format(on="") + _FIELD.format(on=", on P2")
            + "P2 speaker plug: 1 B+, 2 B2, 3 VC, 4 VCR   # <-\n",
            "between its pin 1 (B+) and CHASSIS",
        ),
        Example(
            _SET.format(ls=", on P2") + _OUTPUT.format(on=", on P2") + _FIELD.format(on="")
            + "P2 speaker plug: 1 B2, 2 PLATE   # <-\n",
            "the screen of V4 (6F6)",
        ),
    ),
    good=(
        _SET.format(ls="") + _OUTPUT.format(on="") + _FIELD.format(on=""),
        _SET.format(ls=", on P2") + _OUTPUT.format(on="") + _FIELD.format(on="")
        + "P2 speaker plug: 1 VC, 2 VCR\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for each plug with a field or an output transformer on it."""
    plugs = [ref for ref in speaker_plugs(case) if _carried(case, ref)]
    if not plugs:
        return
    high = line_high(case)
    inside, *points = tried(case, [high, *(plug_out(r, high) for r in plugs)])
    for ref, point in zip(plugs, points, strict=True):
        plug = case.chassis.part(ref)
        if plug is None:
            continue
        if isinstance(point, NotSolved) or isinstance(inside, NotSolved):
            fault = point if isinstance(point, NotSolved) else inside
            yield from _unsolved(case, plug, fault)
        else:
            yield from _solved(case, plug, inside, point)


def _carried(case: Case, plug: str) -> list[Part]:
    """The field coils and output transformers on a plug."""
    return [
        part for part in case.chassis.parts
        if part.on == plug and part.fitted and part.description.has("field", "output")
    ]  # fmt: skip


def _solved(case: Case, plug: Part, inside: Point, point: Point) -> Iterator[Finding]:
    live = _highest(case, plug, point)
    burning = [s for s in streams(case, point) if _is_burning(s)]
    if live is None and not burning:
        return
    said, calc = [], list(_reservoirs(inside, point))
    if live is not None:
        volts, where = live
        said.append(f"{amount(volts, 'V')} stands between its {where}")
        solved = f"solved{at_line_high(case)}, {plug.ref} out"
        calc.append(Calculation("open socket", volts, "V", None, solved))
    for each in burning:
        watts, limit = each.screen_w or 0.0, _screen_limit(each) or 0.0
        said.append(
            f"the screen of {named(each.part)} takes {amount(watts, 'W')} (limit "
            f"{amount(limit, 'W')})"
        )
        calc.append(Calculation(f"screen of {each.part.ref}", watts, "W", limit, "solved"))
    yield _finding(case, plug, f"with {plug.ref} out {' and '.join(said)}", calc,
                   Harm.DAMAGE if burning else Harm.RECORD)  # fmt: skip


def _finding(case: Case, plug: Part, message: str, calc: list[Calculation], harm: Harm) -> Finding:
    return case.finding(
        message,
        plug.ref_span or plug.span,
        harm=harm,
        parts=(plug.ref,),
        related=[
            Related(part.ref_span or part.span, f"{named(part)} is on {plug.ref}")
            for part in _carried(case, plug.ref)
        ],
        calc=calc,
        state=f"{plug.ref} out",
        action=f"never switch on with {plug.ref} out; discharge the filter capacitors before it "
        "is pulled, and mark the socket",
    )


def _reservoirs(inside: Point, point: Point) -> Iterator[Calculation]:
    before = {supply.source.refs: supply for supply in inside.supplies}
    for supply in point.supplies:
        was = before.get(supply.source.refs)
        idle = f"{amount(was.volts, 'V')} with the plug in" if was is not None else "solved"
        yield Calculation(
            f"{supply.source.plus} to {supply.source.minus}", supply.volts, "V", None, idle
        )


def _pins(case: Case, plug: Part) -> dict[str, str]:
    """The plug's nets, each with its pins in words."""
    pins: dict[str, list[str]] = {}
    for terminal in plug.terminals:
        if not terminal.unused:
            pins.setdefault(case.chassis.net(terminal.node), []).append(terminal.name)
    return {net: f"{listed(names)} ({net})" for net, names in pins.items()}


def _highest(case: Case, plug: Part, point: Point) -> tuple[float, str] | None:
    """The highest volts between two pins of the open socket, or of a pin to the chassis.

    Volts between a piece that floats and the rest are no volts to state.
    """
    pins = _pins(case, plug)
    loose, reference = point.model.floating, point.model.reference
    best: tuple[float, str] | None = None
    for a, b in combinations(dict.fromkeys([*pins, reference]), 2):
        volts = point.between(a, b)
        if volts is None or (a in loose) != (b in loose) or abs(volts) < _LOW_V:
            continue
        if best is None or abs(volts) > best[0] * 1.001:
            one = "pins" if b in pins or " and " in pins[a] else "pin"
            both = f"{one} {pins[a]} and {pins.get(b, b)}"
            best = (abs(volts), both)
    return best


def _screen_limit(each: Stream) -> float | None:
    tube = each.part.tube
    return tube.limits.get("screen-w") if tube is not None else None


def _is_burning(each: Stream) -> bool:
    """Whether a plate carries nothing while its screen takes more than its limit."""
    limit, watts = _screen_limit(each), each.screen_w
    if limit is None or watts is None or watts <= limit:
        return False
    return abs(each.plate_a) < 1e-6 < abs(each.screen_a or 0.0)


def _unsolved(case: Case, plug: Part, fault: object) -> Iterator[Finding | NotChecked]:
    """Without a solution: the peak that an unloaded supply can put on the socket's pins."""
    reason = fault.reason if isinstance(fault, NotSolved) else "not solved"
    yield case.not_checked(f"volts with {plug.ref} out: {reason}", (plug.ref,))
    for net, words in _pins(case, plug).items():
        supply = unloaded_supply(case, net) if net in case.circuit.wiring.b_plus else None
        if supply is None or supply.volts < _LOW_V:
            continue
        calc = [Calculation("unloaded supply", supply.volts, "V", None, supply.sum)]
        pin = "pins" if " and " in words else "pin"
        said = f"up to {amount(supply.volts, 'V')} stands at its {pin} {words}"
        yield _finding(case, plug, f"with {plug.ref} out {said}", calc, Harm.RECORD)
        return
