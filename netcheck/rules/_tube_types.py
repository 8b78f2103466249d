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
    """Return what `tube` has on other pins than `old`, metal and shields left out."""
    return [
        f"pin {pin} is {_group(tube, pin)} and not {_group(old, pin)}"
        for pin in sorted({*tube.pins, *old.pins})
        if _group(tube, pin) != _group(old, pin)
    ]


def _group(tube: TubeType, pin: str) -> str:
    return listed(e for e in tube.pins.get(pin, ()) if e not in _MECHANICAL) or "nothing"


def heater_difference(tube: TubeType, old: TubeType) -> list[str]:
    """Return how the heater's volts differ; meant for heaters on a winding, not in a string."""
    if not tube.heater_v or not old.heater_v:
        return []
    if abs(tube.heater_v / old.heater_v - 1) <= _HEATER_SPREAD:
        return []
    return [f"its heater takes {amount(tube.heater_v, 'V')} and not {amount(old.heater_v, 'V')}"]
