"""One set with all that is computed of it kept, because the papers of a job share it.

Belongs here: the circuit, the report of the rules, and cases to ask what rules ask. Does not
belong here: any paper.
"""

from __future__ import annotations

from functools import cached_property

from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.findings import Finding, Harm, NotSolved
from netcheck.parts import Part
from netcheck.plugins import installed_rules
from netcheck.rules import _operating
from netcheck.rules._base import Case, Rule
from netcheck.rules._runner import Report, lint
from netcheck.rules._scope import policies_in_force
from netcheck.rules._worst_volts import Asked, Worst, asked_states, worst_volts

__all__ = ["Workup"]


class Workup:
    """A set, linted and solved once for all its papers."""

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis
        self.circuit = Circuit(chassis)

    @cached_property
    def report(self) -> Report:
        """What every installed rule finds."""
        return lint(self.chassis, circuit=self.circuit)

    def found(self, *rules: str) -> tuple[Finding, ...]:
        """The findings of these rules, worst first."""
        return tuple(each for each in self.report.findings if each.rule in rules)

    @cached_property
    def by_part(self) -> dict[str, tuple[Finding, ...]]:
        """The findings that speak of each part, worst first; those of mere record left out."""
        named: dict[str, list[Finding]] = {}
        for each in self.report.findings:
            if each.harm is Harm.RECORD:
                continue
            for ref in each.parts:
                # `LS1.frame` is a place on LS1: what is to be done there is done at the part.
                known = self.chassis.part(ref) or self.chassis.part(ref.split(".")[0])
                if known is not None:
                    named.setdefault(known.ref, []).append(each)
        return {ref: tuple(found) for ref, found in named.items()}

    def case(self, name: str = "voltage-rating") -> Case:
        """The case a rule sees, with the policies of the set.

        Raises:
            KeyError: no rule of this name is installed.
        """
        return Case(_rule(name), self.chassis, self.circuit, policies_in_force(self.chassis))

    @cached_property
    def point(self) -> Point | NotSolved:
        """The set as stated, or why it has no volts."""
        return _operating.tried(self.case(), [_operating.NOMINAL])[0]

    @cached_property
    def _worst_points(self) -> tuple[tuple[Asked, Point], ...]:
        states = asked_states(self.case())
        points = _operating.tried(self.case(), [each.state for each in states])
        return tuple(
            (asked, point)
            for asked, point in zip(states, points, strict=True)
            if not isinstance(point, NotSolved)
        )

    def worst_volts(self, part: Part, *, short: bool) -> Worst | None:
        """The most volts a part sees, lasting (line high) or for a moment (warm-up, plugs out).

        None where it is not known.
        """
        return worst_volts(self.case(), part, self._worst_points, short=short)

    def worst_watts(self, part: Part) -> float | None:
        """The most watts a resistor turns into heat with the line high; None where not solved."""
        found = [p.watts(part.ref) for asked, p in self._worst_points if not asked.short]
        known = [watts for watts in found if watts is not None]
        return max(known, default=None)


def _rule(name: str) -> Rule:
    return {each.name: each for each in installed_rules()}[name]
