"""Running rules over one chassis: faults contained, acceptances applied, findings sorted.

Belongs here: `lint` and its `Report`. Does not belong here: what any rule checks, or output.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.findings import Assumed, Finding, Harm, NotChecked, NotSolved, Span
from netcheck.rules._acceptance import accept
from netcheck.rules._base import Case, Rule

__all__ = ["Report", "lint"]

# The runner reports a rule that raised under this name (rules/rule_failed.py explains it).
RULE_FAILED = "rule-failed"


@dataclass(frozen=True)
class Report:
    """What linting one chassis gave: findings worst first, and what was not checked.

    `solved` says whether the operating point was computed; None for a set without any tube.
    """

    chassis: Chassis
    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    solved: bool | None = None

    @property
    def was_read(self) -> bool:
        """Whether the whole text could be read."""
        return self.chassis.was_read

    @property
    def counts(self) -> dict[str, int]:
        """How many findings carry each signal word (accepted ones included)."""
        counted = Counter(found.signal.value for found in self.findings)
        return {word: counted[word] for word in ("danger", "warning", "caution", "notice")}

    def standing(self, threshold: Harm) -> tuple[Finding, ...]:
        """The findings at or above `threshold` not accepted (an accepted danger stands)."""
        return tuple(
            found
            for found in self.findings
            if found.harm.at_least(threshold)
            and (found.accepted is None or found.harm is Harm.SHOCK_NOW)
        )


def lint(
    chassis: Chassis,
    rules: Iterable[Rule] | None = None,
    *,
    partial: bool = False,
    circuit: Circuit | None = None,
) -> Report:
    """Check a chassis with `rules` (default: every rule installed).

    A rule that raises becomes one finding that names it, its distribution and the fault; the
    rest goes on.

    Args:
        chassis: what `read` or `read_file` returned.
        rules: the rules to run, in any order.
        partial: whether rules were left out on purpose, so that an acceptance of one of them is
            not called stale.
        circuit: the chassis's circuit where one is at hand, so that nothing is solved twice.

    Returns:
        A report with findings sorted by harm, then by place.
    """
    if rules is None:
        from netcheck.plugins import installed_rules

        rules = installed_rules()
    chosen = tuple(rules)
    circuit = Circuit(chassis) if circuit is None else circuit
    policy = {(p.rule, p.option): p.value for p in chassis.policies}
    found: list[Finding] = []
    unchecked: list[NotChecked] = []
    for each in chosen:
        _run(Case(each, chassis, circuit, policy), found, unchecked)
    by_name = {each.name: each for each in chosen}
    silent = frozenset(each.rule for each in unchecked)
    found = accept(chassis, found, by_name, partial=partial, unchecked=silent)
    ordered = sorted(found, key=lambda each: each.sort_key)
    return Report(chassis, tuple(ordered), tuple(unchecked), *_computed(circuit))


def _computed(circuit: Circuit) -> tuple[tuple[Assumed, ...], bool | None]:
    """What was assumed, and whether the operating point is solved."""
    try:
        return circuit.assumed, circuit.solved
    except Exception:  # the rules that asked have told of it, each as a finding of its own
        return (), False


def _run(case: Case, found: list[Finding], unchecked: list[NotChecked]) -> None:
    """Run one rule; its fault must not hide the others, whatever it raises."""
    try:
        results = list(case.rule.check(case))
    except NotSolved as fault:
        unchecked.append(case.not_checked(fault.reason))
        return
    except Exception as fault:
        found.append(_failure(case, fault))
        unchecked.append(case.not_checked("the rule itself failed"))
        return
    for result in results:
        if isinstance(result, NotChecked):
            unchecked.append(result)
        else:
            found.append(result)


def _failure(case: Case, fault: Exception) -> Finding:
    top = Span(case.chassis.file, 1, 1, 1, 1)
    return Finding(
        rule=RULE_FAILED,
        harm=Harm.DAMAGE,
        message=(
            f"the rule {case.rule.name} of {case.rule.distribution} failed: "
            f"{type(fault).__name__}: {fault}"
        ),
        span=top,
        why="What this rule looks for was not checked in this set.",
        action=f"report this to the makers of {case.rule.distribution}, with the set that shows it",
        line_text=case.chassis.line_text(top),
    )
