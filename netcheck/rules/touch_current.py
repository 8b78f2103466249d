"""Touch current over the limit.

Why: Whoever touches this metal and anything earthed passes the current to earth. Half a milliampere
tingles, five make the hand jerk, ten may hold it fast; what starts it need not be a fault. Plate
volts on a jack or a frame pass direct current from it to the chassis, without any line.
False alarm: A switch position or outlet that cannot be in your house, or metal no hand can reach
(say with `touchable:` what can; a top cap too, as V1.g1). Measure it all the same: 1500 ohm with
0.15 mfd across, from the metal to earth, plug both ways round, switch on and off. The insulation of
transformers and of sockets is not in the sum.
Source: body network IEC 60990 figure 4, U2/500, as printed in service manuals (HD-E1KE, annex D
page); leakage check 1500 ohm with 0.15 mfd, 0.75 V: Panasonic TH-42PW5, safety page; 0.5 mA for a
two-wire cord, 0.75 mA for a three-wire one: UL 1711:2006 clause 39; 0.25 mA: IEC 60950, emc-pstc
list msg25765; 2 mA and 60 V DC: IEC 60065 in Toshiba 32W1333DN, 120 V with a part failed: its
clause 11.1, bbs1.angui.org thread 50616; a whole barrier (class Y1, or two class Y2) does not fail:
emc-pstc list msg21132; 10 mA let-go, 5 mA, 25 mA DC: from memory (IEC 60479-1, IEC 62368-1).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from netcheck.circuit.touch import TouchTable
from netcheck.findings import Finding, Harm, NotChecked, NotSolved, Related, Span
from netcheck.parts import Part
from netcheck.rules._barrier import part_to_fit
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import on_line, path_lines
from netcheck.rules._touch import Judged, is_record, judge, normal_rows, shorted_rows
from netcheck.rules._touch_direct import direct_current
from netcheck.rules._touch_fit import told_values
from netcheck.rules._touch_limit import LIMIT_OPTION, limit_a
from netcheck.rules._touch_remedy import Remedy, remedies
from netcheck.rules._touch_rows import rows
from netcheck.rules._words import amount, listed

_LEADS = "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
_TOP = "line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 B-\n" + _LEADS
_STEP_UP = (
    "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
    "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
    "T1 auto, primary 0-117-234 V: primary N to SW to UP\nZ1 load 60 mA: UP to N\n"
)
_PLUG = "P1 plug, polarized: hot LINE, neutral B-\n"
_DUTY = "line-to-unearthed-metal"

_SET_BY_HAND = ("air", "gang", "padder", "trimmer", "variable")

# Not joined to anything in the text, but metal of a part that sits on the chassis.
_MECHANICAL = frozenset({"shaft", "frame", "body", "case", "core", "can", "shell", "socket"})


@rule(
    harm=Harm.SHOCK_NOW,
    bad=(
        Example(
            _TOP + "R20 220K 1/2 W: B- to CHASSIS   # <-\n",
            says="CHASSIS passes 0.578 mA to earth",
        ),
        Example(
            _TOP + "C21 .05 mfd 250 VAC class Y2: B- to CHASSIS   # <-\n"
            "R20 470K 1/2 W: B- to CHASSIS\n",
            says="C21 alone passes 2.19 mA",
        ),
        # The switch in the B- lead: off, the cold heaters lift B- to the hot line.
        Example(
            "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
            "F1 1/2 A 250 V: LINE to FUSED\nS1 power: ON N to B-\n"
            "V1 50C5: heater FUSED to H1\nV2 35W4: heater H1 to B-\n"
            "C21 .022 mfd 250 VAC class Y2: B- to CHASSIS   # <-\n",
            says="P1 as drawn, S1 OFF",
        ),
        # Above the line: the autotransformer's end is at 234 V.
        Example(
            _STEP_UP + "C1 .01 mfd 250 VAC class Y2: UP to CHASSIS   # <-\n",
            says="CHASSIS passes 0.964 mA to earth (P1 as drawn, S1 ON",
        ),
        # A battery set: nothing of the line, but the phones have one side on B+.
        Example(
            "line none\nBT1 90 V B-battery: + B+, - CHASSIS\nJ1 phones: tip TIP, sleeve CHASSIS\n"
            "R1 10K 1/2 W: B+ to TIP   # <-\n",
            says="TIP passes 7.49 mA of direct current to CHASSIS by R1",
        ),
        Example(
            "line none\nhold B1 300 V\nR1 4.7K 10 W: B1 to PL\nR2 22K 5 W: PL to CHASSIS\n"
            "J1 phones: tip TIP, sleeve CHASSIS\nC1 .1 mfd 400 V paper: PL to TIP   # <-\n",
            says="C1 shorted",
        ),
    ),
    good=(
        "line 117 V 60 Hz\n" + _PLUG + _LEADS + "C21 .0047 mfd 250 VAC class Y2: B- to CHASSIS\n"
        "R20 470K 1/2 W: B- to CHASSIS\n",
        "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral N\n"
        "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "T1 power, primary 117 V, high 300 V:\n   primary SW to N, high HA to CHASSIS\n"
        "Z1 load 60 mA: HA to CHASSIS\nC30 .0047 mfd 250 VAC class Y1: SW to CHASSIS\n",
        "line 230 V 50 Hz\n" + _PLUG + _LEADS + "C21 .0047 mfd 250 VAC class Y2: B- to CHASSIS\n",
        _STEP_UP + "C1 .0047 mfd 250 VAC class Y1: UP to CHASSIS\n",
        "line none\nBT1 67.5 V B-battery: + B+, - CHASSIS\nR1 10K: B+ to CHASSIS\n",
        "line none\nBT1 45 V B-battery: + B+, - CHASSIS\nJ1 phones: tip TIP, sleeve CHASSIS\n"
        "R1 10K 1/2 W: B+ to TIP\n",
        "line none\nhold B1 300 V\nR1 4.7K 10 W: B1 to PL\nR2 22K 5 W: PL to CHASSIS\n"
        "J1 phones: tip TIP, sleeve CHASSIS\nC1 .1 mfd 400 VAC class Y2: PL to TIP\n",
    ),
    options={"limit": LIMIT_OPTION},
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each piece of metal over a limit that is not on the line itself."""
    try:
        found = list(_alternating(case))
    except NotSolved as fault:  # direct current can be told all the same
        found = [case.not_checked(fault.reason)]
    for each in direct_current(case):
        place = _same_cause(each, found)
        if place is None:
            found.append(each)
        else:
            found[place] = _with_direct(found[place], each)
    yield from found


def _same_cause(direct: Finding | NotChecked, found: list[Finding | NotChecked]) -> int | None:
    """The place of the finding of the same metal and parts: they pass direct current as well."""
    for place, each in enumerate(found):
        if not isinstance(direct, Finding) or not isinstance(each, Finding):
            continue
        same = set(direct.nodes) <= set(each.nodes) and set(direct.parts) <= set(each.parts)
        if same and each.harm is not Harm.RECORD:
            return place
    return None


def _with_direct(found: Finding | NotChecked, direct: Finding | NotChecked) -> Finding | NotChecked:
    if not isinstance(found, Finding) or not isinstance(direct, Finding):
        return found
    worse = min(found.harm, direct.harm, key=lambda harm: harm.rank)
    return replace(found, harm=worse, calc=(*found.calc, *direct.calc))


@on_line
def _alternating(case: Case) -> Iterator[Finding | NotChecked]:
    for table in case.circuit.touch.tables:
        if table.live:  # live-chassis and antenna-isolation tell of it
            continue
        judged = judge(case, table)
        if judged is not None:
            yield _finding(case, table, judged)
        elif is_record(case, table):
            yield _record(case, table)
        if table.doubts:
            metal = listed(table.names)
            yield case.not_checked(
                f"how much {metal} passes: {'; '.join(table.doubts)}", table.beside
            )
    yield from _untold(case)
    yield from _cut_off(case)


def _cut_off(case: Case) -> Iterator[NotChecked]:
    """Metal that nothing described joins to the line, with a part that could not be read near."""
    wiring, apart = case.circuit.wiring, case.circuit.touch.apart
    for piece in case.circuit.touch.network.whole_pieces:
        if piece[0] not in apart:
            continue
        near = {net for own in piece for e in wiring.at(own) for net in e.nets} | set(piece)
        unread = sorted(net for net in near if wiring.incomplete(net))
        if unread:
            yield case.not_checked(f"what {piece[0]} passes: a part at {unread[0]} is not known")


def _untold(case: Case) -> Iterator[NotChecked]:
    """Shafts and frames that are called touchable, and nobody says what they are joined to."""
    apart = set(case.circuit.touch.apart)
    nodes = case.chassis.nodes
    lone = [
        name
        for name in case.chassis.touchable or ()
        if name in apart
        and name.rpartition(".")[2] in _MECHANICAL
        and (name in nodes and len(nodes[name].connections) < 2)
    ]
    if lone:
        reason = (
            f"what {listed(lone)} {'is' if len(lone) == 1 else 'are'} joined to is not told"
            f" (write `{lone[0].rpartition('.')[2]} CHASSIS` in its line, or a node of its own)"
        )
        yield case.not_checked(reason, [name.partition(".")[0] for name in lone])


def _finding(case: Case, table: TouchTable, judged: Judged) -> Finding:
    alone = case.circuit.touch.alone_a(table, judged.state)
    own = {ref: ampere for ref, ampere in alone.items() if ref not in judged.told}
    # With a part shorted every other one would be said to pass what goes through the short.
    failed = judged.state.failed
    counted = {failed: own[failed]} if failed in own else own
    passing = [f"{ref} alone passes {amount(ampere, 'A')}" for ref, ampere in counted.items()]
    told = f" even with {listed(judged.told)} as another finding asks" if judged.told else ""
    return case.finding(
        f"{listed(table.names)} {'passes' if len(table.names) == 1 else 'pass'}"
        f" {amount(judged.ampere, 'A')} to earth{told} ({judged.state.text}, line high), over the"
        f" limit of {amount(limit_a(case), 'A')}; at the line as stated {', '.join(passing[:4])}",
        _place(case, counted or alone),
        harm=judged.harm,
        parts=[*own, *judged.told],
        nodes=table.nets,
        state=judged.state.text,
        related=[
            Related(part.ref_span or part.span, f"passes {amount(counted[part.ref], 'A')} alone")
            for part in _parts(case, counted)
        ]
        + _way(case, counted or alone),
        calc=rows(case, table),
        action=_action(case, table, judged),
    )


def _record(case: Case, table: TouchTable) -> Finding:
    """The table of metal whose excess another rule tells, or practice accepts."""
    worst = max(normal_rows(table), key=lambda row: row.touch_a)
    told = list(told_values(case, table))
    shorted = [
        row
        for row in shorted_rows(table)
        if row.touch_a > limit_a(case) and row.state.failed not in told
    ]
    said = [f"{amount(worst.touch_a, 'A')} to earth as wired, {worst.state.text}"]
    if worst.touch_a > limit_a(case):
        said.append(f"the part to be fitted for {listed(told)} brings it under the limit")
    if shorted:
        most = max(shorted, key=lambda row: row.touch_a)
        failing = " or ".join(row.state.failed for row in shorted)
        said.append(
            f"{amount(most.touch_a, 'A')} if {failing} shorts, which practice accepts of one part"
        )
    return case.finding(
        f"{listed(table.names)}: {'; '.join(said)}",
        _place(case, [row.state.failed for row in shorted] or table.beside),
        harm=Harm.RECORD,
        parts=table.beside,
        nodes=table.nets,
        state=worst.state.text,
        related=_way(case, [row.state.failed for row in shorted] or table.beside),
        calc=rows(case, table),
        action=f"measure it from {table.names[0]} to earth when the set is done: 1500 ohm with"
        " 0.15 mfd across, plug both ways round, switch on and off",
    )


def _parts(case: Case, refs: Iterable[str]) -> list[Part]:
    return [part for ref in refs if (part := case.chassis.part(ref)) is not None]


def _way(case: Case, refs: Iterable[str]) -> list[Related]:
    """How the line comes to the part that passes most."""
    wiring = case.circuit.wiring
    for part in _parts(case, refs):
        ends = [net for e in wiring.of(part.ref) for net in e.nets if net in wiring.line_side]
        for net in ends[:1]:
            return list(path_lines(case, net, wiring.line_path(net)))
    return []


def _place(case: Case, refs: Iterable[str]) -> Span:
    """The value of the part that passes most."""
    part = next(iter(_parts(case, refs)), None)
    if part is None:  # nothing of its own stands between: the plug that makes it live
        return case.circuit.wiring.poles.plugs[0].span
    return part.span_of("capacitance" if part.kind == "capacitor" else "resistance")


def _action(case: Case, table: TouchTable, judged: Judged) -> str:
    failed = case.chassis.part(judged.state.failed)
    if failed is not None and _is_set_by_hand(failed):
        return (
            f"{failed.ref} is no barrier: where its plates touch, {listed(table.names)} is on the"
            " line. Keep all of it from the hand (insulated knobs, filled set screws, a back that"
            " stays on), and work on it through an isolation transformer only"
        )
    if judged.state.failed:
        return (
            f"put a barrier that may not fail in the place of {judged.state.failed}: one part of"
            " class Y1, or two alike of class Y2 in series"
        )
    found = [_fitted(case, remedy) for remedy in remedies(case, table, judged)]
    if not found:
        return f"part {listed(table.names)} from the line: no usual value brings it under the limit"
    also = f", besides {listed(judged.told)}" if judged.told else ""
    return f"fit {', or '.join(found)}{also}"


def _is_set_by_hand(part: Part) -> bool:
    """Whether a part is a gang or a trimmer: no class of capacitor can stand in for it."""
    value = part.description.values.get("capacitance")
    span = value is not None and len(value.amounts) > 1
    return part.kind == "capacitor" and (span or part.description.has(*_SET_BY_HAND))


def _fitted(case: Case, remedy: Remedy) -> str:
    said = []
    for ref, value in remedy.values.items():
        part = case.chassis.part(ref)
        is_capacitor = part is not None and part.kind == "capacitor"
        what = part_to_fit(case, value, _DUTY) if is_capacitor else amount(value, "ohm")
        said.append(f"{ref} as {what}")
    return listed(said)
