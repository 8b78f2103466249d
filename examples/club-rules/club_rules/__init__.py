"""What an invented radio club adds to netcheck; the entry points of pyproject.toml lead here.

Belongs here: the callables that netcheck asks. Does not belong here: the rules and data themselves.
"""

from __future__ import annotations

from pathlib import Path

from netcheck import Rule

__all__ = ["data", "rules"]


def rules() -> list[Rule]:
    """Return the house rules."""
    from club_rules.house import film_under_630, keeper_missing

    return [film_under_630.check, keeper_missing.check]


def data() -> Path:
    """Return the folder of our tube types, in the form of netcheck's catalogue."""
    return Path(__file__).parent / "data"
