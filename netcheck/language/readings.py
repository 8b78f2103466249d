"""Reading what was measured: `reading` statements, and what every statement needs to be read.

Belongs here: the gathered statements, values with AC or DC behind them, meters. Does not belong
here: the other statements (statements.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import NoReturn

from lark import Token, Tree

from netcheck.chassis import (
    Acceptance,
    Hold,
    LineSupply,
    Policy,
    Reading,
    Setting,
    Wire,
)
from netcheck.findings import Span
from netcheck.language.drafts import is_token, tokens
from netcheck.language.mistakes import Mistake, did_you_mean, joined
from netcheck.language.quantities import read_quantity
from netcheck.language.resolve import Resolver
from netcheck.language.source import Item, Statement
from netcheck.parts import Value

__all__ = ["Gathered", "ReadingReader"]


@dataclass
class Gathered:
    """What the statements of a set say so far."""

    title: str = ""
    travels: dict[str, str] = field(default_factory=dict)
    line: LineSupply | None = None
    measure_from: str | None = None
    wires: list[Wire] = field(default_factory=list)
    touchable: list[str] | None = None
    readings: list[Reading] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    acceptances: list[Acceptance] = field(default_factory=list)
    policies: list[Policy] = field(default_factory=list)
    settings: list[Setting] = field(default_factory=list)
    notation_m: float | None = None
    spans: dict[str, Span] = field(default_factory=dict)


class ReadingReader:
    """One statement, with what it needs to be understood."""

    def __init__(self, statement: Statement, into: Gathered, resolver: Resolver) -> None:
        self.statement = statement
        self.into = into
        self.resolver = resolver
        self.whole = statement.whole()

    def quantity(self, item: Item) -> Value:
        """The one value that an item is."""
        if isinstance(item, Tree):
            value = read_quantity(item, self.statement.place(item), self.into.notation_m)
            if len(value.amounts) > 1:
                raise Mistake(f"{value.text} is more than one figure", value.span, "write one")
            return value
        raise Mistake(
            f"{item} is no value",
            self.statement.place(item),
            "write a number with its unit, as in 117 V",
        )

    def quantities(self, items: Iterable[Item]) -> list[Value]:
        """Values, each with the AC or DC that may stand behind it."""
        found: list[Value] = []
        for item in items:
            word = str(item).casefold().replace(".", "") if isinstance(item, Token) else ""
            if found and word in ("ac", "dc") and found[-1].dimension.startswith("voltage"):
                role = "voltage-ac" if word == "ac" else "voltage"
                text = f"{found[-1].text.removesuffix('AC')}AC" if word == "ac" else found[-1].text
                found[-1] = replace(found[-1], dimension=role, text=text)
            else:
                found.append(self.quantity(item))
        return found

    def reading_statement(self, tree: Tree[Token]) -> None:
        """Read what was measured, where, and with which meter."""
        target = tokens(tree)[1]
        leakage = any(isinstance(c, Token) and c.type == "LEAKAGE" for c in tree.children)
        read: list[Item] = []
        at: list[Item] = []
        meter: float | None = None
        accuracy: float | None = None
        after_at = False
        for child in tree.children[2:]:
            if is_token(child, "LEAKAGE") or is_token(child, "AT"):
                after_at |= is_token(child, "AT")
            elif isinstance(child, Tree) and child.data == "reading_clause":
                keyword, *rest = child.children
                if is_token(keyword, "METER"):
                    meter = self._meter(rest)
                else:
                    accuracy = self._accuracy(rest)
            else:
                (at if after_at else read).append(child)
        values, at_values = self.quantities(read), self.quantities(at)
        if len(values) != 1 or len(at_values) > 1:
            raise Mistake("a reading is one value", self.whole, "write it like `reading B1 121 V`")
        at_v = at_values[0] if at_values else None
        self._reading(target, values[0], leakage, at_v, meter, accuracy)

    def _accuracy(self, items: list[Item]) -> float:
        value, *more = [self.quantity(item) for item in items]
        if value.dimension != "tolerance" or more or not 0 < value.si < 1:
            raise Mistake(
                "a meter's accuracy is told in percent", value.span, "write it like `accuracy 3%`"
            )
        return value.si

    def _meter(self, items: list[Item]) -> float:
        """The meter's resistance: `11 M`, or `20 k/V 250 V` (ohms per volt times full scale)."""
        values = [self.quantity(item) for item in items]
        by_role = {value.dimension: value.si for value in values if value.si > 0}
        if set(by_role) == {"resistance"}:
            return by_role["resistance"]
        if {"sensitivity", "voltage"} == set(by_role):
            return by_role["sensitivity"] * by_role["voltage"]
        raise Mistake(
            "the meter is told by its resistance, or by ohms per volt and the range",
            values[0].span if values else self.whole,
            "write `meter 11 M` or `meter 20 k/V 250 V`",
        )

    def _reading(
        self,
        target: Token,
        value: Value,
        leakage: bool,
        at: Value | None,
        meter: float | None,
        accuracy: float | None,
    ) -> None:
        ref = str(target).upper()
        part = ref if ref in self.resolver.by_ref else None
        if part is None and self.resolver.is_part_like(ref):
            self._no_part(target)
        allowed = {"voltage", "voltage-ac", "current"}
        if part is not None:
            allowed = {"voltage", "current", "resistance"} if leakage else {
                "voltage", "current", "resistance", "capacitance", "inductance",
            }  # fmt: skip
        if value.dimension not in allowed:
            raise Mistake(
                f"{value.text} cannot be read there",
                value.span,
                f"a reading of {target} is {joined([f'a {d}' for d in sorted(allowed)])}",
            )
        if value.si < 0 and not value.dimension.startswith(("voltage", "current")):
            raise Mistake(f"{value.text} is less than nothing", value.span, "take the sign out")
        if at is not None and (at.dimension != "voltage" or at.si <= 0):
            raise Mistake(
                f"{at.text} is no voltage to measure leakage at", at.span, "write it like `at 90 V`"
            )
        if leakage and at is None:
            raise Mistake(
                "leakage is measured at some voltage, and none is given",
                self.whole,
                "write it like `reading C14 leakage 0.3 V at 90 V, meter 10 M`",
            )
        node = None if part else self._known_node(target)
        self.into.readings.append(
            Reading(part or str(node), value, self.whole, part, node, leakage, at, meter, accuracy)
        )

    def _known_node(self, token: Token) -> str:
        return self.resolver.node(token, self.statement.place(token), known=True)

    def _no_part(self, token: Token) -> NoReturn:
        raise Mistake(
            f"there is no part {token}",
            self.statement.place(token),
            did_you_mean(
                str(token).upper(), self.resolver.by_ref, "name a part or a node of this set"
            ),
        )
