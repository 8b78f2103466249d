"""What several tests of single rules need: one rule run over a text that can be read."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.language import read
from netcheck.rules import builtin
from netcheck.rules._runner import Report, lint

Linted = Callable[[str, str], Report]
_RULES = {rule.name: rule for rule in builtin()}


@pytest.fixture(scope="session")
def linted() -> Linted:
    """Run one rule, by its name, over a text; a text that cannot be read proves nothing."""

    def run(name: str, text: str) -> Report:
        chassis = read(text)
        assert not chassis.findings, [found.message for found in chassis.findings]
        return lint(chassis, [_RULES[name]])

    return run
