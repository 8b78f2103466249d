"""The example distribution, as if installed: its entry points are found and each does its work."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest

from .installing import install

SET = 'set "Kitchen five"\nline none\nC14 .01 mfd 400 V film, new: X1 to X2\n'


@pytest.fixture
def env(tmp_path: Path, checkout: Path) -> dict[str, str]:
    home = checkout / "examples" / "club-rules"
    project = tomllib.loads((home / "pyproject.toml").read_text("utf-8"))["project"]
    made = install(tmp_path, project["name"], project["entry-points"], {})
    return {"PYTHONPATH": os.pathsep.join((made["PYTHONPATH"], str(home)))}


def test_all_of_it_is_listed_and_nothing_failed(netcheck: Any, env: dict[str, str]) -> None:
    done = netcheck("plugins", "--as", "json", **env)
    assert (done.returncode, done.stderr) == (0, "")
    ours = [p for p in json.loads(done.stdout)["plugins"] if p["distribution"] == "club-rules"]
    assert [each["names"] for each in ours] == [
        ["film-under-630", "keeper-missing"],
        ["12A6", "6AG5"],
        ["bench-card"],
    ]


def test_its_rules_run_with_their_options_and_its_writer_writes(
    netcheck: Any, env: dict[str, str]
) -> None:
    (told,) = json.loads(netcheck("lint", "-", "--as", "json", stdin=SET, **env).stdout)["sets"]
    assert {"film-under-630", "keeper-missing"} <= {each["rule"] for each in told["findings"]}
    least = ("--policy", "film-under-630 least 400")
    mild = netcheck("lint", "-", "--as", "json", *least, stdin=SET, **env)
    (told,) = json.loads(mild.stdout)["sets"]
    assert "film-under-630" not in {each["rule"] for each in told["findings"]}
    card = netcheck("lint", "-", "--as", "bench-card", stdin=SET, **env)
    assert "[ ] NOTICE C14: fit one of 630 V from the drawer" in card.stdout


def test_its_tubes_say_that_they_are_from_memory(netcheck: Any, env: dict[str, str]) -> None:
    tube = json.loads(netcheck("tube", "12A6", "--as", "json", **env).stdout)["tube"]
    assert tube["sources"]
    assert all(each["from_memory"] for each in tube["sources"])
