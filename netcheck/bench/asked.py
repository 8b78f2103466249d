"""What the user asks of every computing command: today's line and the meter in hand.

Belongs here: reading these options in the words of the chassis language. Does not belong here:
suppositions (suppose.py), solving.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Final

from netcheck.chassis import Chassis, LineSupply, Tolerances
from netcheck.findings import NetcheckError
from netcheck.language import read

__all__ = ["NO_METER", "USUAL_METER", "Meter", "NotUnderstood", "meter_of", "with_line"]

_NONE: Final = ("none", "no")
_HIGHEST_LINE_V: Final = 500.0


class NotUnderstood(NetcheckError, ValueError):
    """An option that could not be read: a sentence that says what was meant to stand there."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter: as asked for, and its resistance in ohms (None: nothing is connected)."""

    text: str
    ohm: float | None


# An electronic voltmeter has 11 megohm on every range (common practice, no source).
USUAL_METER: Final = Meter("11 M", 11e6)
NO_METER: Final = Meter("none", None)


def meter_of(text: str) -> Meter:
    """The meter that a text names: `11M`, `20k/V:250V`, `1000 ohm/V 250 V`, `none`.

    Raises:
        NotUnderstood: the text names no meter.
    """
    plain = _one_line(text)
    if plain.casefold() in _NONE:
        return NO_METER
    words = re.sub(r"\s*[:@]\s*|\s+on\s+", " ", plain)
    chassis = read(f"R1 1 ohm: HERE to THERE\nreading HERE 1 V, meter {words}")
    ohm = chassis.readings[0].meter_ohm if chassis.readings else None
    if ohm is None or not chassis.was_read:
        said = "; ".join(f"{f.message} ({f.action})" for f in chassis.findings[:1])
        raise NotUnderstood(
            f"--meter {plain}: {said or 'this is no meter'}. Write its resistance (11M), or ohms"
            " per volt and the range (20k/V:250V), or none."
        )
    return Meter(words, ohm)


def with_line(chassis: Chassis, text: str) -> Chassis:
    """The set on a line that was measured: `124`, `124V`, `124 V 60 Hz`, `220 V DC`.

    Frequency, AC or DC are the set's own where the text names only volts. A measured line has no
    band.

    Raises:
        NotUnderstood: the text is no line, or the set has none to which it could apply.
    """
    plain = _one_line(text)
    stated = chassis.line
    bare = re.fullmatch(r"(\d+(?:\.\d+)?|\.\d+)\s*(?:v|volts?)?", plain, re.IGNORECASE)
    if bare is None:
        found = read(f"line {plain}")
        if found.line is None or found.line.volts is None or not found.was_read:
            said = "; ".join(f.message for f in found.findings[:1])
            raise NotUnderstood(
                f"--line {plain}: {said or 'this is no line'}. Write the volts at the wall (124)."
            )
        line = found.line
    elif stated is None:
        raise NotUnderstood(
            f"--line {plain}: the set does not say whether its line is AC or DC; write --line"
            f' "{bare[1]} V 60 Hz", or a `line` statement into the set.'
        )
    elif stated.volts is None:
        raise NotUnderstood(f"--line {plain}: the set says `line none`; it runs from batteries.")
    else:
        line = LineSupply(float(bare[1]), stated.hertz, stated.span)
    if not 0.0 < (line.volts or 0.0) <= _HIGHEST_LINE_V:
        raise NotUnderstood(
            f"--line {plain}: no wall has these volts; write what a meter shows there (124)."
        )
    rated_v = None if stated is None else stated.made_for_v
    today = replace(line, tolerance=Tolerances(0.0, 0.0), tolerance_given=True, rated_v=rated_v)
    return replace(chassis, line=today)


def _one_line(text: str) -> str:
    """The text with its blanks made single, so that it can be part of one statement."""
    return " ".join(text.replace("#", " ").split())
