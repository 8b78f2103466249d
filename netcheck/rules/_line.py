"""What the rules about line and touch ask of a set, so that they ask it in one way.

Belongs here: whether the line can be checked at all, its volts, when a net is the hot line, what
a hand would draw, which capacitors bridge line and metal. Does not belong here: any verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import wraps
from typing import TypeAlias

from netcheck.circuit.paths import METAL
from netcheck.circuit.sides import net_of_name
from netcheck.circuit.wiring import Element, Kind, Wiring
from netcheck.findings import Calculation, Finding, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._words import amount

__all__ = [
    "DANGER_A",
    "HAND_OHM",
    "OUTSIDE_METAL",
    "Line",
    "breaking_switches",
    "hot_when",
    "is_line_fed",
    "is_reached",
    "is_reversed",
    "is_unread",
    "jacks_apart",
    "line_fuses",
    "line_of",
    "metal_with",
    "on_line",
    "parts_of",
    "path_lines",
    "plug_pin",
    "state_of",
    "straight_poles",
    "switches",
    "touch_calculation",
    "two_pole_switches",
]

HAND_OHM = 1500.0
"""What the leakage check puts between metal and earth (Panasonic TH-42PW5, safety page)."""

DANGER_A = 10e-3
"""From here on a hand may not let go (from memory: IEC 60479-1, let-go threshold for AC)."""

# What each terminal outside the cabinet is called in a sentence.
OUTSIDE_METAL = {
    ("resistor", "shaft"): "shaft",
    ("capacitor", "shaft"): "shaft",
    ("switch", "shaft"): "shaft",
    ("switch", "frame"): "frame",
    ("speaker", "frame"): "frame",
    ("meter", "case"): "case",
    ("plug", "shell"): "shell",
}

_Results: TypeAlias = Iterable[Finding | NotChecked]


def on_line(check: Callable[[Case], _Results]) -> Callable[[Case], _Results]:
    """Run a check only on a set with a line plug: silent with `line none`, else said so."""

    @wraps(check)
    def guarded(case: Case) -> Iterator[Finding | NotChecked]:
        line = case.chassis.line
        if line is not None and line.volts is None:
            return
        if case.circuit.wiring.line_plug is None:
            yield case.not_checked(_no_plug(case))
            return
        yield from check(case)

    return guarded


def _no_plug(case: Case) -> str:
    unread = [p.ref for p in case.chassis.parts if p.kind == "plug" and p.broken]
    if unread:
        return f"the line plug is not known: {unread[0]} could not be read"
    if case.chassis.line is None:
        return "no line plug is described (write `line none` if the set has none)"
    return "no line plug is described"


@dataclass(frozen=True, slots=True)
class Line:
    """The stated line: volts rms (or DC), the volts when it is high, hertz (0 for DC)."""

    volts: float
    high_v: float
    hertz: float


def line_of(case: Case) -> Line | None:
    """The line as stated, or None when the text does not say."""
    line = case.chassis.line
    if line is None or line.volts is None:
        return None
    return Line(line.volts, line.volts * (1 + line.tolerance.above), line.hertz)


def touch_calculation(case: Case, what: str, series_ohm: float = 0.0) -> tuple[Calculation, ...]:
    """What a hand on metal that is the hot line itself draws, at the stated line; () if unknown.

    `series_ohm` are resistors between the line and the metal.
    """
    line = line_of(case)
    if line is None:
        return ()
    ampere = line.volts / (HAND_OHM + series_ohm)
    ohms = "1500 ohm (the resistor of the leakage check)"
    if series_ohm:
        ohms = f"({ohms} + {amount(series_ohm, 'ohm')})"
    said = f"{amount(line.volts, 'V')} / {ohms} = {amount(ampere, 'A')}"
    return (Calculation(what, ampere * 1e3, "mA", limit_a(case) * 1e3, said),)


# --- leads, switches, fuses


def switches(case: Case, elements: Iterable[Element]) -> tuple[str, ...]:
    """The references of line switches among elements (selectors and interlocks are none)."""
    found: dict[str, None] = {}
    for element in elements:
        part = case.chassis.part(element.ref)
        if element.kind is not Kind.CONTACT or part is None or part.kind != "switch":
            continue
        if not part.description.has("voltage-selector", "selector", "interlock"):
            found[element.ref] = None
    return tuple(found)


def breaking_switches(case: Case, elements: Iterable[Element]) -> tuple[str, ...]:
    """Of `switches`, those that open the lead when the set is switched off.

    A changeover that leaves the lead closed in one position and open in another is none: it
    stands in the first while the set is on the line. A switch of one position has off for the
    other; so has one whose every position closes the lead.
    """
    contacts = tuple(elements)
    bodies: dict[str, set[str]] = {}
    for part in case.chassis.of_kind("switch"):
        bodies.setdefault(part.body_ref, set()).update(part.positions)
    found = []
    for part in parts_of(case, (e for e in contacts if e.ref in switches(case, contacts))):
        closed = {e.position for e in contacts if e.ref == part.ref}
        positions = bodies.get(part.body_ref, set())
        if positions <= closed or "OFF" in {each.upper() for each in positions}:
            found.append(part.ref)
    return tuple(found)


def two_pole_switches(case: Case) -> frozenset[str]:
    """The line switches that open every lead at once."""
    leads = case.circuit.wiring.leads.values()
    opened = [frozenset(switches(case, lead.cuts)) for lead in leads]
    return frozenset.intersection(*opened) if len(opened) > 1 else frozenset()


def line_fuses(wiring: Wiring) -> tuple[Element, ...]:
    """The fuses that carry line current to the set (not those in B+ or a secondary)."""
    fed = frozenset(net for feed in wiring.supply.feeds.values() for net in feed)
    return tuple(e for e in wiring.elements if e.kind is Kind.FUSE and fed & set(e.nets))


def is_line_fed(wiring: Wiring) -> bool:
    """Whether the set's own circuit is joined to the line (no isolating transformer)."""
    tubes = {electrode.net for electrode in wiring.electrodes}
    return wiring.common in wiring.line_side or bool(tubes & wiring.line_side)


def is_reversed(wiring: Wiring) -> bool:
    """Whether a polarized plug puts its hot pin on the common net of a line-fed set."""
    on = {pole for pole, feed in wiring.supply.feeds.items() if wiring.common in feed}
    return bool(on) and not on & wiring.neutral and is_line_fed(wiring)


def straight_poles(wiring: Wiring) -> frozenset[str]:
    """The pins whose lead goes straight to the set, without fuse or switch: the neutral ones.

    In a line-fed set those of the common net, if the plug can turn round or is wired backwards;
    none where the plug can turn round and a transformer isolates the set.
    """
    turns = bool(wiring.hot & wiring.neutral)
    if not turns and not is_reversed(wiring):
        return wiring.neutral
    if not is_line_fed(wiring):
        return frozenset()
    feeds = wiring.supply.feeds.items()
    return frozenset(pole for pole, feed in feeds if wiring.common in feed)


def is_unread(wiring: Wiring, poles: Iterable[str]) -> bool:
    """Whether a part that could not be read may be in the lead of one of the pins."""
    feeds = wiring.supply.feeds
    return any(wiring.incomplete(net) for pole in poles for net in feeds.get(pole, {pole}))


def hot_when(case: Case, net: str) -> tuple[str, ...]:
    """When a line-side net is the hot line itself, in words; () if only a wrong outlet makes it so.

    A net that hangs on no pole by conductors alone (between two heaters) counts as hot in use.
    """
    wiring = case.circuit.wiring
    said: dict[str, None] = {}
    net = _on_feed(wiring, net)
    poles = [pole for pole, feed in wiring.supply.feeds.items() if net in feed]
    both = two_pole_switches(case)
    for pole in poles:
        behind = _switches_between(case, pole, net)
        opening = [ref for ref in behind if ref not in both]
        if pole in wiring.hot and pole in wiring.neutral:
            said["with the plug one way round"] = None
        elif pole in wiring.hot:
            said["whenever the set is on" if behind else "whenever it is plugged in"] = None
        if opening and pole in wiring.neutral:
            said[f"through what {' or '.join(opening)} leaves joined when it is off"] = None
    return tuple(said) if poles else ("in use",)


def state_of(case: Case, net: str) -> str:
    """The states in which a line-side net is the hot line, as the state of a finding."""
    return " or ".join(hot_when(case, net)) or "with an outlet wired the wrong way round"


def _on_feed(wiring: Wiring, net: str) -> str:
    """The first net on the way to the line that a pole feeds, if only plain metal leads there."""
    fed = frozenset(net for feed in wiring.supply.feeds.values() for net in feed)
    at = net
    for element in wiring.line_path(net):
        if at in fed or element.kind not in METAL:
            break
        at = element.other(at)
    return at if at in fed else net


def _switches_between(case: Case, pole: str, net: str) -> tuple[str, ...]:
    """The switches of a pole's lead that `net` lies behind."""
    cuts = case.circuit.wiring.lead(pole).cuts
    ahead = {pole}
    for number, element in enumerate(cuts):
        if net in ahead:
            return ()
        if switches(case, [element]):
            return switches(case, cuts[number:])
        ahead |= set(element.nets)
    return ()


def plug_pin(case: Case, net: str) -> Related | None:
    """The place where the line plug names its pin on `net`."""
    for plug in case.circuit.wiring.poles.plugs:
        for terminal in plug.terminals:
            if not terminal.unused and case.chassis.net(terminal.node) == net:
                return Related(terminal.span, f"pin {terminal.name} of {plug.ref}")
    return None


# --- metal


def metal_with(wiring: Wiring, *nets: str) -> frozenset[str]:
    """Nets, and every net that plain conductors join to them (all switches closed)."""
    reached, queue = set(nets), list(nets)
    while queue:
        for element in wiring.at(queue.pop()):
            new = set(element.nets) - reached if element.kind in METAL else set()
            reached |= new
            queue += new
    return frozenset(reached)


def is_reached(case: Case, net: str) -> bool:
    """Whether a hand reaches metal on a net that is more than the terminal of a jack.

    A jack that a wire joins to the chassis can be touched; the chassis behind it cannot for that.
    """
    if case.chassis.touchable is None:
        return net in case.circuit.wiring.bare
    jacks = list(case.chassis.of_kind("jack"))
    own = {t.node for jack in jacks for t in jack.terminals} - {"CHASSIS"}
    own |= {f"{jack.ref}.{t.name}" for jack in jacks for t in jack.terminals}
    return any(
        net_of_name(case.chassis, name) == net for name in case.chassis.touchable if name not in own
    )


def jacks_apart(case: Case) -> dict[str, tuple[Part, ...]]:
    """Jacks by the net they are on, but for those that are one piece of metal with the chassis.

    Where a hand cannot reach the chassis, jacks joined to it count as apart too.
    """
    wiring = case.circuit.wiring
    chassis = case.chassis.net("CHASSIS")
    one_metal = metal_with(wiring, chassis) if is_reached(case, chassis) else frozenset()
    found: dict[str, tuple[Part, ...]] = {}
    for jack in case.chassis.of_kind("jack"):
        for terminal in jack.terminals:
            net = case.chassis.net(terminal.node)
            if not terminal.unused and net not in one_metal and jack not in found.get(net, ()):
                found[net] = (*found.get(net, ()), jack)
    return found


# --- saying where


def parts_of(case: Case, elements: Iterable[Element]) -> tuple[Part, ...]:
    """The parts of elements, each once, in order."""
    refs = dict.fromkeys(element.ref for element in elements)
    return tuple(part for ref in refs if (part := case.chassis.part(ref)) is not None)


def path_lines(case: Case, net: str, path: Iterable[Element]) -> Iterator[Related]:
    """Each element of a path from `net` on, with the two nets it joins in walking order."""
    for element in path:
        part = case.chassis.part(element.ref)
        far = element.other(net)
        if part is not None:
            terminal = part.terminal(element.terminals[0])
            span = part.ref_span or (terminal.span if terminal else part.span)
            yield Related(span, f"{element.kind.value} {element.ref} joins {net} to {far}")
        net = far
