"""Every rule's own examples, run: the bad ones fire at the marked line, the good ones are silent.

Ids read `rule-name:bad0`, so that `pytest -k rule-name` finds the examples of one rule.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from _pytest.mark import ParameterSet

import netcheck.rules
from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._base import Example, Rule
from netcheck.rules._runner import lint

RULES = builtin()
BY_NAME = {rule.name: rule for rule in RULES}

# Findings at harm damage or worse that a good example may give, by (rule, rule that finds): why.
ALLOWED: dict[tuple[str, str], str] = {}


def examples(which: str) -> list[ParameterSet]:
    return [
        pytest.param(rule, example, id=f"{rule.name}:{which}{number}")
        for rule in RULES
        for number, example in enumerate(getattr(rule, which))
    ]


def shown(findings: list[Finding]) -> str:
    return "\n".join(f"{f.rule} line {f.span.line}: {f.message}" for f in findings) or "nothing"


def all_findings(example: Example) -> list[Finding]:
    return list(lint(read(example.text), RULES).findings)


@pytest.mark.parametrize(("rule", "example"), examples("bad"))
def test_a_bad_example_fires_at_the_marked_line(rule: Rule, example: Example) -> None:
    found = all_findings(example)
    own = [f for f in found if f.rule == rule.name]
    assert own, f"{rule.name} does not fire; found: {shown(found)}"
    assert example.marked_line is not None
    hits = [f for f in own if f.span.line == example.marked_line and example.says in f.message]
    assert example.says
    assert hits, f"not at line {example.marked_line} with {example.says!r}: {shown(own)}"


@pytest.mark.parametrize(("rule", "example"), examples("bad"))
def test_a_finding_has_what_a_reader_needs(rule: Rule, example: Example) -> None:
    for found in all_findings(example):
        if found.rule == rule.name:
            assert found.action
            assert found.why
            assert "\n" not in found.message
            assert not found.message.endswith(".")
            assert found.harm.rank >= rule.harm.rank, "worse than the worst harm the rule states"
            for calculation in found.calc:
                assert calculation.name
                assert calculation.sum


@pytest.mark.parametrize(("rule", "example"), examples("good"))
def test_a_good_example_is_silent(rule: Rule, example: Example) -> None:
    found = all_findings(example)
    own = [f for f in found if f.rule == rule.name]
    assert not own, shown(own)
    grave = [
        f for f in found if f.harm.at_least(Harm.DAMAGE) and (rule.name, f.rule) not in ALLOWED
    ]
    assert not grave, shown(grave)


def test_the_exceptions_are_still_needed() -> None:
    for (good, other), reason in ALLOWED.items():
        assert reason
        found = [f.rule for example in BY_NAME[good].good for f in all_findings(example)]
        assert other in found, f"no good example of {good} gives {other} any more"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_is_documented_and_shown(rule: Rule) -> None:
    assert 0 < len(rule.doc.title.split()) <= 10
    assert len(rule.doc.why.split()) >= 8
    assert len(rule.doc.false_alarm.split()) >= 3
    assert len(rule.doc.source.split()) >= 2
    assert len(rule.bad) >= (0 if rule.name in RUN_ITSELF else 2)
    assert len(rule.good) >= (0 if rule.name in RUN_ITSELF else 2)
    for option in rule.options.values():
        assert option.default in option.allowed
        assert option.meaning


# Reports on the run, not on a set: what makes it fire cannot be written as a set.
RUN_ITSELF = {"rule-failed"}


def test_names_are_unique_and_those_of_the_files() -> None:
    folder = Path(netcheck.rules.__file__).parent
    files = sorted(
        path.stem.replace("_", "-") for path in folder.glob("*.py") if path.stem[0] != "_"
    )
    assert sorted(rule.name for rule in RULES) == files
    assert len(set(files)) == len(files)
    titles = [rule.doc.title for rule in RULES]
    assert len(set(titles)) == len(titles)
