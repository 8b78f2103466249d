"""Tells which values and ratings can be bought.

Belongs here: the E series of IEC 60063, standard ratings of parts and fuses. Does not belong here:
which rating a place needs (rules/).
"""

from __future__ import annotations

import math

from netcheck.catalog.tables import CatalogueError, read_toml

__all__ = ["nearest_preferred", "next_rating", "rating_kinds", "ratings", "series"]


def series(name: str) -> tuple[float, ...]:
    """Return one decade of a series (`E6`, `E12`, `E24`). Raises CatalogueError for another."""
    values = read_toml("preferred.toml")["series"].get(name.upper())
    if not isinstance(values, list):
        raise CatalogueError(f"no series of preferred values is called {name!r}")
    return tuple(values)


def nearest_preferred(value: float, name: str = "E12") -> float:
    """Return the value of series `name` nearest to `value` by ratio, in the unit of `value`.

    Raises ValueError when `value` is not a positive number, CatalogueError for an unknown series.
    """
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"a preferred value must be a positive number, not {value}")
    decade = math.floor(math.log10(value))
    candidates = [
        float(f"{digits}e{power}")
        for power in (decade - 1, decade, decade + 1)
        for digits in series(name)
    ]
    return min(candidates, key=lambda candidate: abs(math.log(candidate / value)))


def rating_kinds() -> tuple[str, ...]:
    """Return the kinds that `ratings` and `next_rating` know."""
    return tuple(read_toml("preferred.toml")["rating"])


def ratings(kind: str) -> tuple[float, ...]:
    """Return the standard ratings of `kind` (`film-dc`, `fuse-ul`, ...), rising.

    Raises CatalogueError for an unknown kind.
    """
    record = read_toml("preferred.toml")["rating"].get(kind)
    if record is None:
        raise CatalogueError(f"no ratings are listed for {kind!r}")
    return tuple(record["values"])


def next_rating(amount: float, kind: str) -> float | None:
    """Return the lowest standard rating of `kind` that is not below `amount`, None above the last.

    Volts for capacitors and fuse volts, amperes for fuses, watts for resistors.
    """
    return next((rating for rating in ratings(kind) if rating >= amount), None)
