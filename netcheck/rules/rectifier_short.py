"""Rectifiers short the line or a winding.

Why: Where rectifiers in a row all point from one end of a winding to the other, every other half
wave flows through them and through no load. Diodes, transformer or fuse go at switch-on.
It comes by a bridge whose minus is joined to a centre tap or to a pin of the line, or by a corner
exchanged for another.
False alarm: Less than 100 ohm in the way counts as nothing. A load that is there but not written:
write it.
Source: a bridge on a grounded centre tap shorts each half in turn: elementary rectifier theory;
100 ohm: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.rectifier_loops import RectifierLoop, rectifier_loops
from netcheck.findings import Finding, Harm, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import amount, listed, named

_LINE = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral COLD\n"
_MAINS = "F1 1/4 A 250 V slow: LINE to FUSED\n"
_WOUND = (
    _LINE + _MAINS + "T1 power, high 180-0-180 V 60 mA 90 ohm each: primary FUSED to COLD,\n"
    "   high HA to CT to HB\n"
)
_REST = "C1 22 mfd 450 V electrolytic, new: + B1, - CHASSIS\nZ1 load 50 mA: B1 to CHASSIS\n"


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _WOUND + "D1 bridge 800 V 1 A, new: ac HA to HB, + B1, - CHASSIS   # <-\n"
            "wire CT to CHASSIS\n" + _REST,
            "D1 (bridge 800 V 1 A, new) shorts the high winding of T1 in one half wave",
        ),
        Example(
            _LINE + _MAINS + "D1 bridge 800 V 1 A, new: ac FUSED to COLD, + B1, - CHASSIS   # <-\n"
            "wire COLD to CHASSIS\n" + _REST,
            "shorts the line in one half wave",
        ),
        Example(
            _WOUND.replace("HA to CT to HB", "HA to HB").replace("180-0-180 V", "180 V")
            + "D1 bridge 800 V 1 A, new: ac HA to B1, + HB, - CHASSIS   # <-\n" + _REST,
            "from HA to HB there is no load",
        ),
    ),
    good=(
        # The centre tap stays free, and each end has its own half of the bridge.
        _WOUND.replace("HA to CT to HB", "HA to open to HB").replace("180-0-180", "110-0-110")
        + "D1 bridge 800 V 1 A, new: ac HA to HB, + B1, - CHASSIS\n" + _REST,
        _WOUND + "wire CT to CHASSIS\n"
        "D1 bridge 800 V 1 A, new: ac HA to HB, + B1, - open\n" + _REST,
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for each source that rectifiers short."""
    for loop in rectifier_loops(case.circuit.wiring):
        refs = dict.fromkeys(e.ref for e in loop.rectifiers)
        parts = [p for ref in refs if (p := case.chassis.part(ref)) is not None]
        if parts and not _is_grounded(case, loop):
            yield _finding(case, loop, parts)


def _is_grounded(case: Case, loop: RectifierLoop) -> bool:
    """Whether `supply-short` tells of it: the only rectifier of a set has its output on return."""
    wiring, last = case.circuit.wiring, loop.rectifiers[-1]
    return not wiring.supplies and len(loop.rectifiers) == 1 and last.b in wiring.returns


def _finding(case: Case, loop: RectifierLoop, parts: list[Part]) -> Finding:
    first = parts[0]
    source = f"the {loop.path} winding of {loop.ref}" if loop.ref else "the line"
    through = [e.ref for e in loop.way if e.ref not in {p.ref for p in parts}]
    over = f" over {listed(dict.fromkeys(through))}" if through else ""
    ohms = f", and {amount(loop.ohm, 'ohm')} in all" if loop.ohm else ""
    shorts = "shorts" if len(parts) == 1 else "short"
    return case.finding(
        f"{listed(named(part) for part in parts)} {shorts} {source} in one half wave: from "
        f"{loop.a} to {loop.b}{over} there is no load{ohms}",
        first.ref_span or first.span,
        parts=tuple(dict.fromkeys([*(p.ref for p in parts), *through])),
        nodes=(loop.a, loop.b),
        related=[Related(p.ref_span or p.span, f"{named(p)} is in the loop") for p in parts[1:]],
        action=_remedy(loop, parts),
    )


def _remedy(loop: RectifierLoop, parts: list[Part]) -> str:
    refs = listed(p.ref for p in parts)
    compare = f"compare the ends of {refs} with the drawing before power"
    if not any(part.is_bridge for part in parts) and len(loop.rectifiers) < 2:
        return compare
    free = (
        "its minus belongs on no pin of the line" if not loop.ref
        else "a centre tap of the winding stays free"
    )  # fmt: skip
    return (
        f"{compare}: the AC corners of a bridge go to the two ends of what drives it, its plus and "
        f"minus to the filter, and {free}"
    )
