"""What drives a rectifier's plates: line or winding, in volts and ohms, and where it returns.

Belongs here: choosing the source of given plates and reading it, with the reasons why it cannot be
read. Does not belong here: which rectifiers work together (source), the winding's own figures
(source_windings), solving the network (source_network).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.catalog.tubes import find_tube
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.power import PowerWinding
from netcheck.circuit.rectify_spec import RectifierKind, Wave
from netcheck.circuit.source_network import Branch, Seen, seen_from
from netcheck.circuit.source_off import is_cut_off, is_primary_cut_off
from netcheck.circuit.source_reservoir import joined_nets
from netcheck.circuit.source_side import is_closed, line_branches
from netcheck.circuit.source_windings import LineSide, WindingSource, winding_source
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["DWELL", "Drive", "Missing", "SwitchedOff", "phases"]

_VIBRATOR_HZ = 115.0
_VIBRATOR_BASIS = "from memory: most car vibrators run at 115 Hz"
DWELL = 0.15
_DWELL_BASIS = "from memory: vibrator contacts are closed some 85 % of the time"
_UNEVEN = 0.05
_TYPICAL_LOAD_A = 0.07
"""What the high winding of a receiver is made for (from memory: 60 to 80 mA)."""


class Missing(Exception):
    """A figure that a supply hangs on is not known: `reason` is a sentence, `parts` are in it."""

    def __init__(self, reason: str, parts: Sequence[str] = ()) -> None:
        super().__init__(reason)
        self.reason = reason
        self.parts = tuple(dict.fromkeys(parts))


class SwitchedOff(Missing):
    """Nothing drives the rectifiers in the stated switch positions: they give nothing."""


class Drive:
    """The AC side of one set at one line voltage."""

    def __init__(self, wiring: Wiring, line_volts: float | None) -> None:
        self._wiring = wiring
        line = wiring.chassis.line
        stated = line.volts if line is not None else None
        self.line_v = stated if line_volts is None else line_volts
        self._hertz = line.hertz if line is not None else 0.0
        self._side = self._line_side()

    @property
    def side(self) -> LineSide:
        """The line and everything ohmic it drives, or why there is none."""
        return self._side

    def _line_side(self) -> LineSide:
        if self.line_v is None:
            return "The volts of the line are not stated; write `line 117 V 60 Hz`."
        return line_branches(self._wiring, self.line_v)

    def branches(
        self, arms: Sequence[Element], lifted: Sequence[Element], taken: list[Assumed]
    ) -> tuple[list[Branch], str]:
        """The branches that drive the plates and the net the supply returns to."""
        supply = self._wiring.supply
        refs = [e.ref for e in arms]
        ends = [supply.source_of(e) for e in arms]
        fed = {net for feed in supply.feeds.values() for net in feed}
        winding = self._winding(ends[0], fed) if ends[0] else None
        vibrates = winding is not None and self._is_vibrator(winding)
        if ends[0] is None and not self._wiring.poles.plugs:  # no line to ask for
            raise self._not_found(arms)
        if isinstance(self._side, str) and not vibrates:
            raise Missing(self._side, refs)
        if winding is None:
            common = self._wiring.common
            if common is None or isinstance(self._side, str):
                raise self._not_found(arms)
            return self._side, common
        if self._hertz == 0.0 and not vibrates:
            raise Missing(f"{winding.ref} is a transformer and the line is DC.", [winding.ref])
        branches = self._wound(winding, arms[0], taken)
        back = _return_net(winding, [end or "" for end in ends], supply.returns)
        if not lifted:
            back = self.through(back, refs)
        return branches, back

    def _not_found(self, arms: Sequence[Element]) -> Missing:
        refs = [e.ref for e in arms]
        silent = [
            e.ref
            for arm in arms
            for e in self._wiring.at(arm.a)
            if e.kind is Kind.RESISTOR and e.ohm is None
        ]
        if silent:
            return Missing(
                f"{refs[0]}: the ohms of {', '.join(silent)} ahead of its plate are not given.",
                [*refs, *silent],
            )
        return Missing(f"{refs[0]}: what drives its plate was not found.", refs)

    def _winding(self, end: str, fed: set[str]) -> PowerWinding | None:
        """The secondary with this end; None when the line itself drives it."""
        for w in self._wiring.supply.windings:
            if end in w.nets and not w.driven:
                return w
        driven = next((w for w in self._wiring.supply.windings if end in w.nets), None)
        if driven is not None and end not in fed:
            raise Missing(
                f"{driven.ref} works as an autotransformer for the rectifier, which is not "
                f"computed; state the rail with `hold`.",
                [driven.ref],
            )
        return None

    def _is_vibrator(self, winding: PowerWinding) -> bool:
        contacts = self._wiring.supply.power.vibrator_contacts
        return any(
            net in contacts
            for w in self._wiring.supply.windings
            if w.ref == winding.ref
            for net in w.nets
        )

    def rated_load_a(self, arm: Element) -> float | None:
        """Amperes at which the printed volts of a winding hold: what its rectifier is made for.

        Silicon is rated for far more than any winding of a receiver: the tube that it stands for
        counts, or a typical receiver.
        """
        chassis = self._wiring.chassis
        part = chassis.part(arm.ref)
        if part is None or part.tube is not None:
            return part.tube.limits.get("output-a") if part is not None and part.tube else None
        rated = part.value("current")
        if part.description.has("selenium", "dry-disc"):
            return rated
        old = find_tube(part.replaces.designation) if part.replaces is not None else None
        gone = [p.tube for p in chassis.parts if not p.fitted and p.tube and p.tube.is_rectifier]
        for tube in (old, *gone):
            if tube is not None and tube.limits.get("output-a"):
                return tube.limits["output-a"]
        return min(rated or _TYPICAL_LOAD_A, _TYPICAL_LOAD_A)

    def _wound(self, winding: PowerWinding, arm: Element, taken: list[Assumed]) -> list[Branch]:
        """The secondary, and what is between it and the plates or its return."""
        source = self.secondary(winding, self.rated_load_a(arm))
        taken += source.assumed
        return [*source.branches, *self.passive()]

    def passive(self) -> list[Branch]:
        """What has ohms and no volts of its own, on the AC side."""
        rest = [] if isinstance(self._side, str) else [b for b in self._side if b.ref != "line"]
        if rest:
            return rest
        return [
            Branch(e.a, e.b, e.ohm if e.kind is Kind.RESISTOR else 0.0, ref=e.ref)
            for e in self._wiring.elements
            if e.kind in (Kind.RESISTOR, Kind.FUSE, Kind.STRAP)
            and not {e.a, e.b} & self._wiring.b_plus
        ]

    def through(self, net: str, refs: Sequence[str]) -> str:
        """The bus behind a standby switch or fuse in the return lead; raises if it is open."""
        common = self._wiring.common
        if common is None or common == net or common in joined_nets(self._wiring, net):
            return common or net
        at = [e for e in self._wiring.at(net) if e.kind is Kind.CONTACT]
        if at and all(is_closed(self._wiring.chassis, e) is False for e in at):
            raise Missing(f"{at[0].ref} is open in the return of the supply.", [*refs, at[0].ref])
        return net

    def seen(
        self, branches: Sequence[Branch], nets: Sequence[str], common: str, refs: Sequence[str]
    ) -> Seen:
        """What `nets` show against `common`. Raises Missing when nothing drives them."""
        seen = seen_from(branches, nets, common)
        if seen is None or float(np.max(np.abs(seen.volts))) < 1e-6:
            cut_off = is_cut_off(self._wiring, branches, nets, common)
            raise (SwitchedOff if cut_off else Missing)(
                f"In the stated switch positions nothing drives {', '.join(refs)}.", list(refs)
            )
        if seen.doubtful:
            raise Missing(
                f"The volts at {', '.join(refs)} hang on {', '.join(seen.doubtful)}, whose ohms "
                f"or position are not stated.",
                [*refs, *seen.doubtful],
            )
        return seen

    def across(
        self, branches: Sequence[Branch], plates: Sequence[str], refs: Sequence[str]
    ) -> tuple[float, float]:
        """Volts and ohms between the two AC nets of a bridge."""
        if len(plates) != 2:
            raise Missing(f"{', '.join(refs)}: a bridge of more than two phases.", list(refs))
        seen = self.seen(branches, plates[:1], plates[1], refs)
        return abs(float(seen.volts[0])), float(seen.between_ohm[0, 0])

    def wave(self, arm: Element, taken: list[Assumed]) -> tuple[Wave, float]:
        """Shape and hertz of what drives a rectifier."""
        return self.wave_at(self._wiring.supply.source_of(arm) or "", taken)

    def wave_at(self, end: str, taken: list[Assumed]) -> tuple[Wave, float]:
        """Shape and hertz of the volts at a net of a winding or of the line."""
        winding = next((w for w in self._wiring.supply.windings if end in w.nets), None)
        if winding is not None and self._is_vibrator(winding):
            return Wave.SQUARE, self.vibrator_hertz(taken)
        return (Wave.SINE, self._hertz) if self._hertz > 0.0 else (Wave.STEADY, 0.0)

    def secondary(self, winding: PowerWinding, load_a: float | None) -> WindingSource:
        """The figures of a secondary. Raises Missing when they do not follow from the text."""
        found = winding_source(self._wiring, winding.ref, winding.path, self._side, load_a)
        if isinstance(found, str):
            cut_off = is_primary_cut_off(self._wiring, winding.ref)
            raise (SwitchedOff if cut_off else Missing)(found, [winding.ref])
        return found

    def vibrator_hertz(self, taken: list[Assumed]) -> float:
        """Hertz of the set's vibrator, its dwell listed as assumed."""
        vibrator = next(self._wiring.chassis.of_kind("vibrator"), None)
        ref = vibrator.ref if vibrator else None
        hertz = vibrator.value("frequency") if vibrator else None
        taken.append(Assumed(ref, "dwell of the contacts", DWELL * 100, "%", _DWELL_BASIS))
        if hertz is None:
            hertz = _VIBRATOR_HZ
            taken.append(Assumed(ref, "frequency", hertz, "Hz", _VIBRATOR_BASIS))
        return hertz


def _return_net(winding: PowerWinding, ends: Sequence[str], returns: frozenset[str]) -> str:
    """The centre tap when both ends drive plates, else the end opposite to the plate's."""
    first, last = winding.nets[0], winding.nets[-1]
    if first in ends and last in ends and (centre := winding.centre(returns)):
        return centre
    return last if ends[0] == first else first


def phases(
    seen: Seen, refs: Sequence[str], arms: Sequence[str], plates: Sequence[str]
) -> tuple[RectifierKind, float, float, float]:
    """Kind, volts and ohms per plate, and how many rectifiers conduct abreast."""
    volts = np.abs(seen.volts)
    ohms = np.diag(seen.between_ohm)
    count = [sum(1 for a in arms if a == net) for net in plates]
    up = [i for i in range(len(plates)) if seen.volts[i] > 0]
    down = [i for i in range(len(plates)) if seen.volts[i] < 0]
    if float(volts.min()) < (1.0 - _UNEVEN) * float(volts.max()):
        raise Missing(f"{', '.join(refs)}: its plates get unlike volts.", list(refs))
    sides = [sum(count[i] for i in side) for side in (up, down) if side]
    if len(set(sides)) > 1:
        raise Missing(f"{', '.join(refs)}: unlike numbers of plates on the two sides.", list(refs))
    kind = RectifierKind.FULL_WAVE if len(sides) == 2 else RectifierKind.HALF_WAVE
    side = np.array(up or down)
    # Plates abreast share what they have in common and halve what each has of its own.
    ohm = float(np.mean(seen.between_ohm[np.ix_(side, side)])) if side.size > 1 else ohms[side[0]]
    return kind, float(volts.mean()), float(ohm), float(sides[0])
