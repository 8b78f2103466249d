"""Running rules: faults contained and named, acceptances that cover what they say and no more."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from netcheck.circuit.operating import Operating
from netcheck.circuit.states import Edit, State
from netcheck.findings import Finding, Harm, NotChecked, NotSolved, Span
from netcheck.language import read, read_file
from netcheck.plugins import installed_rules, rule_named
from netcheck.rules._base import BadRule, Case, Rule, RuleDoc, rule
from netcheck.rules._runner import Report, lint

DOC = RuleDoc("A title", "why", "never", "common practice, no source")
AGED = (
    "line none\nC1 .1 mfd 400 V paper: B+ to B-\nC2 .1 mfd 400 V paper: B+ to B-\n"
    "R1 1K 1 W 10%: B+ to B-\n"
)


def _raises(case: Case) -> Iterator[Finding]:
    raise ZeroDivisionError("by nothing")
    yield


def _unsolved(case: Case) -> Iterator[Finding]:
    raise NotSolved("B1 did not settle", ("B1",))
    yield


def _own(name: str, check: Callable[[Case], Iterator[Finding | NotChecked]]) -> Rule:
    return Rule(name, Harm.DAMAGE, DOC, check, distribution="club-rules")


def _lint(text: str, *extra: Rule) -> Report:
    return lint(read(text, "set"), [*installed_rules(), *extra])


def test_a_rule_that_raises_is_one_finding_that_names_it_and_the_rest_goes_on() -> None:
    report = _lint(AGED, _own("broken-rule", _raises))

    (found,) = [f for f in report.findings if f.rule == "rule-failed"]
    assert found == Finding(
        rule="rule-failed",
        harm=Harm.DAMAGE,
        message="the rule broken-rule of club-rules failed: ZeroDivisionError: by nothing",
        span=Span("set", 1, 1, 1, 1),
        why="What this rule looks for was not checked in this set.",
        action="report this to the makers of club-rules, with the set that shows it",
        line_text="line none",
        subject="broken-rule",
    )
    assert [n for n in report.not_checked if n.rule == "broken-rule"] == [
        NotChecked("broken-rule", "the rule itself failed")
    ]
    assert [f for f in report.findings if f.rule == "aged-capacitor"]


def test_a_view_that_did_not_solve_is_not_checked_and_no_finding() -> None:
    report = _lint(AGED, _own("needs-volts", _unsolved))

    assert [(n.rule, n.reason) for n in report.not_checked if n.rule == "needs-volts"] == [
        ("needs-volts", "B1 did not settle")
    ]
    assert not [f for f in report.findings if f.rule in ("needs-volts", "rule-failed")]


@pytest.mark.parametrize(
    ("accept", "accepted"),
    [
        ('accept aged-capacitor on C1, C2: "kept"', True),
        ('accept aged-capacitor: "kept"', True),
        ('accept aged-capacitor on C1: "kept"', False),
    ],
)
def test_a_group_is_accepted_only_by_all_of_its_parts(accept: str, accepted: bool) -> None:
    report = _lint(AGED + accept)

    (found,) = [f for f in report.findings if f.rule == "aged-capacitor"]
    assert (found.accepted == "kept") is accepted
    assert bool([f for f in report.findings if f.rule == "stale-acceptance"]) is not accepted


def test_an_acceptance_of_a_rule_left_out_on_purpose_is_not_called_stale() -> None:
    chassis = read(AGED + 'accept aged-capacitor: "kept"', "set")
    only = [rule_named("loose-end"), rule_named("stale-acceptance")]

    partial = lint(chassis, [r for r in only if r is not None], partial=True)

    assert not [f for f in partial.findings if f.rule == "stale-acceptance"]


def _sees_nothing(case: Case) -> Iterator[NotChecked]:
    yield case.not_checked("no line plug is described")


def _finds_nothing(case: Case) -> Iterator[Finding]:
    yield from ()


@pytest.mark.parametrize(("check", "stale"), [(_sees_nothing, False), (_finds_nothing, True)])
def test_an_acceptance_of_a_rule_that_did_not_check_is_not_called_stale(
    check: object, stale: bool
) -> None:
    report = _lint(AGED + 'accept own-rule on C1: "kept"', _own("own-rule", check))

    assert bool([f for f in report.findings if f.rule == "stale-acceptance"]) is stale


@pytest.mark.parametrize(
    ("policy", "message"),
    [
        ("policy line-capacitor-class class strikt", "strikt is no choice"),
        ("policy line-capacitor-class clas strict", "no option clas"),
        ("policy line-capacitor-klass class strict", "no rule line-capacitor-klass"),
    ],
)
def test_a_policy_that_does_nothing_is_told(policy: str, message: str) -> None:
    report = _lint(AGED + policy)

    assert [f for f in report.findings if f.rule == "stale-acceptance" and message in f.message]


def test_an_accepted_danger_still_stands() -> None:
    live = (
        'set "x"\nline 117 V 60 Hz +10% -10%\nP1 plug, polarized: hot LINE, neutral N\n'
        "F1 1 A 250 V: LINE to CHASSIS\nR1 1K 20 W 10%: CHASSIS to N\n"
        'accept live-chassis: "I know"\n'
    )

    report = _lint(live)

    dangers = [f for f in report.findings if f.harm is Harm.SHOCK_NOW]
    assert dangers
    assert all(f.accepted for f in dangers if f.rule == "live-chassis")
    assert report.standing(Harm.DAMAGE)


def test_findings_come_worst_first_then_by_place() -> None:
    report = _lint(AGED + "R2 1K 1 W 10%: B+ to B+\n")

    assert [f.sort_key for f in report.findings] == sorted(f.sort_key for f in report.findings)


@pytest.mark.parametrize(
    ("document", "fault"),
    [
        ("A title of far more words than the ten that are allowed here.\n\nWhy: x", "ten"),
        ("Short title.\n\nWhy: x\n\nFalse alarm: y", "Source:"),
        ("", "title"),
    ],
)
def test_a_rule_without_its_words_is_refused_when_it_is_made(
    document: str, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    monkeypatch.setattr(sys.modules[__name__], "__doc__", document)

    with pytest.raises(BadRule, match="10" if fault == "ten" else fault):
        rule(harm=Harm.RECORD)(_raises)


# --- states that several rules ask for


def test_all_rules_share_a_few_batches_and_no_state_is_solved_twice(
    monkeypatch: pytest.MonkeyPatch, checkout: Path
) -> None:
    """A five-tube set: the states as asked for, those that hang on them, and no more."""
    batches: list[list[State]] = []
    whole = Operating._batch

    def noted(self: Operating, model: Any, lines: Any, states: list[State], key: Any) -> None:
        batches.append(list(states))
        whole(self, model, lines, states, key)

    monkeypatch.setattr(Operating, "_batch", noted)
    report = lint(read_file(checkout / "examples" / "larkfield-five-restored.chassis"))

    solved = [replace(state, name="") for batch in batches for state in batch]
    assert report.solved
    assert len(solved) > 15
    assert len(set(solved)) == len(solved)
    assert len(batches) <= 3


def test_a_rule_that_asks_again_and_again_is_heard_to_its_end() -> None:
    """Six questions, each after the answer to the one before, and a fault after them."""
    text = "line none\nhold B+ 100 V\nR1 1K 1 W: B+ to K\nR2 1K 1 W: K to B-\n"
    heard: list[float] = []

    def asks(case: Case) -> Iterator[Finding]:
        volts = []
        for step in range(6):
            state = State(f"step {step}", edits=(Edit("leak", "R2", 1e3 * 2**step),))
            found = case.circuit.operating.point(state).volts("K")
            assert found is not None
            volts.append(found)
        heard[:] = volts
        raise ZeroDivisionError("after all")
        yield

    report = _lint(text, _own("asks-on", asks))

    # 1K over 1K parallel 1K, 2K, 4K ... at 100 V
    assert heard == pytest.approx(
        [100 * p / (1 + p) for p in (2**k / (1 + 2**k) for k in range(6))]
    )
    assert [f.message for f in report.findings if f.rule == "rule-failed"]
