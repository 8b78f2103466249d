"""Two capacitors in series across one barrier, not alike.

Why: Two capacitors in series count as one strong barrier only if each could hold the whole line
when the other shorts: both of the class, both of one value, each rated for the total.
False alarm: One of the two is class Y1, or one class Y2 is enough for you (policy practice) and the
other part is there for another purpose: it is then only put on record.
Source: same class and value for both: IEC 60601-1 Am.1 as quoted at bbs.angui.org thread 92408; one
Y1 or two Y2: emc-pstc list msg21132; each rated for the total working voltage: from memory
(IEC 62368-1 G.11).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.catalog.safety import required_text
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._barrier import (
    Barrier,
    barriers,
    capacitance_f,
    class_fault,
    class_policy,
    class_span,
    current_calculations,
)
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import line_of, on_line
from netcheck.rules._touch_fit import part_instead
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._words import amount, listed, named

_TOP = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
)
_ALIKE_WITHIN = 0.01
"""Nominal values that differ by no more are one value (from memory: rounding of old values)."""


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _TOP + "C1 .01 mfd 630 V film: B- to MID   # <-\n"
            "C2 .01 mfd 630 V film: MID to CHASSIS\n",
            says="neither has a class",
        ),
        Example(
            _TOP + "C1 .01 mfd 250 VAC class Y2: B- to MID   # <-\n"
            "C2 .0047 mfd 250 VAC class Y2: MID to CHASSIS\n",
            says="their values differ",
        ),
        Example(
            _TOP + "policy line-capacitor-class class strict\n"
            "C1 .0047 mfd 250 VAC class Y2: B- to MID   # <-\n"
            "C2 .0047 mfd 275 VAC class X2: MID to CHASSIS\n",
            says="their classes differ",
        ),
    ),
    good=(
        _TOP + "C1 .01 mfd 250 VAC class Y2: B- to MID\n"
        "C2 .01 mfd 250 VAC class Y2: MID to CHASSIS\n",
        _TOP + "policy line-capacitor-class class strict\n"
        "C1 .0047 mfd 250 VAC class Y2: B- to MID\n"
        "C2 .0047 mfd 250 VAC class Y2: MID to CHASSIS\n",
        _TOP + "C1 .0047 mfd 250 VAC class Y1: B- to MID\nC2 .01 mfd 630 V film: MID to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each series pair that cannot be relied on as a pair."""
    seen: set[frozenset[str]] = set()
    for barrier in barriers(case):
        refs = frozenset(part.ref for part in barrier.capacitors)
        if len(refs) > 1 and refs not in seen:
            seen.add(refs)
            yield from _judge(case, barrier)


def _judge(case: Case, barrier: Barrier) -> Iterator[Finding]:
    parts = barrier.capacitors
    if any(_is_y1(part) and not class_fault(case, part, barrier.duty) for part in parts):
        return
    faults = {part.ref: class_fault(case, part, barrier.duty, in_series=2) for part in parts}
    alone = [part for part in parts if not class_fault(case, part, barrier.duty)]
    unlike = _unlike(parts)
    if all(faults.values()):
        yield _finding(case, barrier, _neither(parts, faults), Harm.SHOCK)
    elif any(faults.values()) or unlike:
        said = unlike or [f"{ref} stands {fault}" for ref, fault in faults.items() if fault]
        yield _finding(case, barrier, " and ".join(said), Harm.RECORD if alone else Harm.SHOCK)


def _is_y1(part: Part) -> bool:
    return any(mark == "Y1" for mark, _ in part.description.classes)


def _neither(parts: tuple[Part, ...], faults: dict[str, str]) -> str:
    if not any(part.description.classes for part in parts):
        return "neither has a class" if len(parts) == 2 else "none has a class"
    return " and ".join(f"{ref} stands {fault}" for ref, fault in faults.items())


def _unlike(parts: tuple[Part, ...]) -> list[str]:
    said = []
    if len({frozenset(mark for mark, _ in part.description.classes) for part in parts}) > 1:
        said.append("their classes differ")
    values = [capacitance_f(part) for part in parts]
    known = [value for value in values if value is not None]
    if len(known) < len(parts):
        said.append("a value is not known")
    elif max(known) > min(known) * (1 + _ALIKE_WITHIN):
        said.append("their values differ")
    return said


def _finding(case: Case, barrier: Barrier, said: str, harm: Harm) -> Finding:
    parts = barrier.capacitors
    first, *rest = parts
    pair = f"{listed(named(part) for part in parts)} in series"
    return case.finding(
        f"{pair} join {barrier.line} to {barrier.metal}, and {said}; the place takes "
        f"{required_text(barrier.duty, class_policy(case))}",
        class_span(first),
        harm=harm,
        parts=[part.ref for part in parts],
        nodes=(barrier.line, barrier.metal),
        related=[Related(class_span(part), "in series with it") for part in rest],
        calc=_calculations(case, barrier),
        action=f"fit two equal parts of class Y2, each for the whole line, or one alone:"
        f" {part_instead(case, parts, barrier.duty)}",
    )


def _calculations(case: Case, barrier: Barrier) -> tuple[Calculation, ...]:
    """What the pair passes, and what the worst part must hold when the other shorts."""
    values = [capacitance_f(part) for part in barrier.capacitors]
    farads = [value for value in values if value]
    whole = 1 / sum(1 / value for value in farads) if len(farads) == len(values) else None
    what = f"through a hand on {barrier.metal}"
    limit, ohm = limit_a(case), barrier.series_ohm
    found = current_calculations(case, whole, f"{what}, in series", limit, ohm)
    if whole is not None:
        name = f"{what}, the smaller shorted"
        found += current_calculations(case, max(farads), name, limit, ohm)
    line = line_of(case)
    if line is not None:
        said = f"the whole line, {amount(line.volts, 'V')}, when the other one shorts"
        found += (Calculation("volts each has to hold", line.volts, "V", None, said),)
    return found
