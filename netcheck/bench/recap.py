"""The replacement list: every part to change, what to fit, and what to leave alone.

Belongs here: which parts, why each, the order that sums them up. Does not belong here: choosing
one part (fitting.py), the look of the list (output/).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from netcheck.bench.fitting import ELECTROLYTIC, Fit, fit_capacitor, fit_resistor
from netcheck.bench.workup import Workup
from netcheck.circuit.wiring import Role
from netcheck.findings import Assumed, Finding, Harm, NotChecked
from netcheck.parts import Condition, Part
from netcheck.rules._capacitors import dielectric_of
from netcheck.rules._words import described

__all__ = ["BY_THE_PART", "Kept", "Order", "Recap", "Row", "is_marked_on", "recap"]

_SPARES = 0.2  # of each small part, rounded up (common practice, no source)

# Rules whose remedy for a resistor is a new one of the same ohms; others ask for something else.
_NEW_RESISTOR = frozenset(
    {"resistor-drift", "dissipation", "replacement-rating", "voltage-rating", "parallel-original"}
)

# Rules whose remedy for a capacitor that is not old is another one; others ask for a wire, a
# bleeder or another value, which they name.
_NEW_CAPACITOR = frozenset(
    {
        "aged-capacitor", "antenna-isolation", "avc-leakage", "coupling-leakage",
        "line-capacitor-class", "output-capacitor", "polarity", "rating-missing",
        "replacement-rating", "ripple-current", "two-in-series", "vibrator-buffer",
        "voltage-rating",
    }
)  # fmt: skip

# Rules whose remedy is the new part itself, so that it needs no further word.
BY_THE_PART = frozenset(
    {
        "aged-capacitor", "antenna-isolation", "coupling-leakage", "dissipation",
        "line-capacitor-class", "rating-missing", "replacement-rating", "resistor-drift",
        "two-in-series", "voltage-rating",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One part to see to: what is there, what to fit, where it goes, and why.

    `asks` is what the findings ask for besides fitting it; never empty where `fit` is None.
    `elsewhere` are the parts at which that is done, where this one only suffers.
    """

    ref: str
    line: int
    there: str
    role: str
    harm: Harm
    fit: Fit | None
    asks: tuple[str, ...]
    connection: str
    rules: tuple[str, ...]
    elsewhere: tuple[str, ...] = ()

    @property
    def todo(self) -> str:
        """What the findings ask for, in one line."""
        return "; ".join(self.asks)

    @property
    def only_suffers(self) -> bool:
        """Whether all that is to be done for this part is done at another one."""
        return self.fit is None and len(self.elsewhere) == len(self.asks)


@dataclass(frozen=True, slots=True)
class Kept:
    """A part left as it is, and why."""

    ref: str
    there: str
    why: str


@dataclass(frozen=True, slots=True)
class Order:
    """A line of the order: so many of a part, spares besides, for which references."""

    text: str
    fit: Fit
    count: int
    spares: int
    refs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Recap:
    """The replacement list of one set."""

    file: str
    title: str
    solved: bool | None
    rows: tuple[Row, ...]
    order: tuple[Order, ...]
    kept: tuple[Kept, ...]
    done: tuple[Kept, ...]
    assumed: tuple[Assumed, ...]
    not_checked: tuple[NotChecked, ...]


def recap(work: Workup) -> Recap:
    """The replacement list of a set: one row for each part that a finding speaks of.

    Ratings follow the worst state that was solved; where the set is not solved they follow the
    original alone, and each row says so.
    """
    rows = tuple(_rows(work))
    named = {row.ref for row in rows}
    return Recap(
        work.chassis.file,
        work.chassis.title,
        work.circuit.solved,
        rows,
        tuple(_order(rows)),
        tuple(_kept(work, named)),
        tuple(_done(work, named)),
        work.report.assumed,
        work.report.not_checked,
    )


def _rows(work: Workup) -> Iterator[Row]:
    for part in work.chassis.parts:
        found = [each for each in work.by_part.get(part.ref, ()) if _stands(each)]
        if found:
            yield _row(work, part, found)


def _stands(found: Finding) -> bool:
    return found.accepted is None or found.harm is Harm.SHOCK_NOW


def _row(work: Workup, part: Part, found: Sequence[Finding]) -> Row:
    rules = tuple(dict.fromkeys(each.rule for each in found))
    fit = _fit(work, part, found)
    asking = [each for each in found if _asks(each, fit)]
    actions = dict.fromkeys(_action(work, part, each) for each in asking)
    elsewhere = dict.fromkeys(ref for each in asking if (ref := _elsewhere(work, part, each)))
    role = work.circuit.wiring.role_of(part.ref)
    return Row(
        part.ref,
        part.span.line,
        described(part),
        "" if role is Role.UNKNOWN else role.value,
        found[0].harm,
        fit,
        tuple(actions),
        _connection(work, part, found),
        rules,
        tuple(elsewhere),
    )


def _asks(found: Finding, fit: Fit | None) -> bool:
    """Whether a finding asks for something besides fitting the part."""
    by_class = found.rule == "line-capacitor-class"
    return fit is None or found.rule not in BY_THE_PART or (by_class and not fit.mark)


def _action(work: Workup, part: Part, found: Finding) -> str:
    """What is to be done; at a part that only suffers, where it is done."""
    if found.rule == "parallel-original":
        others = ", ".join(ref for ref in found.parts if ref != part.ref)
        if part.condition is Condition.ORIGINAL:
            return f"take {others} out as the new part goes in, so that it stands alone"
        return f"take it out as the new {others} goes in"
    subject = _elsewhere(work, part, found)
    return f"see {subject}" if subject else found.action or found.message


def _elsewhere(work: Workup, part: Part, found: Finding) -> str:
    """The part at which a finding is put right, "" if it is this one."""
    if found.rule == "parallel-original" or is_marked_on(found, part):
        return ""
    return next((p.ref for p in work.chassis.parts if is_marked_on(found, p)), "")


def is_marked_on(found: Finding, part: Part) -> bool:
    """Whether a finding is marked on the words of a part."""
    span, at = part.span, found.span
    return span.file == at.file and span.line <= at.line <= span.end_line


def _fit(work: Workup, part: Part, found: Sequence[Finding]) -> Fit | None:
    if part.broken or not work.circuit.wiring.of(part.ref):
        return None
    rules = {each.rule for each in found}
    if part.kind == "capacitor":
        sound = part.condition is not Condition.ORIGINAL
        wanted = _NEW_CAPACITOR & rules
        # A new part that lies across an old one goes out; one whose minus is astray only moves.
        if sound and "parallel-original" in rules:
            return None
        if (
            sound
            and wanted == {"line-capacitor-class"}
            and any(_return_of(work, part, each) for each in found)
        ):
            return None
        if sound and not wanted:
            return None
        at_socket = "antenna" if "antenna-isolation" in rules else ""
        return fit_capacitor(work, part, at_socket)
    if part.kind == "resistor" and _NEW_RESISTOR.intersection(rules):
        return fit_resistor(work, part)
    return None


def _return_of(work: Workup, part: Part, found: Finding) -> str:
    """The wire to which the minus of a filter capacitor belongs that has it on metal, else ""."""
    common = work.circuit.wiring.common or ""
    return common if part.terminal("-") and found.action == f"put its minus on {common}" else ""


def _connection(work: Workup, part: Part, found: Sequence[Finding]) -> str:
    """Where each end goes; of a polarized part which end is plus, put right where it was wrong."""
    named = {t.name: t.node for t in part.terminals if not t.unused}
    if {"+", "-"} <= named.keys():
        plus, minus = named["+"], named["-"]
        if any(each.rule == "polarity" for each in found):
            return f"plus {minus}, minus {plus} (it was the wrong way round)"
        right = next((ref for each in found if (ref := _return_of(work, part, each))), "")
        also = f" (it was on {minus})" if right else ""
        return f"plus {plus}, minus {right or minus}{also}"
    if part.kind in ("capacitor", "resistor", "fuse", "lamp", "coil", "diode"):
        return " to ".join(named.values())
    return ", ".join(f"{name} {node}" for name, node in named.items())


def _order(rows: Sequence[Row]) -> Iterator[Order]:
    """The parts to buy, capacitors first, by kind and value."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        if row.fit is not None:
            groups.setdefault(row.fit.text, []).append(row)
    found = []
    for text, own in groups.items():
        fit = own[0].fit
        if fit is not None:
            count = sum(row.fit.count for row in own if row.fit is not None)
            spares = 0 if fit.mark or fit.kind == ELECTROLYTIC else math.ceil(_SPARES * count)
            found.append(Order(text, fit, count, spares, tuple(row.ref for row in own)))
    yield from sorted(found, key=lambda o: (o.fit.unit, o.fit.kind, o.fit.value or 0.0, o.text))


def _kept(work: Workup, named: set[str]) -> Iterator[Kept]:
    """Original capacitors to leave alone, and parts whose findings are all accepted."""
    for part in work.chassis.parts:
        if part.ref in named or not part.fitted or part.broken:
            continue
        accepted = [f for f in work.by_part.get(part.ref, ()) if f.accepted is not None]
        there = described(part)
        if accepted:
            yield Kept(part.ref, there, f'accepted: "{accepted[0].accepted}"')
            continue
        made_of = dielectric_of(part) if part.kind == "capacitor" else None
        if (
            part.condition is Condition.ORIGINAL
            and made_of is not None
            and not made_of.suspect_when_original
        ):
            yield Kept(part.ref, there, made_of.ageing)


def _done(work: Workup, named: set[str]) -> Iterator[Kept]:
    """What the text says was renewed already and no finding speaks of."""
    for part in work.chassis.parts:
        renewed = part.condition in (Condition.NEW, Condition.RESTUFFED)
        if part.ref not in named and renewed and part.kind not in ("tube",):
            yield Kept(part.ref, described(part), _was(part) or "as the text says")


def _was(part: Part) -> str:
    """What stood there before, as the text has it, else what was done."""
    if part.replaces is None:
        return "" if part.description.text.find(part.condition.value) >= 0 else part.condition.value
    words = part.replaces.text.split()
    return " ".join(["was", *words[1 if words[:1] == ["replaces"] else 0 :]])
