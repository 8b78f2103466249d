"""A resistor measures outside its tolerance.

Why: Carbon composition takes up moisture and its value rises, most of all from 33K up: a plate load
that doubled starves its tube, a screen dropper weakens the stage, a bias that sank lets the output
tube run hot. A value below its tolerance, read in the set, is more often another path beside it.
False alarm: Read in the circuit with something across it: lift one end and measure again. Who
judges by a flat limit sets `policy resistor-drift limit 10` or `20`; who judges by what the drift
does to the chart sets `effect`: then only those that move an electrode by a tenth are told.
Source: tolerance bands of composition resistors (none 20 %): vcomp.co.uk resistor codes; values of
33K and up drift most: ARC5 list, March 2019; replaced beyond 20 %: angelfire.com funwithtubes,
steps to first power on; controls 30 %: from memory; a tenth of an electrode's volts as what is seen
on a chart: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._drift import Effect, drift_of, effects
from netcheck.rules._words import amount, listed, named

_UNBANDED = 0.2
_CONTROL = 0.3
_SEEN_SHARE = 0.1
_DRIFTING_OHM = 33e3
_STABLE = (
    "control", "rheostat", "wirewound", "film", "metal-film", "metal-oxide", "metal-clad", "cord",
    "dropper", "fusible", "flameproof", "tapped", "bleeder",
)  # fmt: skip
# Plates of voltage amplifiers are rated 4 W at most (12SK7), those of output tubes from 4.5 W
# (35C5) up: tube data of the catalogue.
_SMALL_W = 4.0
# Fewer ohms here, and a tube or a heater is over-run.
_GUARDING = (Role.CATHODE_BIAS, Role.BACK_BIAS, Role.HEATER_DROPPER, Role.SURGE)

_STAGE = """{policy}hold B2 90 V
V3 12AV6: plate PLATE, grid VOL, cathode B-, diode1 open, diode2 open, heater H1 to B-
R8 10 meg 1/2 W, new: VOL to B-
R7 470K 1/2 W 10%, measured {ohm}: B2 to PLATE{mark}
"""


@rule(
    harm=Harm.DAMAGE,
    options={
        "limit": Option(
            "tolerance",
            ("effect", "tolerance", "10", "20"),
            "how far a resistor may have drifted: its own tolerance, a flat percentage, or as far "
            "as no electrode's volts move by a tenth",
        )
    },
    bad=(
        Example(
            "R7 470K 1/2 W 10%, measured 531K: B2 to V3.plate   # <-\nV3 12AV6: plate V3.plate\n",
            "measures 531K, +13 % off its 470K where +-10 % is allowed",
        ),
        Example(_STAGE.format(policy="", ohm="610K", mark="   # <-"), "it moves V3's plate by -"),
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
        _STAGE.format(policy="policy resistor-drift limit effect\n", ohm="531K", mark=""),
        "policy resistor-drift limit 20\nR7 470K 1/2 W 10%, measured 531K: X1 to X2\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each drifted resistor, and one for those that were not measured."""
    resistors = list(case.chassis.of_kind("resistor"))
    measured = [part for part in resistors if drift_of(part) is not None]
    by_effect = case.option("limit") == "effect"
    told = effects(case, measured if by_effect else [p for p in measured if _is_off(case, p)])
    for part in measured:
        effect = told.get(part.ref)
        if by_effect and isinstance(effect, NotSolved):
            reason = f"what the drift of {part.ref} does to the chart: {effect.reason}"
            yield case.not_checked(reason, (part.ref,))
        if by_effect and isinstance(effect, Effect):
            off = abs(effect.share) > _SEEN_SHARE
        else:
            off = _is_off(case, part)
        if off:
            yield _drifted(case, part, effect if isinstance(effect, Effect) else None)
    unmeasured = [part for part in resistors if part.measured is None and _may_drift(part)]
    if unmeasured:
        yield _unmeasured(case, unmeasured)


def _limit(case: Case, part: Part) -> tuple[float, str]:
    """The allowed fraction, and where it comes from."""
    flat = case.option("limit")
    if flat not in ("tolerance", "effect"):
        return float(flat) / 100, "by policy"
    stated = part.description.number("tolerance")
    if stated is not None:
        return stated, "as stated"
    if part.description.has("control", "rheostat"):
        return _CONTROL, "no tolerance is stated; a control has 30 %"
    return _UNBANDED, "no band is stated; composition without one has 20 %"


def _is_off(case: Case, part: Part) -> bool:
    """Whether a measured resistor is outside of what is allowed."""
    was, now = drift_of(part) or (1.0, 1.0)
    return abs(now / was - 1) > _limit(case, part)[0] + 1e-9


def _drifted(case: Case, part: Part, effect: Effect | None) -> Finding:
    was, now = drift_of(part) or (1.0, 1.0)
    limit, reason = _limit(case, part)
    drift = now / was - 1
    low = drift < 0
    role = case.circuit.wiring.role_of(part.ref)
    place = "" if role is Role.UNKNOWN else f", {role.value},"
    allowed = f" where +-{limit * 100:g} % is allowed ({reason})" if _is_off(case, part) else ""
    return case.finding(
        f"{part.ref}{place} measures {amount(now, 'ohm')}, {drift * 100:+.0f} % off its "
        f"{amount(was, 'ohm')}{allowed}{_told(effect)}",
        part.span_of("measured"),
        harm=Harm.DAMAGE if low and _over_runs(case, part, role) else Harm.PERFORMANCE,
        parts=(part.ref,),
        calc=[
            Calculation(
                "drift", drift * 100, "%", limit * 100 * (-1 if low else 1),
                f"{amount(now, 'ohm')} / {amount(was, 'ohm')} - 1 = {drift * 100:+.3g} %",
            ),
            *_moved(effect),
        ],
        action=f"lift one end of {part.ref} and measure again" if low
        else f"fit {amount(was, 'ohm')}{_watts(part)}",
    )  # fmt: skip


def _over_runs(case: Case, part: Part, role: Role) -> bool:
    """Whether fewer ohms over-run a tube or a heater.

    A voltage amplifier behind its plate load stays far from its watts; only a tube that is known to
    be one is taken for it.
    """
    if role is not Role.CATHODE_BIAS:
        return role in _GUARDING
    nets = {case.chassis.net(node) for node in part.nodes}
    refs = {e.ref for e in case.circuit.wiring.electrodes if e.duty == "cathode" and e.net in nets}
    tubes = [tube.tube for ref in refs if (tube := case.chassis.part(ref)) is not None]
    watts = [tube.limits.get("plate-w") if tube is not None else None for tube in tubes]
    return not watts or any(each is None or each > _SMALL_W for each in watts)


def _told(effect: Effect | None) -> str:
    """What the drift does to the chart, in words; nothing where the set is not solved."""
    if effect is None:
        return ""
    if not effect.tube:
        return "; it moves no electrode's volts"
    return (
        f"; it moves {effect.tube}'s {effect.electrode} by {effect.change_v:+.3g} V "
        f"({_percent(effect.share)})"
    )


def _percent(share: float) -> str:
    """Two digits, and whole percents from a hundred up (not 1.2e+02)."""
    percent = 100 * share
    return f"{percent:+.0f} %" if abs(percent) >= 99.5 else f"{percent:+.2g} %"


def _moved(effect: Effect | None) -> Iterator[Calculation]:
    if effect is not None and effect.tube:
        yield Calculation(
            f"{effect.tube} {effect.electrode}", effect.now_v, "V", None,
            f"solved; {amount(effect.was_v, 'V')} with the printed value",
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
