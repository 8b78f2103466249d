"""The command as a program over real pipes: stdout, stderr, status, and no traceback ever."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from netcheck.output.columns import width

from .terminal import read_to_the_end

SET = """\
set "Larkfield five"
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
C21 .05 mfd 400 V paper: B- to CHASSIS
"""


@pytest.fixture
def a_set(tmp_path: Path) -> str:
    (tmp_path / "mine.chassis").write_text(SET)
    return "mine.chassis"


def test_a_pipe_gets_plain_text_of_78_columns(netcheck: Any, a_set: str) -> None:
    done = netcheck("lint", a_set)
    assert done.returncode == 1, done.stderr
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert max(width(line) for line in done.stdout.splitlines()) <= 78
    assert "C21" in done.stdout


def test_json_fits_the_schema_the_command_prints(netcheck: Any, a_set: str) -> None:
    schema = json.loads(netcheck("lint", "--schema").stdout)
    done = netcheck("lint", a_set, "--as", "json")
    assert done.stderr == ""
    jsonschema.Draft202012Validator(schema).validate(json.loads(done.stdout))


@pytest.mark.parametrize("command", ["why", "tube"])
def test_the_other_commands_fit_their_schemas(netcheck: Any, command: str) -> None:
    schema = json.loads(netcheck(command, "--schema").stdout)
    arguments = ["35W4"] if command == "tube" else []
    done = netcheck(command, *arguments, "--as", "json")
    assert done.returncode == 0, done.stderr
    jsonschema.Draft202012Validator(schema).validate(json.loads(done.stdout))


def test_the_same_set_gives_the_same_bytes_in_another_process(netcheck: Any, a_set: str) -> None:
    once = netcheck("lint", a_set, "--as", "json", PYTHONHASHSEED="1")
    again = netcheck("lint", a_set, "--as", "json", PYTHONHASHSEED="2")
    assert once.stdout == again.stdout


def test_standard_input_gives_the_same_findings_as_the_file(netcheck: Any, a_set: str) -> None:
    from_file = json.loads(netcheck("lint", a_set, "--as", "json").stdout)["sets"][0]
    from_pipe = json.loads(netcheck("lint", "-", "--as", "json", stdin=SET).stdout)["sets"][0]
    assert from_pipe["file"] == "<stdin>"
    assert [f["fingerprint"] for f in from_pipe["findings"]] == [
        f["fingerprint"] for f in from_file["findings"]
    ]


WEIRD: dict[str, bytes] = {
    "empty": b"",
    "one blank": b" ",
    "newlines": b"\n" * 1000,
    "binary": bytes(range(256)) * 40,
    "nul": b"R1 470K: A to B\n\0\0\0\n",
    "no line end": b"R1 470K: A to",
    "utf-16": 'set "x"\n'.encode("utf-16"),
    "bom": b"\xef\xbb\xbf" + SET.encode(),
    "cr only": SET.replace("\n", "\r").encode(),
    "five megabytes": b"R1 470K 1/2 W: A to B\n" * 240_000,
    "one long line": b"R1 " + b"470K, " * 10_000 + b": A to B",
    "many commas": b"R1 470K:" + b"," * 3000,
    "escape codes": b'set "\x1b]0;owned\x07"\nR1 \x1b[31m470K: A to B\n',
    "deep": b"C1 " + b"(" * 5000 + b")" * 5000 + b": A to B\n",
}


@pytest.mark.parametrize("content", WEIRD.values(), ids=WEIRD.keys())
@pytest.mark.parametrize("form", ["text", "json"])
def test_no_content_ends_in_a_traceback(
    netcheck: Any, tmp_path: Path, content: bytes, form: str
) -> None:
    (tmp_path / "odd.chassis").write_bytes(content)
    done = netcheck("lint", "odd.chassis", "--as", form)
    assert done.returncode in (0, 1, 2)
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    if form == "json":
        json.loads(done.stdout)


def test_a_file_over_the_size_limit_exits_2(netcheck: Any, tmp_path: Path) -> None:
    (tmp_path / "big.chassis").write_bytes(WEIRD["five megabytes"])
    assert netcheck("lint", "big.chassis").returncode == 2
    assert netcheck("lint", "-", stdin=WEIRD["five megabytes"]).returncode == 2


@pytest.mark.parametrize(
    "name", ["gone", "\x1b[31mred", "no\nline", "\u202egnp", "", " ", "x" * 5000, "a/b/c", "\udcff"]
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_no_file_name_ends_in_a_traceback(netcheck: Any, name: str, form: str) -> None:
    done = netcheck("lint", "--as", form, "--", name)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr + done.stdout
    assert not {"\x1b", "\u202e"} & set(done.stdout + done.stderr)


@pytest.mark.parametrize("command", ["why", "tube"])
@pytest.mark.parametrize("name", ["\x1b[31mred", "\u202egnp", "", "x" * 5000, "\udcff", "a/b"])
def test_no_rule_or_tube_name_ends_in_a_traceback(netcheck: Any, command: str, name: str) -> None:
    done = netcheck(command, "--", name)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "fault of netcheck" not in done.stderr
    assert not {"\x1b", "\u202e"} & set(done.stderr)


@pytest.mark.parametrize(
    "option", ["--only", "--without", "--from", "--fail-on", "--policy", "--known", "--as"]
)
@pytest.mark.parametrize("value", ["\x1b[31mred", "\u202egnp", "", "\udcff"])
def test_no_value_of_an_option_ends_in_a_traceback(
    netcheck: Any, a_set: str, option: str, value: str
) -> None:
    done = netcheck("lint", a_set, option, value)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "fault of netcheck" not in done.stderr
    assert not {"\x1b", "\u202e"} & set(done.stderr)


def test_a_folder_named_like_a_set_is_a_folder(netcheck: Any, tmp_path: Path) -> None:
    (tmp_path / "folder.chassis").mkdir()
    done = netcheck("lint", "folder.chassis")
    assert done.returncode == 2
    assert "below this folder" in done.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_a_sentence(a_set: str, tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "lint", a_set],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            check=False,
        )
    assert done.returncode == 2
    assert b"could not be written" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_reader_that_goes_away_is_met_with_silence(a_set: str, tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "lint", a_set],
            stdout=writing,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            check=False,
        )
    finally:
        os.close(writing)
    assert done.stderr == b""


def test_a_terminal_that_speaks_only_ascii_still_gets_the_report(
    netcheck: Any, tmp_path: Path
) -> None:
    (tmp_path / "odd.chassis").write_text('set "\u96fb"\n' + SET, encoding="utf-8")
    done = netcheck("lint", "odd.chassis", PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert done.stderr == ""
    assert done.stdout.isascii()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(("no_colour", "coloured"), [("", True), ("1", False)])
def test_a_terminal_gets_colour_unless_told_not_to(
    a_set: str, tmp_path: Path, no_colour: str, coloured: bool
) -> None:
    import pty

    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "netcheck", "lint", a_set],
        stdout=theirs,
        cwd=tmp_path,
        env={**os.environ, "NO_COLOR": no_colour, "TERM": "xterm"},
    ):
        os.close(theirs)
        shown = read_to_the_end(ours)
    assert b"Before you touch the set" in shown
    assert (b"\x1b[" in shown) is coloured
