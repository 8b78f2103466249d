"""What two rectifiers of one transformer take from each other, because they draw at the same crest.

Belongs here: whether a bias and a supply of B+ draw together, by what ohms the pulses of the one
lower the crest of the other, and a bound of what is left out. Does not belong here: the supplies
themselves (source, source_bias), solving them together (direct_devices).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from netcheck.circuit.power import PowerWinding
from netcheck.circuit.rectify import solve_rectifier
from netcheck.circuit.rectify_spec import RectifierKind, RectifierSpec, Wave
from netcheck.circuit.source_drive import Drive, Missing
from netcheck.circuit.source_network import Branch, seen_from
from netcheck.circuit.source_types import RectifierSource
from netcheck.circuit.source_windings import primary_source
from netcheck.circuit.supply_bias import BiasDiode
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["Crest"]

_SHARED_BASIS = "a bound of its peak current, through the primary's ohms"
_MOST_SHARED = 0.02
"""Part of the main supply's volts that a bias may take from it and be left out."""


class Crest:
    """The supplies of B+ of a set, as a bias on their transformer meets them."""

    def __init__(self, wiring: Wiring, drive: Drive, main: Sequence[RectifierSource]) -> None:
        self._wiring = wiring
        self._drive = drive
        self._main = main

    def shared(
        self, spec: RectifierSpec, winding: PowerWinding | None, first: BiasDiode,
        taken: list[Assumed],
    ) -> tuple[tuple[str, ...], float]:  # fmt: skip
        """The rectifiers of B+ whose pulses lower the crest of this source too, and by what ohms.

        Both draw through the primary, at the crest, but where the main rectifier is half wave and
        draws in the other half cycle. What this supply takes from the other is left out where a
        bound shows it to be little.

        Raises:
            Missing: it is not little.
        """
        if winding is None or spec.wave is not Wave.SINE:
            return (), 0.0
        primary = primary_source(self._wiring, winding.ref, self._drive.side)
        main = next((m for m in self._main if self._draws_with(m, winding, first)), None)
        if primary is None or main is None:
            return (), 0.0
        main_v, own_v = (float(s.figure("volts")[0]) for s in (main.spec, spec))
        ohm = main_v * own_v / primary[0] ** 2 * primary[1]
        most_v = _MOST_SHARED * main_v
        bound_v = ohm * _most_a(spec)
        if bound_v > most_v:
            bound_v = ohm * self._loaded_a(spec, first.rail)
        if bound_v > most_v:
            raise Missing(
                f"It loads the winding of {', '.join(main.refs)}, by up to {bound_v:.3g} V.",
                [first.element.ref],
            )
        what = f"volts taken from {', '.join(main.refs)} (left out, at most)"
        taken.append(Assumed(first.element.ref, what, bound_v, "V", _SHARED_BASIS))
        return main.refs, ohm

    def _draws_with(self, main: RectifierSource, winding: PowerWinding, first: BiasDiode) -> bool:
        """Whether a supply of B+ draws from the same transformer in the same half cycle."""
        ends = {self._wiring.supply.source_of(arm) for arm in main.arms}
        if all(w.ref != winding.ref for w in self._windings_at(ends)):
            return False
        return main.spec.kind is not RectifierKind.HALF_WAVE or self._together(main, first)

    def _loaded_a(self, spec: RectifierSpec, rail: str) -> float:
        """More than the peak of its current: at twice what the nearest way to a return draws."""
        way = self._wiring.dc_path(rail, self._wiring.supply.returns) or ()
        ohm = sum(e.ohm or 0.0 for e in way)
        if ohm <= 0.0:
            return _most_a(spec)
        cycle = solve_rectifier(spec, np.array([2.0 * float(spec.no_load_v[0]) / ohm]))
        return float(cycle.plate_peak_a[0, 0]) if cycle.settled.all() else _most_a(spec)

    def _windings_at(self, nets: Collection[str | None]) -> list[PowerWinding]:
        return [w for w in self._wiring.supply.windings if any(net in nets for net in w.nets)]

    def _together(self, main: RectifierSource, first: BiasDiode) -> bool:
        """Whether a half-wave main rectifier draws in the half cycle of the bias diode."""
        branches = [b for w in self._wiring.supply.windings for b in self._volts_along(w)]
        back = main.minus
        plate = self._wiring.supply.source_of(main.arms[0]) or ""
        seen = seen_from(branches, list(dict.fromkeys((plate, first.source))), back)
        if seen is None:
            return True
        return bool((seen.volts[0] > 0) == (seen.volts[-1] < 0)) is first.is_negative

    def _volts_along(self, winding: PowerWinding) -> Sequence[Branch]:
        if winding.driven:
            return ()
        try:
            return self._drive.secondary(winding, None).branches
        except Missing:
            return ()


def _most_a(spec: RectifierSpec) -> float:
    """More than the peak of a rectifier's current can be: its source into a short circuit."""
    ohm = float(spec.figure("source_ohm")[0] + spec.figure("choke_ohm")[0]) + spec.law.ohm
    volts = float(spec.peak_v[0])
    farad = float(spec.figure("second_f")[0])
    if farad > 0.0:  # twice what the series capacitor passes of the sine
        return 2.0 * 2.0 * np.pi * float(spec.figure("hertz")[0]) * farad * volts
    space_a = spec.law.perveance * volts**1.5 if spec.law.perveance > 0 else np.inf
    return min(volts / max(ohm, 1e-3), space_a)
