"""The JSON shapes: they hold what was found, they fit their schemas, the schemas are strict."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any

import jsonschema
import pytest

from netcheck.findings import Calculation, Finding, Harm, Signal
from netcheck.output.machine import lint_lines, schema, tube_document, why_document
from netcheck.parts import OperatingPoint, Section, TubeType
from netcheck.rules._base import Example, Option, Rule, RuleDoc
from netcheck.rules._runner import Report

from .sets import TEXT, finding, full_report, report

RULE = Rule(
    name="made-up",
    harm=Harm.BURST,
    doc=RuleDoc("A rule made up for this test", "Why.", "When.", "common practice, no source"),
    check=lambda case: (),
    bad=(Example("R1 470K: A to B  # <-\n", says="470K"),),
    good=(Example("R1 1K: A to B\n"),),
    options=MappingProxyType({"class": Option("practice", ("practice", "strict"), "how strict")}),
)
TUBE = TubeType(
    name="1ABC",
    kind="triode",
    pins=MappingProxyType({"1": ("plate",), "2": ()}),
    heater_v=6.3,
    limits=MappingProxyType({"plate-v": 250.0}),
    sections=(Section("triode", "triode", "plate", "cathode", ("g1",)),),
    points=(OperatingPoint(volts=MappingProxyType({"plate": 250.0}), mu=float("inf")),),
    sources=MappingProxyType({"pins": "from memory", "heater": "a manual, p. 3"}),
)


def document(*reports: Report) -> dict[str, Any]:
    whole: dict[str, Any] = json.loads("\n".join(lint_lines(reports)))
    return whole


def check(whole: dict[str, Any], name: str) -> None:
    jsonschema.Draft202012Validator(json.loads(schema(name))).validate(whole)


@pytest.mark.parametrize("name", ["lint", "why", "tube", "plugins", "known"])
def test_a_schema_is_a_valid_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(json.loads(schema(name)))


@pytest.mark.parametrize("name", ["lint", "why", "tube", "plugins", "known"])
def test_a_schema_allows_no_unknown_key_and_asks_for_all_keys(name: str) -> None:
    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if "properties" in node:
                assert node["additionalProperties"] is False
                assert node["required"] == list(node["properties"])
            for each in node.values():
                walk(each)
        elif isinstance(node, list):
            for each in node:
                walk(each)

    walk(json.loads(schema(name)))


@pytest.mark.parametrize("count", [0, 1, 3])
def test_lint_output_fits_its_schema(count: int) -> None:
    whole = document(*[full_report()] * count)
    check(whole, "lint")
    assert len(whole["sets"]) == count


def test_lint_output_holds_what_was_found() -> None:
    whole = document(full_report())
    only = whole["sets"][0]
    assert (only["title"], only["read"], only["solved"]) == ("Larkfield five", True, None)
    assert only["counts"] == {"danger": 1, "warning": 1, "caution": 0, "notice": 1}
    second = only["findings"][1]
    assert second["span"] == {
        "file": "invented.chassis",
        "line": 5,
        "column": 1,
        "end_line": 5,
        "end_column": 4,
    }
    assert second["calc"] == [
        {
            "name": "current if CHASSIS is touched",
            "value": 2.2054,
            "unit": "mA",
            "limit": 0.5,
            "sum": "2 x pi x 60 Hz x 0.05 uF x 117 V = 2.21 mA",
        },
        {"name": "resistance", "value": None, "unit": "ohm", "limit": None, "sum": ""},
    ]
    assert only["findings"][2]["accepted"] == "for show only, never powered"
    assert only["not_checked"][0] == {
        "rule": "touch-current",
        "reason": "no line voltage is stated",
        "parts": ["C21"],
    }


def test_lint_output_holds_what_was_assumed() -> None:
    told = document(full_report())["sets"][0]["assumed"]
    assert told[0] == {
        "part": "T2",
        "what": "primary resistance",
        "value": 200.0,
        "unit": "ohm",
        "basis": "common practice, no source",
    }
    assert (told[1]["part"], told[1]["value"]) == (None, None)


def test_no_field_of_a_finding_is_left_out() -> None:
    told = set(document(full_report())["sets"][0]["findings"][0])
    assert told == {each.name for each in fields(Finding)} - {"line_text", "subject"} | {
        "signal",
        "fingerprint",
    }


def test_the_schema_knows_every_harm_and_signal_word() -> None:
    known = json.loads(schema("lint"))["$defs"]
    assert known["harm"]["enum"] == [harm.value for harm in Harm]
    assert known["signal"]["enum"] == [signal.value for signal in Signal]


def test_the_same_set_gives_the_same_bytes() -> None:
    assert list(lint_lines([full_report()])) == list(lint_lines([full_report()]))


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_null(number: float) -> None:
    odd = finding(TEXT, "C21", calc=(Calculation("odd", number, "V", number),))
    whole = document(report(TEXT, odd))
    check(whole, "lint")
    told = whole["sets"][0]["findings"][0]["calc"][0]
    assert (told["value"], told["limit"]) == (None, None)


def test_output_is_ascii_and_every_text_fits_utf_8() -> None:
    odd = finding(TEXT, "C21", message="\x1b \u96fb \udc80 \U0001f4fb")
    lines = "\n".join(lint_lines([report(TEXT, odd)]))
    assert lines.isascii()
    message = json.loads(lines)["sets"][0]["findings"][0]["message"]
    assert message == "\x1b \u96fb \\udc80 \U0001f4fb"
    message.encode("utf-8")


def test_an_unread_set_is_marked() -> None:
    whole = document(report(TEXT, finding(TEXT, "C21"), was_read=False))
    check(whole, "lint")
    assert whole["sets"][0]["read"] is False


def test_why_output_fits_its_schema_and_tells_all() -> None:
    whole = json.loads(why_document([RULE, replace(RULE, name="other")]))
    check(whole, "why")
    told = whole["rules"][0]
    assert told["bad"] == [{"text": "R1 470K: A to B  # <-\n", "line": 1, "says": "470K"}]
    assert told["good"][0]["line"] is None
    assert told["options"][0]["allowed"] == ["practice", "strict"]
    assert (told["harm"], told["signal"]) == ("burst", "caution")


def test_tube_output_fits_its_schema_and_says_what_is_from_memory() -> None:
    whole = json.loads(tube_document(TUBE))
    check(whole, "tube")
    told = whole["tube"]
    assert [each["from_memory"] for each in told["sources"]] == [True, False]
    assert told["points"][0]["mu"] is None
    assert told["pins"][1] == {"pin": "2", "electrodes": []}
    assert told["heater_volts"] == 6.3
