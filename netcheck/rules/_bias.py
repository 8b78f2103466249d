"""Whether a tube's bias is what its maker publishes, because two rules need one verdict.

Belongs here: the published point nearest to how a tube is run, and its current carried over to
these volts. Does not belong here: what is reported of it (bias_wrong.py, tube_rating.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.parts import OperatingPoint
from netcheck.rules._base import Case
from netcheck.rules._operating import Stream, output_bulbs

__all__ = ["Bias", "bias_of", "wrongly_biased"]

# Tubes differ by a fifth among themselves, circuits choose their point: outside of this it is no
# longer a matter of taste (common practice, no source).
_MOST, _LEAST = 1.5, 0.35
# A tube that turns this share of its plate watts into heat is at work, whatever current it would
# draw in class A: push-pull stages and triode-connected pentodes idle so.
_AT_WORK = 0.35
# A grid this far above its cathode draws current (contact potential is near half a volt).
_POSITIVE_V = 0.2


@dataclass(frozen=True, slots=True)
class Bias:
    """An output tube at a point against its published one; `expected_a` is of the cathode.

    `published` is None where no comparable point is known: then only the grid is judged.
    """

    stream: Stream
    published: OperatingPoint | None
    expected_a: float | None
    published_bias_v: float | None

    @property
    def ratio(self) -> float | None:
        """Cathode current over what is published, carried over to these volts."""
        return self.stream.cathode_a / self.expected_a if self.expected_a else None

    @property
    def positive(self) -> bool:
        """Whether the grid is above the cathode, where the maker does not run it so."""
        grid_v = self.stream.grid_v
        by_design = self.published_bias_v is not None and self.published_bias_v >= 0
        return grid_v is not None and grid_v > _POSITIVE_V and not by_design

    @property
    def over_watts(self) -> float | None:
        """Plate watts over the published maximum, None if that is not known."""
        tube = self.stream.part.tube
        limit = tube.limits.get("plate-w") if tube is not None else None
        return self.stream.plate_w / limit if limit else None

    @property
    def hot(self) -> bool:
        """Whether it draws far too much."""
        watts = self.over_watts
        far = self.ratio is not None and self.ratio > _MOST
        # Within its watts a large tube on few volts is not hurt by a healthy current.
        return far and (watts is None or watts > 0.75 or self.unbiased)

    @property
    def unbiased(self) -> bool:
        """Whether less than a third of the published bias is left."""
        grid_v, usual = self.stream.grid_v, self.published_bias_v
        return grid_v is not None and usual is not None and usual < 0 and grid_v > usual / 3

    @property
    def starved(self) -> bool:
        """Whether it draws far too little, by its published current and by its watts."""
        at_work = self.over_watts is not None and self.over_watts >= _AT_WORK
        return self.ratio is not None and self.ratio < _LEAST and not at_work


def bias_of(stream: Stream) -> Bias:
    """Judge one output stream.

    The published point with the nearest screen (a triode's: plate) volts; its cathode current
    goes as their three-halves power (Child's law) to the volts of the set.
    """
    tube = stream.part.tube
    drive = stream.section.screen or stream.section.plate
    drive_v = stream.screen_v if stream.section.screen else stream.plate_v
    usable = [
        (point, point.volts[drive], _cathode_a(point, stream))
        for point in (tube.points if tube is not None else ())
        if point.section == stream.section.name
        and point.volts.get(drive, 0.0) > 0
        and "two tubes" not in point.use
    ]
    known = [(p, volts, amperes) for p, volts, amperes in usable if amperes]
    if drive_v is None or drive_v <= 0 or not known:
        return Bias(stream, None, None, None)
    point, volts, amperes = min(known, key=lambda row: abs(row[1] - drive_v))
    grid = point.volts.get(stream.section.controls[0]) if stream.section.controls else None
    if grid is None and point.cathode_ohm:
        grid = -point.cathode_ohm * amperes
    usual = grid * drive_v / volts if grid is not None else None
    return Bias(stream, point, amperes * (drive_v / volts) ** 1.5, usual)


def _cathode_a(point: OperatingPoint, stream: Stream) -> float:
    plate = point.amperes.get(stream.section.plate, 0.0)
    screen = point.amperes.get(stream.section.screen or "", 0.0)
    return plate + screen if plate else 0.0


def wrongly_biased(case: Case, streams: Iterator[Stream]) -> Iterator[Bias]:
    """Yield the output tubes that draw far too much or too little, or whose grid is positive."""
    outputs = output_bulbs(case)
    for stream in streams:
        tube = stream.part.tube
        if stream.part.body_ref not in outputs or tube is None:
            continue
        bias = bias_of(stream)
        if bias.hot or bias.starved or bias.positive:
            yield bias
