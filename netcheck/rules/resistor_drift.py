"""A resistor measures outside its tolerance.

Why: Carbon composition takes up moisture and its value rises, most of all from 33K up: a plate load
that doubled starves its tube, a screen dropper weakens the stage, a bias that sank lets the output
tube run hot. A value below its tolerance, read in the set, is more often another path beside it.
False alarm: Read in the circuit with something across it: lift one end and measure again. Who
judges by a flat limit sets `policy resistor-drift limit 10` or `20`.
Source: tolerance bands of composition resistors (none 20 %): vcomp.co.uk resistor codes; values of
33K and up drift most: ARC5 list, March 2019; replaced beyond 20 %: angelfire.com funwithtubes,
steps to first power on; controls 30 %: from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._words import amount, listed, named

_UNBANDED = 0.2
_CONTROL = 0.3
_DRIFTING_OHM = 33e3
_STABLE = (
    "control", "rheostat", "wirewound", "film", "metal-film", "metal-oxide", "metal-clad", "cord",
    "dropper", "fusible", "flameproof", "tapped", "bleeder",
)  # fmt: skip
# Fewer ohms here, and a tube or a heater is over-run.
_GUARDING = (Role.CATHODE_BIAS, Role.BACK_BIAS, Role.HEATER_DROPPER, Role.SURGE)


@rule(
    harm=Harm.DAMAGE,
    options={
        "limit": Option(
            "tolerance",
            ("tolerance", "10", "20"),
            "how far a resistor may have drifted: its own tolerance, or a flat percentage",
        )
    },
    bad=(
        Example(
            "R7 470K 1/2 W 10%, measured 531K: B2 to V3.plate   # <-\nV3 12AV6: plate V3.plate\n",
            "measures 531K, +13 % off its 470K where +-10 % is allowed",
        ),
        Example("R4 220K 1/2 W, measured 300K: X1 to X2   # <-\n", "no band is stated"),
        Example("R5 1M 1/2 W: X1 to X2   # <-\nR6 47K 1 W: X2 to X3\n", "R5 and R6"),
    ),
    good=(
        "R7 470K 1/2 W 10%, measured 505K: X1 to X2\n",
        """
R4 220K 1/2 W, new: X1 to X2
R5 1M 1/2 W metal-film: X2 to X3
R6 500K control: X2 to X3 to X1
R8 150 ohm 1 W: X1 to X3
""",
        "policy resistor-drift limit 20\nR7 470K 1/2 W 10%, measured 531K: X1 to X2\n",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for each drifted resistor, and one for those that were not measured."""
    unmeasured = []
    for part in case.chassis.of_kind("resistor"):
        if part.measured is not None and part.measured.known:
            yield from _measured(case, part)
        elif part.measured is None and _may_drift(part):
            unmeasured.append(part)
    if unmeasured:
        yield _unmeasured(case, unmeasured)


def _limit(case: Case, part: Part) -> tuple[float, str]:
    """The allowed fraction, and where it comes from."""
    flat = case.option("limit")
    if flat != "tolerance":
        return float(flat) / 100, "by policy"
    stated = part.description.number("tolerance")
    if stated is not None:
        return stated, "as stated"
    if part.description.has("control", "rheostat"):
        return _CONTROL, "no tolerance is stated; a control has 30 %"
    return _UNBANDED, "no band is stated; composition without one has 20 %"


def _measured(case: Case, part: Part) -> Iterator[Finding]:
    value, measured = part.description.values.get("resistance"), part.measured
    if value is None or not value.known or measured is None or value.total <= 0:
        return
    if measured.dimension != "resistance":
        return
    was, now = value.total, measured.si
    limit, reason = _limit(case, part)
    drift = now / was - 1
    if abs(drift) <= limit + 1e-9:
        return
    low = drift < 0
    role = case.circuit.wiring.role_of(part.ref)
    place = "" if role is Role.UNKNOWN else f", {role.value},"
    yield case.finding(
        f"{part.ref}{place} measures {amount(now, 'ohm')}, {drift * 100:+.0f} % off its "
        f"{amount(was, 'ohm')} where +-{limit * 100:g} % is allowed ({reason})",
        part.span_of("measured"),
        harm=Harm.DAMAGE if low and role in _GUARDING else Harm.PERFORMANCE,
        parts=(part.ref,),
        calc=(
            Calculation(
                "drift", drift * 100, "%", limit * 100 * (-1 if low else 1),
                f"{amount(now, 'ohm')} / {amount(was, 'ohm')} - 1 = {drift * 100:+.3g} %",
            ),
        ),
        action=f"lift one end of {part.ref} and measure again" if low
        else f"fit {amount(was, 'ohm')}{_watts(part)}",
    )  # fmt: skip


def _watts(part: Part) -> str:
    watts = part.description.number("power")
    return f" of {amount(watts, 'W')} or more" if watts is not None else ""


def _may_drift(part: Part) -> bool:
    """An old resistor of 33K or more that is composition, or of which nothing else is said."""
    if part.condition is not Condition.ORIGINAL or part.description.has(*_STABLE):
        return False
    return (part.description.number("resistance") or 0.0) >= _DRIFTING_OHM


def _unmeasured(case: Case, parts: list[Part]) -> Finding:
    refs = [part.ref for part in parts]
    one = len(refs) == 1
    return case.finding(
        f"{listed(refs)} {'is an old resistor' if one else 'are old resistors'} of 33K or more, "
        "the kind that drifts, and not measured",
        parts[0].span_of("resistance"),
        harm=Harm.RECORD,
        parts=refs,
        related=[Related(part.span_of("resistance"), named(part)) for part in parts[1:]],
        action=f"measure {'it' if one else 'them'} with one end lifted, and write "
        "`measured …` behind the value",
    )
