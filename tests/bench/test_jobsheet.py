"""The job sheet: its order, its boxes, and that what it expects is what the set does."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from netcheck import read
from netcheck.bench.jobsheet import Item, JobSheet, job_sheet
from netcheck.bench.workup import Workup
from netcheck.cli import app
from netcheck.findings import NotSolved
from netcheck.output.columns import width
from netcheck.rules._words import amount
from tests.bench.conftest import EXAMPLES

SETS = sorted(EXAMPLES.glob("*.chassis"))


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


@cache
def sheet_of(name: str) -> tuple[JobSheet, Workup]:
    path = EXAMPLES / f"{name}.chassis"
    work = Workup(read(path.read_text(), str(path)))
    return job_sheet(work), work


def items(sheet: JobSheet, title: str) -> tuple[Item, ...]:
    return next(s.items for s in sheet.sections if title in s.title)


def test_the_stages_come_in_the_order_of_the_trade() -> None:
    sheet, _ = sheet_of("tansley-console-as-found")
    said = " ".join(each.title for each in sheet.sections)
    order = ["kill", "Cold", "Resistors", "Power filters", "Other parts", "Sockets", "Power, with",
             "Dress", "Alignment, last", "Soak"]  # fmt: skip
    at = [said.index(word) for word in order]
    assert at == sorted(at)


def test_what_is_renewed_is_ticked_and_what_is_not_is_open() -> None:
    found, _ = sheet_of("larkfield-five-as-found")
    restored, _ = sheet_of("larkfield-five-restored")
    assert not any(item.done for item in items(found, "Power filters"))
    assert all(item.done for item in items(restored, "Power filters"))
    assert {ref for item in items(restored, "Power filters") for ref in item.refs} >= {"C1A", "C20"}


def test_a_measured_resistor_is_ticked_with_its_value_and_limits() -> None:
    sheet, _ = sheet_of("tansley-console-as-found")
    (r14,) = [i for i in items(sheet, "Resistors") if i.refs == ("R14",)]
    assert r14.done
    assert "between 90K and 110K; measured 138K" in r14.text  # 100K 10 %: the sum in the text


def test_every_part_to_renew_of_the_list_has_a_box_once() -> None:
    for path in SETS:
        sheet, work = sheet_of(path.stem)
        from netcheck.bench.recap import recap

        wanted = [row.ref for row in recap(work).rows if row.fit is not None]
        boxed = [
            item.refs[0]
            for title in ("Power filters", "Other parts")
            for s in sheet.sections
            if title in s.title
            for item in s.items
            if not item.done
        ]
        assert sorted(boxed) == sorted(wanted)


def test_lock_in_tubes_are_eased_out() -> None:
    sheet, _ = sheet_of("hollin-lock-in-restored")
    (lock,) = [i for i in items(sheet, "Sockets") if "lock-in" in i.text]
    assert lock.refs == ("V1", "V2", "V3", "V4", "V5")


def test_the_expected_readings_are_those_of_the_solved_set() -> None:
    sheet, work = sheet_of("tansley-console-restored")
    point = work.point
    assert not isinstance(point, NotSolved)
    (supply,) = point.supplies
    said = " ".join(item.text for item in items(sheet, "Power, with"))
    assert amount(supply.volts, "V") in said
    grid = point.between("DRIVE", "CHASSIS")
    assert grid is not None
    assert amount(grid, "V") in said  # back bias: the cathode is on the chassis


def test_a_set_that_is_not_solved_gets_no_volts() -> None:
    text = "line none\nhold B1 250 V\nV1 6V6: plate PLATE, cathode CHASSIS\nR1 ?: B1 to PLATE\n"
    sheet = job_sheet(Workup(read(text)))
    assert sheet.solved is False
    said = [item.text for item in items(sheet, "Power, with")]
    assert any("not known" in each for each in said)
    assert not any(re.search(r"\d V\b", each) for each in said)


def test_an_accepted_warning_is_shown_with_its_reason() -> None:
    sheet, _ = sheet_of("ellernbach-live-restored")
    kept = [i for i in items(sheet, "kill") if "left as it is" in i.text]
    assert kept
    assert all(item.done for item in kept)


def test_dress_and_cover_come_before_the_alignment_and_it_names_the_if() -> None:
    sheet, _ = sheet_of("thorley-car-restored")
    assert any("262 kHz" in item.text for item in items(sheet, "Alignment"))
    assert any("bottom cover" in item.text for item in items(sheet, "Dress"))


def test_an_empty_text_still_has_a_sheet() -> None:
    sheet = job_sheet(Workup(read("")))
    assert sheet.sections


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_text_and_json_of_every_example(path: Path) -> None:
    schema = json.loads(run("jobsheet", "--schema").stdout)
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(
        json.loads(run("jobsheet", str(path), "--as", "json").stdout)
    )
    found = run("jobsheet", str(path))
    assert found.exit_code == 0
    assert max(width(line) for line in found.stdout.split("\n")) <= 78
    assert "lethal voltages" in found.stdout
