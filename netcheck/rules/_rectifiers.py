"""Rectifiers against their published limits, figure by figure.

Belongs here: what each rectifier bears at the line that its limits mean, and what is over. Does not
belong here: how it is reported (rectifier_limit.py), the reservoir's size (_reservoir.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.circuit.wiring import Kind
from netcheck.findings import Harm, NotSolved
from netcheck.parts import Part, TubeType
from netcheck.rules._base import Case
from netcheck.rules._cold import low_supplies
from netcheck.rules._operating import NOMINAL, line_high, tried
from netcheck.rules._reservoir import reservoirs_over_maximum
from netcheck.rules._words import amount, listed

if TYPE_CHECKING:
    from netcheck.circuit.operating import SupplyPoint
    from netcheck.circuit.rectify_spec import RectifierSpec
    from netcheck.circuit.source import RectifierSource

__all__ = ["Excess", "Rectifier", "excesses", "rectifiers"]

# Printed figures have three digits at best, and the solved ones a few percent of error.
_MARGIN = 1.05
# A published least resistance that is kept within a tenth counts as kept (winding ohms are warm).
_NEARLY = 0.9
# Less than this is a fuse or a contact, and no resistance that limits anything.
_FELT_OHM = 0.1
_WITH_LAMP_A, _WITH_SHUNT_A = 0.060, 0.090  # from memory: RCA RC-19, 35Z5-GT and 35W4


@dataclass(frozen=True, slots=True)
class Excess:
    """One limit exceeded: `words` follow `X has`; `value` and `limit` in `unit`."""

    words: str
    name: str
    value: float
    unit: str
    limit: float
    sum: str
    state: str
    harm: Harm
    action: str


@dataclass(frozen=True)
class Rectifier:
    """One rectifier supply: its source at the nominal and high line, and both points if solved."""

    parts: tuple[Part, ...]
    reservoir: tuple[Part, ...]
    by_line: Mapping[str, RectifierSource]
    solved: Mapping[str, SupplyPoint]
    unsolved: str = ""

    def spec(self, state: str) -> RectifierSpec:
        """The rectifier's figures at one line voltage."""
        return self.by_line[state].spec


def rectifiers(case: Case) -> Iterator[Rectifier | str]:
    """Every rectifier supply, or why one is not known."""
    wiring = case.circuit.wiring
    if not wiring.rectifiers:
        return
    from netcheck.circuit.source import RectifierSource, rectifier_sources

    line = case.circuit.operating.line
    states = {"nominal": NOMINAL, "line high": line_high(case)}
    points = dict(zip(states, tried(case, list(states.values())), strict=True))
    faults = [each.reason for each in points.values() if isinstance(each, NotSolved)]
    both = (rectifier_sources(wiring, line["nominal"]), rectifier_sources(wiring, line["high"]))
    for nominal, high in zip(*both, strict=True):
        if not isinstance(nominal, RectifierSource) or not isinstance(high, RectifierSource):
            yield next(s.reason for s in (nominal, high) if not isinstance(s, RectifierSource))
            continue
        solved = {
            name: supply
            for name, point in points.items()
            if not isinstance(point, NotSolved)
            for supply in point.supplies
            if supply.source.refs == nominal.refs and supply.source.plus == nominal.plus
        }
        parts = [case.chassis.part(ref) for ref in nominal.refs]
        stored = [case.chassis.part(ref) for ref in nominal.reservoir.refs]
        yield Rectifier(
            tuple(p for p in parts if p is not None and p.kind in ("tube", "diode")),
            tuple(p for p in stored if p is not None),
            {"nominal": nominal, "line high": high},
            solved,
            faults[0] if faults else "",
        )


def excesses(case: Case, each: Rectifier, part: Part) -> Iterator[Excess]:
    """What one rectifier of a supply bears beyond its limits."""
    tube = part.tube
    if tube is None:
        yield from _diode(each, part)
        return
    state = "line high" if tube.rating_system in ("design-maximum", "absolute") else "nominal"
    yield from _tube_volts(each, tube, state)
    drawn = list(_output(case, each, part, tube, state))
    yield from drawn
    yield from _charging(case, each, part, tube, state, overdrawn=bool(drawn))


def _is_shorted(case: Case, part: Part) -> bool:
    """Whether `supply-short` tells why a rectifier gives too much: one cause, told there."""
    lows = (low for low in low_supplies(case) if not isinstance(low, str))
    return any(part.ref in low.refs for low in lows)


# --- a tube


def _tube_volts(each: Rectifier, tube: TubeType, state: str) -> Iterator[Excess]:
    """Peak inverse volts, else rms volts on the plate (only one is told: they are one cause)."""
    limits, cite = tube.limits, tube.source_of
    spec = each.spec(state)
    rms_v = float(spec.figure("volts")[0])
    inverse = limits.get("inverse-v")
    idle_v = _no_load_inverse_v(spec)
    instant = tube.heating == "direct"
    loaded = _cycle(each, state, "peak_inverse_v")
    value_v = idle_v if instant or loaded is None else loaded
    harm, idle, after = Harm.DAMAGE, value_v == idle_v, ""
    if inverse is not None and value_v <= inverse * _MARGIN < idle_v:
        # Within its limit while the set plays, over it while what should draw current does not.
        value_v, harm, idle = idle_v, Harm.RECORD, True
        after, state = " once nothing loads it (output tube cold or worn out)", f"{state}, no load"
    plate = limits.get("plate-ac-v")
    if inverse is not None and value_v > inverse * _MARGIN:
        yield Excess(
            f"{amount(value_v, 'V')} of peak inverse{after} (published: {amount(inverse, 'V')}, "
            f"{cite('inverse-v')})",
            "peak inverse volts", value_v, "V", inverse,
            f"{amount(rms_v, 'V')} rms on the plate, {'without' if idle else 'with'} load",
            state, harm, "fit the rectifier and the transformer of the maker's list",
        )  # fmt: skip
    elif plate is not None and rms_v > plate * 1.1 and not spec.has_choke:
        yield Excess(
            f"{amount(rms_v, 'V')} rms on its plate (published: {amount(plate, 'V')}, "
            f"{cite('plate-ac-v')})",
            "plate volts rms", rms_v, "V", plate, "of the source without load",
            state, Harm.DAMAGE, "fit the rectifier and the transformer of the maker's list",
        )  # fmt: skip


def _output(
    case: Case, each: Rectifier, part: Part, tube: TubeType, state: str
) -> Iterator[Excess]:
    limit, source = tube.limits.get("output-a"), tube.source_of("output-a")
    amperes = _output_a(each, part.ref, tube, state)
    said = ""
    lamp = _lamp_limit(case, part)
    if lamp is not None and (limit is None or lamp[0] < limit):
        limit, said = lamp
        source = "from memory, RCA RC-19"
    if limit is None or amperes is None or amperes <= limit * _MARGIN:
        return
    if _is_shorted(case, part):
        return
    yield Excess(
        f"{amount(amperes, 'A')} of output{said} (published: {amount(limit, 'A')}, {source})",
        "mean output", amperes * 1e3, "mA", limit * 1e3,
        "what the solved set draws of it" + _at_high(each, "plate_mean_a"), state, Harm.DAMAGE,
        "find what draws too much: the bias of the output tube, a leaky filter capacitor",
    )  # fmt: skip


def _lamp_limit(case: Case, part: Part) -> tuple[float, str] | None:
    """The output of a tapped-heater type while a dial lamp hangs on the tap; None without one."""
    tap = part.terminal("tap")
    if tap is None or tap.unused:
        return None
    here = case.circuit.wiring.at(case.chassis.net(tap.node))
    heater = [e for e in here if e.ref == part.ref and e.kind is Kind.HEATER]
    across = [e for e in here if any(set(e.nets) == set(h.nets) for h in heater)]
    if not any(e.kind is Kind.LAMP for e in across):
        return None
    shunted = any(e.kind is Kind.RESISTOR for e in across)
    words = " with a lamp on its tap" + (" and a resistor across it" if shunted else "")
    return (_WITH_SHUNT_A if shunted else _WITH_LAMP_A), words


def _charging(
    case: Case, each: Rectifier, part: Part, tube: TubeType, state: str, *, overdrawn: bool
) -> Iterator[Excess]:
    """Peak plate current and the least source resistance: one cause, the stiff charging path."""
    limits, cite = tube.limits, tube.source_of
    spec = each.spec(state)
    ohm = float(spec.figure("source_ohm")[0])
    least, peak = limits.get("impedance-ohm"), limits.get("peak-a")
    assumed = [a for a in each.by_line[state].assumed if "resistance" in a.what]
    thin = least is not None and ohm < least * _NEARLY and not spec.has_choke and not assumed
    peak_a = _cycle(each, state, "plate_peak_a")
    peak_a = None if peak_a is None else peak_a / _abreast(each)
    over = peak is not None and peak_a is not None and peak_a > peak * _MARGIN
    over = over and not _is_shorted(case, part)
    if over and not thin and _is_told(case, part):
        return
    if over and peak is not None and peak_a is not None:
        yield Excess(
            f"{amount(peak_a, 'A')} of peak plate current (published: {amount(peak, 'A')}, "
            f"{cite('peak-a')})",
            "peak plate current", peak_a * 1e3, "mA", peak * 1e3,
            f"{amount(ohm, 'ohm')} before the plate, reservoir {_reservoir(each)}"
            + _at_high(each, "plate_peak_a"),
            state, Harm.DAMAGE, "" if thin or overdrawn else _less(each),
        )  # fmt: skip
    if thin and least is not None:
        yield Excess(
            f"{amount(ohm, 'ohm') if ohm > _FELT_OHM else 'nothing'} in series with a plate "
            f"(published: at least "
            f"{amount(least, 'ohm')}, {cite('impedance-ohm')})",
            "resistance before a plate", ohm, "ohm", least,
            "line, windings (hot) and resistors in series with one plate",
            state, Harm.PERFORMANCE,
            f"add {amount(float(f'{least - ohm:.2g}'), 'ohm')} in the lead of {_plates(each)}",
        )  # fmt: skip


def _at_high(each: Rectifier, name: str) -> str:
    """The figure of one plate at the highest line, for the sum."""
    amperes = _cycle(each, "line high", name)
    if amperes is None:
        return ""
    return f" ({amount(amperes / _abreast(each), 'A')} a plate at the highest line)"


def _is_told(case: Case, part: Part) -> bool:
    """Whether `replacement-rating` tells of a reservoir too large for this tube."""
    return any(excess.limit.tube.ref == part.ref for excess in reservoirs_over_maximum(case))


def _less(each: Rectifier) -> str:
    refs = listed(p.ref for p in each.reservoir)
    return f"fit a smaller reservoir than {refs}, or a resistor in the lead of {_plates(each)}"


def _plates(each: Rectifier) -> str:
    return "its plate" if len(each.by_line["nominal"].arms) == 1 else "each plate"


def _reservoir(each: Rectifier) -> str:
    return amount(each.by_line["nominal"].reservoir.farad, "F")


# --- a diode


def _diode(each: Rectifier, part: Part) -> Iterator[Excess]:
    """Semiconductor ratings are absolute: line high, and without load for the volts.

    The AC volts of a bridge in one piece are those between its corners, which each of its diodes
    blocks.
    """
    state = "line high"
    spec, words = each.spec(state), part.description
    inverse_v, rms_v = _no_load_inverse_v(spec), float(spec.figure("volts")[0])
    if part.is_bridge:
        rms_v = inverse_v / 2**0.5
    where = "between its AC corners" if part.is_bridge else "at its anode"
    rated, ac = words.number("voltage"), words.number("voltage-ac")
    kind = "bridge" if part.is_bridge else "diode"
    volts = f"fit a silicon {kind} of 1000 V, with the series resistor its lower drop asks for"
    if rated is not None and inverse_v > rated * 1.005:
        yield Excess(
            f"{amount(inverse_v, 'V')} of peak inverse (rated: {amount(rated, 'V')})",
            "peak inverse volts", inverse_v, "V", rated,
            f"{amount(rms_v, 'V')} rms {where}, no load", "line high, no load",
            Harm.DAMAGE, volts,
        )  # fmt: skip
    elif ac is not None and rms_v > ac * 1.005:
        yield Excess(
            f"{amount(rms_v, 'V')} rms before it (rated: {amount(ac, 'V')} AC)",
            "input volts", rms_v, "V", ac, "source without load", state, Harm.DAMAGE, volts,
        )  # fmt: skip
    mean, limit = _cycle(each, state, "plate_mean_a"), words.number("current")
    # The rated output of a bridge is what two of its diodes carry in turn.
    times = 2 if part.is_bridge else 1
    if mean is not None and limit is not None and times * mean / _abreast(each) > limit * _MARGIN:
        amperes = times * mean / _abreast(each)
        name = "output" if part.is_bridge else "mean current"
        yield Excess(
            f"{amount(amperes, 'A')} of {name} (rated: {amount(limit, 'A')})",
            name, amperes * 1e3, "mA", limit * 1e3, "what the solved set draws of it",
            state, Harm.DAMAGE, "fit one of more amperes, once the set draws what it should",
        )  # fmt: skip


# --- figures


def _cycle(each: Rectifier, state: str, name: str) -> float | None:
    """One figure of the cycle of the supply at one point, None if it was not solved."""
    supply = each.solved.get(state)
    if supply is None or not supply.cycle.settled.all() or not supply.cycle.deliverable.all():
        return None
    return float(getattr(supply.cycle, name)[0, 0])


def _abreast(each: Rectifier) -> int:
    """How many plates carry each pulse together."""
    from netcheck.circuit.rectify_spec import RectifierKind

    source = each.by_line["nominal"]
    in_turn = 2 if source.spec.kind is RectifierKind.FULL_WAVE else 1
    bridge = source.spec.kind is RectifierKind.BRIDGE
    return 1 if bridge else max(len(source.arms) // in_turn, 1)


def _output_a(each: Rectifier, ref: str, tube: TubeType, state: str) -> float | None:
    """Mean amperes that a tube's limit means: of a doubler type one plate, else all its plates."""
    mean = _cycle(each, state, "plate_mean_a")
    if mean is None:
        return None
    one = mean / _abreast(each)
    own = sum(1 for arm in each.by_line[state].arms if arm.ref == ref)
    return one if "doubler" in tube.kind else one * max(own, 1)


def _no_load_inverse_v(spec: RectifierSpec) -> float:
    """Peak inverse volts with the reservoir at its peak: twice the peak, in a bridge the peak."""
    from netcheck.circuit.rectify_spec import RectifierKind

    peak = float(spec.peak_v[0])
    return peak if spec.kind is RectifierKind.BRIDGE else 2 * peak
