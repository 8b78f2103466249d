"""Original paper and electrolytic capacitors are still fitted.

Why: Paper takes up moisture and turns leaky, an electrolytic dries out and its oxide de-forms.
No test clears an old one: what reads well cold leaks when warm and at its working volts. A leaky
paper part makes a grid positive or burns a screen resistor; an old filter capacitor draws heavy
current when power comes back, heats and bursts. Mica, ceramic and plastic film stay.
False alarm: A part that was changed or restuffed without the text saying so: write `new`,
`restuffed` or `replaces …`. Who re-forms electrolytics sets `policy aged-capacitor electrolytics
reform`, and a leakage reading within the limit then clears the part. Who changes only the bad paper
ones sets `policy aged-capacitor paper measure`: then a reading at the printed volts or more that
shows the insulation of a new one clears it; one that is not measured is told as before.
Source: crasno.ca capacitor dielectrics article (how paper and electrolytics fail); justradios.com
capacitor tips (which kinds are replaced and which left); leakage limit of JAN-C-62 as quoted on
the amradio list, msg21215; that no test clears paper: common practice, no source; changing only the
bad ones: angelfire.com funwithtubes, and the radiomuseum.org forum (a blanket swap brings faults).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Role
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Condition, Part
from netcheck.rules._barrier import barriers, bridged_at_jacks
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._capacitors import (
    age_calculation,
    dielectric_of,
    dielectric_span_word,
    insulates_as_new,
    within_limit,
)
from netcheck.rules._stand_ins import stand_ins
from netcheck.rules._words import listed, named

_BURSTING = (Role.RESERVOIR, Role.SMOOTHING, Role.BIAS_BYPASS)
_PAPER, _ELECTROLYTIC, _UNKNOWN, _SOUND = "paper", "electrolytic", "unknown", "sound"
_ACTIONS = {
    _PAPER: "fit {film} place, same value, at least the same volts (more where "
    "voltage-rating says so)",
    "measure": "measure each at its printed volts and write it as a reading; fit film in the place "
    "of those that do not insulate as new ones",
    "replace": "fit new electrolytics before power is applied, at least the same volts (more where "
    "voltage-rating says so), the reservoir no larger than its rectifier tube allows",
    "reform": "re-form each through a resistor, or fit a new one; write its leakage as a reading",
}


@rule(
    harm=Harm.BURST,
    options={
        "electrolytics": Option(
            "replace", ("replace", "reform"), "whether an old electrolytic may be re-formed"
        ),
        "paper": Option(
            "replace",
            ("replace", "measure"),
            "whether every old paper capacitor goes, or only those that do not measure as new",
        ),
    },
    bad=(
        Example(
            """
C3 .05 mfd 400 V paper: AVC to B-   # <-
C4 .01 mfd 600 V wax paper: SCREEN to B-
C5 .002 mfd 630 V film, replaces .002 mfd 600 V moulded paper: TONE to B-
""",
            "2 original paper capacitors are still fitted: C3 and C4",
        ),
        Example(
            """
line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
V5 35W4: plate LINE, cathode B1, heater LINE to H4
C1A 50 mfd 150 V electrolytic: + B1, - B-   # <-
""",
            "C1A (50 mfd 150 V electrolytic) is an original electrolytic",
        ),
        Example(
            """
policy aged-capacitor electrolytics reform
C2 20 mfd 250 V electrolytic: + B2, - B-   # <-
reading C2 leakage 3 mA at 250 V
""",
            "C2 (20 mfd 250 V electrolytic) is an original electrolytic",
        ),
        Example(
            """
policy aged-capacitor paper measure
C3 .05 mfd 400 V paper: AVC to B-   # <-
reading C3 leakage 90 meg at 400 V
""",
            "no insulation of a new one is read at its volts",
        ),
    ),
    good=(
        """
C3 .05 mfd 630 V film, replaces .05 mfd 400 V paper: AVC to B-
C4 100 mmf mica: DET to B-
C5 .005 mfd ceramic: SCREEN to B-
C6 20 mfd 450 V electrolytic, restuffed: + B1, - B-
C7 .01 mfd 400 V paper, removed: TONE to B-
""",
        """
policy aged-capacitor electrolytics reform
C2 20 mfd 250 V electrolytic: + B2, - B-
reading C2 leakage 0.5 mA at 250 V
""",
        """
policy aged-capacitor paper measure
C3 .05 mfd 400 V paper: AVC to B-
reading C3 leakage 100000 meg at 400 V
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for paper, one for electrolytics, and say what could not be told."""
    groups: dict[str, list[Part]] = {}
    for part in case.chassis.of_kind("capacitor"):
        if part.condition is Condition.ORIGINAL and case.circuit.wiring.of(part.ref):
            groups.setdefault(_group(case, part), []).append(part)
    for group in (_PAPER, _ELECTROLYTIC):
        if group in groups:
            yield _finding(case, group, groups[group])
    if unknown := groups.get(_UNKNOWN):
        refs = [part.ref for part in unknown]
        yield case.not_checked(
            f"the text does not say what {listed(refs)} "
            f"{'is' if len(refs) == 1 else 'are'} made of (paper, film, mica, ceramic, …)",
            refs,
        )


def _group(case: Case, part: Part) -> str:
    kind = dielectric_of(part)
    if kind is None:
        value = part.description.values.get("capacitance")
        # A safety class is younger than paper without one; a range is a variable capacitor.
        tells = part.description.classes or (value is not None and value.spread)
        return _SOUND if tells else _UNKNOWN
    if not kind.suspect_when_original:
        return _SOUND
    if not kind.polarized:
        as_new = case.option("paper") == "measure" and insulates_as_new(case.chassis, part)
        return _SOUND if as_new else _PAPER
    cleared = case.option("electrolytics") == "reform" and within_limit(case.chassis, part)
    return _SOUND if cleared else _ELECTROLYTIC


def _finding(case: Case, group: str, parts: list[Part]) -> Finding:
    roles = case.circuit.wiring.role_of
    bursts = group == _ELECTROLYTIC and any(roles(part.ref) in _BURSTING for part in parts)
    refs = [part.ref for part in parts]
    noun = "paper capacitor" if group == _PAPER else "electrolytic"
    message = (
        f"{named(parts[0])} is an original {noun}, {_doubt(case, group)}"
        if len(parts) == 1
        else f"{len(parts)} original {noun}s are still fitted: {listed(refs)}"
    )
    by_reading = case.option("paper") == "measure"
    paper = "measure" if by_reading else _PAPER
    film = "a film capacitor in its" if len(parts) == 1 else "film capacitors in their"
    action = _ACTIONS[paper if group == _PAPER else case.option("electrolytics")].format(film=film)
    action += "".join(f"; {each}" for each in _but(case, parts))
    return case.finding(
        message,
        parts[0].span_of(dielectric_span_word(parts[0])),
        action=action,
        harm=Harm.BURST if bursts else Harm.DAMAGE,
        parts=refs,
        related=[
            Related(p.span_of(dielectric_span_word(p)), _said(p, roles(p.ref))) for p in parts[1:]
        ],
        calc=[
            each
            # Every electrolytic has a limit to meet; one figure tells enough of paper.
            for part in (parts[:1] if group == _PAPER and not by_reading else parts)
            if (each := age_calculation(case.chassis, part)) is not None
        ],
    )


def _but(case: Case, parts: list[Part]) -> Iterator[str]:
    """Those of the group for which something else is to be done than for the others."""
    wiring = case.circuit.wiring
    bridging = {p.ref for barrier in barriers(case) for p in barrier.capacitors}
    bridging |= bridged_at_jacks(case)
    across = (Role.ACROSS_LINE, Role.ACROSS_SWITCH)
    on_line = [p.ref for p in parts if p.ref in bridging or wiring.role_of(p.ref) in across]
    if on_line:
        yield (
            f"not so {listed(on_line)}, which {'is' if len(on_line) == 1 else 'are'} on the line: "
            "there fit the class and value that line-capacitor-class or antenna-isolation names"
        )
    instead = stand_ins(case)
    for part in parts:
        if part.ref in instead:
            yield f"{part.ref} only goes out where {instead[part.ref][1].ref} keeps its place"


def _doubt(case: Case, group: str) -> str:
    if group == _ELECTROLYTIC and case.option("electrolytics") == "reform":
        return "and no leakage within its limit is read"
    if group == _PAPER and case.option("paper") == "measure":
        return "and no insulation of a new one is read at its volts"
    return "and no test clears one of its age"


def _said(part: Part, role: Role) -> str:
    return named(part) if role is Role.UNKNOWN else f"{named(part)}: {role.value}"
