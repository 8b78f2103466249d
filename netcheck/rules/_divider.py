"""The divider that a leaking coupling capacitor forms with the grid resistor behind it.

Belongs here: its two formulas, and the insulation they ask of one coupling. Does not belong here:
the volts it hangs on (_unloaded.py) or what a moved grid does to its tube.
"""

from __future__ import annotations

from dataclasses import dataclass

from netcheck.circuit.wiring import Coupling
from netcheck.findings import Calculation
from netcheck.rules._base import Case
from netcheck.rules._unloaded import Unloaded, unloaded_supply
from netcheck.rules._words import amount

__all__ = ["Demand", "demand_of", "least_leak_ohm", "shift_v"]


def shift_v(source_v: float, grid_ohm: float, leak_ohm: float) -> float:
    """Return the volts a leak puts on a grid: V x Rg / (Rg + Rleak), while no grid current flows.

    `source_v` is counted from where the grid resistor returns to; a bias there adds to it.
    Elementary circuit theory.

    >>> round(shift_v(80, 470e3, 10e6), 2)
    3.59
    """
    return source_v * grid_ohm / (grid_ohm + leak_ohm)


def least_leak_ohm(source_v: float, grid_ohm: float, most_shift_v: float) -> float:
    """Return the least insulation that keeps the shift within bounds: Rg x (V - dV) / dV.

    Zero where even a short moves the grid by less. The formula above, solved for the leak.

    >>> round(least_leak_ohm(100, 470e3, 0.1) / 1e6, 1)
    469.5
    """
    return max(grid_ohm * (source_v - most_shift_v) / most_shift_v, 0.0)


@dataclass(frozen=True, slots=True)
class Demand:
    """The insulation to ask of a coupling: `ohm`, from its supply and its grid resistor."""

    ohm: float
    grid_ohm: float
    shift_v: float
    supply: Unloaded

    def calculations(self, leak_ohm: float) -> tuple[Calculation, ...]:
        """The least insulation, and the shift that a leak of `leak_ohm` would make."""
        volts, grid = amount(self.supply.volts, "V"), amount(self.grid_ohm, "ohm")
        shift, leak = shift_v(self.supply.volts, self.grid_ohm, leak_ohm), amount(leak_ohm, "ohm")
        allowed = amount(self.shift_v, "V")
        return (
            Calculation(
                "least insulation", self.ohm / 1e6, "Mohm", None,
                f"{grid} x ({volts} - {allowed}) / {allowed} = {amount(self.ohm, 'ohm')}; "
                f"{volts} unloaded: {self.supply.sum}",
            ),
            Calculation(
                f"grid shift with a leak of {leak}", shift, "V", self.shift_v,
                f"{volts} x {grid} / ({grid} + {leak}) = {amount(shift, 'V')}, an upper bound "
                "until the voltages are solved",
            ),
        )  # fmt: skip


def demand_of(case: Case, coupling: Coupling, most_shift_v: float) -> Demand | None:
    """Return the insulation to ask of a coupling at its unloaded supply, None if not known."""
    supply = unloaded_supply(case, coupling.source)
    if supply is None or not coupling.leak_ohm:
        return None
    ohm = least_leak_ohm(supply.volts, coupling.leak_ohm, most_shift_v)
    return Demand(ohm, coupling.leak_ohm, most_shift_v, supply)
