"""What may be told of a supply: its figures, why they are not known, or that it is off.

Belongs here: the three answers. Does not belong here: finding them (source, source_bias).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from netcheck.circuit.elements import Element
from netcheck.circuit.rectify_spec import RectifierSpec
from netcheck.circuit.source_reservoir import Reservoir
from netcheck.findings import Assumed

__all__ = ["Off", "RectifierSource", "Unknown"]


@dataclass(frozen=True, slots=True)
class Unknown:
    """A supply whose figures do not follow from the text: `reason` is a sentence for its owner.

    `drives` are the nets at its direct-current end, as far as its rectifiers tell them: a rail of
    bias is on the plate of its rectifier. `beyond` are the nets behind them that resistors and
    chokes join to a bias rail: if one of those is held, the bias needs no supply.
    """

    reason: str
    parts: tuple[str, ...] = ()
    drives: frozenset[str] = frozenset()
    beyond: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Off:
    """A supply that nothing drives as the switches stand: it gives no volts and takes no current.

    `refs` are its rectifiers, `plus` the net it would drive, `reason` a sentence for the owner.
    """

    refs: tuple[str, ...]
    plus: str
    reason: str


@dataclass(frozen=True, slots=True)
class RectifierSource:
    """One rectifier supply of a set.

    `refs` name the rectifiers, `arms` are their streams from plate to output. `plus` and `minus`
    are the nets it drives; `middle` is the net between a full-wave doubler's capacitors, else
    empty. `spec` holds one variant; its `choke_h` and `choke_ohm` describe `reservoir.series`,
    which are part of the set's own network and are not inside the source. `drawn` are the pairs of
    nets of the AC side between which it draws: one for each net of its plates. `transformer` is
    what drives it, as far as that is known. `bias` is True of a supply of bias: its rail is its
    `minus` (`plus`, if its diode is the wrong way round), and it feeds no plate. The pulses of the
    supply of `shared_with` take `shared_ohm` times their peak from the crest of its source.
    `wound_ohm` are those ohms of its source that are the transformer's.
    """

    refs: tuple[str, ...]
    arms: tuple[Element, ...]
    plus: str
    minus: str
    middle: str
    spec: RectifierSpec
    reservoir: Reservoir
    assumed: tuple[Assumed, ...]
    drawn: tuple[tuple[str, str], ...] = ()
    transformer: str = ""
    bias: bool = False
    shared_with: tuple[str, ...] = ()
    shared_ohm: float = 0.0
    wound_ohm: float = 0.0

    def rewound(self, factor: float) -> RectifierSource:
        """The supply with the ohms of its transformer so many times as large."""
        if not self.bias:
            spec = replace(self.spec, source_ohm=np.asarray(self.spec.source_ohm) * factor)
            return replace(self, spec=spec)
        more = (factor - 1.0) * self.wound_ohm
        spec = replace(
            self.spec,
            source_ohm=np.asarray(self.spec.source_ohm) + more,
            loop_ohm=np.asarray(self.spec.loop_ohm) + more,
        )
        shared, wound = self.shared_ohm * factor, self.wound_ohm * factor
        return replace(self, spec=spec, shared_ohm=shared, wound_ohm=wound)

    @property
    def is_negative(self) -> bool:
        """Whether it is a bias below its return: its rail is on the plate of its diode."""
        return self.bias and bool(self.arms) and self.arms[0].a == self.minus

    @property
    def driven(self) -> tuple[str, ...]:
        """The net with alternating volts of every rectifier: its plate, or its cathode."""
        return tuple(e.b if self.is_negative else e.a for e in self.arms)
