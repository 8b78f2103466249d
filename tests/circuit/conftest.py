"""Reads a small set for the tests of the wiring."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.circuit.wiring import Wiring
from netcheck.language import read

Wired = Callable[[str], Wiring]


@pytest.fixture(scope="session")
def wired() -> Wired:
    """Text -> Wiring; a slip in a test's own text fails the test."""

    def wire(text: str) -> Wiring:
        chassis = read(text)
        assert not [f"{f.span.line}: {f.message}" for f in chassis.findings]
        return Wiring(chassis)

    return wire
