"""The pages of `why` and `tube` for people: complete, and within 78 columns."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from netcheck.findings import Harm
from netcheck.output.columns import width
from netcheck.output.tube import tube_lines
from netcheck.output.why import list_lines, rule_lines
from netcheck.parts import OperatingPoint
from netcheck.rules._base import Example

from .test_machine import RULE, TUBE


def test_the_page_of_a_rule_tells_all_of_it() -> None:
    page = "\n".join(rule_lines(replace(RULE, distribution="someone-else")))
    for words in (
        "made-up",
        "A rule made up for this test",
        "burst: CAUTION",
        "Why.",
        "false alarm  When.",
        "common practice, no source",
        'accept made-up on REF: "your reason"',
        "class practice or strict (if not set: practice). how strict",
        "R1 470K: A to B  # <-",
        "470K",
        "R1 1K: A to B",
        "someone-else",
    ):
        assert words in " ".join(page.split()) or words in page, words


def test_a_long_line_of_an_example_is_broken_where_the_language_lets_it_go_on() -> None:
    line = "V3 12AV6: " + ", ".join(f"electrode{n} NODE{n}" for n in range(9))
    listed = list(rule_lines(replace(RULE, good=(Example(line),), bad=())))
    code = listed[listed.index("Content with") + 1 :]
    assert len(code) > 1
    assert all(each.rstrip().endswith((",", ":")) for each in code[:-1])
    assert " ".join(" ".join(code).split()) == line


def test_the_list_of_rules_goes_by_harm_worst_first() -> None:
    rules = [
        replace(RULE, name="tame", harm=Harm.RECORD),
        replace(RULE, name="grim", harm=Harm.SHOCK),
    ]
    listed = "\n".join(list_lines(rules))
    assert listed.index("WARNING (shock)") < listed.index("grim") < listed.index("tame")


def test_the_page_of_a_tube_tells_pins_limits_and_sources() -> None:
    page = "\n".join(tube_lines(replace(TUBE, tap_v=3.0, heater_a=0.15)))
    for words in (
        "1ABC  triode",
        "6.3 V, 0.15 A, indirectly heated; tap for a pilot lamp at 3 V",
        "1  plate",
        "2  no connection",
        "plate 250 V",
        "rating system: unknown",
        "heater: a manual, p. 3",
        "from memory, not seen in print: pins",
    ):
        assert words in page, words


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("plate-w", "plate 10 W"),
        ("output-a", "DC output 10000 mA"),
        ("reservoir-f", "reservoir at most 1e+07 uF"),
        ("grid-ohm-fixed", "grid circuit with fixed bias 10 ohm"),
        ("heater-cathode-v", "heater to cathode 10 V"),
    ],
)
def test_a_limit_is_told_in_the_units_of_the_trade(name: str, said: str) -> None:
    page = "\n".join(tube_lines(replace(TUBE, limits=MappingProxyType({name: 10.0}))))
    assert said in page


def test_what_is_unknown_of_a_tube_is_said_to_be() -> None:
    bare = replace(TUBE, heater_v=None, limits={}, points=(), sources={})
    page = "\n".join(tube_lines(bare))
    assert "unknown V" in page
    assert page.count("none known") == 2
    assert "none stated" in page


def test_pages_fit_78_columns() -> None:
    words = "a long story of many words " * 9
    long_rule = replace(
        RULE, doc=replace(RULE.doc, why=words), bad=(Example("R1 " + words, says=words),)
    )
    long_tube = replace(
        TUBE,
        note=words,
        sources=MappingProxyType({"pins": words}),
        points=(OperatingPoint(use=words, source=words),),
        pins=MappingProxyType({"1": tuple(words.split())}),
    )
    for line in (*rule_lines(long_rule), *list_lines([long_rule]), *tube_lines(long_tube)):
        assert width(line) <= 78
