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
from netcheck.findings import Harm, NotSolved
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
    order = ["kill", "Cold", "Resistors", "Sockets", "Power filters", "Other parts", "Power, with",
             "Dress", "Alignment, last", "Soak"]  # fmt: skip
    at = [said.index(word) for word in order]
    assert at == sorted(at)


def test_what_is_renewed_is_ticked_and_what_is_not_is_open() -> None:
    found, _ = sheet_of("larkfield-five-as-found")
    restored, _ = sheet_of("larkfield-five-restored")
    assert not any(item.done for item in items(found, "Power filters"))
    assert any("discharged" in item.text for item in items(found, "Power filters"))  # the test
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
            if not item.done and item.refs
        ]
        assert sorted(boxed) == sorted(wanted)


def texts(name: str, title: str) -> str:
    return "\n".join(item.text for item in items(sheet_of(name)[0], title))


def test_a_wrong_tube_is_seen_to_first_and_not_confirmed_in_its_socket() -> None:
    assert "V2: fit the type of 150 mA" in texts("hollin-lock-in-as-found", "fitted wrong")
    sockets = texts("hollin-lock-in-as-found", "Sockets")
    assert "V2 7A7" not in sockets  # it fits the socket and is not the type that belongs there
    assert "V1 14Q7" in sockets


def test_what_no_new_part_of_the_list_mends_is_on_the_sheet() -> None:
    assert "CR1: fit a silicon diode" in texts("plovermere-three-way-as-found", "fitted wrong")
    assert "BT2: fit a battery of 67.5 V" in texts("marram-portable-as-found", "fitted wrong")


def test_every_finding_that_asks_for_something_is_on_the_sheet() -> None:
    for path in SETS:
        sheet, work = sheet_of(path.stem)
        said = "\n".join(item.text for s in sheet.sections for item in s.items)
        for each in work.report.findings:
            if each.harm is Harm.RECORD or not each.action or each.accepted is not None:
                continue
            boxed = any(f"{ref}: fit" in said or f"{ref}: left" in said for ref in each.parts)
            assert boxed or each.action in said, (path.stem, each.rule, each.action)


def test_the_part_that_must_go_goes_with_the_new_one() -> None:
    filters = texts("larkfield-five-as-found", "Power filters")
    assert "C1A: fit 33 mfd 160 V electrolytic, plus B1, minus B-; take C23 out" in filters
    kill = texts("plovermere-three-way-as-found", "kill")
    assert "C27" not in kill  # "fit a part of 10 V" would keep what the list takes out


def test_a_filter_minus_on_metal_is_put_on_the_return_and_nowhere_else() -> None:
    sheet, _ = sheet_of("hollin-lock-in-as-found")
    said = [item.text for s in sheet.sections for item in s.items if item.text.startswith("C23")]
    assert said == ["C23: put its minus on B-"]


def test_what_spares_a_tube_goes_in_before_the_first_test() -> None:
    for name, ref in (("larkfield-five-as-found", "C14"), ("thorley-car-as-found", "C33")):
        first = {ref for item in items(sheet_of(name)[0], "Power filters") for ref in item.refs}
        assert ref in first  # the coupling to the output tube; the vibrator's buffer
    car = items(sheet_of("thorley-car-as-found")[0], "Power filters")
    assert {"C2A", "C2B", "C2C"} <= {ref for item in car for ref in item.refs}  # one can


@pytest.mark.parametrize(
    ("name", "live"),
    [("larkfield-five-restored", True), ("ellernbach-live-restored", True),
     ("tansley-console-restored", False), ("marram-portable-restored", False)],
)  # fmt: skip
def test_a_set_on_the_line_asks_for_an_isolation_transformer(name: str, live: bool) -> None:
    assert ("isolation transformer" in texts(name, "Power, with")) is live
    assert ("isolation transformer" in texts(name, "Alignment")) is live


def test_a_battery_set_lights_its_filaments_first() -> None:
    said = texts("marram-portable-restored", "Power, with")
    assert said.startswith("filaments first")
    assert "from BT2" in said
    assert "own filament" in said  # of a filament tube nobody finds a cathode pin


def test_a_reading_ticks_the_first_winding_only() -> None:
    sheet, _ = sheet_of("tansley-console-as-found")
    read = {i.text: i.done for i in items(sheet, "Cold") if i.refs == ("T2",)}
    assert list(read.values()) == [True, False]
    assert any("measured 410 ohm" in text for text in read)


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


def test_it_names_what_was_assumed() -> None:
    sheet, work = sheet_of("tansley-console-as-found")
    assert sheet.assumed == work.report.assumed
    assert (
        "primary volts"
        in run("jobsheet", str(EXAMPLES / "tansley-console-as-found.chassis")).stdout
    )


# --- what the next repairer missed on the sheets of the examples


@pytest.mark.parametrize(
    ("name", "title", "said"),
    [
        ("tansley-console-restored", "Cold", "T1 high: 180 ohm to the tap, each half"),
        ("thorley-car-restored", "Cold", "T1 high: 230 ohm to the tap, each half"),
        ("ellernbach-live-restored", "Resistors", "R1, heater dropper: 200-700-68 ohm, section"),
        ("ellernbach-live-restored", "Resistors", "R4, filter or decoupling: 1.5K, between"),
        ("plovermere-three-way-restored", "Resistors", "R14, across a heater or lamp: 300 ohm"),
        ("ellernbach-live-restored", "Sockets", "S2: stands at 240 (the text's line: 230 V)"),
        ("ellernbach-live-restored", "Sockets", "F1 400 mA 250 V slow: this fuse and no larger"),
        ("pennick-phonograph-restored", "Sockets", "R5: clean the track"),  # both halves at once
        ("thorley-car-restored", "Power filters", "F1: 10 A 32 V fast, new"),
        ("thorley-car-restored", "Know the set", "do not join its batteries to try it"),
        ("thorley-car-restored", "Power, with", "BT1 gives 3.36 A; above 4.37 A: switch off"),
        ("marram-portable-restored", "Power, with", "no tube in or out with a supply on"),
        ("plovermere-three-way-restored", "Power, with", "then on its batteries"),
        ("hollin-lock-in-restored", "What would play or last better", "V4: move the tube"),
        ("hollin-lock-in-restored", "Soak", "at the wall, back on: B- to earth reads nearly 0 V"),
    ],
)
def test_what_a_restored_set_asks_for_stands_on_its_sheet(name: str, title: str, said: str) -> None:
    sheet, _ = sheet_of(name)
    assert [item.text for item in items(sheet, title) if item.text.startswith(said)] != []


def test_what_is_not_so_in_a_set_is_not_on_its_sheet() -> None:
    said = {name: " ".join(item.text for s in sheet_of(name)[0].sections for item in s.items)
            for name in ("tansley-console-restored", "hollin-lock-in-restored")}  # fmt: skip
    assert "BT" not in said["tansley-console-restored"]
    assert "at the wall" not in said["tansley-console-restored"]
    assert "tube in or out" not in said["hollin-lock-in-restored"]
    assert not any(
        "wired or fitted" in s.title for s in sheet_of("hollin-lock-in-restored")[0].sections
    )


def test_the_amperes_of_a_battery_are_those_of_the_set() -> None:
    sheet, work = sheet_of("thorley-car-restored")
    assert not isinstance(work.point, NotSolved)
    drawn = abs(work.point.amperes("BT1") or 0.0)
    assert drawn > 3.0
    assert any(f"BT1 gives {amount(drawn, 'A')};" in i.text for i in items(sheet, "Power, with"))
