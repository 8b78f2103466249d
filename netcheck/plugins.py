"""Finding what is installed: rules by entry point, the built-in ones by the same door; writers.

Belongs here: taking in rules and writers, and what was brought by whom. Does not belong here: any
rule, component data (catalog/added.py), looking through distributions (entries.py).

A distribution that cannot be loaded never stops netcheck: its fault is held, and the rule
`plugin-failed` tells it with every set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib.metadata import EntryPoint
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from netcheck.entries import OUTPUT, OWN, RULES, BadPlugin, Brought, brought, entries, load
from netcheck.entries import distribution_of as _distribution_of
from netcheck.rules._base import NAME, Rule

if TYPE_CHECKING:
    from netcheck.rules._runner import Report

__all__ = [
    "FORMS", "BadPlugin", "Writer", "everything_brought", "faults", "installed_rules",
    "installed_writers", "rule_named",
]  # fmt: skip

Writer = Callable[["Iterable[Report]"], "Iterable[str]"]

FORMS = ("text", "json", "sarif", "csv", "html")
"""Forms that are netcheck's own, now or to come; no writer may take their names."""


def installed_rules() -> tuple[Rule, ...]:
    """Every rule of every installed distribution, by name.

    Raises:
        BadPlugin: netcheck's own rules cannot be loaded; the installation is broken.
    """
    return _rules()[0]


@cache
def _rules() -> tuple[tuple[Rule, ...], tuple[Brought, ...]]:
    found: dict[str, Rule] = {}
    told: list[Brought] = []
    for entry in entries(RULES):
        before = set(found)
        try:
            wrong = tuple(_take_in(found, load(entry), entry))
        except BadPlugin as fault:
            if fault.distribution == OWN:
                raise
            wrong = (str(fault),)
        told.append(brought(entry, tuple(sorted(set(found) - before)), wrong))
    return tuple(found[name] for name in sorted(found)), tuple(told)


def _take_in(found: dict[str, Rule], returned: Any, entry: EntryPoint) -> Iterator[str]:
    """Put the rules of an entry point among those `found`; yield a sentence for each refused."""
    distribution = _distribution_of(entry)
    try:
        rules = tuple(returned)
    except Exception as fault:  # a generator may fail late
        said = f"{type(fault).__name__}: {fault}"
        raise BadPlugin(distribution, entry.name, said) from fault
    for each in rules:
        if not isinstance(each, Rule):
            yield f"the rules of {distribution}: {_shown(each)} is no rule and is left out"
        elif not NAME.fullmatch(each.name):
            yield f"the rules of {distribution}: {_shown(each.name)} cannot be the name of a rule"
        elif each.name in found:
            by = found[each.name].distribution
            yield f"the rule {each.name} of {distribution} is left out: {by} has one of that name"
        else:
            found[each.name] = replace(each, distribution=distribution)


def _shown(thing: object) -> str:
    try:
        text = repr(thing)
    except Exception:
        text = f"something of the kind {type(thing).__name__}"
    return text if len(text) <= 60 else f"{text[:60]}..."


def rule_named(name: str) -> Rule | None:
    """The installed rule of this name (underscores count as dashes), or None."""
    wanted = name.strip().lower().replace("_", "-")
    return next((each for each in installed_rules() if each.name == wanted), None)


def installed_writers() -> Mapping[str, tuple[str, Writer]]:
    """Every writer of other distributions: the name for `--as`, whose it is, the function."""
    return _writers()[0]


@cache
def _writers() -> tuple[Mapping[str, tuple[str, Writer]], tuple[Brought, ...]]:
    found: dict[str, tuple[str, Writer]] = {}
    told: list[Brought] = []
    for entry in entries(OUTPUT):
        distribution = _distribution_of(entry)
        wrong = _why_no_writer(entry, found)
        if not wrong:
            try:
                found[entry.name] = (distribution, load(entry, call=False))
            except BadPlugin as fault:
                wrong = str(fault)
        names = () if wrong else (entry.name,)
        told.append(brought(entry, names, (wrong,) if wrong else ()))
    return MappingProxyType(found), tuple(told)


def _why_no_writer(entry: EntryPoint, found: Mapping[str, tuple[str, Writer]]) -> str:
    distribution = _distribution_of(entry)
    if not NAME.fullmatch(entry.name):
        return f"the writer of {distribution}: {entry.name!r} cannot be the name of a form"
    if entry.name in FORMS or entry.name in found:
        by = OWN if entry.name in FORMS else found[entry.name][0]
        return f"the writer {entry.name} of {distribution} is left out: {by} has one of that name"
    return ""


def faults() -> tuple[str, ...]:
    """Return a sentence for each thing of another distribution that no set is checked with.

    Writers are not among them: none is loaded until it is asked for.
    """
    from netcheck.catalog.added import added

    return tuple(fault for each in (*_rules()[1], *added().brought) for fault in each.faults)


def everything_brought() -> tuple[Brought, ...]:
    """Return what every entry point of our groups brought, netcheck's own rules first."""
    from netcheck.catalog.added import added

    return (*_rules()[1], *added().brought, *_writers()[1])
