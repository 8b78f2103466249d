"""The README tells the truth: every command it shows gives the output it shows."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

README = Path(__file__).resolve().parent.parent / "README.md"
BLOCKS = re.findall(r"^```console\n(.*?)^```", README.read_text("utf-8"), re.MULTILINE | re.DOTALL)
# A line of dots stands for lines that are left out.
CUT = "[...]"


@pytest.mark.parametrize("block", BLOCKS, ids=[block.split("\n")[0][2:40] for block in BLOCKS])
def test_a_command_of_the_readme_gives_what_it_shows(block: str, checkout: Path) -> None:
    command, *shown = block.rstrip("\n").split("\n")
    words = shlex.split(command.removeprefix("$ "))
    assert words[0] == "netcheck"

    done = subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, cwd=checkout, check=False
    )

    pattern = "\n".join(".*" if line == CUT else re.escape(line) for line in shown)
    found = re.fullmatch(pattern, done.stdout.rstrip("\n"), re.DOTALL)
    assert found, f"{command} now gives:\n{done.stdout}"


def test_the_readme_shows_commands() -> None:
    assert len(BLOCKS) >= 4
