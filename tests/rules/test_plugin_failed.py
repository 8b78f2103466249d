"""What could not be loaded is said with every set."""

from __future__ import annotations

import pytest

from netcheck.language import read
from netcheck.rules._runner import lint
from netcheck.rules.plugin_failed import check


def test_each_fault_is_said_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("netcheck.plugins.faults", lambda: ("one fails", "another fails"))
    report = lint(read("R1 1K 1 W: B+ to B-\n", "x.chassis"), [check])
    assert [each.reason for each in report.not_checked if each.rule == "plugin-failed"] == [
        "one fails",
        "another fails",
    ]
    assert not [each for each in report.findings if each.rule == "plugin-failed"]
