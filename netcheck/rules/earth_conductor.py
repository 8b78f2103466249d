"""Earth wire that does not do its work.

Why: The earth wire of a three-wire cord has to carry a fault away until the fuse blows. Missing,
fused or switched it leaves the metal live in that very moment; joined to B- or the line it lets the
hot pin onto the earth wire, and neutral current flows in it all the time.
False alarm: An earth terminal that serves a purpose of its own (a screened room, a lifted earth of
measuring gear): accept it and say which.
Source: three-wire cord, green to CHASSIS, on transformer sets: radios-tv.co.uk filter-capacitor
thread; the earth conductor is neither fused nor switched: common practice, no source; never an
earth on the live side of a set without a transformer: from memory (it shorts a line pole when hot).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.paths import METAL, walk
from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part, Terminal
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import on_line, path_lines, state_of
from netcheck.rules._words import listed

_TOP = (
    "line 117 V 60 Hz\nF1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
    "T1 power, primary 117 V, high 300 V:\n   primary SW to N, high HA to CHASSIS\n"
    "Z1 load 60 mA: HA to CHASSIS\n"
)
_PLUG = "P1 plug, earthed: hot LINE, neutral N, "
_STOPS = frozenset({Kind.FUSE, Kind.CONTACT, Kind.RESISTOR, Kind.LAMP, Kind.HEATER, Kind.WINDING})


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(_TOP + _PLUG + "earth GREEN   # <-\n", says="does not reach CHASSIS"),
        Example(
            _TOP + _PLUG + "earth GREEN\nF2 1 A 250 V: GREEN to CHASSIS   # <-\n",
            says="reaches CHASSIS only through F2",
        ),
        Example(_TOP + _PLUG + "earth open   # <-\n", says="goes nowhere"),
        Example(
            "line 117 V 60 Hz\nP1 plug, earthed: hot LINE, neutral B-, earth CHASSIS   # <-\n"
            "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
            "Z1 load 250 mA: SW to B-\nwire CHASSIS to B-\n",
            says="is joined to the line",
        ),
    ),
    good=(
        _TOP + _PLUG + "earth CHASSIS\n",
        "line 117 V 60 Hz\nP1 plug, earthed: hot LINE, neutral B-, earth CHASSIS\n"
        "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
        "C21 .0047 mfd 250 VAC class Y2: B- to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield what is wrong with the earth wire of each three-wire plug."""
    for plug in case.circuit.wiring.poles.plugs:
        earth = plug.terminal("earth")
        if earth is None and not plug.description.has("earthed"):
            continue
        if earth is None or earth.unused:
            yield _nowhere(case, plug, earth)
            continue
        net = case.chassis.net(earth.node)
        if case.circuit.wiring.incomplete(net):
            yield case.not_checked(f"a part at {net} is not known", [plug.ref])
            continue
        yield from _judged(case, plug, earth, net)


def _judged(case: Case, plug: Part, earth: Terminal, net: str) -> Iterator[Finding]:
    wiring = case.circuit.wiring
    at = {n: wiring.at(n) for n in wiring.nets}
    conducting = walk(at, [net], _ohm)
    live = sorted(set(walk(at, [net], _metal_ohm)) & wiring.line_side)
    if live:
        yield _on_line(case, plug, earth, live[0])
        return
    chassis = case.chassis.net("CHASSIS")
    if chassis not in wiring.nets and chassis != net:
        return
    if chassis not in conducting:
        yield _missing(case, plug, earth, net)
        return
    path = tuple(reversed(conducting.chain(chassis)))
    stops = [e for e in path if e.kind in _STOPS]
    if stops:
        yield _broken(case, plug, net, path, stops)


def _metal_ohm(element: Element) -> float | None:
    return (element.ohm or 0.0) if element.kind in METAL else None


def _ohm(element: Element) -> float | None:
    # What stops the earth wire is a last resort, so that a plain wire beside it is found first.
    if element.kind in _STOPS:
        return 1e3 + (element.ohm or 0.0)
    return _metal_ohm(element)


def _nowhere(case: Case, plug: Part, earth: Terminal | None) -> Finding:
    return case.finding(
        f"the earth wire of {plug.ref} goes nowhere",
        earth.span if earth is not None else plug.span_of("earthed"),
        parts=(plug.ref,),
        action=f"join the earth pin of {plug.ref} to CHASSIS by a screw of its own",
    )


def _missing(case: Case, plug: Part, earth: Terminal, net: str) -> Finding:
    return case.finding(
        f"the earth wire of {plug.ref} does not reach CHASSIS: it ends at {net}",
        earth.span,
        parts=(plug.ref,),
        nodes=(net, "CHASSIS"),
        action=f"join {net} to CHASSIS by a screw of its own, without fuse or switch",
    )


def _broken(
    case: Case, plug: Part, net: str, path: tuple[Element, ...], stops: list[Element]
) -> Finding:
    part = case.chassis.part(stops[0].ref) or plug
    refs = listed(e.ref for e in stops)
    return case.finding(
        f"the earth wire of {plug.ref} reaches CHASSIS only through {refs}",
        part.ref_span or part.span,
        parts=(plug.ref, *(e.ref for e in stops)),
        nodes=(net, "CHASSIS"),
        related=path_lines(case, net, path),
        action=f"join {net} to CHASSIS by wire alone, past {refs}",
    )


def _on_line(case: Case, plug: Part, earth: Terminal, net: str) -> Finding:
    wiring = case.circuit.wiring
    path = wiring.line_path(net)
    by = f" by {listed(e.ref for e in path)}" if path else f": {net} is a line pin"
    wires = [w for w in case.chassis.wires if net in map(case.chassis.net, w.nodes)]
    return case.finding(
        f"the earth wire of {plug.ref} is joined to the line{by}",
        earth.span,
        parts=(plug.ref, *(e.ref for e in path)),
        nodes=(net,),
        state=state_of(case, net),
        related=[
            *(Related(w.span, f"joins {' and '.join(w.nodes)}") for w in wires),
            *path_lines(case, net, path),
        ],
        action=f"part the earth wire from {net}: in a set without a transformer it goes to metal"
        " that a class Y capacitor keeps from B-, or is left off",
    )
