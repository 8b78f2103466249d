"""Installed distributions: what they bring is used, what fails stops nothing and is told."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from .installing import RULE, install

SET = "line none\nR1 1K 1 W 10%: B+ to B-\nR2 1K 1 W 10%: B+ to B-\n"
RULES = {"netcheck.rules": {"club": "club:rules"}}
MODULE = "from club_rules_x import seen\ndef rules():\n    return [seen.check]\n"


def club(folder: Path, module: str = MODULE, name: str = "club-rules") -> dict[str, str]:
    files = {"club.py": module, "club_rules_x/__init__.py": "", "club_rules_x/seen.py": RULE}
    return install(folder, name, RULES, files)


@pytest.fixture
def a_set(tmp_path: Path) -> str:
    (tmp_path / "mine.chassis").write_text(SET)
    return "mine.chassis"


def test_a_rule_of_another_distribution_runs_and_says_whose_it_is(
    netcheck: Any, a_set: str, tmp_path: Path
) -> None:
    env = club(tmp_path)
    assert "R1 is seen" in netcheck("lint", a_set, **env).stdout
    page = netcheck("why", "seen", "--as", "json", **env)
    assert json.loads(page.stdout)["rules"][0]["distribution"] == "club-rules"
    assert "(brought by club-rules)" in " ".join(netcheck("why", **env).stdout.split())


def test_plugins_lists_what_is_loaded_from_where(netcheck: Any, tmp_path: Path) -> None:
    env = club(tmp_path)
    done = netcheck("plugins", **env)
    assert (done.returncode, done.stderr) == (0, "")
    assert "club-rules 1.2, entry point club\n      1: seen" in done.stdout
    schema = json.loads(netcheck("plugins", "--schema", **env).stdout)
    told = json.loads(netcheck("plugins", "--as", "json", **env).stdout)
    jsonschema.Draft202012Validator(schema).validate(told)
    own, other = told["plugins"]
    assert own["distribution"] == "netcheck"
    assert len(own["names"]) > 40
    assert other["names"] == ["seen"]


FAILING = {
    "not importable": "import no_such_module_at_all\n",
    "leaves Python": "import sys\nsys.exit(3)\n",
    "no such name": "x = 1\n",
    "raises when called": "def rules():\n    raise ZeroDivisionError('by nothing')\n",
    "fails late": "def rules():\n    yield from ()\n    raise ZeroDivisionError('late')\n",
    "returns nothing": "def rules():\n    return None\n",
    "returns no rules": "def rules():\n    return ['text']\n",
    "no syntax": "def rules(:\n",
}


@pytest.mark.parametrize("module", FAILING.values(), ids=FAILING.keys())
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_distribution_that_fails_stops_nothing_and_is_told_with_every_set(
    netcheck: Any, a_set: str, tmp_path: Path, module: str, form: str
) -> None:
    env = club(tmp_path, module)
    done = netcheck("lint", a_set, "--as", form, **env)
    assert (done.returncode, done.stderr) == (0, "")
    if form == "json":
        (told,) = json.loads(done.stdout)["sets"]
        assert "the rules of club-rules" in " ".join(
            each["reason"] for each in told["not_checked"] if each["rule"] == "plugin-failed"
        )
    else:
        assert "plugin-failed: the rules of club-rules" in " ".join(done.stdout.split())
    listed = netcheck("plugins", **env)
    assert listed.returncode == 2
    assert "Could not be loaded" in listed.stdout


def test_a_rule_whose_name_is_taken_is_refused_by_name_and_the_others_stay(
    netcheck: Any, a_set: str, tmp_path: Path
) -> None:
    module = (
        "from dataclasses import replace\nfrom club_rules_x import seen\n"
        "def rules():\n    return [replace(seen.check, name='loose-end'), seen.check,\n"
        "            replace(seen.check, name='Bad Name')]\n"
    )
    done = netcheck("lint", a_set, **club(tmp_path, module))
    said = " ".join(done.stdout.split())
    assert "R1 is seen" in said
    assert "the rule loose-end of club-rules is left out: netcheck has one of that name" in said
    assert "'Bad Name' cannot be the name of a rule" in said


def test_a_rule_that_fails_to_be_loaded_is_named_where_it_is_asked_for(
    netcheck: Any, a_set: str, tmp_path: Path
) -> None:
    env = club(tmp_path, FAILING["not importable"])
    for command in (("why", "seen"), ("lint", a_set, "--only", "seen")):
        done = netcheck(*command, **env)
        assert (done.returncode, done.stdout) == (2, "")
        assert "no rule is called seen" in done.stderr
        assert "no_such_module_at_all" in done.stderr


WRITER = """
def write(reports):
    yield "rule,line"
    for report in reports:
        for found in report.findings:
            yield f"{found.rule},{found.span.line}"

def broken(reports):
    yield "first"
    raise ValueError("nothing more")

def numbers(reports):
    yield 1

def lazy(reports):
    return []
"""


def writers(folder: Path) -> dict[str, str]:
    names = {"club": "write", "broken": "broken", "numbers": "numbers", "lazy": "lazy"}
    entries = {name: f"club_writer:{function}" for name, function in names.items()}
    entries |= {"json": "club_writer:write", "gone": "club_writer:gone"}
    files = {"club_writer.py": WRITER}
    return install(folder, "club-writer", {"netcheck.output": entries}, files)


def test_a_writer_writes_what_was_found(netcheck: Any, a_set: str, tmp_path: Path) -> None:
    (tmp_path / a_set).write_text(SET + "R3 1K 1 W 10%: B+ to LOST\n")
    env = writers(tmp_path)
    done = netcheck("lint", a_set, "--as", "club", **env)
    assert done.stderr == ""
    assert done.stdout.splitlines()[0] == "rule,line"
    assert "loose-end,4" in done.stdout.splitlines()
    assert netcheck("lint", a_set, "--as", "club", "-o", "out.csv", **env).stdout == ""
    assert "loose-end,4" in (tmp_path / "out.csv").read_text()


@pytest.mark.parametrize(("form", "said"), [("broken", "nothing more"), ("numbers", "lines")])
def test_a_writer_that_fails_is_a_sentence(
    netcheck: Any, a_set: str, tmp_path: Path, form: str, said: str
) -> None:
    done = netcheck("lint", a_set, "--as", form, **writers(tmp_path))
    assert done.returncode == 2
    assert f"the writer {form} of club-writer failed" in done.stderr
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_writer_that_looks_at_nothing_changes_no_exit_status(
    netcheck: Any, a_set: str, tmp_path: Path
) -> None:
    (tmp_path / a_set).write_text("R1 ][: A to B\n")
    done = netcheck("lint", a_set, "--as", "lazy", **writers(tmp_path))
    assert (done.returncode, done.stdout) == (2, "")


def test_a_writer_that_is_unknown_fails_or_is_taken_is_told(
    netcheck: Any, a_set: str, tmp_path: Path
) -> None:
    env = writers(tmp_path)
    done = netcheck("lint", a_set, "--as", "clubb", **env)
    assert done.returncode == 2
    assert "did you mean club?" in done.stderr
    assert "the writer of club-writer (entry point 'gone') could not be loaded" in done.stderr
    assert "the writer json of club-writer is left out" in netcheck("plugins", **env).stdout
    assert json.loads(netcheck("lint", a_set, "--as", "json", **env).stdout)["shape"] == 1


def test_a_lint_without_plugins_looks_through_the_distributions_once(checkout: Path) -> None:
    script = (
        "import sys, netcheck.entries as e\n"
        "seen, look = [], e.entry_points\n"
        "e.entry_points = lambda: (seen.append(1), look())[1]\n"
        "from netcheck.cli import app\n"
        "app(['lint', sys.argv[1]], standalone_mode=False)\n"
        "assert len(seen) == 1, seen\n"
        "unused = ('netcheck.output.known', 'netcheck.output.plugins', 'netcheck.testing')\n"
        "assert not [name for name in unused if name in sys.modules]\n"
    )
    file = checkout / "examples" / "larkfield-five-restored.chassis"
    done = subprocess.run(
        [sys.executable, "-c", script, str(file)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
