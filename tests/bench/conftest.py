"""Sets for the papers of the bench.

Belongs here: reading the examples once, small sets of our own invention. Does not belong here:
what a chart must say.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from netcheck.chassis import Chassis
from netcheck.language import read_file

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@cache
def example(name: str) -> Chassis:
    """One of the example sets."""
    return read_file(EXAMPLES / f"{name}.chassis")


@pytest.fixture
def larkfield() -> Chassis:
    """The five-tube transformerless set, restored."""
    return example("larkfield-five-restored")


@pytest.fixture
def tansley() -> Chassis:
    """The console with a power transformer and back bias, restored."""
    return example("tansley-console-restored")


@pytest.fixture
def marram() -> Chassis:
    """The battery portable with filaments in parallel, restored."""
    return example("marram-portable-restored")
