"""The note for the chassis: a postcard that says what was done and hides nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from netcheck import read
from netcheck.bench.chassis_note import ChassisNote, chassis_note
from netcheck.bench.workup import Workup
from netcheck.cli import app
from netcheck.output.columns import width
from netcheck.output.job import CARD_COLUMNS, CARD_LINES, note_lines
from tests.bench.conftest import EXAMPLES

SETS = sorted(EXAMPLES.glob("*.chassis"))


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


def note_of(text: str) -> ChassisNote:
    return chassis_note(Workup(read(text)))


def sides(text: str) -> list[list[str]]:
    """The cards of a note: what stands between two edges."""
    cards: list[list[str]] = []
    inside = False
    for line in text.rstrip("\n").split("\n"):
        if line.startswith("+-"):
            inside = not inside
            if inside:
                cards.append([])
        else:
            cards[-1].append(line)
    return cards


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_every_example_fits_the_card(path: Path) -> None:
    schema = json.loads(run("note", "--schema").stdout)
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(run("note", str(path), "--as", "json").stdout))
    text = run("note", str(path)).stdout
    cards = sides(text)
    assert len(cards) == 1
    for card in cards:
        assert len(card) <= CARD_LINES
        assert {width(line) for line in card} == {CARD_COLUMNS + 4}
    assert "LETHAL VOLTAGES" in text


def test_what_stands_is_on_the_card() -> None:
    found = run("note", str(EXAMPLES / "larkfield-five-as-found.chassis")).stdout
    assert "OPEN  " in found
    assert "OPEN" not in run("note", str(EXAMPLES / "larkfield-five-restored.chassis")).stdout


def test_fuse_lamp_plug_line_and_isolation_are_told() -> None:
    path = EXAMPLES / "larkfield-five-restored.chassis"
    lines = dict(chassis_note(Workup(read(path.read_text(), str(path)))).lines)
    assert lines["fuse"] == "F1 1/2 A 250 V slow"
    assert lines["lamp"] == "47"
    assert lines["computed"].endswith("(measured: ______)")  # nobody may take it for a reading
    assert lines["line"] == "117 V 60 Hz"
    assert lines["plug"] == "P1 polarized, hot to LINE, neutral to B-"
    assert lines["isolation"].startswith("NONE: B- is on the line")
    assert lines["restuffed"] == "C1 C1A C1B"


def test_what_got_no_verdict_is_on_the_card() -> None:
    path = EXAMPLES / "ellernbach-live-restored.chassis"
    work = Workup(read(path.read_text(), str(path)))
    assert work.report.not_checked
    lines = dict(chassis_note(work).lines)
    assert work.report.not_checked[0].rule in lines["no verdict"]


def test_a_chassis_on_the_line_says_so() -> None:
    path = EXAMPLES / "ellernbach-live-restored.chassis"
    lines = dict(chassis_note(Workup(read(path.read_text(), str(path)))).lines)
    assert "the chassis is on the line" in lines["isolation"]
    assert lines["kept as is"]


def test_a_transformer_does_not_excuse_a_chassis_on_the_line() -> None:
    path = EXAMPLES / "tansley-console-restored.chassis"
    text = path.read_text() + "wire CHASSIS to NEUTRAL\n"
    assert "NONE" in dict(note_of(text).lines)["isolation"]
    assert dict(note_of(path.read_text()).lines)["isolation"] == "power transformer T1"


def test_a_long_list_goes_on_to_another_side_and_loses_nothing() -> None:
    text = "line none\n" + "".join(
        f"C{3 * n} .01 mfd 630 V film, new: X{n} to X{n + 1}\n" for n in range(1, 301)
    )
    said = "\n".join(note_lines(note_of(text)))
    cards = sides(said)
    assert len(cards) > 1
    assert all(len(card) <= CARD_LINES for card in cards)
    assert all(f"C{3 * n} " in said.replace("|", " ") for n in range(1, 301))


def test_runs_of_references_are_drawn_together() -> None:
    text = "line none\n" + "".join(
        f"C{n} .01 mfd 630 V film, new: X{n} to X{n + 1}\n" for n in (1, 2, 3, 5, 6)
    )
    assert dict(note_of(text).lines)["new"] == "C1-C3 C5 C6"


def test_name_and_date_are_filled_in_and_cannot_act_on_a_terminal() -> None:
    path = str(EXAMPLES / "larkfield-five-restored.chassis")
    text = run("note", path, "--by", "me\x1b[2J", "--date", "2026-05-01").stdout
    assert "2026-05-01" in text
    assert "\x1b" not in text


def test_a_text_that_was_not_read_is_open_and_status_2() -> None:
    found = run("note", "-", stdin="C1 what is this\n")
    assert found.exit_code == 2
    assert "could not be read whole" in found.stdout
