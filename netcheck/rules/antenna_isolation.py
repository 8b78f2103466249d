"""Antenna or other jack not safely isolated from the line.

Why: A hand, an outside antenna, headphones or another set's metal hang on these terminals. Joined
to the line side, or when an ordinary capacitor between shorts, they carry the whole line.
False alarm: A modern part whose class you have not written down, or a jack that is sealed off for
good: accept it and say which.
Source: capacitors in antenna leads count as shock-relevant, class Y: AVX/TPC data sheet
(definitions from IEC 384-14:1993); isolating capacitors at antenna, earth, phono and speaker
sockets of live sets: vintage-radio.net post 1133300; 0.5 mA: UL 1711:2006 clause 39; 1500 ohm:
leakage check in service manuals (Panasonic TH-42PW5, safety page).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.chassis import Wire
from netcheck.circuit.wiring import BRIDGE_OHM, Element, Kind, Wiring
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part, Terminal
from netcheck.rules._barrier import barriers, class_fault, part_to_fit, protective_ohm
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import (
    jacks_apart,
    line_of,
    metal_with,
    on_line,
    path_lines,
    state_of,
    touch_calculation,
)
from netcheck.rules._unclassed import NO_LINE, touch_finding
from netcheck.rules._words import listed, named

_TOP = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
)
_COIL = "L1 antenna coil 5 ohm: AIN to B-\n"


@rule(
    harm=Harm.SHOCK_NOW,
    bad=(
        Example(
            _TOP + _COIL + "J1 antenna: ANT\nC1 .002 mfd 500 V mica: ANT to AIN   # <-\n",
            says="without a safety class",
        ),
        Example(_TOP + _COIL + "J1 antenna: AIN   # <-\n", says="J1 is joined to the line by L1"),
        Example(
            _TOP + "J2 phono: tip AUDIO, sleeve B-   # <-\nR1 500K: AUDIO to B-\n",
            says="J2 is joined to the line",
        ),
        # A set built on the line, its chassis covered: the wire brings it out to a socket.
        Example(
            "line 230 V 50 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
            "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
            "Z1 load 100 mA: SW to CHASSIS\nwire N to CHASSIS\ntouchable: GRAMLOW\n"
            "J3 gram: GRAMLOW   # <-\nC7 .01 mfd 1500 V paper: GRAMLOW to CHASSIS\n"
            "wire GRAMLOW to CHASSIS\n",
            says="J3 is joined to CHASSIS by the wire in line 10 across C7 (.01 mfd 1500 V paper)",
        ),
    ),
    good=(
        _TOP + _COIL + "J1 antenna: ANT\nC1 .001 mfd 250 VAC class Y2: ANT to AIN\n",
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
        "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "T1 power, primary 117 V, high 300 V:\n"
        "   primary SW to N, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n"
        "J1 antenna: ANT\nC1 .002 mfd 500 V mica: ANT to AIN\nL1 antenna coil 5 ohm:\n"
        "   AIN to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each jack joined to the line, and each poor capacitor before one."""
    wiring = case.circuit.wiring
    jacks = jacks_apart(case)
    live = {net for net in jacks if (wiring.line_ohm(net) or 0.0) < BRIDGE_OHM}
    live &= wiring.line_side
    yield from _joined(case, {net: jacks[net] for net in jacks if net in live})
    seen: set[str] = set()
    for line, metal, part, ohm in _capacitors(case, sorted(set(jacks) - live)):
        fault = class_fault(case, part, "antenna")
        if fault and part.ref not in seen:
            seen.add(part.ref)
            touched = _jacks_on(wiring, jacks, metal)
            place = f"alone keeps {listed(touched) or metal} from {line}, {fault}"
            yield touch_finding(case, part, "antenna", place, line, metal, touched, series_ohm=ohm)
    if seen and line_of(case) is None:
        yield case.not_checked(NO_LINE, sorted(seen))


def _jacks_on(wiring: Wiring, jacks: dict[str, tuple[Part, ...]], metal: str) -> tuple[str, ...]:
    """The jacks that a net is one piece of metal with."""
    refs = (jack.ref for net in jacks for jack in jacks[net] if metal in metal_with(wiring, net))
    return tuple(dict.fromkeys(refs))


def _joined(case: Case, live: dict[str, tuple[Part, ...]]) -> Iterator[Finding]:
    """One finding a net: several jacks on it have one cause."""
    done: set[str] = set()
    for net, jacks in live.items():
        refs = [jack.ref for jack in jacks]
        if not done.issuperset(refs):
            done.update(refs)
            yield _joined_finding(case, net, jacks)


def _joined_finding(case: Case, net: str, jacks: tuple[Part, ...]) -> Finding:
    wiring = case.circuit.wiring
    path = wiring.line_path(net)
    refs = [jack.ref for jack in jacks]
    terminal = _terminal_on(case, jacks[0], net)
    wire, bridged = _bridge(case, terminal.node, net)
    if wire is not None:
        return _wired_finding(case, net, jacks[0], wire, bridged)
    by = f" by {listed(e.ref for e in path)}" if path else f": {net} is a line pin"
    touched = net in wiring.bare
    leads = sum(not t.unused for jack in jacks for t in jack.terminals)
    to_fit = part_to_fit(case, 1e-9, "antenna", 1 / leads)
    return case.finding(
        f"{listed(refs)} {'is' if len(refs) == 1 else 'are'} joined to the line{by}",
        terminal.span,
        harm=Harm.SHOCK_NOW if touched else Harm.SHOCK,
        parts=(*refs, *(e.ref for e in path)),
        nodes=(net,),
        state=state_of(case, net),
        related=path_lines(case, net, path),
        calc=touch_calculation(case, f"through a hand on {refs[0]} when {net} is hot"),
        action=f"part {refs[0]} from {net} and join each of its leads through"
        f" {to_fit}, or feed it from a transformer winding of its own",
    )


def _terminal_on(case: Case, jack: Part, net: str) -> Terminal:
    """The terminal of a jack on a net: one that a hand reaches by the node's own name first."""
    on = [t for t in jack.terminals if not t.unused and case.chassis.net(t.node) == net]
    named_bare = case.chassis.touchable or ()
    return next((t for t in on if t.node in named_bare), on[0])


def _bridge(case: Case, node: str, net: str) -> tuple[Wire | None, tuple[Part, ...]]:
    """The `wire` that makes a jack's node one with `net`, and the capacitors it bridges."""
    wire = next((w for w in case.chassis.wires if node in w.nodes and node != net), None)
    bridged = (
        part
        for part in case.chassis.of_kind("capacitor")
        if node in part.nodes and len(part.nodes) > 1
        and {case.chassis.net(each) for each in part.nodes} == {net}
    )  # fmt: skip
    return wire, tuple(bridged)


def _wired_finding(
    case: Case, net: str, jack: Part, wire: Wire, bridged: tuple[Part, ...]
) -> Finding:
    wiring = case.circuit.wiring
    terminal = _terminal_on(case, jack, net)
    path = wiring.line_path(net)
    across = f" across {listed(named(part) for part in bridged)}" if bridged else ""
    by = f", and so to the line by {listed(e.ref for e in path)}" if path else ", a line pin"
    keeper = f"{bridged[0].ref}, fitted as " if bridged else ""
    farad = (bridged[0].value("capacitance") if bridged else None) or 1e-9
    return case.finding(
        f"{jack.ref} is joined to {net} by the wire in line {wire.span.line}{across}{by}",
        terminal.span,
        harm=Harm.SHOCK_NOW if net in wiring.bare else Harm.SHOCK,
        parts=(jack.ref, *(part.ref for part in bridged)),
        nodes=(net,),
        state=state_of(case, net),
        related=[
            Related(wire.span, f"joins {terminal.node} to {net}"),
            *(Related(part.ref_span or part.span, "does nothing so") for part in bridged),
            *path_lines(case, net, path),
        ],
        calc=touch_calculation(case, f"through a hand on {terminal.node} when {net} is hot"),
        action=f"take the wire of line {wire.span.line} out and join {terminal.node} to {net} only"
        f" through {keeper}{part_to_fit(case, farad, 'antenna')}",
    )


def _capacitors(case: Case, nets: list[str]) -> Iterator[tuple[str, str, Part, float]]:
    """(line-side net, jack's net, capacitor, ohms with it) of each that alone keeps a jack off."""
    wiring = case.circuit.wiring
    for barrier in barriers(case):
        if barrier.at_jack and len(barrier.capacitors) == 1:
            yield barrier.line, barrier.metal, barrier.capacitors[0], barrier.series_ohm
    # A trimmer before a jack, or a jack that the text does not call touchable, is no barrier.
    chassis = metal_with(wiring, case.chassis.net("CHASSIS"))
    for metal in sorted(metal_with(wiring, *nets) - chassis):
        for element in wiring.at(metal):
            line = element.other(metal)
            part = case.chassis.part(element.ref)
            if part is not None and _keeps_off(case, element, line):
                yield line, metal, part, 0.0


def _keeps_off(case: Case, element: Element, line: str) -> bool:
    ohm = case.circuit.wiring.line_ohm(line)
    return element.kind is Kind.CAPACITOR and ohm is not None and ohm < protective_ohm(case)
