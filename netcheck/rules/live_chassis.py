"""Touchable metal joined to the line by conductors.

Why: Whoever touches it and anything earthed stands across the line. Which pin it is joined to does
not clear it: an outlet, an adapter or a plug turned round, or the switch in its lead, makes it hot.
False alarm: Sets were sold so (one line pin on the chassis, behind an insulating cabinet, back and
knobs): the finding stands; say with `touchable:` what a hand can reach, and it becomes a warning.
Source: hot chassis sets: antiqueradio.org safety page, vintageradioworld.co.uk safety page; live
with the switch off through the cold heaters: next.gr page AA5 6; check in both plug and switch
positions, 1500 ohm: service manuals (Panasonic TH-42PW5, Harman Kardon TU-940, leakage tests).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Element
from netcheck.findings import Finding, Harm, NotChecked, Related, Span
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import (
    is_reached,
    jacks_apart,
    on_line,
    parts_of,
    path_lines,
    plug_pin,
    state_of,
    touch_calculation,
)
from netcheck.rules._touch_fit import bridge_to_fit
from netcheck.rules._words import listed

_LEADS = "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
_DUTY = "b-minus-to-chassis"
_US = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"


@rule(
    harm=Harm.SHOCK_NOW,
    bad=(
        Example(_US + _LEADS + "wire CHASSIS to B-   # <-\n", says="CHASSIS is joined to the line"),
        Example(
            "line 230 V 50 Hz\nP1 plug, not polarized: 1 LINE, 2 N\n"
            "S1 power: ON N to CHASSIS   # <-\nF1 1/2 A 250 V slow: LINE to FUSED\n"
            "V1 UY85: heater FUSED to H1\nV2 UL84: heater H1 to CHASSIS\n",
            says="with the plug one way round or through what S1 leaves joined when it is off",
        ),
        Example(
            _US + _LEADS + "touchable: CHASSIS, METAL\nR1 1K 1/2 W: SW to METAL   # <-\n",
            says="METAL is joined to the line by R1",
        ),
    ),
    good=(
        _US + _LEADS + "C1 .0047 mfd 250 VAC class Y2: B- to CHASSIS\n"
        "R1 470K 1/2 W: B- to CHASSIS\n",
        "line 117 V 60 Hz\nP1 plug, earthed: hot LINE, neutral N, earth CHASSIS\n"
        "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "T1 power, primary 117 V, high 300 V:\n"
        "   primary SW to N, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for each piece of metal that is on the line side."""
    wiring = case.circuit.wiring
    chassis = case.chassis.net("CHASSIS")
    # The jacks have antenna-isolation; a live chassis is told here whatever hangs on it.
    metal = (wiring.bare - frozenset(jacks_apart(case)) | {chassis}) & wiring.line_side
    paths = {net: wiring.line_path(net) for net in metal}
    pieces: list[list[str]] = []
    for net in sorted(metal, key=lambda net: (len(paths[net]), net != chassis, net)):
        through = {n for element in paths[net] for n in element.nets}
        # What is live only through metal already reported is the same fault.
        piece = next((p for p in pieces if p[0] in through), None)
        if piece is None:
            pieces.append([net])
        else:
            piece.append(net)
    for piece in pieces:
        yield _finding(case, piece, paths[piece[0]])


def _finding(case: Case, piece: list[str], path: tuple[Element, ...]) -> Finding:
    wiring = case.circuit.wiring
    net = piece[0]
    names = [name for each in piece for name in _names(case, each)]
    reach = [each for each in piece if is_reached(case, each)]
    said = state_of(case, net)
    by = f" by {listed(e.ref for e in path)}" if path else ""
    covered = "" if reach else " (the text does not call it touchable)"
    return case.finding(
        f"{listed(names)} {'is' if len(names) == 1 else 'are'} joined to the line{by}"
        f"{covered}: hot {said}",
        _joint(case, net, path),
        harm=Harm.SHOCK_NOW if reach else Harm.SHOCK,
        parts=[e.ref for e in path] or [plug.ref for plug in wiring.poles.plugs],
        nodes=piece,
        state=said,
        related=_way(case, net, path),
        calc=touch_calculation(case, f"through a hand on {names[0]} when it is hot"),
        action=_action(case, names[0]),
    )


def _way(case: Case, net: str, path: tuple[Element, ...]) -> Iterator[Related]:
    yield from path_lines(case, net, path)
    end = net
    for element in path:
        end = element.other(end)
    pin = plug_pin(case, end)
    if pin is not None:
        yield pin


def _joint(case: Case, net: str, path: tuple[Element, ...]) -> Span:
    """Where the text joins the metal to the line: a wire statement, else the part's terminal."""
    wire = next((w for w in case.chassis.wires if net in map(case.chassis.net, w.nodes)), None)
    parts = parts_of(case, path[:1]) or case.circuit.wiring.poles.plugs
    terminals = (t for part in parts for t in part.terminals if case.chassis.net(t.node) == net)
    terminal = next(terminals, None)
    if wire is not None and (terminal is None or terminal.node not in _names(case, net)):
        return wire.span
    return terminal.span if terminal is not None else parts[0].span


def _names(case: Case, net: str) -> list[str]:
    """What the text calls the metal: CHASSIS, or as it says what can be touched."""
    said = case.chassis.touchable or () if is_reached(case, net) else ()
    names = (name for name in ("CHASSIS", *said) if case.chassis.net(name) == net)
    return list(dict.fromkeys(names)) or [net]


def _action(case: Case, name: str) -> str:
    live_with = (
        f"measure AC volts from {name} to earth, plug both ways round, switch on and off, and cover"
        " every screw, shaft and the back; on the bench use an isolating transformer"
    )
    parted = _has_b_minus(case) and name != "B-"  # one that a hand reaches is parted from nothing
    if case.circuit.wiring.common == case.chassis.net(name) and not parted:
        return f"the set is built so, its own return is {name}: {live_with}"
    common = "B-" if _has_b_minus(case) else case.circuit.wiring.common or "the return of the set"
    return (
        f"part {name} from the line and join it to {common} only through"
        f" {bridge_to_fit(case, _DUTY)}; if it must stay, {live_with}"
    )


def _has_b_minus(case: Case) -> bool:
    """Whether the text has a net by that name, under the name of another net too."""
    return any("B-" in (node.name, *node.also) for node in case.chassis.nodes.values())
