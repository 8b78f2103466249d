"""An old capacitor was left connected across its replacement.

Why: The old part still carries its share of leakage and ripple; when it shorts it takes the supply
with it, new capacitor and rectifier included. Before that its leakage spoils every reading, and two
capacitors together may be more than the rectifier stands. The new part does the old one's work, so
it takes the old one's volts.
False alarm: A part that was always there beside another, such as a small mica across an
electrolytic, or one of several on one rail of which another is replaced: only parts of like kind
and size are reported, and not beside a new one that `replaces` another value. If the old one was
really cut off, write `removed` behind it.
Source: never bridge a new capacitor across a bad section, the old one may short later
(radioexperimenter.us, RM 1993-03); never fewer volts than the original: as replacement-rating.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._replaced import volts
from netcheck.rules._reservoir import reservoir_limit
from netcheck.rules._stand_ins import stand_ins
from netcheck.rules._words import amount, named


@rule(
    harm=Harm.BURST,
    bad=(
        Example(
            """
C1C 200 mfd 10 V electrolytic: + STRING, - B-
C27 220 mfd 6.3 V electrolytic, new: + STRING, - B-   # <-
""",
            "is rated 6.3 V where 10 V was",
        ),
        Example(
            """
C1A 50 mfd 150 V electrolytic: + B1, - B-   # <-
C30 47 mfd 160 V electrolytic, new: + B1, - B-
""",
            "C1A (50 mfd 150 V electrolytic) is still connected across C30",
        ),
        Example(
            """
wire AVC to AGC
C3 .05 mfd 400 V paper: AVC to B-   # <-
C31 .047 mfd 630 V film, new: B- to AGC
""",
            "0.097 mfd",
        ),
    ),
    good=(
        """
C1A 50 mfd 150 V electrolytic, removed: + B1, - B-
C30 47 mfd 160 V electrolytic, new: + B1, - B-
""",
        """
C1B 30 mfd 150 V electrolytic, new: + B2, - B-
C8 .047 mfd 630 V film, new: B2 to B-
C9 220 mmf mica: B2 to B-
C10 .01 mfd 630 V film, new: B1 to B-
""",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for each old part that lies across a new one of its kind."""
    for old, new in stand_ins(case).values():
        yield _finding(case, old, new, frozenset(case.circuit.wiring.of(old.ref)[0].nets))
        yield from _underrated(case, old, new)


def _underrated(case: Case, old: Part, new: Part) -> Iterator[Finding]:
    """The new part stands for the old one: it may have no fewer volts (as replacement-rating)."""
    if new.replaces is not None and new.replaces.values.keys() & {"voltage", "voltage-ac"}:
        return  # compared with that one, by replacement-rating
    for each in volts(replace(new, replaces=old.description)):
        is_, was = amount(each.is_, each.unit), amount(each.was, each.unit)
        yield case.finding(
            f"{named(new)} stands in for {named(old)} and is rated {is_} where {was} was: "
            f"{each.limit_words}",
            each.value.span,
            harm=each.harm,
            parts=(new.ref, old.ref),
            nodes=[case.chassis.net(node) for node in new.nodes],
            related=(Related(old.span_of("voltage"), f"{old.ref} is rated {was}"),),
            calc=(Calculation("rated", each.is_, each.unit, each.limit, f"{is_} against {was}"),),
            action=each.action,
        )


def _finding(case: Case, old: Part, new: Part, nets: frozenset[str]) -> Finding:
    was, now = old.value("capacitance"), new.value("capacitance")
    calc = []
    together = ""
    if was and now:
        total = amount(was + now, "F")
        said = f"{amount(was, 'F')} + {amount(now, 'F')} = {total}"
        limit = None
        if case.circuit.wiring.role_of(old.ref) is Role.RESERVOIR:
            limit = reservoir_limit(case, nets)
        if limit is not None:
            said += f"; {named(limit.tube)} is published for {amount(limit.farad, 'F')}"
            said += f" at most ({limit.source})"
        most = limit.farad * 1e6 if limit is not None else None
        calc.append(Calculation("together", (was + now) * 1e6, "mfd", most, said))
        together = f", together {total}"
    return case.finding(
        f"{named(old)} is still connected across {named(new)}{together}",
        old.span_of("capacitance"),
        harm=Harm.DAMAGE,
        parts=(old.ref, new.ref),
        nodes=sorted(nets),
        related=(Related(new.ref_span or new.span, f"{named(new)} takes its place"),),
        calc=calc,
        action=f"cut {old.ref} free at one end, and write `removed` behind it (or fit one new part"
        f" for both, and take {new.ref} out)",
    )
