"""One rule a file; the file name is the rule name.

Files that begin with an underscore are the machinery: what a rule is (_base), running them
(_runner). `builtin` is the entry point through which netcheck's own rules are loaded.
"""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from netcheck.rules._base import Rule

__all__ = ["builtin"]


def builtin() -> list[Rule]:
    """Return netcheck's own rules: the `check` of every module of this package."""
    rules: list[Rule] = []
    for module in iter_modules(__path__):
        if not module.name.startswith("_"):
            rules.append(import_module(f"{__name__}.{module.name}").check)
    return rules
