"""Every rule's own examples, run: the bad ones fire at the marked line, the good ones are silent.

Ids read `rule-name:bad0`, so that `pytest -k rule-name` finds the examples of one rule. It is the
test that other distributions run on their rules (netcheck/testing.py).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import netcheck.rules
from netcheck.findings import Harm
from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._base import Example, Option, RuleDoc
from netcheck.rules._runner import lint
from netcheck.testing import check_bad, check_good, check_words, rule_tests

RULES = builtin()
BY_NAME = {rule.name: rule for rule in RULES}

# Findings at harm damage or worse that a good example may give, by (rule, rule that finds): why.
ALLOWED: dict[tuple[str, str], str] = {}
# Reports on the run, not on a set: what makes it fire cannot be written as a set.
RUN_ITSELF = {"rule-failed", "plugin-failed"}

test_of_our_rules = rule_tests(RULES, allowed=ALLOWED, without_examples=RUN_ITSELF)


def test_the_exceptions_are_still_needed() -> None:
    for (good, other), reason in ALLOWED.items():
        assert reason
        found = [
            f.rule for each in BY_NAME[good].good for f in lint(read(each.text), RULES).findings
        ]
        assert other in found, f"no good example of {good} gives {other} any more"


def test_names_are_unique_and_those_of_the_files() -> None:
    folder = Path(netcheck.rules.__file__).parent
    files = sorted(
        path.stem.replace("_", "-") for path in folder.glob("*.py") if path.stem[0] != "_"
    )
    assert sorted(rule.name for rule in RULES) == files
    assert len(set(files)) == len(files)
    titles = [rule.doc.title for rule in RULES]
    assert len(set(titles)) == len(titles)


# --- the test itself can fail -------------------------------------------------------------------

SHORTED = BY_NAME["shorted-part"]
BAD, GOOD = SHORTED.bad[0], SHORTED.good[0]


@pytest.mark.parametrize(
    ("example", "complaint"),
    [
        (GOOD, "does not fire; found"),
        (replace(BAD, text=BAD.text.replace("# <-", "")), "no line of this bad example ends"),
        (replace(BAD, says=""), "does not say what is in its message"),
        (replace(BAD, says="of another kind"), "with 'of another kind'"),
        (replace(BAD, text="# first\n" + BAD.text.replace("# <-", "") + "\n# <-"), "nothing at"),
    ],
)
def test_a_bad_example_that_shows_nothing_fails(example: Example, complaint: str) -> None:
    with pytest.raises(AssertionError, match=complaint):
        check_bad(SHORTED, example, RULES)


def test_a_finding_that_is_worse_than_stated_fails() -> None:
    milder = replace(SHORTED, harm=Harm.RECORD)
    with pytest.raises(AssertionError, match="worse than record"):
        check_bad(milder, BAD, RULES)


def test_a_good_example_with_a_fault_fails() -> None:
    with pytest.raises(AssertionError, match="shorted-part finds fault with its good example"):
        check_good(SHORTED, BAD, RULES, {})
    live = BY_NAME["live-chassis"].bad[0]
    with pytest.raises(AssertionError, match="other rules find fault"):
        check_good(SHORTED, live, RULES, {})


@pytest.mark.parametrize(
    ("changed", "complaint"),
    [
        ({"name": "Not A Name"}, "no name for a rule"),
        ({"bad": SHORTED.bad[:1]}, "has 1 bad examples"),
        ({"doc": RuleDoc("A title", "short", "When so and so.", "a book")}, "under why"),
        ({"doc": replace(SHORTED.doc, title="word " * 11)}, "1 to 10 words"),
        ({"options": {"x": Option("a", ("b",), "which")}}, "none of its choices"),
        ({"options": {"x": Option("a", ("a",), "")}}, "what it means"),
    ],
)
def test_a_rule_that_is_not_documented_fails(changed: dict[str, object], complaint: str) -> None:
    with pytest.raises(AssertionError, match=complaint):
        check_words(replace(SHORTED, **changed))
