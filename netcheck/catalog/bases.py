"""Tells which pins a socket has, so that pin lists can be checked.

Belongs here: pin counts of bases under their names. Does not belong here: which electrode a type
puts on a pin (tubes.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from netcheck.catalog.tables import read_toml

__all__ = ["base_names", "legal_pins"]


@cache
def _bases() -> Mapping[str, int]:
    found: dict[str, int] = {}
    for name, record in read_toml("bases.toml").items():
        for spelling in (name, *record["aliases"]):
            found[spelling.lower()] = int(record["pins"])
    return MappingProxyType(found)


def base_names() -> tuple[str, ...]:
    """Return the names of the known bases, without aliases."""
    return tuple(read_toml("bases.toml"))


def legal_pins(base: str) -> tuple[str, ...] | None:
    """Return the pin labels of a base, `cap` last, or None for a base that is not known."""
    count = _bases().get(base.strip().lower())
    if count is None:
        return None
    return (*(str(pin) for pin in range(1, count + 1)), "cap")
