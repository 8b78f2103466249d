"""Finding what is installed: rules by entry point, the built-in ones by the same door.

Belongs here: loading entry points and holding their faults. Does not belong here: any rule.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.metadata import EntryPoint, entry_points

from netcheck.findings import NetcheckError
from netcheck.rules._base import Rule

__all__ = ["BadPlugin", "installed_rules", "rule_named"]

RULES_GROUP = "netcheck.rules"


class BadPlugin(NetcheckError, ImportError):
    """A distribution whose rules could not be loaded; says which, and what was wrong."""

    def __init__(self, distribution: str, entry: str, fault: str) -> None:
        super().__init__(
            f"the rules of {distribution} (entry point {entry!r}) could not be loaded: {fault}"
        )
        self.distribution = distribution
        self.entry = entry
        self.fault = fault


@cache
def installed_rules() -> tuple[Rule, ...]:
    """Every rule of every installed distribution, by name.

    Raises:
        BadPlugin: an entry point fails to import, returns something else than rules, or brings
            a name that is taken.
    """
    found: dict[str, Rule] = {}
    for entry in sorted(entry_points(group=RULES_GROUP), key=_own_first):
        distribution = entry.dist.name if entry.dist is not None else "an unknown distribution"
        for each in _load(entry, distribution):
            if each.name in found:
                other = found[each.name].distribution
                raise BadPlugin(
                    distribution, entry.name, f"the name {each.name} is taken by {other}"
                )
            found[each.name] = replace(each, distribution=distribution)
    return tuple(found[name] for name in sorted(found))


def rule_named(name: str) -> Rule | None:
    """The installed rule of this name (underscores count as dashes), or None."""
    wanted = name.strip().lower().replace("_", "-")
    return next((each for each in installed_rules() if each.name == wanted), None)


def _own_first(entry: EntryPoint) -> tuple[bool, str]:
    return (entry.dist is None or entry.dist.name != "netcheck", entry.name)


def _load(entry: EntryPoint, distribution: str) -> tuple[Rule, ...]:
    try:
        rules = tuple(entry.load()())
    except Exception as fault:
        raise BadPlugin(distribution, entry.name, f"{type(fault).__name__}: {fault}") from fault
    for each in rules:
        if not isinstance(each, Rule):
            raise BadPlugin(distribution, entry.name, f"it returned {each!r}, which is no rule")
    return rules
