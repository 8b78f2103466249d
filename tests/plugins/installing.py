"""Distributions made up for a test, seen by a process as if they were installed.

Belongs here: writing one to a folder. Does not belong here: what any of them brings.
"""

from __future__ import annotations

import os
import textwrap
from collections.abc import Mapping
from pathlib import Path

RULE = '''
"""A rule of the club.

Why: It is there so that a test sees it fire, and it matters to nobody else at all.
False alarm: Always, it is made up.
Source: common practice, no source.
"""
from netcheck import Harm, rule


@rule(harm=Harm.RECORD)
def check(case):
    for part in case.chassis.of_kind("resistor"):
        yield case.finding(f"{part.ref} is seen", part.span, action="none", parts=(part.ref,))
'''


def install(
    folder: Path, name: str, groups: Mapping[str, Mapping[str, str]], files: Mapping[str, str]
) -> dict[str, str]:
    """Write a distribution `name` 1.2 and return the environment in which it is installed.

    `groups` maps entry point groups to names and objects, `files` paths to texts.
    """
    record = folder / f"{name.replace('-', '_')}-1.2.dist-info"
    record.mkdir()
    (record / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.2\n")
    lines = []
    for group, entries in groups.items():
        lines += [f"[{group}]", *(f"{entry} = {target}" for entry, target in entries.items())]
    (record / "entry_points.txt").write_text("\n".join(lines) + "\n")
    for path, text in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(textwrap.dedent(text))
    paths = [str(folder), *filter(None, [os.environ.get("PYTHONPATH")])]
    return {"PYTHONPATH": os.pathsep.join(paths)}
