"""How many ohms a heater, lamp or ballast has at its own volts, because a cold one has few.

Belongs here: the law of each kind of part whose resistance hangs on its heat, cold and hot, and
what such a part is by its text. Does not belong here: the network it stands in (line_network), the
volts it gets (line_side).

Tungsten: I / I0 = (V / V0)^0.58, so R / R0 = (V / V0)^0.42, with rms volts (a filament does not
cool within a cycle of the line). Published rerating exponents of lamps are 0.55 for the current and
1.6 for the power, that is 0.55 to 0.60 ("Lamp rerating", quoting the Standard Handbook for
Electrical Engineers, 11th ed., 1978, p. 22-8). Heaters follow the same law within some percent:
from memory (coated heaters radiate to their sleeve about as T^4, resistivity goes as T^1.2).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from enum import Enum

import numpy as np

from netcheck.catalog.lamps import Ballast, ballast, barretter, lamp
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.rectify_law import Array
from netcheck.circuit.wiring import Wiring
from netcheck.parts import Part

__all__ = [
    "COLD_HEATER", "EXPONENT", "Law", "LawKind", "ballast_of", "fixed", "heater_string_a",
    "law_of", "rated_lamp",
]  # fmt: skip

EXPONENT = 0.58
_RISE = 1.0 - EXPONENT
COLD_HEATER = 1 / 7
"""A cold heater has about a seventh of its running ohms (common practice, no source)."""

COLD_LAMP = 1 / 10
"""A cold pilot lamp has about a tenth, a lamp for the line a fifteenth (common practice)."""

_SHORT_OHM = 1e-3


class LawKind(Enum):
    """What a branch's ohms follow: nothing, the tungsten law, a constant current."""

    FIXED = "fixed"
    HEATER = "heater"
    LAMP = "lamp"
    BARRETTER = "barretter"


@dataclass(frozen=True, slots=True)
class Law:
    """A branch's ohms: `ohm` at `rated_v` volts, `cold_ohm` at none.

    A barretter holds `rated_v / ohm` amperes from `rated_v` to `to_v` volts.
    """

    kind: LawKind
    ohm: float
    rated_v: float = 0.0
    cold_ohm: float = 0.0
    to_v: float = 0.0

    @property
    def varies(self) -> bool:
        """Whether the ohms hang on the volts."""
        return self.kind is not LawKind.FIXED

    @property
    def rated_a(self) -> float:
        """Amperes at the rated volts."""
        return self.rated_v / self.ohm

    def at(self, volts: Array) -> Array:
        """Ohms at rms volts across the branch, any shape."""
        if self.kind is LawKind.BARRETTER:
            return np.asarray(np.clip(volts, self.rated_v, self.to_v) / self.rated_a)
        if self.kind is LawKind.FIXED:
            return np.full(np.shape(volts), self.ohm)
        share = (np.asarray(volts) / self.rated_v) ** _RISE
        return np.asarray(np.maximum(self.ohm * share, self.cold_ohm))


def fixed(ohm: float, cold_ohm: float | None = None) -> Law:
    """A branch whose ohms do not hang on its volts (cold ones only at switch-on)."""
    ohm = max(ohm, _SHORT_OHM)
    return Law(LawKind.FIXED, ohm, cold_ohm=ohm if cold_ohm is None else cold_ohm)


def law_of(part: Part, e: Element, string_amperes: float | None) -> Law | None:
    """The law of one element, None where its ohms are not known.

    Args:
        part: the part it belongs to.
        e: the element.
        string_amperes: what the heater string carries, for a ballast that only says its drop.
    """
    if e.kind is Kind.HEATER:
        return _heater(part, e)
    if e.kind is Kind.LAMP:
        return _lamp(part, e)
    if part.kind == "thermistor":
        return _thermistor(part, e, string_amperes)
    if e.ohm is None:
        return None
    hot, total = part.description.number("hot"), part.value("resistance")
    return fixed(e.ohm * hot / total if hot and total else e.ohm)


def _heater(part: Part, e: Element) -> Law | None:
    amperes = part.tube.heater_a if part.tube is not None else None
    if e.ohm is None or not amperes:
        return None
    return Law(LawKind.HEATER, e.ohm, e.ohm * amperes, e.ohm * COLD_HEATER)


def rated_lamp(part: Part) -> tuple[float, float] | None:
    """A lamp's rated volts and amperes: as written, else by its number."""
    volts, amperes, watts = (part.value(role) for role in ("voltage", "current", "power"))
    volts = volts if volts is not None else part.value("voltage-ac")
    if volts and not amperes and watts:
        amperes = watts / volts
    if volts and amperes:
        return volts, amperes
    known = lamp(part.description.designation) if part.description.designation else None
    return (known.v, known.a) if known is not None else None


def _lamp(part: Part, e: Element) -> Law | None:
    """A filament; a neon lamp carries next to nothing; a light-emitting diode its milliamperes."""
    if part.description.has("neon"):
        return fixed(1e6)
    rated = rated_lamp(part)
    if rated is None:
        return None
    volts, amperes = rated
    if part.description.has("led"):
        return fixed(volts / amperes)
    return Law(LawKind.LAMP, volts / amperes, volts, volts / amperes * COLD_LAMP)


def ballast_of(part: Part) -> Ballast | None:
    """What the code on a ballast tube says, None for any other part or number."""
    said = part.description.designation
    return ballast(said) if said and part.kind == "thermistor" else None


def _thermistor(part: Part, e: Element, string_amperes: float | None) -> Law | None:
    """A thermistor warm, a ballast by its code, a barretter by its number or amperes."""
    words, said = part.description, part.description.designation
    if words.has("barretter"):
        known = barretter(said) if said else None
        if known is not None:
            return Law(LawKind.BARRETTER, known.from_v / known.a, known.from_v,
                       known.from_v / known.a / 4, known.to_v)  # fmt: skip
        return fixed(e.ohm) if e.ohm is not None else None
    hot = words.number("hot")
    if hot is not None:
        return fixed(hot, max(e.ohm or hot, hot))
    code = ballast_of(part)
    if code is None or e.ohm is not None or not string_amperes:
        return fixed(e.ohm) if e.ohm is not None else None
    return fixed(_ballast_ohm(part, code, e, string_amperes))


def _ballast_ohm(part: Part, code: Ballast, e: Element, amperes: float) -> float:
    """The ohms of a ballast, or of its lamp section, which runs along its first terminals.

    The section leaves to the lamp the amperes its letter stands for; the rest drops what is left
    of the volts (RMA ballast code, see `catalog.lamps`).
    """
    path = next((p for p in part.paths if len(p.terminals) > 2), None)
    if path is None:
        return code.drop_v / amperes
    if set(e.terminals) == {path.terminals[0], path.terminals[1]}:
        return code.lamp_v / max(amperes - code.lamp_a, 0.1 * amperes)
    return (code.drop_v - code.lamp_v) / amperes / max(len(path.terminals) - 2, 1)


def heater_string_a(wiring: Wiring) -> float | None:
    """The rated amperes that most heaters of a set want; None without any."""
    wanted: Counter[float] = Counter()
    for ref in dict.fromkeys(e.ref for e in wiring.elements if e.kind is Kind.HEATER):
        part = wiring.chassis.part(ref)
        if part is not None and part.tube is not None and part.tube.heater_a:
            wanted[part.tube.heater_a] += 1
    return wanted.most_common(1)[0][0] if wanted else None
