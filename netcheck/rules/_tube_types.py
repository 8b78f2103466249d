"""How two tube types differ where one is put in the other's socket.

Belongs here: base, pins and heater compared, in words. Does not belong here: which types a set
holds, or what follows from a difference.
"""

from __future__ import annotations

from netcheck.parts import TubeType
from netcheck.rules._words import amount, listed

__all__ = ["base_difference", "heater_difference", "pin_differences"]

# A shell or an inner shield on a pin changes nothing in how the stage works.
_MECHANICAL = frozenset({"shell", "shield"})
# Heaters are run within 10 % of their volts (common practice, no source).
_HEATER_SPREAD = 0.1


def base_difference(tube: TubeType, old: TubeType) -> list[str]:
    """Return the one difference that a plug-in comparison stops at: another base."""
    if tube.base and old.base and tube.base != old.base:
        return [f"its base is {tube.base} and not {old.base}"]
    return []


def pin_differences(tube: TubeType, old: TubeType) -> list[str]:
    """Return what `tube` has on other pins than `old`, metal and shields left out.

    Plates that may change places count as the same.
    """
    alike = _like_plates(tube) & _like_plates(old)
    return [
        f"pin {pin} is {listed(_group(tube, pin)) or 'nothing'}"
        f" and not {listed(_group(old, pin)) or 'nothing'}"
        for pin in sorted({*tube.pins, *old.pins})
        if _merged(_group(tube, pin), alike) != _merged(_group(old, pin), alike)
    ]


def _group(tube: TubeType, pin: str) -> list[str]:
    return [e for e in tube.pins.get(pin, ()) if e not in _MECHANICAL]


def _merged(group: list[str], alike: frozenset[str]) -> list[str]:
    return ["a plate" if e in alike else e for e in group]


def _like_plates(tube: TubeType) -> frozenset[str]:
    """The plates of a full-wave rectifier: two like sections over one cathode."""
    cathodes = {section.cathode for section in tube.sections}
    rectifies = all(section.kind == "rectifier" for section in tube.sections)
    if len(tube.sections) < 2 or len(cathodes) > 1 or not rectifies:
        return frozenset()
    return frozenset(section.plate for section in tube.sections)


def heater_difference(tube: TubeType, old: TubeType) -> list[str]:
    """Return how the heater's volts differ; meant for heaters on a winding, not in a string."""
    if not tube.heater_v or not old.heater_v:
        return []
    if abs(tube.heater_v / old.heater_v - 1) <= _HEATER_SPREAD + 1e-9:
        return []
    return [f"its heater takes {amount(tube.heater_v, 'V')} and not {amount(old.heater_v, 'V')}"]
