"""The charts as text and JSON, and the two commands, on every example."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from netcheck.cli import app
from netcheck.output.columns import width

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SETS = sorted(EXAMPLES.glob("*.chassis"))
LARKFIELD = str(EXAMPLES / "larkfield-five-restored.chassis")
UNSOLVED = "line 117 V 60 Hz\nmeasure from B-\nR1 ?: X1 to B-\nR2 1K: X1 to X2\n"


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


def validator(command: str) -> Draft202012Validator:
    found = json.loads(run(command, "--schema").stdout)
    Draft202012Validator.check_schema(found)
    return Draft202012Validator(found)


@pytest.mark.parametrize("command", ["volts", "ohms"])
@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_every_example_validates_and_fits_the_page(command: str, path: Path) -> None:
    quick = ["--no-band"] if command == "volts" else []
    found = run(command, str(path), "--as", "json", *quick)
    assert found.exit_code == 0, found.output
    document = json.loads(found.stdout)
    validator(command).validate(document)
    assert document["solved"]
    assert len(document["nodes"]) > 15
    text = run(command, str(path), *quick)
    assert text.exit_code == 0
    lines = text.stdout.split("\n")
    assert max(width(line) for line in lines) <= 78
    assert not [line for line in lines if line != line.rstrip() or "\t" in line]
    for tube in document["tubes"]:
        assert any(line.startswith(f"{tube['ref']} ") for line in lines)
    assert "lethal voltages" in text.stdout


def test_a_voltage_chart_with_its_band_validates() -> None:
    document = json.loads(run("volts", LARKFIELD, "--as", "json").stdout)
    validator("volts").validate(document)
    plate = _electrode(document, "V4", "plate")
    assert plate["low"] < plate["volts"] < plate["high"]
    assert (plate["pin"], plate["node"]) == (7, "T2.plate")
    assert plate["milliamps"] == pytest.approx(37, abs=6)
    assert document["conditions"]["meter_ohms"] == 11e6
    supply = document["supplies"][0]
    assert supply["rectifier"] == "V5"
    assert supply["no_load_volts"] > supply["dc_volts"] > 100
    assert supply["peak_inverse_volts"] > 1.8 * supply["dc_volts"]
    assert 0.15 < supply["line_amperes_rms"] < 0.5


def _electrode(document: dict, ref: str, name: str) -> dict:
    tube = next(each for each in document["tubes"] if each["ref"] == ref)
    return next(each for each in tube["electrodes"] if each["name"] == name)


def test_plate_watts_are_plate_to_cathode() -> None:
    document = json.loads(
        run("volts", LARKFIELD, "--as", "json", "--meter", "none", "--no-band").stdout
    )
    plate, cathode = (_electrode(document, "V4", name) for name in ("plate", "cathode"))
    tube = next(each for each in document["tubes"] if each["ref"] == "V4")
    expected = (plate["volts"] - cathode["volts"]) * plate["milliamps"] * 1e-3
    assert tube["plate_watts"] == pytest.approx(expected, rel=1e-9)


def test_the_conditions_stand_on_top() -> None:
    found = run(
        "volts", LARKFIELD, "--line", "124V", "--meter", "20k/V:250V", "--suppose", "R9 610K",
        "--no-band",
    )  # fmt: skip
    top = found.stdout.split("electrode")[0]
    for said in ("124 V 60 Hz", "20k/V 250V (5 meg)", "from  B-", "maximum", "none", "S1 ON",
                 "running", "R9 610K"):  # fmt: skip
        assert said in top


def test_the_text_says_what_went_cold() -> None:
    text = run("volts", LARKFIELD, "--no-band", "--suppose", "V2 pulled").stdout
    assert "With V2 out of its socket, the heaters of V1, V3, V4 and V5" in text
    assert "V2 12BA6: PULLED" in text
    assert "V4 50C5: COLD" in text


@pytest.mark.parametrize("command", ["volts", "ohms"])
@pytest.mark.parametrize("form", ["text", "json"])
def test_what_is_not_solved_tells_why_and_no_figure(command: str, form: str) -> None:
    found = run(command, "-", "--as", form, stdin=UNSOLVED)
    assert found.exit_code == 2
    assert "R1" in found.stdout
    if form == "json":
        document = json.loads(found.stdout)
        validator(command).validate(document)
        assert not document["solved"]
        assert (document["nodes"], document["tubes"]) == ([], [])
    else:
        assert "NOT SOLVED" in found.stdout
        assert "electrode" not in found.stdout


def test_the_schema_allows_no_figure_in_what_is_not_solved() -> None:
    document = json.loads(run("ohms", LARKFIELD, "--as", "json").stdout)
    document["solved"] = False
    assert list(validator("ohms").iter_errors(document))


@pytest.mark.parametrize("command", ["volts", "ohms"])
def test_a_file_that_is_not_there_is_no_chart(command: str) -> None:
    found = run(command, "nowhere.chassis")
    assert (found.exit_code, found.stdout) == (2, "")
    assert "there is no file nowhere.chassis" in found.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("volts",), "name a set"),
        (("ohms",), "name a set"),
        (("volts", LARKFIELD, "--meter", "banana"), "this is no meter|no value"),
        (("volts", LARKFIELD, "--line", "x"), "no word of the line"),
        (("volts", LARKFIELD, "--suppose", "R99 1K"), r"did you mean R9\?"),
        (("ohms", LARKFIELD, "--suppose", "V9 pulled"), "no part V9"),
    ],
)
def test_wrong_options_are_answered_in_a_sentence(arguments: tuple[str, ...], says: str) -> None:
    found = run(*arguments)
    assert (found.exit_code, found.stdout) == (2, "")
    assert re.search(says, found.stderr)


def test_a_set_from_standard_input_reads_like_the_file() -> None:
    text = Path(LARKFIELD).read_text("utf-8")
    piped = json.loads(run("ohms", "-", "--as", "json", stdin=text).stdout)
    named = json.loads(run("ohms", LARKFIELD, "--as", "json").stdout)
    assert piped["nodes"] == named["nodes"]
    assert piped["file"] == "<stdin>"


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    target = tmp_path / "chart.txt"
    assert run("ohms", LARKFIELD, "-o", str(target)).exit_code == 0
    before = target.read_text("utf-8")
    assert "RESISTANCE CHART" in before
    again = run("ohms", LARKFIELD, "-o", str(target), "--as", "json")
    assert again.exit_code == 2
    assert "--replace" in again.stderr
    assert target.read_text("utf-8") == before
    assert run("ohms", LARKFIELD, "-o", str(target), "--replace").exit_code == 0
    copy = tmp_path / "set.chassis"
    copy.write_text(Path(LARKFIELD).read_text("utf-8"), "utf-8")
    assert run("ohms", str(copy), "-o", str(copy), "--replace").exit_code == 2


def test_the_reading_before_power_stands_on_top() -> None:
    text = run("ohms", str(EXAMPLES / "tansley-console-restored.chassis")).stdout
    before = text.split("electrode")[0]
    assert "B+ to CT: 55.3K" in before
    assert "Below 44.2K" in before
    assert "infinite" in run("ohms", LARKFIELD).stdout.split("electrode")[0]
    assert "Electrolytics (C1A, C1B)" in " ".join(run("ohms", LARKFIELD).stdout.split())


def test_names_that_could_act_on_a_terminal_are_shown_harmless() -> None:
    text = Path(LARKFIELD).read_text("utf-8").replace("Larkfield five", "Lark\x1b[31mfield")
    assert "\x1b" not in run("ohms", "-", stdin=text).stdout
