"""Acceptances and policies: what they cover, and what is said of those that do nothing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from netcheck.findings import Finding, Harm, Span
from netcheck.language import read
from netcheck.rules._acceptance import accept, policy_fault
from netcheck.rules._base import Case, Option, Rule, RuleDoc

DOC = RuleDoc("A title", "why it matters", "never", "a book")


def _nothing(case: Case) -> Iterator[Finding]:
    yield from ()


def _rule(name: str, **options: Option) -> Rule:
    return Rule(name, Harm.DAMAGE, DOC, _nothing, options=options)


RULES = {
    each.name: each
    for each in (
        _rule("stale-acceptance"),
        _rule("aged-capacitor"),
        _rule(
            "line-fuse",
            limit=Option("tolerance", ("tolerance", "effect", "10"), "how far"),
            place=Option("any", (), "where"),
        ),
    )
}
PARTS = "line none\nC1 .1 mfd: N1 to N2\nC2 .1 mfd: N3 to N4\nR1 1K: N1 to N22\nwire N2 to N22\n"


def _found(rule: str = "aged-capacitor", *, parts: str = "", nodes: str = "") -> Finding:
    return Finding(
        rule, Harm.DAMAGE, "old", Span("set", 2, 1, 2, 3), (), tuple(parts.split()),
        tuple(nodes.split()),
    )  # fmt: skip


def _accepted(text: str, *found: Finding) -> list[str | None]:
    chassis = read(PARTS + text, "set")
    assert not chassis.findings
    quiet = {name: each for name, each in RULES.items() if name != "stale-acceptance"}
    return [each.accepted for each in accept(chassis, found, quiet, partial=False)]


@pytest.mark.parametrize(
    ("text", "found", "reason"),
    [
        ('accept aged-capacitor: "kept"', _found(parts="C1"), "kept"),
        ('accept aged-capacitor: "kept"', _found(), "kept"),
        ('accept line-fuse: "kept"', _found(parts="C1"), None),
        ('accept aged-capacitor on C1: "kept"', _found(parts="C1"), "kept"),
        ('accept aged-capacitor on C1, C2: "kept"', _found(parts="C1"), "kept"),
        ('accept aged-capacitor on C1: "kept"', _found(parts="C1 C2"), None),
        ('accept aged-capacitor on C1: "kept"', _found(), None),
        ('accept aged-capacitor on N1: "kept"', _found(nodes="N1"), "kept"),
        ('accept aged-capacitor on N22: "kept"', _found(nodes="N2"), "kept"),
        ('accept aged-capacitor on N2: "kept"', _found(nodes="N22"), "kept"),
        ('accept aged-capacitor on N1: "kept"', _found(nodes="N1 N2"), None),
        ('accept aged-capacitor on N1: "kept"', _found(parts="C1", nodes="N1"), "kept"),
        ('accept aged-capacitor on C1: "kept"', _found(parts="C1", nodes="N1"), "kept"),
        ('accept aged-capacitor on C1, N1: "kept"', _found(parts="C1 C2", nodes="N1 N2"), None),
        (
            'accept aged-capacitor on C1: "first"\naccept aged-capacitor: "second"',
            _found(parts="C1"),
            "first",
        ),
    ],
)
def test_an_acceptance_covers_what_it_names_whole(
    text: str, found: Finding, reason: str | None
) -> None:
    assert _accepted(text, found) == [reason]


def test_each_finding_is_marked_by_itself_and_none_is_lost() -> None:
    found = [_found(parts="C1"), _found(parts="C2"), _found("line-fuse", parts="C1")]
    assert _accepted('accept aged-capacitor on C1: "kept"', *found) == ["kept", None, None]


# --- what does nothing


def _told(text: str, *found: Finding, partial: bool = False, unchecked: str = "") -> list[Finding]:
    chassis = read(PARTS + text, "set")
    told = accept(chassis, found, RULES, partial=partial, unchecked=unchecked.split())
    return [each for each in told if each.rule == "stale-acceptance"]


def _stale(line: str, message: str, action: str, parts: tuple[str, ...] = ()) -> Finding:
    place = Span("set", 6, 1, 6, len(line) + 1)
    return Finding(
        "stale-acceptance", Harm.DAMAGE, message, place, parts=parts, state="as written",
        why="why it matters", action=action,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("line", "message", "action", "parts"),
    [
        (
            'accept aged-capacitor on C1, C2: "kept"',
            "this accepts aged-capacitor on C1, C2, but nothing of the kind is found",
            "take the line out, or correct the part it names",
            ("C1", "C2"),
        ),
        (
            'accept aged-capacitor: "kept"',
            "this accepts aged-capacitor, but nothing of the kind is found",
            "take the line out, or correct the part it names",
            (),
        ),
        (
            'accept aged-capacitors on C1: "kept"',
            "there is no rule aged-capacitors to accept",
            "did you mean aged-capacitor?",
            ("C1",),
        ),
        (
            'accept quite-other: "kept"',
            "there is no rule quite-other to accept",
            "`netcheck why` lists all rules",
            (),
        ),
        (
            "policy line-fus limit 10",
            "there is no rule line-fus to set a policy for",
            "did you mean line-fuse?",
            (),
        ),
        (
            "policy quite-other limit 10",
            "there is no rule quite-other to set a policy for",
            "`netcheck why` lists all rules",
            (),
        ),
        (
            "policy line-fuse limits 10",
            "the rule line-fuse has no option limits",
            "did you mean limit?",
            (),
        ),
        (
            "policy line-fuse colour red",
            "the rule line-fuse has no option colour",
            "it has limit, place",
            (),
        ),
        (
            "policy aged-capacitor colour red",
            "the rule aged-capacitor has no option colour",
            "take the line out",
            (),
        ),
        (
            "policy line-fuse limit toleranz",
            "toleranz is no choice for limit of line-fuse; tolerance stays in force",
            "did you mean tolerance? Write one of tolerance, effect, 10",
            (),
        ),
        (
            "policy line-fuse limit red",
            "red is no choice for limit of line-fuse; tolerance stays in force",
            "write one of tolerance, effect, 10",
            (),
        ),
    ],
)
def test_what_does_nothing_is_told_whole(
    line: str, message: str, action: str, parts: tuple[str, ...]
) -> None:
    (told,) = _told(line)
    assert told == _stale(line, message, action, parts)
    assert (told.line_text, told.subject) == (line, message)


@pytest.mark.parametrize("line", ["policy line-fuse limit 10", "policy line-fuse place red"])
def test_a_policy_that_does_something_is_not_told(line: str) -> None:
    assert _told(line) == []


def test_an_acceptance_that_covers_something_is_not_told_though_another_is() -> None:
    both = 'accept aged-capacitor on C1: "kept"\naccept aged-capacitor on C2: "kept"'
    (told,) = _told(both, _found(parts="C1"))
    assert told.parts == ("C2",)
    # The second reason is used as well, though the first one is shown.
    twice = 'accept aged-capacitor on C1: "kept"\naccept aged-capacitor: "kept"'
    assert _told(twice, _found(parts="C1")) == []


def test_of_a_rule_that_did_not_check_nothing_is_told_but_of_others() -> None:
    both = 'accept aged-capacitor: "kept"\naccept line-fuse: "kept"'
    (told,) = _told(both, unchecked="aged-capacitor")
    assert "accepts line-fuse" in told.message


def test_of_rules_left_out_on_purpose_nothing_is_told() -> None:
    text = (
        'accept quite-other: "kept"\naccept line-fuse: "kept"\n'
        "policy quite-other limit 1\npolicy line-fuse limit red\n"
    )
    assert [each.message for each in _told(text, partial=True)] == [
        "this accepts line-fuse, but nothing of the kind is found",
        "red is no choice for limit of line-fuse; tolerance stays in force",
    ]
    assert len(_told(text)) == 4


def test_a_fault_of_a_policy_is_its_sentence_and_the_remedy() -> None:
    (policy,) = read("policy line-fuse limit 10\n").policies
    assert policy_fault(policy, RULES) is None
    assert policy_fault(policy, {}) == (
        "there is no rule line-fuse to set a policy for",
        "`netcheck why` lists all rules",
    )
