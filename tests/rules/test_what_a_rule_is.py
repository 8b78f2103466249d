"""What a rule is: its name, its words, its options, and what it makes of a finding."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related, Span
from netcheck.language import read
from netcheck.rules._base import BadRule, Case, Example, Option, Rule, RuleDoc, rule

DOCUMENT = """A title of its own, which ends here.

Why: It hurts,
    in two lines.
False alarm: Never: well, almost.

Source: common practice,
no source.
"""
WORDS = RuleDoc(
    "A title of its own, which ends here",
    "It hurts, in two lines.",
    "Never: well, almost.",
    "common practice, no source.",
)
HEADLINE = "One two three four five six seven eight nine ten\n"
TEXT = "line none\nR1 470K 1/2 W 10%: B+ to B-\nR2 1K 1 W 10%: B+ to B-\nR3 1X: B+ to B-\n"


def _nothing(case: Case) -> Iterator[Finding | NotChecked]:
    yield from ()


def _made(monkeypatch: pytest.MonkeyPatch, document: str | None) -> Rule:
    monkeypatch.setattr(sys.modules[__name__], "__doc__", document)
    return rule(harm=Harm.SHOCK)(_nothing)


def _case(chassis: Chassis, **options: Option) -> Case:
    own = Rule("own-rule", Harm.DAMAGE, WORDS, _nothing, options=options)
    return Case(own, chassis, Circuit(chassis), {("own-rule", "limit"): "20"})


# --- the words


def test_the_module_gives_a_rule_its_name_and_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[__name__], "__doc__", DOCUMENT)
    monkeypatch.setattr(_nothing, "__module__", __name__)
    limit = Option("10", ("10", "20"), "how much")

    made = rule(
        harm=Harm.SHOCK,
        bad=("R1 1K: A to A", Example("R2 1K: A to A", "both")),
        good=["R1 1K: A to B"],
        options={"limit": limit},
    )(_nothing)

    assert made == Rule(
        name="test-what-a-rule-is",
        harm=Harm.SHOCK,
        doc=WORDS,
        check=_nothing,
        bad=(Example("R1 1K: A to A", ""), Example("R2 1K: A to A", "both")),
        good=(Example("R1 1K: A to B", ""),),
        options={"limit": limit},
        distribution="netcheck",
    )


def test_what_is_not_given_is_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    made = _made(monkeypatch, DOCUMENT)
    assert (made.bad, made.good, made.options) == ((), (), {})


def test_a_title_has_ten_words_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    rest = "Why: a\nFalse alarm: b\nSource: c\n"
    assert _made(monkeypatch, HEADLINE + rest).doc.title == HEADLINE.strip()
    with pytest.raises(BadRule) as told:
        _made(monkeypatch, "Zero " + HEADLINE + rest)
    assert told.value.rule == "test-what-a-rule-is"
    assert told.value.fault == "its docstring needs a title of at most 10 words"
    assert str(told.value) == (
        "the rule 'test-what-a-rule-is' cannot be used: "
        "its docstring needs a title of at most 10 words"
    )


@pytest.mark.parametrize("document", [None, "", "  \n "])
def test_a_rule_without_any_words_is_refused(
    document: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(BadRule, match="needs a title of at most 10 words"):
        _made(monkeypatch, document)


@pytest.mark.parametrize("missing", ["Why", "False alarm", "Source"])
@pytest.mark.parametrize("instead", ["", "{}:  \n", "In a sentence {}: it does not count.\n"])
def test_a_paragraph_that_is_missing_is_named(
    missing: str, instead: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = "A title\n" + "".join(
        instead.format(each) if each == missing else f"{each}: so.\n"
        for each in ("Why", "False alarm", "Source")
    )
    with pytest.raises(BadRule) as told:
        _made(monkeypatch, document)
    assert told.value.rule == "test-what-a-rule-is"
    assert told.value.fault == f"its docstring has no paragraph that begins '{missing}:'"


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("club.rules.one", "one"),
        ("one", "one"),
        ("club.rules.two_words2", "two-words2"),
        ("club.One", None),
        ("club.one_", None),
        ("club._one", None),
        ("club.1st", None),
    ],
)
def test_a_rule_is_named_by_its_file(
    module: str, name: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_nothing, "__module__", module)
    monkeypatch.setitem(sys.modules, module, sys.modules[__name__])
    if name is not None:
        assert _made(monkeypatch, DOCUMENT).name == name
        return
    with pytest.raises(BadRule) as told:
        _made(monkeypatch, DOCUMENT)
    assert told.value.rule == module.rpartition(".")[2].replace("_", "-")
    assert told.value.fault == "a rule is named by its file, in lower-case words"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("R1 1K: A to A  # <-", 1),
        ("R1 1K: A to B\nR2 1K: A to A # <-   \nR3 1K: A to B", 2),
        ("R1 1K: A to B\n# <-\nR2 1K: A to A # <-", 2),
        ("R1 1K: A to A # <- here\n", None),
        ("", None),
    ],
)
def test_the_marked_line_is_the_first_that_ends_in_the_mark(text: str, line: int | None) -> None:
    assert Example(text).marked_line == line


# --- what a check sees


def test_an_option_is_what_a_policy_chose_if_it_knows_that_choice() -> None:
    chassis = read(TEXT)
    for option, value in (
        (Option("10", ("10", "20"), "x"), "20"),
        (Option("10", ("10", "30"), "x"), "10"),
        (Option("10", (), "any"), "20"),
    ):
        assert _case(chassis, limit=option).option("limit") == value
    unset = _case(chassis, other=Option("10", ("10", "20"), "x"))
    assert unset.option("other") == "10"
    assert _case(chassis, other=Option("any", (), "x")).option("other") == "any"
    with pytest.raises(KeyError):
        unset.option("limit")


def test_a_finding_says_what_it_is_given_and_the_rest_of_its_rule() -> None:
    case = _case(read(TEXT, "set"))
    place = Span("set", 2, 4, 2, 8)

    plain = case.finding("it is so", place, action="mend it")

    assert plain == Finding(
        "own-rule", Harm.DAMAGE, "it is so", place, why=WORDS.why, action="mend it"
    )
    assert plain.line_text == "R1 470K 1/2 W 10%: B+ to B-"
    assert plain.subject == "is it so"  # the words in their order: nothing else tells it

    whole = case.finding(
        "it is so",
        place,
        action="mend it",
        harm=Harm.RECORD,
        parts=iter(["R2", "R1", "R2"]),
        nodes=iter(["B-", "B+", "B-"]),
        related=iter([Related(place, "here")]),
        calc=iter([Calculation("ohms", 1.0, "ohm", 2.0, "1")]),
        state="line high",
        why="",
    )

    assert whole == Finding(
        "own-rule",
        Harm.RECORD,
        "it is so",
        place,
        related=(Related(place, "here"),),
        parts=("R2", "R1"),
        nodes=("B-", "B+"),
        state="line high",
        why="",
        calc=(Calculation("ohms", 1.0, "ohm", 2.0, "1"),),
        action="mend it",
    )
    assert whole.subject.splitlines()[0].startswith("R1 470K")


def test_not_checked_names_its_rule_and_parts() -> None:
    case = _case(read(TEXT))
    assert case.not_checked("why not") == NotChecked("own-rule", "why not", ())
    assert case.not_checked("why", iter(["R1", "R2"])) == NotChecked(
        "own-rule", "why", ("R1", "R2")
    )


def test_from_reading_gives_what_the_reader_said_of_this_rule_alone() -> None:
    chassis = read(TEXT)
    (said,) = chassis.findings
    assert list(_case(chassis).from_reading()) == []
    reads = Case(Rule(said.rule, said.harm, WORDS, _nothing), chassis, Circuit(chassis))
    assert list(reads.from_reading()) == [said]
    assert reads.policy == {}
