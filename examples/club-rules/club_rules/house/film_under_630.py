"""New film capacitor of fewer volts than the drawer has.

Why: The club keeps one drawer of film capacitors, all of 630 V. A part of fewer volts came from
somewhere else, and whoever repairs the set next will take it for one of the drawer.
False alarm: Where the space is small and the volts are few, as across a cathode resistor: accept it
on that part. Sets of batteries only may use `policy film-under-630 least 400`.
Source: common practice, no source (a house rule of an invented club).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck import Calculation, Case, Example, Finding, Harm, Option, rule


@rule(
    harm=Harm.RECORD,
    options={"least": Option("630", ("630", "400"), "the least volts of a new film capacitor")},
    bad=(
        Example(
            "line none\nC14 .01 mfd 400 V film, new: X1 to X2   # <-\n",
            says="C14 is a new film capacitor of 400 V",
        ),
        Example(
            "line none\npolicy film-under-630 least 400\n"
            "C14 .01 mfd 250 V film, replaces .01 mfd 200 V paper: X1 to X2   # <-\n",
            says="the club stocks 400 V",
        ),
    ),
    good=(
        Example("line none\nC14 .01 mfd 630 V film, new: X1 to X2\n"),
        Example(
            "line none\nC14 .01 mfd 400 V film: X1 to X2\n"
            "C15 25 mfd 25 V electrolytic, new: + X1, - X2\n"
        ),
        Example(
            "line none\npolicy film-under-630 least 400\nC14 .01 mfd 400 V film, new: X1 to X2\n"
        ),
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for each new film capacitor of fewer volts than the drawer's."""
    least_v = float(case.option("least"))
    for part in case.chassis.of_kind("capacitor"):
        rated_v = part.value("voltage")
        is_new = part.condition.value != "original"
        if not (is_new and part.description.has("film") and rated_v is not None):
            continue
        if rated_v < least_v and not part.description.classes:
            yield case.finding(
                f"{part.ref} is a new film capacitor of {rated_v:g} V, and the club stocks "
                f"{least_v:g} V",
                part.span_of("voltage"),
                action=f"fit one of {least_v:g} V from the drawer",
                parts=(part.ref,),
                calc=[Calculation("rating", rated_v, "V", least_v, "as printed on it")],
            )
