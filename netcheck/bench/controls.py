"""Controls at maximum, because a chart states one position and the computation needs it.

Belongs here: which end of a control is full up. Does not belong here: tapers, positions between.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from netcheck.chassis import Chassis
from netcheck.circuit.assumed import measured_accuracy
from netcheck.circuit.wiring import Wiring
from netcheck.parts import Description, Part, Value

__all__ = ["Controls", "at_maximum"]


@dataclass(frozen=True, slots=True)
class Controls:
    """A set with its controls turned up.

    `turned` are those at maximum, each with the net its wiper is on now; `halfway` those of which
    the wiring does not tell which end is up.
    """

    chassis: Chassis
    turned: tuple[tuple[str, str], ...] = ()
    halfway: tuple[str, ...] = ()


def at_maximum(chassis: Chassis) -> Controls:
    """Turn every control with a wiper to the end that gives most.

    That is the end away from where signals return; of one whose wiper is there itself (between
    antenna and cathode), the end at the cathode. Common practice, no source.
    """
    wiring = Wiring(chassis)
    parts: list[Part] = []
    turned: list[tuple[str, str]] = []
    halfway: list[str] = []
    for part in chassis.parts:
        track = _track(chassis, part)
        total = part.value("resistance")
        if track is None or total is None:
            parts.append(part)
            continue
        end = _full_end(wiring, track)
        if end is None:
            halfway.append(part.ref)
            parts.append(part)
            continue
        turned.append((part.ref, track[0] if end == 0 else track[2]))
        parts.append(_at_end(chassis, part, total, end))
    return Controls(replace(chassis, parts=tuple(parts)), tuple(turned), tuple(halfway))


def _track(chassis: Chassis, part: Part) -> tuple[str, str, str] | None:
    """The nets of one end, the wiper and the other end, of a control on three nets."""
    if part.kind != "resistor" or not part.fitted or part.broken or part.misplaced:
        return None
    path = next((p for p in part.paths if len(p.terminals) == 3 and "wiper" in p.terminals), None)
    if path is None or path.terminals[1] != "wiper":
        return None
    ends = [part.terminal(name) for name in path.terminals]
    if any(t is None or t.unused for t in ends):
        return None
    first, wiper, last = (chassis.net(t.node) for t in ends if t is not None)
    return (first, wiper, last) if len({first, wiper, last}) == 3 else None


def _full_end(wiring: Wiring, track: tuple[str, str, str]) -> int | None:
    """0 or 2: which end of the track the wiper is at; None when the wiring does not tell."""
    first, wiper, last = track
    at_return = [net in wiring.returns for net in (first, last)]
    if wiper in wiring.returns:
        to_cathode = [_feeds_cathode(wiring, net) for net in (first, last)]
        if to_cathode[0] != to_cathode[1]:
            return 0 if to_cathode[0] else 2
        return None
    if at_return[0] != at_return[1]:
        return 2 if at_return[0] else 0
    return None


def _feeds_cathode(wiring: Wiring, net: str) -> bool:
    near = {net, *(e.other(net) for e in wiring.at(net) if e.ohm is not None and e.ohm < 1e3)}
    return any(e.duty == "cathode" for each in near for e in wiring.electrodes_on(each))


def _at_end(chassis: Chassis, part: Part, total: float, end: int) -> Part:
    span = part.ref_span or part.span
    amounts = (0.0, total) if end == 0 else (total, 0.0)
    value = Value(amounts, "resistance", f"{total:g} ohm", span)
    words: Description = part.description
    if part.measured is not None:  # the same tolerance as of the measured part
        own = replace(value, amounts=(measured_accuracy(chassis, part)[0],), dimension="tolerance")
        words = replace(words, values={**words.values, "tolerance": own})
    words = replace(words, values={**words.values, "resistance": value})
    return replace(part, description=words, measured=None)
