"""Rows of a voltage chart for the tubes, because a chart is read socket by socket.

Belongs here: electrodes in the order of their pins, milliamperes, watts. Does not belong here:
volts of nodes (charting.py), the look of a row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from netcheck.bench.suppose import Supposed
from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.heaters import HeaterState
from netcheck.parts import Part, Section, Terminal, TubeType

if TYPE_CHECKING:
    from netcheck.bench.voltage_chart import ElectrodeRow, NodeRow, TubeRow
    from netcheck.circuit.operating import Point, TubePoint

__all__ = ["electrode_names", "pin_of", "sockets", "terminal_of", "tube_rows"]

_HEATER = ("heater1", "tap", "heater2")
_QUIET = ("diode", "rectifier", "target")


def sockets(chassis: Chassis) -> dict[str, list[Part]]:
    """The tubes of a set by bulb; a twin tube may be drawn as several parts."""
    bulbs: dict[str, list[Part]] = {}
    for part in chassis.of_kind("tube"):
        bulbs.setdefault(part.body_ref, []).append(part)
    return bulbs


def tube_rows(
    chassis: Chassis,
    changed: Supposed,
    circuit: Circuit,
    point: Point,
    nodes: Mapping[str, NodeRow],
    heaters: Mapping[str, HeaterState],
    cold: Sequence[str],
) -> tuple[TubeRow, ...]:
    """A row for each tube of the text, also for one that was pulled: its socket has volts."""
    from netcheck.bench.voltage_chart import TubeRow

    rows = []
    wired = {part.ref: part for part in changed.chassis.parts}
    for ref, parts in sockets(chassis).items():
        condition = _condition(ref, changed, cold)
        empty = condition == "pulled"
        now = parts if empty else [wired.get(part.ref, part) for part in parts]
        tube = parts[0].tube
        own = None if empty else point.tubes.get(ref)
        amperes = {} if empty else _amperes(now, point)
        electrodes = tuple(_electrodes(now, tube, circuit, nodes, amperes))
        volts = heaters[ref].volts if ref in heaters else None
        rows.append(
            TubeRow(
                ref,
                parts[0].tube_name or (tube.name if tube else ""),
                electrodes,
                _watts(own, tube, screen=False),
                _watts(own, tube, screen=True),
                None if empty else volts,
                _heater_pins(now, tube),
                condition,
            )
        )
    return tuple(rows)


def _heater_pins(parts: Sequence[Part], tube: TubeType | None) -> tuple[str, ...]:
    pins = {p for name in _HEATER if (p := pin_of(parts, tube, name)) is not None}
    return tuple(sorted(pins, key=lambda pin: (len(pin), pin)))


def _condition(ref: str, changed: Supposed, cold: Sequence[str]) -> str:
    if ref in changed.pulled:
        return "pulled"
    if ref in cold:
        return "cold"
    return "weak" if ref in changed.weak else ""


def _electrodes(
    parts: Sequence[Part],
    tube: TubeType | None,
    circuit: Circuit,
    nodes: Mapping[str, NodeRow],
    amperes: Mapping[str, float],
) -> Iterator[ElectrodeRow]:
    from netcheck.bench.voltage_chart import ElectrodeRow

    for name in electrode_names(parts, tube):
        if name in _HEATER and (tube is None or tube.heating != "direct"):
            continue
        terminal = terminal_of(parts, name)
        if terminal is None or terminal.unused:
            continue
        net = circuit.chassis.net(terminal.node)
        yield ElectrodeRow(name, pin_of(parts, tube, name), nodes.get(net), amperes.get(name))


def electrode_names(parts: Sequence[Part], tube: TubeType | None) -> list[str]:
    """Electrodes by pin number, caps last; what has no pin in the order of the text."""
    names = dict.fromkeys([
        *(tube.electrodes if tube else ()), *(t.name for part in parts for t in part.terminals)
    ])  # fmt: skip

    def key(name: str) -> tuple[int, int]:
        pin = pin_of(parts, tube, name) or ""
        return (0, int(pin)) if pin.isdigit() else (1, 0)

    return sorted(names, key=key)


def terminal_of(parts: Sequence[Part], name: str) -> Terminal | None:
    """The terminal of an electrode on any of a bulb's parts, a connected one first."""
    found = [t for part in parts if (t := part.terminal(name)) is not None]
    return next((t for t in found if not t.unused), found[0] if found else None)


def pin_of(parts: Sequence[Part], tube: TubeType | None, name: str) -> str | None:
    """The socket pin of an electrode: as the text says, else as the type has it."""
    terminal = terminal_of(parts, name)
    if terminal is not None and terminal.pin:
        return terminal.pin
    return tube.pin_of(name) if tube is not None else None


def _amperes(parts: Sequence[Part], point: Point) -> dict[str, float]:
    """Amperes into each electrode: of a rectifier those of its supply, shared by its plates."""
    found: dict[str, float] = {}
    own = point.tubes.get(parts[0].body_ref)
    if own is not None:
        for each in own.electrodes:
            if each.name not in _HEATER:
                found[each.name] = each.amperes
    refs = {part.ref for part in parts}
    for supply in point.supplies:
        for arm in supply.source.arms:
            if arm.ref in refs:
                share = supply.amperes / len(supply.source.arms)
                plate, cathode = arm.terminals
                found[plate] = found.get(plate, 0.0) + share
                found[cathode] = found.get(cathode, 0.0) - share
    return found


def _watts(own: TubePoint | None, tube: TubeType | None, *, screen: bool) -> float | None:
    """Watts of all plates (or screens) of a tube, each to the cathode of its section."""
    if own is None or tube is None:
        return None
    found = [
        watts
        for section in tube.sections
        if section.kind not in _QUIET
        and (watts := _section_watts(own, section, section.screen if screen else section.plate))
        is not None
    ]
    return sum(found) if found else None


def _section_watts(own: TubePoint, section: Section, name: str | None) -> float | None:
    electrode = own.electrode(name) if name is not None else None
    if electrode is None:
        return None
    cathode = own.electrode(section.cathode)
    filament = cathode is None or cathode.name in _HEATER
    zero = own.cathode_v if filament or cathode is None else cathode.volts
    return (electrode.volts - zero) * electrode.amperes
