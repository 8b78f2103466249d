"""The rms current a set draws from the line, because fuses and limiter lamps are chosen by it.

Belongs here: what meets at the line's hot pole in a solved state of the line side, and what power
transformers pass on to it. Does not belong here: solving that state (line_side), judging a fuse,
sets on batteries.

Pulses come while the line is near its peak, in phase with the heaters' sine: neither the sum nor
the root of squares is right, so the waves are added instant by instant. What flows in a winding
appears at the line in the ratio of their volts (elementary transformer theory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from netcheck.circuit.rectify_law import Array

if TYPE_CHECKING:
    from netcheck.circuit.line_point import LinePoint

__all__ = ["LineCurrent", "line_current"]

_OWN_LOSS = 0.1
"""A receiver's power transformer loses about a tenth of what it gives (from memory)."""


@dataclass(frozen=True, slots=True)
class LineCurrent:
    """What the line gives a set at `line_v`, in rms amperes.

    `steady_a` is what heaters, lamps and loads would draw alone, `pulse_a` what rectifiers (and
    diodes in series with heaters) add as the line sees it, `rms_a` both as they run in time.
    `transformer` tells whether a tenth for its own loss is in `steady_a`.
    """

    line_v: float
    steady_a: float
    pulse_a: float
    rms_a: float
    transformer: bool


def line_current(point: LinePoint) -> LineCurrent | str:
    """The line current of a solved state of the line side, or why it is not known."""
    network = point.network
    if network.unknown:
        return f"the ohms or position of {', '.join(network.unknown)} are not stated"
    if network.faults:
        return network.faults[0]
    if point.unknown:
        return "what the rectifiers draw is not solved"
    steady, whole = point.steady_at_line, point.amperes_at_line
    lost = _OWN_LOSS * point.steady_in_windings
    steady, whole = steady + lost, whole + lost
    return LineCurrent(
        point.line_v, _rms(steady), _rms(whole - steady), _rms(whole), point.has_windings
    )


def _rms(wave: Array) -> float:
    return float(np.sqrt(np.mean(wave**2)))
