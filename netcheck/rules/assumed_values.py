"""Values were assumed where the text is silent.

Why: A figure that rests on an assumption is as good as the assumption. What was taken for granted
    is listed, so that it can be replaced by what is printed on the part or read at the wall.

False alarm: None; state the value (`line 117 V 60 Hz +10% -10%`, `R7 470K 10%`) and it is no
    longer assumed.

Source: common practice, no source; each assumed value names its own basis.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Assumed, Calculation, Finding, Harm, Related, Span
from netcheck.rules._base import Case, Example, rule

_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.RECORD,
    bad=(
        Example("line 117 V 60 Hz  # <-\nR1 470K 1/2 W 10%: B+ to B-" + _REST, says="line"),
        Example("line none\nR1 470K 1/2 W, measured 500K: B+ to B-  # <-" + _REST, says="R1"),
    ),
    good=(
        Example("line 117 V 60 Hz +10% -10%\nR1 470K 1/2 W 10%: B+ to B-" + _REST),
        Example("line none\nR1 470K 1/2 W 10%, measured 500K: B+ to B-" + _REST),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report everything assumed as one finding with many lines."""
    taken = case.circuit.assumed
    if not taken:
        return
    places = [_place(case, each) for each in taken]
    yield case.finding(
        f"taken for granted: {'; '.join(dict.fromkeys(_words(each) for each in taken))}",
        places[0],
        parts=[each.part for each in taken if each.part is not None],
        related=[
            Related(place, _words(each)) for place, each in zip(places[1:], taken[1:], strict=True)
        ],
        calc=[Calculation(each.what, each.value, each.unit, None, each.basis) for each in taken],
        action="state these values as they are printed or measured",
    )


def _words(each: Assumed) -> str:
    of = f" of {each.part}" if each.part is not None else ""
    return f"{each.what}{of} {each.value:.3g} {each.unit}"


def _place(case: Case, each: Assumed) -> Span:
    part = case.chassis.part(each.part) if each.part is not None else None
    # What is of no part is of the line, and taken only where one is stated.
    return part.span_of("resistance") if part is not None else case.chassis.spans["line"]
