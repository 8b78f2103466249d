"""What a run was asked for and what its report leaves out, so that nothing is an all-clear."""

from __future__ import annotations

import pytest

from netcheck.chassis import Policy
from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.plugins import installed_rules
from netcheck.rules._runner import Report, counts_of, lint
from netcheck.rules._scope import ALWAYS, Asked, PolicySet

TEXT = (
    "line none\nC1 .1 mfd 400 V paper: B+ to B-\nR1 1K 1 W 10%: B+ to B-\n"
    "R2 1K 1 W 10%: B+ to B+\nC2 .1 mfd 400 V film, replaces .1 mfd 600 V: B+ to MID\n"
    "R3 1K 1 W 10%: MID to B-\npolicy aged-capacitor paper measure\n"
    'accept aged-capacitor on C1: "kept"\n'
)


def _span_free_policy(option: str, value: str) -> Policy:
    (said,) = read(f"policy aged-capacitor {option} {value}", "outside").policies
    return said


def _names(asked: Asked) -> set[str]:
    return {each.name for each in asked.rules(installed_rules())}


def test_nothing_asked_for_is_every_rule() -> None:
    assert Asked().rules(installed_rules()) == tuple(installed_rules())


def test_only_some_rules_run_beside_those_that_always_do() -> None:
    assert _names(Asked(only=("loose-end", "polarity"))) == {"loose-end", "polarity", *ALWAYS}


def test_rules_that_always_run_cannot_be_left_out() -> None:
    every = {each.name for each in installed_rules()}
    assert _names(Asked(without=("loose-end", "unreadable"))) == every - {"loose-end"}


def test_a_rule_named_on_both_sides_does_not_run() -> None:
    assert _names(Asked(only=("loose-end", "polarity"), without=("polarity",))) == {
        "loose-end",
        *ALWAYS,
    }


def test_a_report_names_the_rules_that_were_left_out_and_calls_no_acceptance_stale() -> None:
    asked = Asked(only=("shorted-part", "stale-acceptance"))
    report = asked.report(read(TEXT, "set"))

    every = {each.name for each in installed_rules()}
    kept = {"shorted-part", "stale-acceptance", *ALWAYS}
    assert set(report.scope.left_out) == every - kept
    assert len(report.scope.left_out) == len(every - kept)
    assert [f.rule for f in report.findings] == ["shorted-part"]
    assert report.chassis.file == "set"


def test_a_whole_report_leaves_nothing_out_and_calls_what_does_nothing_stale() -> None:
    report = Asked().report(read(TEXT.replace("aged-capacitor on C1", "loose-end on R1"), "set"))

    assert report.scope.left_out == ()
    assert "stale-acceptance" in {f.rule for f in report.findings}


def test_a_policy_from_outside_wins_and_the_report_says_what_the_text_had() -> None:
    outside = (
        _span_free_policy("paper", "replace"),
        _span_free_policy("electrolytics", "reform"),
    )
    asked = Asked(only=("aged-capacitor",), policies=outside)
    report = asked.report(read(TEXT, "set"))

    assert report.scope.policies == (
        PolicySet("aged-capacitor", "paper", "replace", "measure"),
        PolicySet("aged-capacitor", "electrolytics", "reform", None),
    )
    (aged,) = [f for f in report.findings if f.rule == "aged-capacitor"]
    assert "no test clears one of its age" in aged.message
    (measured,) = [f for f in lint(read(TEXT, "set")).findings if f.rule == "aged-capacitor"]
    assert "no insulation of a new one is read" in measured.message


def _cut(lowest: Harm) -> Report:
    report = lint(read(TEXT, "set"))
    return Asked(lowest=lowest).cut(report)


@pytest.mark.parametrize("lowest", list(Harm))
def test_what_is_below_the_lowest_harm_is_moved_and_not_lost(lowest: Harm) -> None:
    report, whole = _cut(lowest), lint(read(TEXT, "set"))

    assert set(report.findings) == {f for f in whole.findings if f.harm.at_least(lowest)}
    assert set(report.scope.hidden) == {f for f in whole.findings if not f.harm.at_least(lowest)}
    assert report.scope.lowest is lowest
    assert report.not_checked == whole.not_checked
    assert report.chassis == whole.chassis


def test_what_is_only_not_listed_stands_all_the_same() -> None:
    whole, report = lint(read(TEXT, "set")), _cut(Harm.SHOCK_NOW)

    assert report.findings == ()
    assert set(report.standing(Harm.RECORD)) == set(whole.standing(Harm.RECORD))


def test_what_is_accepted_does_not_stand_and_what_is_below_the_threshold_neither() -> None:
    report = lint(read(TEXT, "set"))
    (aged,) = [f for f in report.findings if f.rule == "aged-capacitor"]
    standing = report.standing(Harm.DAMAGE)

    assert aged.accepted == "kept"
    assert aged not in report.standing(Harm.RECORD)
    assert [f.rule for f in standing] == ["replacement-rating"]
    assert {f.rule for f in report.standing(Harm.RECORD)} >= {"replacement-rating", "shorted-part"}


def test_each_signal_word_is_counted_and_those_of_none_are_zero() -> None:
    found: tuple[Finding, ...] = lint(read(TEXT, "set")).findings
    words = [f.signal.value for f in found]

    assert list(counts_of(())) == ["danger", "warning", "caution", "notice"]
    assert set(counts_of(()).values()) == {0}
    assert counts_of(found) == {
        word: words.count(word) for word in ("danger", "warning", "caution", "notice")
    }
    assert sum(counts_of(found).values()) == len(found)
