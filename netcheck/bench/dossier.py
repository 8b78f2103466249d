"""All papers of one set together, because the report binds them.

Belongs here: making each paper once, and the curves of the leak sweeps. Does not belong here: what
a paper says (its own module), the look (output/).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from netcheck.bench.asked import USUAL_METER, Meter
from netcheck.bench.chassis_note import ChassisNote, chassis_note
from netcheck.bench.jobsheet import JobSheet, job_sheet
from netcheck.bench.potential_map import PotentialMap, potential_map
from netcheck.bench.recap import Recap, recap
from netcheck.bench.resistance_chart import ResistanceChart, resistance_chart
from netcheck.bench.voltage_chart import VoltageChart, voltage_chart
from netcheck.bench.workup import Workup
from netcheck.chassis import Chassis
from netcheck.findings import NotSolved
from netcheck.rules._sweep import Sweep, sweeps

__all__ = ["Dossier", "LeakCurve"]


@dataclass(frozen=True, slots=True)
class LeakCurve:
    """What a leak of a coupling capacitor does to the next grid.

    `points` are (ohms of the leak, volts the grid moves), least ohms first; `limit_v` is a tenth of
    the bias, `demand_ohm` the insulation to ask for, `reason` why there are none.
    """

    ref: str
    tube: str
    line: int
    points: tuple[tuple[float, float], ...]
    limit_v: float | None = None
    demand_ohm: float | None = None
    reason: str = ""


class Dossier:
    """The papers of one set, each made when first asked for."""

    def __init__(self, chassis: Chassis, meter: Meter = USUAL_METER) -> None:
        self.chassis = chassis
        self.meter = meter
        self.work = Workup(chassis)

    @cached_property
    def volts(self) -> VoltageChart:
        """The voltage chart with its band."""
        return voltage_chart(self.chassis, self.meter)

    @cached_property
    def ohms(self) -> ResistanceChart:
        """The resistance chart."""
        return resistance_chart(self.chassis)

    @cached_property
    def recap(self) -> Recap:
        """The replacement list."""
        return recap(self.work)

    @cached_property
    def job(self) -> JobSheet:
        """The job sheet."""
        return job_sheet(self.work)

    @cached_property
    def note(self) -> ChassisNote:
        """The card for the chassis."""
        return chassis_note(self.work)

    @cached_property
    def map(self) -> PotentialMap:
        """The potential map."""
        ac_v = {node.name: node.ac_v for node in self.volts.nodes if node.ac_v is not None}
        return potential_map(self.work, ac_v)

    @cached_property
    def leaks(self) -> tuple[LeakCurve, ...]:
        """A curve for each coupling capacitor behind which a grid has its DC path."""
        case = self.work.case("coupling-leakage")
        found = sweeps(case, self.work.circuit.wiring.couplings)
        return tuple(self._curve(ref, sweep) for ref, sweep in found.items())

    def _curve(self, ref: str, sweep: Sweep | NotSolved) -> LeakCurve:
        part = self.chassis.part(ref)
        line = part.span.line if part is not None else 0
        if isinstance(sweep, NotSolved):
            return LeakCurve(ref, "", line, (), reason=sweep.reason)
        points = tuple((leaky.ohm, sweep.shift_v(leaky)) for leaky in sweep.leaks)
        tube = f"{sweep.part.ref} {sweep.part.tube_name}"
        return LeakCurve(
            ref, tube, line, points, sweep.tenth_v, sweep.least_ohm(sweep.tenth_v) or None
        )
