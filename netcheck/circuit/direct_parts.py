"""What each part of a set is to direct current: ohms, sources, or nothing.

Belongs here: hot-copper conventions, typical values for what the text leaves out (each listed as
assumed), batteries, loads. Does not belong here: solving (direct.py), tubes and rectifiers
(direct_model.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.heater_law import COLD_HEATER, fixed, heater_string_a, law_of
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed
from netcheck.parts import Part

__all__ = ["CONTACT_OHM", "LEAK_OHM", "Branch", "DirectParts", "direct_parts"]

# A closed contact, a fuse, a strap: small beside every part, large beside rounding.
CONTACT_OHM = 0.01
# Insulation of a clean socket or terminal strip; holds a net that nothing else holds
# (common practice, no source).
LEAK_OHM = 10e9

# Printed coil ohms are cold; in the running set copper is warmer (0.39 % per kelvin). Common
# practice, no source: speaker fields run hottest.
_HOT_FIELD, _HOT_POWER, _HOT_OUTPUT, _COLD = 1.20, 1.15, 1.10, 1.0

# Ohms of windings that the text gives none for (common practice, no source).
_TYPICAL_FIELD, _TYPICAL_CHOKE, _TYPICAL_OUTPUT = 1000.0, 300.0, 250.0
_TYPICAL_HIGH, _TYPICAL_PRIMARY, _TYPICAL_HEATER = 150.0, 10.0, 0.1
_TYPICAL_IF, _TYPICAL_RF, _TYPICAL_VOICE = 12.0, 5.0, 3.0
_BATTERY_OHM = {"B-battery": 20.0, "A-battery": 0.1, "C-battery": 100.0}


@dataclass(frozen=True, slots=True)
class Branch:
    """One conducting element: nets `a` and `b`, `ohm` as it is in the running set."""

    ref: str
    path: str
    terminals: tuple[str, str]
    a: str
    b: str
    ohm: float
    kind: Kind
    emf_v: float = 0.0  # a battery: volts of `a` above `b` without load
    load_a: float = 0.0  # a load of stated amperes from `a` to `b`


@dataclass
class DirectParts:
    """The branches of a set, and what had to be taken or could not be known."""

    branches: list[Branch] = field(default_factory=list)
    assumed: list[Assumed] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)


def direct_parts(wiring: Wiring, closed: dict[str, str], hot: bool = True) -> DirectParts:
    """The branches of a set with its switches as `closed` says.

    Args:
        wiring: the set.
        closed: by body reference of a switch (S3 for S3A), the position that is on.
        hot: whether copper is at running temperature (volts), or cold (ohms).
    """
    made = _Maker(wiring, closed, hot)
    for element in wiring.elements:
        made.add(element)
    return made.parts


class _Maker:
    def __init__(self, wiring: Wiring, closed: dict[str, str], hot: bool) -> None:
        self.wiring = wiring
        self.chassis: Chassis = wiring.chassis
        self.closed = closed
        self.hot = hot
        self.parts = DirectParts()
        self._handlers: dict[Kind, Callable[[Element, Part], None]] = {
            Kind.RESISTOR: self._resistor,
            Kind.WINDING: self._winding,
            Kind.HEATER: self._heater,
            Kind.CONTACT: self._contact,
            Kind.FUSE: self._contact_like,
            Kind.STRAP: self._contact_like,
            Kind.LAMP: self._lamp,
            Kind.SPEAKER: self._speaker,
            Kind.METER: self._meter,
            Kind.BATTERY: self._battery,
            Kind.LOAD: self._load,
        }

    def add(self, e: Element) -> None:
        """Add what an element is to direct current, if anything."""
        handler = self._handlers.get(e.kind)
        part = self.chassis.part(e.ref)
        if handler is not None and part is not None:
            handler(e, part)

    def _branch(self, e: Element, ohm: float, emf_v: float = 0.0, load_a: float = 0.0) -> None:
        self.parts.branches.append(
            Branch(
                e.ref, e.path, e.terminals, e.a, e.b, max(ohm, CONTACT_OHM), e.kind, emf_v, load_a
            )
        )

    def _take(self, e: Element, what: str, ohm: float) -> float:
        """A typical value for one that the text leaves out."""
        self.parts.assumed.append(
            Assumed(e.ref, what, ohm, "ohm", "typical value (common practice, no source)")
        )
        return ohm

    def _resistor(self, e: Element, part: Part) -> None:
        if part.kind == "thermistor":
            law = law_of(part, e, heater_string_a(self.wiring))
            if law is not None:
                self._branch(e, law.ohm if self.hot else law.cold_ohm or law.ohm)
                return
        if e.ohm is None:
            self.parts.unknown.append(f"{e.ref} has no ohms in the text")
            return
        hot = part.description.number("hot")
        total = part.value("resistance")
        scale = hot / total if self.hot and hot and total else 1.0
        self._branch(e, e.ohm * scale)

    def _winding(self, e: Element, part: Part) -> None:
        words = part.description
        role, typical, warm = self._winding_kind(e, part)
        if not self.hot:
            warm = _COLD
        own = words.windings.get(e.path, words)
        stated_hot = own.number("hot")
        ohm = self._take(e, f"{role} ohms", typical) if e.ohm is None else e.ohm
        if self.hot and stated_hot is not None and len(part.paths) == 1:
            self._branch(e, stated_hot)
            return
        self._branch(e, ohm * warm)

    def _winding_kind(self, e: Element, part: Part) -> tuple[str, float, float]:
        """What a winding is, its typical ohms, how much its ohms rise when it is hot."""
        words = part.description
        if e.ref in self.wiring.supply.power_refs:
            volts = words.windings.get(e.path)
            low = e.path.startswith(("heater", "filament", "rectifier"))
            high = volts is not None and (volts.number("voltage") or 0.0) > 100.0
            if low:
                return "heater winding", _TYPICAL_HEATER, _HOT_POWER
            return (
                ("high-voltage winding", _TYPICAL_HIGH, _HOT_POWER)
                if high or e.path == "high"
                else ("primary", _TYPICAL_PRIMARY, _HOT_POWER)
            )
        if words.has("field") or e.path == "field":
            return "field coil", _TYPICAL_FIELD, _HOT_FIELD
        if words.has("choke", "filter") and not words.has("rf"):
            return "choke", _TYPICAL_CHOKE, _HOT_POWER
        if words.has("output", "driver", "interstage", "audio"):
            secondary = e.path.startswith(("secondary", "voice"))
            if secondary:
                return "secondary", _TYPICAL_VOICE / 10, _HOT_OUTPUT
            return "output primary", _TYPICAL_OUTPUT, _HOT_OUTPUT
        if words.has("if", "discriminator"):
            return "IF winding", _TYPICAL_IF, _COLD
        return "coil", _TYPICAL_RF, _COLD

    def _heater(self, e: Element, part: Part) -> None:
        ohm = e.ohm
        if ohm is None:
            ohm = self._take(e, "heater ohms", 40.0)
        self._branch(e, ohm if self.hot else ohm * COLD_HEATER)

    def _contact(self, e: Element, part: Part) -> None:
        if part.kind == "vibrator":
            return
        position = self.closed.get(part.body_ref)
        if position is None or position == e.position:
            self._branch(e, CONTACT_OHM)

    def _contact_like(self, e: Element, part: Part) -> None:
        self._branch(e, e.ohm or CONTACT_OHM)

    def _lamp(self, e: Element, part: Part) -> None:
        law = law_of(part, e, None)
        if law is None:
            law = fixed(self._take(e, "lamp ohms", 42.0), 4.2)
        self._branch(e, law.ohm if self.hot else law.cold_ohm or law.ohm)

    def _speaker(self, e: Element, part: Part) -> None:
        self._branch(e, e.ohm if e.ohm is not None else self._take(e, "voice coil", 3.0))

    def _meter(self, e: Element, part: Part) -> None:
        self._branch(e, e.ohm if e.ohm is not None else self._take(e, "meter ohms", 50.0))

    def _battery(self, e: Element, part: Part) -> None:
        volts = part.description.number("running") or part.value("voltage")
        if volts is None:
            self.parts.unknown.append(f"{e.ref} has no volts in the text")
            return
        ohm = e.ohm
        if ohm is None:
            kind = next((w for w in _BATTERY_OHM if part.description.has(w)), "B-battery")
            ohm = self._take(e, "internal ohms", _BATTERY_OHM[kind])
        self._branch(e, ohm, emf_v=volts if self.hot else 0.0)

    def _load(self, e: Element, part: Part) -> None:
        if self._is_alternating(e):  # a motor on the line, a lamp on a heater winding
            return
        if e.ohm is not None:
            self._branch(e, e.ohm)
            return
        amperes = part.value("current")
        if amperes is None:
            self.parts.unknown.append(f"{e.ref} has no mA and no ohms in the text: write either")
            return
        if self.hot:
            self._branch(e, LEAK_OHM, load_a=amperes)

    def _is_alternating(self, e: Element) -> bool:
        """Whether a load lies across the line or along a winding: no rectifier feeds it."""
        supply = self.wiring.supply
        if not self.wiring.b_plus.isdisjoint(e.nets):
            return False
        if any(set(e.nets) <= set(winding.nets) for winding in supply.windings):
            return True
        on_a, on_b = ({pole for pole, nets in supply.feeds.items() if n in nets} for n in e.nets)
        return bool(on_a and on_b and not on_a & on_b)
