"""Tells which safety class each place between line and hand takes, and what the classes mean.

Belongs here: the classes of IEC 60384-14 per edition, the ladder of duties, the AC rating of film
parts. Does not belong here: finding such places in a set (rules/), leakage current (circuit/).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from netcheck.catalog.tables import CatalogueError, read_toml

__all__ = [
    "ClassInfo",
    "RatedRange",
    "accepts",
    "class_info",
    "duties",
    "film_ac_rating_v",
    "policies",
    "required_text",
]

_Y4_LINE_V = 150.0


@dataclass(frozen=True, slots=True)
class RatedRange:
    """The AC volts a class may be rated for in one edition of IEC 60384-14 (None = no bound)."""

    edition: str
    source: str
    from_v: float | None = None
    to_v: float | None = None


@dataclass(frozen=True, slots=True)
class ClassInfo:
    """A class: the insulation it may bridge, peaks in volts, rated range per edition."""

    name: str
    insulation: str
    source: str
    service_peak_over_v: float | None = None
    service_peak_v: float | None = None
    impulse_v: float | None = None
    impulse_note: str = ""
    note: str = ""
    rated: tuple[RatedRange, ...] = ()

    def impulse_for_v(self, capacitance_f: float) -> float | None:
        """Return the impulse test volts of a part of `capacitance_f` farads, None if there is none.

        Above 1 uF the X classes divide by the root of the microfarads (vcf-midatlantic, Dec 2015).
        """
        if self.impulse_v is None:
            return None
        if not self.impulse_note:
            return self.impulse_v
        return self.impulse_v / math.sqrt(max(1.0, capacitance_f * 1e6))


@cache
def _classes() -> Mapping[str, ClassInfo]:
    found: dict[str, ClassInfo] = {}
    for name, fields in read_toml("safety.toml")["class"].items():
        rated = tuple(RatedRange(**row) for row in fields.get("rated", ()))
        found[name] = ClassInfo(name=name, **{**fields, "rated": rated})
    return MappingProxyType(found)


def class_info(name: str) -> ClassInfo | None:
    """Return the class called `name` (`X2`, any case), or None."""
    return _classes().get(name.strip().upper())


def duties() -> tuple[str, ...]:
    """Return the names of the duties a capacitor can have between line and hand."""
    return tuple(read_toml("safety.toml")["duty"])


def policies() -> tuple[str, ...]:
    """Return the two readings of the standard: `practice` (one Y2) and `strict`."""
    return ("practice", "strict")


def _step(duty: str, policy: str) -> Mapping[str, Any]:
    """The ladder's step; a duty on which the readings agree has only the one for practice."""
    steps = read_toml("safety.toml")["duty"].get(duty)
    if steps is None:
        raise CatalogueError(f"no safety duty is called {duty!r}; there are {', '.join(duties())}")
    if policy not in policies():
        raise CatalogueError(f"no policy is called {policy!r}; say practice or strict")
    step: Mapping[str, Any] = steps.get(policy) or steps["practice"]
    return step


def accepts(
    duty: str,
    classes: Sequence[str],
    line_v: float,
    *,
    policy: str = "practice",
    in_series: int = 1,
) -> bool:
    """Return whether a part marked with `classes` may do `duty` on a line of `line_v` volts.

    `classes` are the marks of one part (a dual mark `X1`, `Y2` counts as either). `in_series` is
    how many parts stand in series; the caller has made sure that they are equal in class and value.
    This is about the class alone: the part's AC rating against the line is checked elsewhere.
    Raises CatalogueError for a duty or policy that does not exist.
    """
    step = _step(duty, policy)
    accepted = set(step["accepted"])
    if line_v < _Y4_LINE_V:
        accepted |= set(step.get("below_150", ()))
    if in_series >= 2:
        accepted |= set(step.get("series", ()))
    return any(mark.strip().upper() in accepted for mark in classes)


def required_text(duty: str, policy: str = "practice") -> str:
    """Return in words what `duty` takes (`class Y2 or Y1`). Raises CatalogueError as `accepts`."""
    return str(_step(duty, policy)["text"])


def film_ac_rating_v(dc_v: float) -> float | None:
    """Return the AC volts a plain film part of `dc_v` DC volts stands, as one family gives it.

    A rating between two rows takes the lower row; below the first row None (not known).
    """
    rows = read_toml("safety.toml")["film"]["rows"]
    fitting = [row["ac_v"] for row in rows if row["dc_v"] <= dc_v]
    return float(fitting[-1]) if fitting else None
