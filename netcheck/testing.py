"""Runs the examples of rules as tests, for whoever writes rules: one line in a test module.

Belongs here: what every rule must show of itself. Does not belong here: tests of netcheck alone.

    from netcheck.testing import rule_tests
    from club_rules import rules

    test_our_rules = rule_tests(rules())

pytest then runs every bad and good example and the words of each rule, under ids such as
`house-fuse:bad0`, so that `pytest -k house-fuse` finds those of one rule. It needs pytest, which
netcheck's extra `test` brings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.rules._base import NAME, Example, Rule
from netcheck.rules._runner import lint

__all__ = ["check_bad", "check_good", "check_words", "rule_tests"]

_LEAST_EXAMPLES = 2
_MOST_TITLE_WORDS = 10
_FEWEST_WORDS = {"why": 8, "false_alarm": 3, "source": 2}


def rule_tests(
    rules: Iterable[Rule],
    *,
    allowed: Mapping[tuple[str, str], str] | None = None,
    without_examples: Iterable[str] = (),
) -> Callable[..., None]:
    """Return one parametrized test that runs every example of `rules` and checks their words.

    Examples are linted with these rules and every installed one, so that a good set is seen to be
    good for all of them.

    Args:
        rules: the rules to try.
        allowed: (rule, other rule) -> reason: findings of harm damage or worse of the other rule
            that the good examples of the first may give.
        without_examples: names of rules that report on the run, which no set can show.
    """
    import pytest

    tried = tuple(rules)
    among = _with_installed(tried)
    excused = dict(allowed or {})
    spared = frozenset(without_examples)
    cases: list[Any] = []
    for rule in tried:
        cases.append(pytest.param(rule, "words", None, id=f"{rule.name}:words"))
        for kind, examples in (("bad", rule.bad), ("good", rule.good)):
            cases += [
                pytest.param(rule, kind, example, id=f"{rule.name}:{kind}{number}")
                for number, example in enumerate(examples)
            ]

    @pytest.mark.parametrize(("rule", "kind", "example"), cases)
    def test_of_a_rule(rule: Rule, kind: str, example: Example | None) -> None:
        if example is None:
            check_words(rule, least_examples=0 if rule.name in spared else _LEAST_EXAMPLES)
        elif kind == "bad":
            check_bad(rule, example, among)
        else:
            check_good(rule, example, among, excused)

    tested: Callable[..., None] = test_of_a_rule
    return tested


def _with_installed(rules: Sequence[Rule]) -> tuple[Rule, ...]:
    from netcheck.plugins import installed_rules

    own = {rule.name for rule in rules}
    return (*rules, *(each for each in installed_rules() if each.name not in own))


def check_bad(rule: Rule, example: Example, among: Sequence[Rule]) -> None:
    """Hold that a rule fires at the marked line of a bad example, and says what a reader needs.

    Raises:
        AssertionError: it does not; the text says what was found in its place.
    """
    found = lint(read(example.text), among).findings
    own = [each for each in found if each.rule == rule.name]
    _hold(own, f"{rule.name} does not fire; found: {_shown(found)}")
    line = example.marked_line
    _hold(line is not None, "no line of this bad example ends in `# <-`")
    _hold(example.says, "this bad example does not say what is in its message")
    hits = [each for each in own if each.span.line == line and example.says in each.message]
    _hold(hits, f"nothing at line {line} with {example.says!r}: {_shown(own)}")
    for each in own:
        _check_finding(rule, each)


def _check_finding(rule: Rule, found: Finding) -> None:
    _hold(found.action, f"{rule.name} names nothing to do")
    _hold(found.why, f"{rule.name} does not say why it matters")
    one = "\n" not in found.message and not found.message.endswith(".")
    _hold(one, f"the message is not one sentence without a full stop: {found.message!r}")
    _hold(
        found.harm.rank >= rule.harm.rank,
        f"{found.harm.value} is worse than {rule.harm.value}, the worst that {rule.name} states",
    )
    for calculation in found.calc:
        _hold(calculation.name and calculation.sum, f"{rule.name} gives a number without its sum")


def check_good(
    rule: Rule, example: Example, among: Sequence[Rule], allowed: Mapping[tuple[str, str], str]
) -> None:
    """Hold that a good example is clean: nothing of its own rule, nothing grave of any other.

    Raises:
        AssertionError: something is found; the text says what.
    """
    found = lint(read(example.text), among).findings
    own = [each for each in found if each.rule == rule.name]
    _hold(not own, f"{rule.name} finds fault with its good example: {_shown(own)}")
    grave = [
        each
        for each in found
        if each.harm.at_least(Harm.DAMAGE) and (rule.name, each.rule) not in allowed
    ]
    _hold(not grave, f"other rules find fault with this good example: {_shown(grave)}")


def check_words(rule: Rule, *, least_examples: int = _LEAST_EXAMPLES) -> None:
    """Hold that a rule is documented and shown: its name, words, examples and options.

    Raises:
        AssertionError: something is missing; the text says what.
    """
    _hold(NAME.fullmatch(rule.name), f"{rule.name!r} is no name for a rule")
    titled = 0 < len(rule.doc.title.split()) <= _MOST_TITLE_WORDS
    _hold(titled, f"the title of {rule.name} has not 1 to {_MOST_TITLE_WORDS} words")
    for section, fewest in _FEWEST_WORDS.items():
        words = len(getattr(rule.doc, section).split())
        _hold(words >= fewest, f"{rule.name} says too little under {section.replace('_', ' ')}")
    for kind, examples in (("bad", rule.bad), ("good", rule.good)):
        _hold(
            len(examples) >= least_examples,
            f"{rule.name} has {len(examples)} {kind} examples, and needs {least_examples}",
        )
    for name, option in rule.options.items():
        _hold(option.default in option.allowed, f"the default of {name} is none of its choices")
        _hold(option.meaning, f"the option {name} of {rule.name} does not say what it means")


def _hold(holds: object, otherwise: str) -> None:
    if not holds:
        raise AssertionError(otherwise)


def _shown(findings: Iterable[Finding]) -> str:
    told = [f"{each.rule} line {each.span.line}: {each.message}" for each in findings]
    return "; ".join(told) or "nothing"
