"""Acceptances: which findings they cover, and which of them do nothing.

Belongs here: `accept` statements against findings, and `policy` statements that no rule knows.
Does not belong here: running rules (_runner.py).
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping

from netcheck.chassis import Acceptance, Chassis, Policy
from netcheck.findings import Finding, Span
from netcheck.language.mistakes import did_you_mean
from netcheck.rules._base import Rule

__all__ = ["accept", "policy_fault"]

# Acceptances that do nothing are reported under this name (rules/stale_acceptance.py explains it).
STALE_ACCEPTANCE = "stale-acceptance"


def accept(
    chassis: Chassis,
    found: Iterable[Finding],
    rules: Mapping[str, Rule],
    *,
    partial: bool,
    unchecked: Container[str] = (),
) -> list[Finding]:
    """Mark accepted findings; add one for each acceptance or policy that does nothing.

    Whether a line does nothing is only said when `stale-acceptance` itself is among `rules`; with
    `partial` (some rules were left out) only of rules that ran. Of a rule in `unchecked` (it said
    "not checked") nobody knows what it would have found: its acceptances are left alone.
    """
    used: set[int] = set()
    marked = []
    for each in found:
        reason = None
        for number, acceptance in enumerate(chassis.acceptances):
            if acceptance.rule == each.rule and _covers(chassis, acceptance, each):
                used.add(number)
                reason = reason or acceptance.reason
        marked.append(each if reason is None else each.accept(reason))
    stale = rules.get(STALE_ACCEPTANCE)
    if stale is not None:
        silent = [n for n, each in enumerate(chassis.acceptances) if each.rule in unchecked]
        marked.extend(_stale(chassis, stale, rules, used.union(silent), partial))
    return marked


def _covers(chassis: Chassis, acceptance: Acceptance, found: Finding) -> bool:
    """Whether the acceptance names every part, or every node, that the finding is about.

    A group of aged capacitors is not accepted by naming one of them.
    """
    if not acceptance.targets:
        return True
    targets = {chassis.net(target) for target in acceptance.targets}
    nodes = {chassis.net(node) for node in found.nodes}
    return (bool(found.parts) and set(found.parts) <= targets) or (bool(nodes) and nodes <= targets)


def _stale(
    chassis: Chassis, stale: Rule, rules: Mapping[str, Rule], used: set[int], partial: bool
) -> Iterator[Finding]:
    for number, acceptance in enumerate(chassis.acceptances):
        if number not in used and not (partial and acceptance.rule not in rules):
            yield _does_nothing(chassis, stale, acceptance, rules)
    for policy in chassis.policies:
        fault = None if partial and policy.rule not in rules else policy_fault(policy, rules)
        if fault is not None:
            yield _finding(chassis, stale, policy.span, *fault)


def _does_nothing(
    chassis: Chassis, stale: Rule, acceptance: Acceptance, rules: Mapping[str, Rule]
) -> Finding:
    if acceptance.rule not in rules:
        return _finding(
            chassis,
            stale,
            acceptance.span,
            f"there is no rule {acceptance.rule} to accept",
            _nearest(acceptance.rule, rules),
            acceptance.targets,
        )
    on = f" on {', '.join(acceptance.targets)}" if acceptance.targets else ""
    return _finding(
        chassis,
        stale,
        acceptance.span,
        f"this accepts {acceptance.rule}{on}, but nothing of the kind is found",
        "take the line out, or correct the part it names",
        acceptance.targets,
    )


def policy_fault(policy: Policy, rules: Mapping[str, Rule]) -> tuple[str, str] | None:
    """What is wrong with a policy, wherever it is set: sentence and remedy, or None."""
    rule = rules.get(policy.rule)
    if rule is None:
        return f"there is no rule {policy.rule} to set a policy for", _nearest(policy.rule, rules)
    option = rule.options.get(policy.option)
    if option is None:
        there = f"it has {', '.join(rule.options)}" if rule.options else "take the line out"
        return (
            f"the rule {policy.rule} has no option {policy.option}",
            did_you_mean(policy.option, rule.options, there),
        )
    if option.allowed and policy.value not in option.allowed:
        choices = f"write one of {', '.join(option.allowed)}"
        meant = did_you_mean(policy.value, option.allowed, "")
        return (
            f"{policy.value} is no choice for {policy.option} of {policy.rule}; "
            f"{option.default} stays in force",
            f"{meant} {choices[0].upper()}{choices[1:]}" if meant else choices,
        )
    return None


def _nearest(name: str, known: Iterable[str]) -> str:
    return did_you_mean(name, known, "`netcheck why` lists all rules")


def _finding(
    chassis: Chassis,
    stale: Rule,
    span: Span,
    message: str,
    action: str,
    parts: tuple[str, ...] = (),
) -> Finding:
    return Finding(
        rule=stale.name,
        harm=stale.harm,
        message=message,
        span=span,
        parts=parts,
        state="as written",
        why=stale.doc.why,
        action=action,
        line_text=chassis.line_text(span),
        subject=message,
    )
