"""The finding of a line capacitor without its class: the same words and sums in every rule.

Belongs here: wording such a finding, with its currents and the part to fit. Does not belong here:
finding and judging the capacitor (_barrier.py).
"""

from __future__ import annotations

from collections.abc import Iterable

from netcheck.catalog.safety import required_text
from netcheck.findings import Calculation, Finding, Harm, Related
from netcheck.parts import Part
from netcheck.rules._barrier import (
    capacitance_f,
    class_policy,
    class_span,
    current_calculations,
)
from netcheck.rules._base import Case
from netcheck.rules._line import (
    DANGER_A,
    hot_when,
    line_of,
    path_lines,
    state_of,
    touch_calculation,
)
from netcheck.rules._touch_fit import fitted_sum, fitting_part
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._words import amount, named

__all__ = ["NO_LINE", "line_finding", "touch_finding"]

NO_LINE = "no line voltage is stated: the current of line capacitors is not computed"


def line_finding(
    case: Case,
    part: Part,
    duty: str,
    place: str,
    short: str,
    *,
    nodes: tuple[str, str],
    calc: tuple[Calculation, ...],
    parts: Iterable[str] = (),
    harm: Harm = Harm.SHOCK,
    state: str = "as wired",
    related: Iterable[Related] = (),
    belongs_on: str = "",
) -> Finding:
    """Say that a part stands at `place` without the class its `duty` takes.

    `short` is what happens when it shorts, as a sentence; `parts` are others it has to do with.
    A part that no class would help has its minus where it `belongs_on` another net.
    """
    takes = f"it takes {required_text(duty, class_policy(case))}"
    action = f"fit {fitting_part(case, part, duty)}"
    if belongs_on:
        takes = f"its minus belongs on {belongs_on}"
        action = f"put its minus on {belongs_on}"
    return case.finding(
        f"{named(part)} {place}: {takes}{_not_computed(case, part)}",
        class_span(part),
        harm=harm,
        parts=(part.ref, *parts),
        nodes=nodes,
        state=state,
        related=related,
        calc=calc,
        why=f"{case.rule.doc.why} {short}",
        action=action,
    )


def touch_finding(
    case: Case,
    part: Part,
    duty: str,
    place: str,
    line: str,
    metal: str,
    touched: tuple[str, ...],
    *,
    belongs_on: str = "",
    series_ohm: float = 0.0,
) -> Finding:
    """Say it of a part between net `line` and net `metal`, which a hand reaches at `touched`.

    `series_ohm` are resistors on the same way. Danger if more than 10 mA can flow as the set is
    wired, else a warning.
    """
    earthed = duty == "line-to-earthed-metal"
    hand = touched[0] if touched else metal
    what = "into the earth wire" if earthed else f"through a hand on {hand}"
    limit = None if earthed else limit_a(case)
    passing = current_calculations(case, capacitance_f(part), what, limit, series_ohm)
    felt = not earthed and any(each.value > DANGER_A * 1e3 for each in passing)
    shorted = () if earthed else touch_calculation(case, f"{what}, {part.ref} shorted", series_ohm)
    kept = f"only {amount(series_ohm, 'ohm')} of resistance" if series_ohm else ""
    through = f"{hand} is joined to {line} by {kept or 'a conductor'}"
    if earthed:
        through = f"the earth wire carries what {kept or 'the fuse'} lets through"
    return line_finding(
        case, part, duty, place,
        f"When {part.ref} shorts, {through}.",
        harm=Harm.SHOCK_NOW if felt and hot_when(case, line) else Harm.SHOCK,
        nodes=(line, metal),
        parts=touched,
        state=state_of(case, line),
        related=path_lines(case, line, case.circuit.wiring.line_path(line)),
        calc=(*passing, *shorted, *(() if belongs_on else fitted_sum(case, part))),
        belongs_on=belongs_on,
    )  # fmt: skip


def _not_computed(case: Case, part: Part) -> str:
    if line_of(case) is None:
        return " (no line voltage is stated: its current is not computed)"
    if capacitance_f(part) is None:
        return " (its value is not known: its current is not computed)"
    return ""
