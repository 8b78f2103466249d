"""A ballast tube does not fit its string or lamp.

Why: The number on a ballast is the volts it drops, its letter the lamp it has a section for. One of
another number puts every heater off its volts; one of another letter over-runs the lamp or leaves
it dim, and without a lamp its section opens the string sooner.
False alarm: A maker's own number that only looks like the RMA code: write the ballast's ohms.
Source: RMA ballast code: capeoldradio.com ballast page (L49 drops 49 V at 0.3 A, 163 ohm); letters
of the lamps: worldtubecompany.com.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.catalog.lamps import Ballast
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._example_sets import LINE_AND_FUSE, STRING_OF_300_MA
from netcheck.rules._heaters import (
    PLAIN,
    Off,
    calculations,
    line_points,
    needed_ohm,
    off_heaters,
    related,
    string_cause,
    too,
    worst_words,
)
from netcheck.rules._line import on_line
from netcheck.rules._words import amount, listed, named

_SET = f"""{LINE_AND_FUSE}\
RT1 ballast {{code}}: FUSED to PL to H6{{mark}}
DS1 lamp {{lamp}}: FUSED to PL{{lamp_mark}}
{STRING_OF_300_MA}"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _SET.format(code="L23", lamp="46", mark="   # <-", lamp_mark=""),
            "L23 drops 23 V where the string needs 53.7 V",
        ),
        Example(
            _SET.format(code="L55", lamp="40", mark="", lamp_mark="   # <-"),
            "is a lamp of 150 mA in the section of L55, which is for 250 mA",
        ),
    ),
    good=(
        _SET.format(code="L55", lamp="46", mark="", lamp_mark=""),
        _SET.format(code="K55", lamp="40", mark="", lamp_mark=""),
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for a ballast of other volts than needed, and for a lamp of other amperes."""
    from netcheck.circuit.heater_law import ballast_of

    for part in case.chassis.of_kind("thermistor"):
        code = ballast_of(part) if part.fitted else None
        if code is not None:
            yield from _drop(case, part, code)
            yield from _lamps(case, part, code)
        elif part.fitted and part.description.has("ballast") and part.value("resistance") is None:
            yield case.not_checked(
                f"what {named(part)} drops: its number is not of the RMA code; write its ohms",
                (part.ref,),
            )


def _drop(case: Case, part: Part, code: Ballast) -> Iterator[Finding | NotChecked]:
    point = line_points(case)[PLAIN]
    if isinstance(point, NotSolved):
        yield case.not_checked(point.reason, (part.ref,))
        return
    offs = [off for off in off_heaters(case) if off.strung]
    if not offs or string_cause(case) != "ballast-code":
        return
    needed = needed_ohm(case)
    need_v = None if needed is None else code.drop_v + needed.ohm * needed.rated_a
    yield _finding(case, part, code, offs, need_v)


def _finding(
    case: Case, part: Part, code: Ballast, offs: Sequence[Off], need_v: float | None
) -> Finding:
    drops = f"the ballast {code.code} drops {code.drop_v:g} V"
    where = "" if need_v is None else f" where the string needs {amount(need_v, 'V')}"
    calc = []
    action = "look up the ballast of the maker's list and fit one of its number"
    if need_v is not None and need_v > 0:
        calc = [Calculation("volts to drop", need_v, "V", code.drop_v,
                            "line less the rated volts of the heaters")]  # fmt: skip
        action = f"fit a ballast that drops {need_v:.0f} V (letter {_letter(code)})"
    return case.finding(
        f"{drops}{where}: {worst_words(offs[0])}{too(offs)}",
        part.ref_span or part.span,
        harm=Harm.DAMAGE if offs[0].share > 1 else Harm.PERFORMANCE,
        parts=[part.ref, *(off.part.ref for off in offs)],
        related=related(offs),
        calc=[*calc, *calculations(offs)],
        action=action,
    )


def _letter(code: Ballast) -> str:
    return code.code.removeprefix("B")[:1]


def _lamps(case: Case, part: Part, code: Ballast) -> Iterator[Finding]:
    """Lamps across a section of the ballast that take other amperes than its letter says."""
    from netcheck.circuit.heater_law import rated_lamp

    sections = [set(e.nets) for e in case.circuit.wiring.of(part.ref)]
    for lamp in case.chassis.of_kind("lamp"):
        rated = rated_lamp(lamp) if lamp.fitted else None
        across = any(set(e.nets) in sections for e in case.circuit.wiring.of(lamp.ref))
        if rated is None or not across or abs(rated[1] / code.lamp_a - 1) < _SAME:
            continue
        fit = listed(code.lamp_types)
        yield case.finding(
            f"{named(lamp)} is a lamp of {amount(rated[1], 'A')} in the section of {code.code}, "
            f"which is for {amount(code.lamp_a, 'A')}",
            lamp.ref_span or lamp.span,
            harm=Harm.PERFORMANCE,
            parts=(lamp.ref, part.ref),
            related=[Related(part.ref_span or part.span, f"{named(part)} has the section")],
            calc=[
                Calculation(f"amperes of {lamp.ref}", rated[1] * 1e3, "mA", code.lamp_a * 1e3,
                            f"letter {_letter(code)} of {code.code}: lamps {fit}")
            ],
            action=f"fit a lamp {code.lamp_types[0]} (the letter is for {fit})",
        )  # fmt: skip


_SAME = 0.15
