"""Findings acted on from top to bottom: no action may undo another, or ask for the wrong part."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.language import read, read_file
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LINE = (
    "line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 RETURN\nS1 power: ON RETURN to B-\n"
    "Z1 load 250 mA: LINE to B-\n"
)


def found(name: str) -> Report:
    return lint(read_file(EXAMPLES / f"{name}-as-found.chassis"), tuple(builtin()))


def action(report: Report, rule: str, ref: str) -> str:
    told = [f for f in report.findings if f.rule == rule and ref in f.parts]
    return min(told, key=lambda each: each.parts.index(ref)).action


@pytest.mark.parametrize(
    ("name", "refs"),
    [
        ("larkfield-five", "C20, C21 and C22"),
        ("tansley-console", "C30"),
        ("ellernbach-live", "C1, C4, C5 and C7"),  # C7 is bridged by a wire
        ("pennick-phonograph", "C20, C21 and C10"),  # C10 is before a jack
        ("marram-portable", ""),
        ("thorley-car", ""),
    ],
)
def test_no_plain_film_is_asked_for_on_the_line(name: str, refs: str) -> None:
    told = [f for f in found(name).findings if f.rule == "aged-capacitor" and "paper" in f.message]
    assert [("not so" in f.action, f"not so {refs}, which" in f.action) for f in told] == [
        (bool(refs), bool(refs))
    ]


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [("larkfield-five", "C1A", "C23"), ("tansley-console", "C16", "C29"),
     ("marram-portable", "C17", "C26"), ("thorley-car", "C2A", "C35")],
)  # fmt: skip
def test_what_is_to_be_cut_out_is_not_bought_anew(name: str, old: str, new: str) -> None:
    report = found(name)
    assert f"{old} only goes out where {new}" in action(report, "aged-capacitor", old)
    assert f"cut {old} free" in action(report, "parallel-original", old)


def test_a_rating_is_not_asked_for_of_what_goes_out() -> None:
    assert action(found("tansley-console"), "voltage-rating", "C16").startswith("cut C16 free")


@pytest.mark.parametrize(
    ("name", "ref", "volts"),
    [
        ("tansley-console", "C8", 630),  # 422 V that pass
        ("tansley-console", "C17", 450),  # 422 V, and 450 V before
        ("pennick-phonograph", "C34", 25),  # 9.16 V, and 25 V before
        ("plovermere-three-way", "C1A", 200),  # 157 V that last: a tenth more
        ("ellernbach-live", "C29", 35),  # 28.6 V
    ],
)
def test_a_rating_that_is_made_and_no_lower_than_before(name: str, ref: str, volts: int) -> None:
    assert f"fit a {ref} of {volts} V or more" in action(found(name), "voltage-rating", ref)


def test_a_gang_whose_sections_work_from_b_minus_stays_there() -> None:
    gang = "C2 gang, air: body B-\nC2A 10-365 mmf air: {} to {}\n"
    stays = lint(read(LINE + gang.format("TUNED", "B-")), tuple(builtin()))
    moves = lint(read(LINE + gang.format("TUNED", "OTHER")), tuple(builtin()))
    assert action(stays, "live-shell", "C2").startswith("C2 stays on B-")
    assert action(moves, "live-shell", "C2").startswith("join the body of C2 to CHASSIS")
    shaft = "R6 control, 500K: DET to VOL to B-, shaft B-\n"
    both = lint(read(LINE + gang.format("TUNED", "B-") + shaft), tuple(builtin()))
    assert action(both, "live-shell", "R6").startswith("join the shaft of R6 to CHASSIS")


def test_a_wire_across_a_jacks_capacitor_is_one_finding() -> None:
    jack = "J3 jack: ANT\nC7 .01 mfd 1500 V paper: ANT to B-\nwire ANT to B-\n"
    rules = {f.rule for f in lint(read(LINE + jack), tuple(builtin())).findings if "C7" in f.parts}
    assert "antenna-isolation" in rules
    assert "shorted-part" not in rules
    battery = "line none\n" + jack
    told = {f.rule for f in lint(read(battery), tuple(builtin())).findings if "C7" in f.parts}
    assert "shorted-part" in told
