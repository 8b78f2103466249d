"""Finds what other distributions bring to netcheck, with one look at what is installed.

Belongs here: the entry points of our groups, and loading one so that its fault is held instead of
raised. Does not belong here: what is brought (rules: plugins.py, data: catalog/added.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import EntryPoint, entry_points
from types import MappingProxyType
from typing import Any

from netcheck.findings import NetcheckError

__all__ = ["CATALOG", "GROUPS", "OUTPUT", "OWN", "RULES", "BadPlugin", "Brought", "entries", "load"]

RULES = "netcheck.rules"
CATALOG = "netcheck.catalog"
OUTPUT = "netcheck.output"
GROUPS = (RULES, CATALOG, OUTPUT)
OWN = "netcheck"

_WHAT = {RULES: "rules", CATALOG: "component data", OUTPUT: "writer"}


class BadPlugin(NetcheckError, ImportError):
    """What a distribution brings could not be loaded; says which, and what was wrong."""

    def __init__(self, distribution: str, entry: str, fault: str, group: str = RULES) -> None:
        super().__init__(
            f"the {_WHAT[group]} of {distribution} (entry point {entry!r}) could not be loaded: "
            f"{fault}"
        )
        self.distribution = distribution
        self.entry = entry
        self.fault = fault
        self.group = group


@dataclass(frozen=True, slots=True)
class Brought:
    """What one entry point brought: the names taken in, and a sentence for each fault."""

    group: str
    entry: str
    distribution: str
    version: str
    names: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


@cache
def _installed() -> Mapping[str, tuple[EntryPoint, ...]]:
    """Every entry point of our groups; the installed distributions are looked through once."""
    every = entry_points()
    return MappingProxyType(
        {group: tuple(sorted(every.select(group=group), key=_own_first)) for group in GROUPS}
    )


def _own_first(entry: EntryPoint) -> tuple[bool, str, str]:
    return (distribution_of(entry) != OWN, distribution_of(entry), entry.name)


def entries(group: str) -> tuple[EntryPoint, ...]:
    """Return the entry points of one of our groups, netcheck's own first, then by distribution."""
    return _installed()[group]


def distribution_of(entry: EntryPoint) -> str:
    """Return the name of the distribution an entry point belongs to."""
    return entry.dist.name if entry.dist is not None else "an unknown distribution"


def brought(
    entry: EntryPoint, names: tuple[str, ...] = (), faults: tuple[str, ...] = ()
) -> Brought:
    """Return the record of what an entry point brought."""
    version = entry.dist.version if entry.dist is not None else "unknown"
    return Brought(entry.group, entry.name, distribution_of(entry), version, names, faults)


def load(entry: EntryPoint, *, call: bool = True) -> Any:
    """Import what an entry point names and, with `call`, return what calling it returns.

    Raises:
        BadPlugin: it cannot be imported or called, whatever it raises (even SystemExit).
    """
    try:
        found = entry.load()
        return found() if call else found
    except (Exception, SystemExit) as fault:
        said = f"{type(fault).__name__}: {fault}".rstrip(": ")
        raise BadPlugin(distribution_of(entry), entry.name, said, entry.group) from fault
