"""The public face of netcheck: read a chassis from text, lint it, see what was found.

Belongs here: the names a program may import, each loaded when it is first asked for, so that
`import netcheck` costs next to nothing. Does not belong here: anything else.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from netcheck.chassis import Chassis
    from netcheck.circuit import Circuit
    from netcheck.findings import (
        Calculation,
        Finding,
        Harm,
        NetcheckError,
        NotChecked,
        Related,
        Signal,
    )
    from netcheck.language import read, read_file
    from netcheck.rules._base import Case, Example, Option, Rule, rule
    from netcheck.rules._runner import Report, lint
    from netcheck.streaming import lint_files

__version__ = "0.1.0"

__all__ = [
    "Calculation",
    "Case",
    "Chassis",
    "Circuit",
    "Example",
    "Finding",
    "Harm",
    "NetcheckError",
    "NotChecked",
    "Option",
    "Related",
    "Report",
    "Rule",
    "Signal",
    "__version__",
    "lint",
    "lint_files",
    "read",
    "read_file",
    "rule",
]


def __getattr__(name: str) -> Any:
    """Load a public name from the module it lives in."""
    match name:
        case "read" | "read_file":
            home = "netcheck.language"
        case "Report" | "lint":
            home = "netcheck.rules._runner"
        case "Case" | "Example" | "Option" | "Rule" | "rule":
            home = "netcheck.rules._base"
        case "lint_files":
            home = "netcheck.streaming"
        case "Chassis":
            home = "netcheck.chassis"
        case "Circuit":
            home = "netcheck.circuit"
        case (
            "Calculation" | "Finding" | "Harm" | "NetcheckError" | "NotChecked" | "Related"
            | "Signal"
        ):  # fmt: skip
            home = "netcheck.findings"
        case _:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(home), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
