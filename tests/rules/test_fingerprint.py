"""A finding is known again when its text is moved, and is another one when a value changes."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.findings import Finding, Harm
from netcheck.language import read
from netcheck.language.layout import write
from netcheck.language.source import cut
from netcheck.rules import builtin
from netcheck.rules._base import Rule
from netcheck.rules._runner import lint

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RULES = builtin()
# Their verdict is about the order of the text: the second of two is the one that is wrong.
OF_THE_ORDER = {"twin-reference", "pin-wired-twice"}
TEXTS = [
    example.text
    for rule in RULES
    for example in (*rule.bad, *rule.good)
    if rule.name not in OF_THE_ORDER
]
SET = """\
set "invented"
line 117 V 60 Hz
P1 plug, not polarized: 1 LINE, 2 B-
C21 .05 mfd 400 V paper: B- to CHASSIS
C22 .01 mfd 400 V paper: B- to X1
R1 470K 1/2 W 10%, measured 610K: X1 to B-
"""


def prints(findings: Iterable[Finding]) -> Counter[tuple[str, str]]:
    return Counter((found.rule, found.fingerprint) for found in findings)


def found_in(text: str, rules: list[Rule] = RULES) -> Counter[tuple[str, str]]:
    return prints(lint(read(text), rules).findings)


def statements(text: str) -> list[str]:
    """The statements of a text, each with its own line breaks, and no comments between."""
    lines = text.split("\n")
    starts = [s.whole().line for s in cut(text, "").statements]
    ends = [s.whole().end_line for s in cut(text, "").statements]
    return ["\n".join(lines[a - 1 : b]) for a, b in zip(starts, ends, strict=True)]


def moved(text: str, seed: int) -> str:
    """The same statements in another order, with comments and empty lines among them."""
    chance = random.Random(seed)
    listed = statements(text)
    chance.shuffle(listed)
    out = []
    for each in listed:
        out += ["", "# moved, nothing else"] * chance.randrange(2)
        out.append(each.replace("\n", "   # why not here\n", chance.randrange(2)))
    return "\n".join(out) + "   # the last line\n"


@settings(max_examples=60)
@given(text=st.sampled_from(TEXTS), seed=st.integers(0, 10**9))
def test_moved_lines_comments_and_order_change_no_fingerprint(text: str, seed: int) -> None:
    assert found_in(moved(text, seed)) == found_in(text)


@pytest.mark.parametrize("stem", ["larkfield-five", "pennick-phonograph", "thorley-car"])
def test_a_whole_set_in_another_order_and_under_another_name_is_known_again(stem: str) -> None:
    text = (EXAMPLES / f"{stem}-as-found.chassis").read_text("utf-8")
    before = prints(lint(read(text, f"{stem}.chassis"), RULES).findings)
    after = prints(lint(read(moved(text, seed=7), "renamed.chassis"), RULES).findings)
    assert after == before
    assert max(before.values()) == 1, "no two findings of a set have one fingerprint"


def test_a_text_laid_out_anew_is_known_again() -> None:
    text = SET.replace("mfd", "uF").replace("   ", " ")
    assert found_in(write(read(text))) == found_in(text)


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("measured 610K", "measured 650K", "resistor-drift"),
        (".05 mfd", ".1 mfd", "line-capacitor-class"),
        ("B- to X1", "B- to X2", "aged-capacitor"),
        ("C22", "C23", "aged-capacitor"),
    ],
)
def test_another_value_or_place_or_part_is_another_finding(old: str, new: str, rule: str) -> None:
    before, after = found_in(SET), found_in(SET.replace(old, new))
    assert {each for each in before if each[0] == rule}
    assert {each for each in after if each[0] == rule}
    assert not {each for each in before & after if each[0] == rule}


def test_another_reading_is_another_finding() -> None:
    reading = (
        "line none\nC1 20 mfd 250 V electrolytic: + B1, - B-\nreading C1 leakage {} at 250 V\n"
    )
    policy = "policy aged-capacitor electrolytics reform\n"
    three, nine = (found_in(policy + reading.format(f"{each} mA")) for each in (3, 9))
    assert not {each for each in three & nine if each[0] == "aged-capacitor"}


def test_what_becomes_worse_is_another_finding() -> None:
    text = "line none\nC1 20 mfd 250 V electrolytic: + X1, - B-\n"
    rectifier = "V1 5Y3GT: plate1 X2, plate2 X3, heater H1 to X1\n"
    (milder,), (worse,) = (
        [f for f in lint(read(each), RULES).findings if f.rule == "aged-capacitor"]
        for each in (text, text + rectifier)
    )
    assert (milder.harm, worse.harm) == (Harm.DAMAGE, Harm.BURST)
    assert milder.subject == worse.subject
    assert milder.fingerprint != worse.fingerprint
