"""The states in which metal is touched: how the plug stands, the switches, what has failed.

Belongs here: naming the states and the ways of the plug. Does not belong here: what they change in
the network (touch_solve.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product

from netcheck.chassis import Chassis
from netcheck.circuit.wiring import Wiring
from netcheck.findings import NotSolved
from netcheck.parts import Part

__all__ = ["PlugState", "TouchState", "plug_states"]

_WRONG_OUTLET = "in an outlet wired the wrong way round"


@dataclass(frozen=True, slots=True)
class PlugState:
    """One way of the plug: which line pins are hot, in words; whether only a fault makes it so."""

    text: str
    hot: Mapping[str, bool] = field(hash=False)
    is_fault: bool = False


@dataclass(frozen=True, slots=True)
class TouchState:
    """One state of the set: how the plug stands, each switch by its body, what has failed.

    `earthed`: whether the earth conductor is whole. `failed` is the part that is shorted.
    """

    plug: PlugState
    switches: tuple[tuple[str, str], ...] = ()
    earthed: bool = True
    failed: str = ""

    @property
    def is_fault(self) -> bool:
        """Whether something has failed: a part, the earth conductor, the wiring of the outlet."""
        return bool(self.failed) or self.plug.is_fault or not self.earthed

    @property
    def text(self) -> str:
        """The state in words: plug, switches, what has failed."""
        said = [self.plug.text, *(f"{ref} {position}" for ref, position in self.switches)]
        said += [] if self.earthed else ["earth wire open"]
        return ", ".join(said + ([f"{self.failed} shorted"] if self.failed else []))


def plug_states(wiring: Wiring) -> tuple[PlugState, ...]:
    """The ways the line plug can stand; of two plugs every combination.

    A plug that is not polarized stands both ways; one that is stands as drawn, and the other way
    round in an outlet that is wired wrongly (which is a fault).

    Raises:
        NotSolved: there is no line plug, or it has not two line pins on two nodes.
    """
    if not wiring.poles.plugs:
        raise NotSolved("no line plug is described")
    each = [_ways(wiring.chassis, plug) for plug in wiring.poles.plugs]
    found = []
    for ways in product(*each):
        hot: dict[str, bool] = {}
        for way in ways:
            hot.update(way.hot)
        text = ", ".join(way.text for way in ways)
        found.append(PlugState(text, hot, any(way.is_fault for way in ways)))
    return tuple(found)


def _ways(chassis: Chassis, plug: Part) -> tuple[PlugState, ...]:
    pins = [t for t in plug.terminals if t.name not in ("earth", "shell") and not t.unused]
    nets = [chassis.net(t.node) for t in pins]
    if len(pins) != 2 or nets[0] == nets[1]:
        raise NotSolved(f"{plug.ref} has not two line pins on two nodes")
    named = {t.name for t in pins}
    if named & {"hot", "neutral"} and not plug.description.has("not-polarized"):
        is_hot = [t.name == "hot" or (t.name != "neutral" and "hot" not in named) for t in pins]
        drawn = dict(zip(nets, is_hot, strict=True))
        turned = {net: not hot for net, hot in drawn.items()}
        return (
            PlugState(f"{plug.ref} as drawn", drawn),
            PlugState(f"{plug.ref} {_WRONG_OUTLET}", turned, is_fault=True),
        )
    return tuple(
        PlugState(f"{plug.ref} with pin {pin.name} hot", {net: net == hot for net in nets})
        for pin, hot in zip(pins, nets, strict=True)
    )
