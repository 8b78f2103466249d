"""What a run was asked for: which rules, under which policies, and what was left out of its report.

Belongs here: choosing among the rules installed, policies set from outside the text, cutting a
report at a harm. Does not belong here: running rules (_runner.py), reading options (cli_rules.py).

Whatever is left out stays in the report's `scope`, so that no writer can give an all-clear for what
was not asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from netcheck.chassis import Chassis, Policy
from netcheck.findings import Finding, Harm

if TYPE_CHECKING:
    from netcheck.rules._base import Rule
    from netcheck.rules._runner import Report

__all__ = [
    "ALWAYS", "Asked", "Compared", "KnownFinding", "PolicySet", "Scope", "policies_in_force",
    "set_policies",
]  # fmt: skip

ALWAYS = ("plugin-failed", "rule-failed", "unreadable", "unknown-tube")
"""Rules that tell what nothing else can be trusted without: they run whatever is asked for."""


@dataclass(frozen=True, slots=True)
class PolicySet:
    """A policy set from outside the text; `instead_of` is what the text says, None if nothing."""

    rule: str
    option: str
    value: str
    instead_of: str | None = None


@dataclass(frozen=True, slots=True)
class KnownFinding:
    """A finding as a file of known ones keeps it."""

    fingerprint: str
    rule: str
    harm: Harm
    parts: tuple[str, ...]
    message: str
    accepted: bool = False


@dataclass(frozen=True, slots=True)
class Compared:
    """A report against the findings that were known before.

    `known` are found again and not listed; `dangers` are found again and listed all the same;
    `gone` are not found any more; of `not_looked_for` nobody knows (the rule did not run or gave no
    verdict, or the text was not read). `of` is the set of that file it is compared with, None if
    the file has none like it.
    """

    file: str
    of: str | None = None
    known: tuple[Finding, ...] = ()
    dangers: tuple[Finding, ...] = ()
    gone: tuple[KnownFinding, ...] = ()
    not_looked_for: tuple[KnownFinding, ...] = ()


@dataclass(frozen=True, slots=True)
class Scope:
    """What a report leaves out: rules that did not run, findings below `lowest` (`hidden`)."""

    left_out: tuple[str, ...] = ()
    lowest: Harm = Harm.RECORD
    hidden: tuple[Finding, ...] = ()
    policies: tuple[PolicySet, ...] = ()
    compared: Compared | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """Which rules are to run and what is to be shown; names only, so that it goes anywhere.

    `only` empty means every rule. `ALWAYS` run in any case. The names are checked by whoever asks.
    """

    only: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    lowest: Harm = Harm.RECORD
    policies: tuple[Policy, ...] = ()

    def rules(self, installed: Iterable[Rule]) -> tuple[Rule, ...]:
        """Return those of the rules installed that are to run."""
        return tuple(each for each in installed if self._wants(each.name))

    def _wants(self, name: str) -> bool:
        return name in ALWAYS or ((not self.only or name in self.only) and name not in self.without)

    def report(self, chassis: Chassis) -> Report:
        """Lint a set with those of the rules installed that are wanted; all of it, uncut."""
        from netcheck.plugins import installed_rules
        from netcheck.rules._runner import lint

        every = installed_rules()
        wanted = self.rules(every)
        left_out = tuple(each.name for each in every if each not in wanted)
        report = lint(chassis, wanted, partial=bool(left_out), policies=self.policies)
        scope = replace(report.scope, left_out=left_out)
        return replace(report, scope=scope)

    def cut(self, report: Report) -> Report:
        """Return the report with what is below the lowest harm wanted moved to `scope.hidden`."""
        shown = tuple(f for f in report.findings if f.harm.at_least(self.lowest))
        hidden = tuple(f for f in report.findings if not f.harm.at_least(self.lowest))
        scope = replace(report.scope, lowest=self.lowest, hidden=hidden)
        return replace(report, findings=shown, scope=scope)


def policies_in_force(
    chassis: Chassis, outside: Iterable[Policy] = ()
) -> dict[tuple[str, str], str]:
    """Return the value of each (rule, option) that is set; from outside wins over the text."""
    return {(each.rule, each.option): each.value for each in (*chassis.policies, *outside)}


def set_policies(chassis: Chassis, policies: Iterable[Policy]) -> tuple[PolicySet, ...]:
    """Return the policies set from outside, each with what the text says in its place."""
    said = policies_in_force(chassis)
    chosen = {(each.rule, each.option): each.value for each in policies}
    return tuple(PolicySet(*key, value, said.get(key)) for key, value in chosen.items())
