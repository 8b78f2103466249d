"""The resistance chart: power off, per tube pin and per node, and the one reading before power.

Belongs here: the chart as plain objects. Does not belong here: the network (circuit/ohms.py), the
look (output/).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from netcheck.bench.controls import at_maximum
from netcheck.bench.suppose import Supposed, suppose
from netcheck.bench.tube_rows import electrode_names, pin_of, sockets, terminal_of
from netcheck.bench.voltage_chart import NOT_READ
from netcheck.chassis import Chassis
from netcheck.circuit.states import switch_positions
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed, NotSolved
from netcheck.parts import Part

if TYPE_CHECKING:
    from netcheck.circuit.ohms import PowerOff

__all__ = ["BeforePower", "OhmNode", "OhmPin", "OhmTube", "ResistanceChart", "resistance_chart"]

# Resistors of unmarked tolerance may all be low by a fifth; what reads lower is a fault.
_STILL_SOUND: Final = 0.8
# The two ends of a rectifier's filament are one place to measure at.
_SAME_OHM: Final = 1.0


@dataclass(frozen=True, slots=True)
class OhmNode:
    """A node and its ohms to the measuring point; None: no path, infinite."""

    name: str
    also: tuple[str, ...]
    ohm: float | None


@dataclass(frozen=True, slots=True)
class OhmPin:
    """An electrode on its socket pin with its node and ohms."""

    name: str
    pin: str | None
    node: str
    ohm: float | None


@dataclass(frozen=True, slots=True)
class OhmTube:
    """A tube's pins."""

    ref: str
    type: str
    electrodes: tuple[OhmPin, ...]


@dataclass(frozen=True, slots=True)
class BeforePower:
    """The reading across a plate supply that must be seen before power: not below `least_ohm`."""

    plus: str
    minus: str
    ohm: float | None
    least_ohm: float | None


@dataclass(frozen=True, slots=True)
class ResistanceChart:
    """A resistance chart. Where `solved` is False, `reason` says why and no figure is told."""

    file: str
    title: str
    measure_from: str | None
    solved: bool
    switches: Mapping[str, str]
    turned: tuple[tuple[str, str], ...] = ()
    halfway: tuple[str, ...] = ()
    supposed: tuple[str, ...] = ()
    reason: str = ""
    nodes: tuple[OhmNode, ...] = ()
    tubes: tuple[OhmTube, ...] = ()
    before_power: tuple[BeforePower, ...] = ()
    electrolytics: tuple[str, ...] = ()
    rectifiers: tuple[str, ...] = ()
    batteries: tuple[str, ...] = ()
    assumed: tuple[Assumed, ...] = field(default=())


def resistance_chart(chassis: Chassis, supposed: Iterable[str] = ()) -> ResistanceChart:
    """The resistance chart of a set, switches as set, capacitors charged.

    Args:
        chassis: the set.
        supposed: what differs from the text, in words; of tubes only what their heaters do counts.

    Raises:
        NotUnderstood: a supposition cannot be read.
    """
    changed = suppose(chassis, supposed)
    controls = at_maximum(changed.chassis)
    changed = replace(changed, chassis=controls.chassis)
    empty = ResistanceChart(
        chassis.file,
        chassis.title,
        chassis.measure_from,
        False,
        switch_positions(changed.chassis),
        controls.turned,
        controls.halfway,
        changed.said,
    )
    if not chassis.was_read:
        return replace(empty, reason=NOT_READ)
    try:
        return _filled(empty, chassis, changed)
    except NotSolved as fault:
        return replace(empty, reason=fault.reason)


def _filled(chart: ResistanceChart, chassis: Chassis, changed: Supposed) -> ResistanceChart:
    from netcheck.circuit.direct_model import reference_of
    from netcheck.circuit.ohms import power_off

    own = changed.chassis
    wiring = Wiring(own)
    common = reference_of(wiring)
    leaks = [(e.ref, e.ohm) for e in changed.state.edits if e.kind == "leak"]
    network = power_off(wiring, chart.switches, leaks)
    readings = network.readings(common)
    return replace(
        chart,
        solved=True,
        measure_from=common,
        nodes=tuple(OhmNode(net, node.also, readings.get(net)) for net, node in own.nodes.items()),
        tubes=_tubes(chassis, changed, readings),
        before_power=tuple(_before_power(Wiring(chassis), wiring, network)),
        electrolytics=_refs(own, "capacitor", "electrolytic"),
        rectifiers=tuple(dict.fromkeys(p.ref for p in own.of_kind("diode"))),
        batteries=tuple(p.ref for p in own.of_kind("battery")),
        assumed=network.assumed,
    )


def _refs(chassis: Chassis, kind: str, word: str) -> tuple[str, ...]:
    return tuple(p.ref for p in chassis.of_kind(kind) if p.description.has(word))


def _tubes(
    chassis: Chassis, changed: Supposed, readings: Mapping[str, float | None]
) -> tuple[OhmTube, ...]:
    wired = {part.ref: part for part in changed.chassis.parts}
    rows = []
    for ref, parts in sockets(chassis).items():
        now = parts if ref in changed.pulled else [wired[part.ref] for part in parts]
        pins = tuple(_pins(now, changed.chassis, readings))
        rows.append(OhmTube(ref, parts[0].tube_name, pins))
    return tuple(rows)


def _pins(
    parts: list[Part], chassis: Chassis, readings: Mapping[str, float | None]
) -> Iterable[OhmPin]:
    tube = parts[0].tube
    for name in electrode_names(parts, tube):
        terminal = terminal_of(parts, name)
        if terminal is not None and not terminal.unused:
            net = chassis.net(terminal.node)
            yield OhmPin(name, pin_of(parts, tube, name), net, readings.get(net))


def _before_power(said: Wiring, wiring: Wiring, network: PowerOff) -> Iterable[BeforePower]:
    """From each net where B+ begins to the net its supply returns to."""
    if said.common is None:
        return
    common = wiring.chassis.net(said.common)
    told: list[str] = []
    for net in sorted(said.supplies):
        plus = wiring.chassis.net(net)
        if plus == common or not {plus, common} <= wiring.nets:
            continue
        same = [network.between(plus, other) for other in told]
        if all(ohm is None or ohm > _SAME_OHM for ohm in same):
            told.append(plus)
            ohm = network.between(plus, common)
            yield BeforePower(plus, common, ohm, None if ohm is None else _STILL_SOUND * ohm)
