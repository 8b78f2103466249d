"""What `lint` can be asked for, what it then leaves out and says so, and what is known already."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from netcheck.cli import app
from netcheck.findings import Harm
from netcheck.output.machine import schema
from netcheck.plugins import installed_rules

Lint = Callable[..., Result]

SET = """\
set "Invented for these tests"
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to SW
Z1 load 250 mA: SW to B-
C21 .05 mfd 400 V paper: B- to CHASSIS
R1 470K 1/2 W 10%, measured 531K: B- to CHASSIS
"""
LIVE = SET + "wire CHASSIS to B-\n"
NEW = SET + "C22 .1 mfd 400 V paper: SW to B-\n"


@pytest.fixture
def lint(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Lint:
    """Run `netcheck lint` in an empty folder that holds the set."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.chassis").write_text(SET)
    return lambda *words: CliRunner().invoke(app, ["lint", *words], prog_name="netcheck")


def told(result: Result) -> dict[str, Any]:
    whole = json.loads(result.stdout)
    jsonschema.Draft202012Validator(json.loads(schema("lint"))).validate(whole)
    (only,) = whole["sets"]
    return dict(only)


def rules_of(result: Result) -> set[str]:
    return {found["rule"] for found in told(result)["findings"]}


def said(result: Result) -> str:
    return " ".join(result.stdout.split())


# --- choosing -----------------------------------------------------------------------------------


def test_only_runs_the_rules_it_names_and_says_which_it_did_not(lint: Lint) -> None:
    result = lint("mine.chassis", "--only", "aged-capacitor", "--only", "RESISTOR_DRIFT")
    assert "IN PART ONLY, as asked" in said(result)
    assert "rules not run" in said(result)
    both = lint("mine.chassis", "--only", "aged-capacitor", "--only", "resistor-drift",
                "--as", "json")  # fmt: skip
    assert rules_of(both) == {"aged-capacitor", "resistor-drift"}
    left_out = told(both)["left_out"]["rules"]
    assert "line-capacitor-class" in left_out
    assert "unreadable" not in left_out
    assert len(left_out) == len(installed_rules()) - 6


def test_without_leaves_a_rule_out_and_says_so(lint: Lint) -> None:
    result = lint("mine.chassis", "--without", "line-capacitor-class")
    assert "1 rule not run: line-capacitor-class" in said(result)
    assert result.exit_code == 1
    assert "line-capacitor-class" not in rules_of(
        lint("mine.chassis", "--without", "line-capacitor-class", "--as", "json")
    )


def test_a_short_list_is_never_an_all_clear(lint: Lint, tmp_path: Path) -> None:
    result = lint("mine.chassis", "--only", "polarity")
    assert result.exit_code == 0
    assert "That is no clearance" in said(result)
    assert "rules not run" in said(result)
    assert "aged-capacitor" in said(result).split("rules not run")[1]


def test_what_cannot_be_read_is_told_whatever_is_asked(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "odd.chassis").write_text(SET + "R9 ][: X1 to X2\n")
    result = lint("odd.chassis", "--only", "polarity", "--as", "json")
    assert result.exit_code == 2
    assert rules_of(result) == {"unreadable"}


def test_from_lists_a_harm_and_worse_and_counts_the_rest(lint: Lint) -> None:
    whole = told(lint("mine.chassis", "--as", "json"))
    part = told(lint("mine.chassis", "--from", "shock", "--as", "json"))
    assert part["left_out"]["below"] == "shock"
    assert {found["harm"] for found in part["findings"]} == {"shock"}
    hidden = sum(part["left_out"]["counts"].values())
    assert hidden == len(whole["findings"]) - len(part["findings"]) > 0
    assert "found and not listed, below shock" in said(lint("mine.chassis", "--from", "shock"))


def test_what_is_found_and_not_listed_still_counts(lint: Lint) -> None:
    only = ("--only", "aged-capacitor", "--from", "shock")
    result = lint("mine.chassis", *only)
    assert result.exit_code == 1
    assert "Nothing is listed. That is no clearance: what was found is below shock" in said(result)
    assert lint("mine.chassis", *only, "--fail-on", "burst").exit_code == 0


def test_an_acceptance_of_a_rule_left_out_is_not_called_stale(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "mine.chassis").write_text(SET + 'accept aged-capacitor on C21: "kept"\n')
    words = ("mine.chassis", "--without", "aged-capacitor", "--as", "json")
    assert "stale-acceptance" not in rules_of(lint(*words))


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("--only", "aged-capacitr"), "did you mean aged-capacitor?"),
        (("--without", "loose-ends"), "did you mean loose-end?"),
        (("--without", "unreadable"), "unreadable cannot be left out"),
        (("--only", "zzzz"), "`netcheck why` lists them all"),
        (("--only", "polarity", "--without", "polarity"), "nothing would be checked"),
        (("--from", "shok"), "did you mean shock?"),
        (("--fail-on", "damge"), "did you mean damage?"),
        (("--fail-on", "zzz"), "shock-now, shock, burst"),
        (("--policy", "resistor-drft limit 10"), "did you mean resistor-drift?"),
        (("--policy", "resistor-drift limt 10"), "did you mean limit?"),
        (("--policy", "resistor-drift limit tolerence"), "did you mean tolerance?"),
        (("--policy", "resistor-drift limit 15"), "write one of effect, tolerance, 10, 20"),
        (("--policy", "shorted-part limit 15"), "has no option limit"),
        (("--policy", "resistor-drift"), "the line ends too early"),
        (("--policy", "resistor-drift limit 10\nR1 1K: B+ to B-"), "RULE OPTION VALUE"),
        (("--as", "jsno"), "did you mean json?"),
    ],
)
def test_a_slip_is_answered_with_the_nearest(
    lint: Lint, words: tuple[str, ...], answer: str
) -> None:
    result = lint("mine.chassis", *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert answer in " ".join(result.stderr.split())


# --- policies -----------------------------------------------------------------------------------


def test_a_policy_of_the_command_line_does_as_one_of_the_text(lint: Lint, tmp_path: Path) -> None:
    only = ("mine.chassis", "--only", "resistor-drift", "--as", "json")
    assert rules_of(lint(*only)) == {"resistor-drift"}
    loose = lint(*only, "--policy", "resistor-drift limit 20")
    assert rules_of(loose) == set()
    assert told(loose)["policies"] == [
        {"rule": "resistor-drift", "option": "limit", "value": "20", "instead_of": None}
    ]
    (tmp_path / "mine.chassis").write_text(SET + "policy resistor-drift limit 20\n")
    assert rules_of(lint(*only)) == set()


def test_the_command_line_wins_over_the_text_and_says_so(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "mine.chassis").write_text(SET + "policy resistor-drift limit 20\n")
    strict = ("mine.chassis", "--policy", "resistor-drift limit 10")
    assert "resistor-drift" in rules_of(lint(*strict, "--as", "json"))
    assert (
        "policy resistor-drift limit 10, set for this run; the text says 20, which does not hold"
        in said(lint(*strict))
    )


# --- known findings -----------------------------------------------------------------------------


@pytest.fixture
def known(lint: Lint) -> str:
    assert lint("mine.chassis", "--write-known", "known.json").exit_code == 1
    return "known.json"


def test_the_file_of_known_findings_fits_its_schema(known: str, tmp_path: Path) -> None:
    whole = json.loads((tmp_path / known).read_text())
    jsonschema.Draft202012Validator(json.loads(schema("known"))).validate(whole)
    assert [each["file"] for each in whole["known"]] == ["mine.chassis"]
    assert len(whole["known"][0]["findings"]) >= 3


def test_what_is_known_is_counted_and_not_listed(lint: Lint, known: str) -> None:
    result = lint("mine.chassis", "--known", known)
    assert result.exit_code == 0
    assert f"Nothing is listed. That is no clearance: what is in {known} is there" in said(result)
    assert "there again and not listed: 1 warning, " in said(result)
    now = told(lint("mine.chassis", "--known", known, "--as", "json"))
    assert (now["findings"], now["known"]["gone"]) == ([], [])
    assert sum(now["known"]["counts"].values()) >= 3
    assert now["known"]["set"] == "mine.chassis"


def test_moved_renamed_and_commented_it_is_still_known(
    lint: Lint, known: str, tmp_path: Path
) -> None:
    lines = SET.splitlines()
    (tmp_path / "mine.chassis").unlink()
    (tmp_path / "sub").mkdir()
    moved = "# on the bench\n" + "\n\n".join([lines[0], *reversed(lines[1:])]) + "  # the end\n"
    (tmp_path / "sub" / "other.chassis").write_text(moved)
    result = lint("sub/other.chassis", "--known", known, "--as", "json")
    assert (result.exit_code, told(result)["findings"]) == (0, [])
    assert told(result)["known"]["gone"] == []


def test_a_copy_of_a_set_that_is_still_there_is_not_known(
    lint: Lint, known: str, tmp_path: Path
) -> None:
    (tmp_path / "copy.chassis").write_text(SET)
    result = lint("copy.chassis", "--known", known, "--as", "json")
    assert result.exit_code == 1
    assert told(result)["known"]["set"] is None
    assert len(told(result)["findings"]) >= 3


def test_only_the_new_is_listed_and_counts(lint: Lint, known: str, tmp_path: Path) -> None:
    (tmp_path / "mine.chassis").write_text(NEW)
    result = lint("mine.chassis", "--known", known, "--as", "json")
    assert result.exit_code == 1
    new = {(found["rule"], *found["parts"]) for found in told(result)["findings"]}
    assert ("line-capacitor-class", "C22") in new
    assert ("line-capacitor-class", "C21") not in new


def test_what_is_gone_is_told(lint: Lint, known: str, tmp_path: Path) -> None:
    mended = SET.replace("measured 531K", "measured 480K")
    (tmp_path / "mine.chassis").write_text(mended)
    result = lint("mine.chassis", "--known", known)
    assert "gone: resistor-drift: R1" in said(result)
    gone = told(lint("mine.chassis", "--known", known, "--as", "json"))["known"]["gone"]
    assert ("resistor-drift", ["R1"]) in [(each["rule"], each["parts"]) for each in gone]


@pytest.mark.parametrize(
    ("text", "words"), [(SET, ("--without", "resistor-drift")), (SET + "R9 ][: X1 to X2\n", ())]
)
def test_what_was_not_looked_for_is_not_called_gone(
    lint: Lint, known: str, tmp_path: Path, text: str, words: tuple[str, ...]
) -> None:
    (tmp_path / "mine.chassis").write_text(text.replace(", measured 531K", ""))
    now = told(lint("mine.chassis", "--known", known, *words, "--as", "json"))["known"]
    assert "resistor-drift" in {each["rule"] for each in now["not_looked_for"]}
    assert "resistor-drift" not in {each["rule"] for each in now["gone"]}


def test_a_danger_is_always_listed_and_always_counts(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "mine.chassis").write_text(LIVE)
    assert lint("mine.chassis", "--write-known", "known.json").exit_code == 1
    result = lint("mine.chassis", "--known", "known.json", "--as", "json")
    assert result.exit_code == 1
    assert {found["harm"] for found in told(result)["findings"]} == {Harm.SHOCK_NOW.value}
    assert told(result)["known"]["dangers"]
    assert lint("mine.chassis", "--known", "known.json", "--fail-on", "shock-now").exit_code == 1
    assert "known and listed all the same, a danger: live-chassis" in said(
        lint("mine.chassis", "--known", "known.json")
    )


def test_what_was_accepted_when_it_was_written_is_new_once_it_is_not(
    lint: Lint, tmp_path: Path
) -> None:
    (tmp_path / "mine.chassis").write_text(SET + 'accept aged-capacitor on C21: "kept"\n')
    lint("mine.chassis", "--write-known", "known.json")
    (tmp_path / "mine.chassis").write_text(SET)
    assert rules_of(lint("mine.chassis", "--known", "known.json", "--as", "json")) == {
        "aged-capacitor"
    }


def test_known_findings_are_never_overwritten_unasked(
    lint: Lint, known: str, tmp_path: Path
) -> None:
    before = (tmp_path / known).read_text()
    (tmp_path / "mine.chassis").write_text(NEW)
    result = lint("mine.chassis", "--write-known", known)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "add --replace" in result.stderr
    assert (tmp_path / known).read_text() == before
    lint("mine.chassis", "--known", known, "--write-known", known, "--replace")
    assert lint("mine.chassis", "--known", known).exit_code == 0
    assert lint("mine.chassis", "--write-known", "mine.chassis", "--replace").exit_code == 2
    assert (tmp_path / "mine.chassis").read_text() == NEW


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        (None, "no such file"),
        ("", "not of the form"),
        ("{}", "not of the form"),
        ("[1]", "not of the form"),
        ('{"shape": 9, "known": []}', "its shape is 9"),
        ('{"shape": 1, "known": [{"file": "x"}]}', "not of the form"),
        ("[" * 100_000, "not of the form"),
    ],
)
def test_a_file_that_is_none_is_a_sentence(
    lint: Lint, tmp_path: Path, text: str | None, answer: str
) -> None:
    if text is not None:
        (tmp_path / "odd.json").write_text(text)
    result = lint("mine.chassis", "--known", "odd.json", "--as", "json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "odd.json is no file of known findings" in result.stderr
    assert answer in result.stderr


def test_equal_findings_are_known_as_often_as_they_were_there(lint: Lint, tmp_path: Path) -> None:
    odd = "R8 ][: X1 to X2\n"
    (tmp_path / "mine.chassis").write_text(SET + odd)
    lint("mine.chassis", "--write-known", "known.json")
    whole = json.loads((tmp_path / "known.json").read_text())
    first = next(f for f in whole["known"][0]["findings"] if f["rule"] == "unreadable")
    (tmp_path / "mine.chassis").write_text(SET + odd + odd)
    now = told(lint("mine.chassis", "--known", "known.json", "--as", "json"))
    again = [f for f in now["findings"] if f["fingerprint"] == first["fingerprint"]]
    everything = told(lint("mine.chassis", "--as", "json"))["findings"]
    count = sum(f["fingerprint"] == first["fingerprint"] for f in everything)
    assert len(again) == count - 1


# --- many files ---------------------------------------------------------------------------------


def test_workers_are_asked_the_same_and_what_is_known_holds_for_each_set(
    netcheck: Any, tmp_path: Path
) -> None:
    for number in range(4):
        text = SET.replace("Invented", f"Invented {number}").replace("C21", f"C{number + 30}")
        (tmp_path / f"{number}.chassis").write_text(text)
    asked = ("lint", ".", "--without", "loose-end", "--policy", "resistor-drift limit 20")
    assert netcheck(*asked, "--write-known", "known.json", "--workers", "2").returncode == 1
    (tmp_path / "2.chassis").write_text(NEW)
    seen = []
    for workers in ("1", "2"):
        done = netcheck(*asked, "--known", "known.json", "--as", "json", "--workers", workers)
        assert (done.returncode, done.stderr) == (1, "")
        seen.append(json.loads(done.stdout)["sets"])
    assert seen[0] == seen[1]
    assert [bool(each["findings"]) for each in seen[0]] == [False, False, True, False]
    assert all(each["left_out"]["rules"] == ["loose-end"] for each in seen[0])
    assert all(each["policies"][0]["value"] == "20" for each in seen[0])
