"""Gives the current law of a tube type, or says why there is none: what the solver asks for.

Belongs here: TubeLaw, finding it, what it assumes. Does not belong here: the formulas
(tube_law_forms.py), fitting (tube_fit.py), evaluating several at once (tube_law_stack.py).

The law: cathode current is a perveance times the three-halves power of a drive voltage, the sum of
grid volts, screen and plate volts over their mu, and a contact potential; plate and screen share
it with a knee at low plate volts; every grid and diode has a retarding-field branch below zero.
Not in the law: gas and grid emission, heater-cathode leakage, the dip of a tetrode below its screen
volts, saturation of a weak cathode (`emission` scales the whole current), a suppressor or shell
that is tied to anything but the cathode.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from types import MappingProxyType

from numpy.typing import ArrayLike

from netcheck.catalog.sections import terminal_names
from netcheck.circuit.tube_fit import NoFit
from netcheck.circuit.tube_fit_readings import cutoff_of, filament_offset_v
from netcheck.circuit.tube_fit_store import fits_of, is_remote
from netcheck.circuit.tube_law_build import Devices, Swing, build, swing_of
from netcheck.circuit.tube_law_forms import Array
from netcheck.circuit.tube_law_stack import GROUND, LawStack
from netcheck.parts import TubeType

__all__ = ["GROUND", "OSCILLATOR_STATES", "LawStack", "TubeLaw", "law_of", "why_no_law"]

OSCILLATOR_STATES = ("running", "dead")


@dataclass(frozen=True, eq=False)
class TubeLaw:
    """The law of one tube type.

    `terminals` are its electrodes in the order of the columns of `currents`. `filament` holds, for
    a directly heated tube, the weight of each filament terminal in the mean cathode potential; the
    cathode current leaves in the same parts, so filament nodes take part in the DC solution.
    `fits` are its parameters by section, in our words and SI units. `assumed` are sentences for
    what no point of the type says.
    """

    tube: TubeType
    terminals: tuple[str, ...]
    filament: Mapping[str, float]
    fits: Mapping[str, Mapping[str, float]]
    swing: Swing | None
    assumed: tuple[str, ...]
    _devices: Mapping[str, Devices] = field(repr=False)

    @property
    def name(self) -> str:
        """The name of the tube type."""
        return self.tube.name

    def devices(self, oscillator: str = "running") -> Devices:
        """Return the devices it is made of. Raises ValueError for an unknown oscillator state."""
        if oscillator not in OSCILLATOR_STATES:
            raise ValueError(f"an oscillator is running or dead, not {oscillator!r}")
        return self._devices[oscillator]

    @cached_property
    def _stacks(self) -> Mapping[str, LawStack]:
        return {
            state: LawStack([self], oscillators=[state]) for state in dict.fromkeys(self._devices)
        }

    def currents(
        self,
        volts: ArrayLike,
        *,
        emission: ArrayLike = 1.0,
        contact_shift_v: ArrayLike = 0.0,
        grid_shift_v: ArrayLike = 0.0,
        oscillator: str = "running",
    ) -> tuple[Array, Array]:
        """Return the currents (A) into each terminal from the circuit, and their slopes (S).

        `volts` is (variants, terminals), against any common reference. The currents of a variant
        sum to zero. `emission` scales them (0 for a cold tube), `contact_shift_v` adds to the
        contact potentials of streams and diodes, `grid_shift_v` to that of the control grids' own
        current; each is a number or (variants,). The law is three-halves with contact
        potential; computation of both is exact, not by differences.

        Raises:
            ValueError: the oscillator is neither `running` nor `dead`.
        """
        if oscillator not in OSCILLATOR_STATES:
            raise ValueError(f"an oscillator is running or dead, not {oscillator!r}")
        return self._stacks[oscillator].currents(
            volts,
            emission=emission,
            contact_shift_v=contact_shift_v,
            grid_shift_v=grid_shift_v,
        )


def law_of(tube: TubeType) -> TubeLaw | None:
    """Return the law of a type, built in or defined in a file; None when its data do not give one.

    `why_no_law` says what is missing.
    """
    law = _known(_Key(tube))
    return law if isinstance(law, TubeLaw) else None


def why_no_law(tube: TubeType) -> str | None:
    """Return a sentence that says why `law_of` is None, or None when there is a law."""
    law = _known(_Key(tube))
    return None if isinstance(law, TubeLaw) else law


class _Key:
    """A tube type as the key of a cache: equal types share a law."""

    def __init__(self, tube: TubeType) -> None:
        self.tube = tube

    def __hash__(self) -> int:
        return hash((self.tube.name, self.tube.kind, len(self.tube.points)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and (self.tube is other.tube or self.tube == other.tube)


@lru_cache(maxsize=1024)
def _known(key: _Key) -> TubeLaw | str:
    tube = key.tube
    try:
        fits = fits_of(tube)
    except NoFit as missing:
        return f"the currents of the {tube.name} are not known: {missing}"
    filament = _filament(tube)
    return TubeLaw(
        tube=tube,
        terminals=_terminals(tube, filament),
        filament=MappingProxyType(filament),
        fits=fits,
        swing=swing_of(tube),
        assumed=_assumed(tube),
        _devices=MappingProxyType(
            {state: build(tube, fits, running=state == "running") for state in OSCILLATOR_STATES}
        ),
    )


def _filament(tube: TubeType) -> dict[str, float]:
    """Half of the cathode current leaves at each end of a filament; of each half, with a tap."""
    if tube.heating != "direct" or all(s.cathode != "heater1" for s in tube.sections):
        return {}
    names = terminal_names(tube.pins)
    known = [names[end] for end in ("heater1", "tap", "heater2") if end in names]
    if len(known) == 3:
        return dict(zip(known, (0.25, 0.5, 0.25), strict=True))
    return {name: 1.0 / len(known) for name in known} or {"heater1": 1.0}


def _terminals(tube: TubeType, filament: Mapping[str, float]) -> tuple[str, ...]:
    """Plates, screens, grids, then cathodes or filament ends; each once."""
    sections = tube.sections
    found = [s.plate for s in sections]
    found += [s.screen for s in sections if s.screen]
    found += [grid for s in sections for grid in s.controls]
    found += list(filament)
    found += [s.cathode for s in sections if s.cathode not in filament]
    return tuple(dict.fromkeys(found))


def _assumed(tube: TubeType) -> tuple[str, ...]:
    found = []
    filament = filament_offset_v(tube) > 0.0
    if any(s.controls for s in tube.sections):
        rest = "-0.15 V (filament on DC)" if filament else "-0.75 V"
        found.append(f"grids rest near {rest} on 10 megohm (common practice, no source)")
    if any(s.kind == "diode" for s in tube.sections):
        rest = "-0.15 V (filament on DC)" if filament else "-0.5 V"
        found.append(f"detector diodes rest near {rest} on 500 kohm (common practice, no source)")
    if is_remote(tube) and cutoff_of(tube) is None:
        found.append("remote cut-off as usual: gm down to 1/150 at five times the drive")
    swing = swing_of(tube)
    if swing is not None:
        found.append(f"oscillator swing {swing.volts:.0f} V on {swing.grid}: {swing.basis}")
        found.append(
            "with the oscillator dead the current its grid gates is 2.5 times the running one "
            "(6BE6: RCA Receiving Tube Manual, from memory)"
        )
    return tuple(found)
