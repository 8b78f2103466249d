"""Running rules over one chassis: faults contained, acceptances applied, findings sorted.

Belongs here: `lint` and its `Report`. Does not belong here: what any rule checks, or output.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass

from netcheck.chassis import Chassis, Policy
from netcheck.circuit import Circuit
from netcheck.circuit.postponed import Interrupted
from netcheck.findings import Assumed, Finding, Harm, NotChecked, NotSolved, Span
from netcheck.rules._acceptance import accept
from netcheck.rules._base import Case, Rule
from netcheck.rules._scope import Scope, policies_in_force, set_policies

__all__ = ["Report", "counts_of", "lint"]

# The runner reports a rule that raised under this name (rules/rule_failed.py explains it).
RULE_FAILED = "rule-failed"


_WHOLE = Scope()


@dataclass(frozen=True)
class Report:
    """What linting one chassis gave: findings worst first, and what was not checked.

    `solved` says whether the operating point was computed; None for a set without any tube.
    `scope` says what was not asked for or is not listed.
    """

    chassis: Chassis
    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    solved: bool | None = None
    scope: Scope = _WHOLE

    @property
    def was_read(self) -> bool:
        """Whether the whole text could be read."""
        return self.chassis.was_read

    @property
    def counts(self) -> dict[str, int]:
        """How many findings carry each signal word (accepted ones included)."""
        return counts_of(self.findings)

    def standing(self, threshold: Harm) -> tuple[Finding, ...]:
        """The findings at or above `threshold` not accepted (an accepted danger stands).

        One that is only not listed for its harm stands as well.
        """
        return tuple(
            found
            for found in (*self.findings, *self.scope.hidden)
            if found.harm.at_least(threshold)
            and (found.accepted is None or found.harm is Harm.SHOCK_NOW)
        )


def counts_of(findings: Iterable[Finding]) -> dict[str, int]:
    """How many of these findings carry each signal word."""
    counted = Counter(found.signal.value for found in findings)
    return {word: counted[word] for word in ("danger", "warning", "caution", "notice")}


def lint(
    chassis: Chassis,
    rules: Iterable[Rule] | None = None,
    *,
    partial: bool = False,
    policies: Iterable[Policy] = (),
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
        policies: policies set from outside the text; they win over those of the text.
        circuit: the chassis's circuit where one is at hand, so that nothing is solved twice.

    Returns:
        A report with findings sorted by harm, then by place.
    """
    if rules is None:
        from netcheck.plugins import installed_rules

        rules = installed_rules()
    chosen = tuple(rules)
    circuit = Circuit(chassis) if circuit is None else circuit
    chosen_outside = tuple(policies)
    outside = set_policies(chassis, chosen_outside)
    policy = policies_in_force(chassis, chosen_outside)
    found: list[Finding] = []
    unchecked: list[NotChecked] = []
    for result in _results([Case(each, chassis, circuit, policy) for each in chosen]):
        if isinstance(result, NotChecked):
            unchecked.append(result)
        else:
            found.append(result)
    by_name = {each.name: each for each in chosen}
    silent = frozenset(each.rule for each in unchecked)
    found = accept(chassis, found, by_name, partial=partial, unchecked=silent)
    ordered = sorted(found, key=lambda each: each.sort_key)
    scope = Scope(policies=outside)
    return Report(chassis, tuple(ordered), tuple(unchecked), *_computed(circuit), scope)


def _computed(circuit: Circuit) -> tuple[tuple[Assumed, ...], bool | None]:
    """What was assumed, and whether the operating point is solved."""
    try:
        return circuit.assumed, circuit.solved
    except Exception:  # the rules that asked have told of it, each as a finding of its own
        return (), False


# Rules that build on each other's answers are heard so often; then each solves for itself.
_HEARINGS = 4


def _results(cases: list[Case]) -> list[Finding | NotChecked]:
    """What all rules say, rule by rule; the states they ask for are solved together."""
    said: dict[int, list[Finding | NotChecked]] = {}
    for _ in range(_HEARINGS):
        waiting = [number for number in range(len(cases)) if number not in said]
        for number in waiting:
            heard = _heard(cases[number])
            if heard is not None:
                said[number] = heard
        if len(said) == len(cases):
            break
        _solve_postponed(cases[0].circuit)
    return [
        each
        for number, case in enumerate(cases)
        for each in (said[number] if number in said else _run(case))
    ]


def _heard(case: Case) -> list[Finding | NotChecked] | None:
    """What a rule says, None while it waits for a state that is not solved yet."""
    postponed = case.circuit.postponed
    postponed.waiting = True
    try:
        return _run(case)
    except Interrupted:
        return None
    finally:
        postponed.waiting = False


def _solve_postponed(circuit: Circuit) -> None:
    # What fails here fails again in the rule that asks for it, which then tells of it.
    with suppress(Exception):
        circuit.operating.tried(circuit.postponed.taken())


def _run(case: Case) -> list[Finding | NotChecked]:
    """Run one rule; its fault must not hide the others, whatever it raises."""
    try:
        return list(case.rule.check(case))
    except NotSolved as fault:
        return [case.not_checked(fault.reason)]
    except Exception as fault:
        return [_failure(case, fault), case.not_checked("the rule itself failed")]


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
        subject=case.rule.name,
    )
