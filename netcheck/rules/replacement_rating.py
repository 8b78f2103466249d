"""A replacement is rated lower, or off in value.

Why: The maker chose a rating for the worst moment of the set: full volts before the tubes draw
current, a line above its nominal. A part of fewer volts or watts fails there. A value that is far
off moves a bias, a tone or the dial; too large a reservoir overloads the rectifier tube, and too
large a coupling capacitor lets the set motorboat.
False alarm: The old part was itself a wrong repair, or the maker changed the value later: accept it
with that reason. Who fits no larger electrolytic sets `policy replacement-rating electrolytics 20`.
Values of line and antenna capacitors are not compared here: they are bounded by
the current they pass, and meant to be smaller. For the same reason more ohms are allowed from the
line or B- to metal, and in series with silicon that replaces selenium.
Source: never fewer volts than the original: nostalgiaair.org t2246, vintage-radio.net thread 88767
and radioworld.com; electrolytics -20 % to +100 %: jbcapacitors.hk post 139 and
tube-love.blogspot.com March 2003; reservoir bounded by its tube: nostalgiaair.org t2246; coupling
+-20 %, padders and tuned circuits 2 %, batteries 10 %: common practice, no source; resistors 20 %:
angelfire.com funwithtubes, steps to first power on; a resistor beside the silicon diode:
studylib.net doc 18253712.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from netcheck.circuit.wiring import Role
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules import _replaced
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._certain import is_sure
from netcheck.rules._replaced import Shortfall
from netcheck.rules._reservoir import Excess, reservoirs_over_maximum
from netcheck.rules._tuned import Tuned, told_hz, tuned_by
from netcheck.rules._words import amount, listed, named

_RATED = {
    "capacitor": ("voltage", "voltage-ac"),
    "resistor": ("power",),
    "battery": ("voltage",),
}


@rule(
    harm=Harm.SHOCK,
    options={
        "electrolytics": Option(
            "100",
            ("100", "50", "20"),
            "by how many percent an electrolytic may be larger than the old one; the maximum of a "
            "rectifier tube holds in any case",
        )
    },
    bad=(
        Example(
            "C14 .01 mfd 400 V film, replaces .01 mfd 600 V paper: X1 to DRIVE   # <-\n",
            "rated 400 V where 600 V was",
        ),
        Example(
            "C1 47 mfd 160 V electrolytic or 10 mfd, replaces 50 mfd 150 V: + B1, - B-   # <-\n",
            "is 10 mfd where 50 mfd was",
        ),
        Example(
            "C9 .01 mfd 630 V film, replaces .01 mfd 250 VAC: X1 to X2   # <-\n",
            "a DC rating says nothing of the AC",
        ),
        Example(
            "R12 220 ohm 1/2 W, replaces 220 ohm 1 W: KOUT to B-   # <-\n",
            "rated 0.5 W where 1 W was",
        ),
        Example(
            "line none\nBT2 90 V B-battery, replaces 67.5 V B-battery: + B+, - B-   # <-\n",
            "is 90 V where 67.5 V was",
        ),
        Example(
            """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to SW
Z1 load 250 mA: SW to B-
R20 100K 1/2 W, replaces 220K 1/2 W: B- to CHASSIS   # <-
""",
            "-20 % or more is allowed (B- to touchable metal)",
        ),
        Example(
            "F1 1 A 250 V slow, replaces 1/4 A 250 V: LINE to FUSED   # <-\n",
            "rated 1 A where 250 mA was",
        ),
        Example(
            """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate LINE, cathode B1, heater LINE to H4
C1 100 mfd 160 V electrolytic, replaces 40 mfd 150 V electrolytic: + B1, - B-   # <-
""",
            "V5 (35W4) is published for at most 40 mfd",
        ),
    ),
    good=(
        """
C14 .0047 mfd 630 V film, replaces .005 mfd 600 V paper: X1 to DRIVE
C21 .0047 mfd 250 VAC class Y2, replaces .2 mfd 400 V paper: B- to CHASSIS
R12 150 ohm 2 W, replaces 150 ohm 1 W: KOUT to B-
""",
        """
C1 47 mfd 160 V electrolytic, replaces 40 mfd 150 V electrolytic: + B1, - B-
F1 1/2 A 250 V slow, replaces 1 A 125 V: FEED to FUSED
""",
        """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
S1 power: ON FUSED to SW
R1 47 ohm 5 W, replaces 22 ohm 2 W: SW to ANODE
CR1 silicon, 1 A 1000 V, replaces selenium 100 mA: anode ANODE, cathode B1
C1 47 mfd 250 V electrolytic, new: + B1, - B-
Z1 load 180 mA: SW to B-
Z2 load 60 mA: B1 to B-
R20 470K 1/2 W, replaces 220K 1/2 W: B- to CHASSIS
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each shortfall of a replacement, and for each too large reservoir."""
    over = list(reservoirs_over_maximum(case))
    for excess in over:
        yield _reservoir(case, excess)
    reported = {part.ref for excess in over for part in excess.parts}
    unstated = []
    for part in case.chassis.parts:
        if part.replaces is None or not part.fitted or part.broken:
            continue
        role = case.circuit.wiring.role_of(part.ref)
        for each in _shortfalls(case, part, role):
            if not (part.ref in reported and each.unit == "F" and each.is_ > each.was):
                yield _finding(case, part, each)
        if _is_unstated(part):
            unstated.append(part.ref)
    if unstated:
        yield case.not_checked(
            f"{listed(unstated)}: the rating of the part or of the one it replaces is not stated",
            unstated,
        )


def _shortfalls(case: Case, part: Part, role: Role) -> Iterator[Shortfall]:
    found: list[Iterator[Shortfall]] = [_replaced.current(part)]
    if part.kind in ("capacitor", "fuse"):
        found.append(_replaced.volts(part))
    if part.kind == "capacitor":
        # Two per cent are asked of a part that is surely tuned, not of one that may be a tone part.
        unsure = role is Role.TUNED and not is_sure(case.circuit.wiring, part, role)
        if role is not Role.TUNED or not _moves_dial(case, part):
            larger = float(case.option("electrolytics")) / 100
            found.append(_replaced.capacitance(part, Role.UNKNOWN if unsure else role, larger))
    if part.kind == "resistor":
        more = _is_beside_new_silicon(case, part, role)
        found += [_replaced.resistance(part, role, may_rise=more), _replaced.power(part)]
    if part.kind == "battery":
        found.append(_replaced.battery(part))
    return chain.from_iterable(found)


def _moves_dial(case: Case, part: Part) -> bool:
    """Whether `mica-substitution` tells how many kilohertz a tuned capacitor is off."""
    now, old = part.description.values.get("capacitance"), part.replaces
    was = old.values.get("capacitance") if old is not None else None
    if now is None or was is None or not (now.known and was.known) or now.spread or was.spread:
        return False
    circuit = tuned_by(case, part, was.si)
    measured = part.value("capacitance") or now.si
    return isinstance(circuit, Tuned) and abs(circuit.moved_hz(was.si, measured)) > told_hz(case)


def _is_beside_new_silicon(case: Case, resistor: Part, role: Role) -> bool:
    """Whether silicon stands for a dry rectifier in series: more ohms take up what that dropped."""
    nets = {case.chassis.net(node) for node in resistor.nodes}
    return any(
        diode.replaces.has("selenium", "dry-disc")
        and not diode.description.has("selenium", "dry-disc")
        and (role is Role.SURGE or nets & {case.chassis.net(node) for node in diode.nodes})
        for diode in case.chassis.of_kind("diode")
        if diode.replaces is not None
    )


def _is_unstated(part: Part) -> bool:
    """Whether the ratings that would be compared are missing on one side."""
    roles = _RATED.get(part.kind)
    if roles is None or part.replaces is None or part.description.classes:
        return False
    old, new = part.replaces, part.description
    return not (any(r in old.values for r in roles) and any(r in new.values for r in roles))


def _finding(case: Case, part: Part, each: Shortfall) -> Finding:
    is_, was = amount(each.is_, each.unit), amount(each.was, each.unit)
    rated = f"{each.what} " if each.what else ""
    mixed = each.unit == "V AC" and each.value.dimension == "voltage"
    return case.finding(
        f"{named(part)} is {rated}{f'{each.is_:g} V DC' if mixed else is_} where {was} was: "
        f"{each.limit_words}",
        each.value.span,
        harm=each.harm,
        parts=(part.ref,),
        nodes=[case.chassis.net(node) for node in part.nodes],
        calc=() if mixed else (_calculation(each, f"{is_} / {was} = {each.is_ / each.was:.3g}"),),
        action=each.action,
    )


def _calculation(each: Shortfall, ratio: str) -> Calculation:
    scale, unit = (1e6, "mfd") if each.unit == "F" else (1.0, each.unit)
    name = each.what or "value"
    return Calculation(name, each.is_ * scale, unit, each.limit * scale, ratio)


def _reservoir(case: Case, excess: Excess) -> Finding:
    first, *others = excess.parts
    tube = excess.limit.tube
    limit, total = amount(excess.limit.farad, "F"), amount(excess.farad, "F")
    return case.finding(
        f"{named(first)} makes a reservoir of {total}, and {named(tube)} is published "
        f"for at most {limit} ({excess.limit.source})",
        first.span_of("capacitance"),
        harm=Harm.DAMAGE,
        parts=[part.ref for part in excess.parts] + [tube.ref],
        nodes=[case.chassis.net(node) for node in first.nodes],
        related=[
            Related(tube.span_of("type"), f"{named(tube)} charges it"),
            *(Related(part.span_of("capacitance"), named(part)) for part in others),
        ],
        calc=(
            Calculation(
                "reservoir", excess.farad * 1e6, "mfd", excess.limit.farad * 1e6,
                f"{total} against {limit}, with 20 % for the part's own tolerance",
            ),
        ),
        action=f"fit {limit} there and put what the hum asks for behind the choke or resistor",
    )  # fmt: skip
