"""Reading the statements that are not parts: line, wire, touchable, accept and so on.

Belongs here: one handler a statement, each turning a tree into a record of the chassis. Does not
belong here: parts (describe.py, terminals.py) and `type` (typecards.py).
"""

from __future__ import annotations

from collections.abc import Callable

from lark import Token, Tree

from netcheck.chassis import (
    Acceptance,
    Hold,
    LineSupply,
    Policy,
    Setting,
    Tolerances,
    Wire,
)
from netcheck.findings import Related
from netcheck.language.drafts import subtrees, tokens
from netcheck.language.mistakes import Mistake, did_you_mean, joined
from netcheck.language.readings import Gathered, ReadingReader
from netcheck.language.resolve import Resolver
from netcheck.language.source import Statement
from netcheck.parts import Value

__all__ = ["Gathered", "gather", "notation"]

# The widest line that a domestic set was ever made for, and the narrowest (farm lighting plants).
_LEAST_LINE_V, _MOST_LINE_V = 6.0, 500.0
_DC_UNITS = frozenset({"vdc", "v.d.c", "v.d.c.", "wvdc"})


class _Reader(ReadingReader):
    """One statement, with what it needs to be understood."""

    def once(self, what: str) -> None:
        """Refuse a second statement of a kind that a set has once."""
        first = self.into.spans.setdefault(what, self.whole)
        if first is not self.whole:
            raise Mistake(
                f"`{what}` stands here and in line {first.line}",
                self.whole,
                "keep one",
                related=(Related(first, "the first one"),),
            )

    # --- handlers -----------------------------------------------------------------------------

    def set_statement(self, tree: Tree[Token]) -> None:
        self.once("set")
        self.into.title = _text(tokens(tree)[1])
        for each in subtrees(tree):
            word, text = tokens(each)
            key = str(word).casefold().replace("license", "licence")
            if key in self.into.travels:
                raise Mistake(
                    f"`{key}` stands twice", self.statement.place(each), "keep one of them"
                )
            self.into.travels[key] = _text(text)

    def line_statement(self, tree: Tree[Token]) -> None:
        self.once("line")
        items = tree.children[1:]
        if isinstance(items[0], Token) and items[0].type == "NONE":
            self.into.line = LineSupply(None, 0.0, self.whole)
            return
        volts: Value | None = None
        kinds: list[float] = []  # hertz, 0 for DC
        tolerance: list[Tree[Token]] = []
        for item in items:
            if isinstance(item, Token):
                kinds += self._line_word(item)
                continue
            value = self.quantity(item)
            if value.dimension in ("voltage", "voltage-ac") and volts is None:
                volts = value
                kinds += [0.0] if str(item.children[-1]).casefold() in _DC_UNITS else []
            elif value.dimension == "frequency" and _is_line_frequency(value):
                kinds.append(value.si)
            elif value.dimension == "tolerance":
                tolerance.append(item)
            else:
                raise Mistake(
                    f"{value.text} cannot belong to the line",
                    value.span,
                    "write it like `line 117 V 60 Hz` or `line 220 V DC`",
                )
        self.into.line = self._line(volts, kinds, self._tolerances(tolerance))

    def _line_word(self, item: Token) -> list[float]:
        word = str(item).casefold().replace(".", "")
        if word in ("dc", "ac"):
            return [0.0] if word == "dc" else []
        raise Mistake(
            f"{item} is no word of the line",
            self.statement.place(item),
            "write it like `line 117 V 60 Hz`, `line 220 V DC` or `line none`",
        )

    def _tolerances(self, trees: list[Tree[Token]]) -> dict[str, float]:
        """`+10% -10%`, or `10%` for both ways."""
        found: dict[str, float] = {}
        for tree in trees:
            value = self.quantity(tree)
            sign = str(tree.children[0])[:1]
            for way in {"+": ["above"], "-": ["below"]}.get(sign, ["above", "below"]):
                if way in found or len(value.amounts) != 1:
                    raise Mistake(
                        f"the line's way {way} its volts is given twice",
                        value.span,
                        "write it like `line 117 V 60 Hz +10% -10%`",
                    )
                found[way] = abs(value.si)
        return found

    def _line(
        self, volts: Value | None, kinds: list[float], tolerance: dict[str, float]
    ) -> LineSupply:
        if volts is None or len(volts.amounts) != 1:
            raise Mistake(
                "the line's volts are missing, or are more than one figure",
                volts.span if volts is not None else self.whole,
                "state the one voltage that your wall has, as in `line 117 V 60 Hz`",
            )
        if len(set(kinds)) != 1:
            raise Mistake(
                "is this line AC (of how many hertz) or DC?",
                self.whole,
                f"write `line {volts.text} 60 Hz`, `line {volts.text} 50 Hz` or "
                f"`line {volts.text} DC`",
            )
        if not _LEAST_LINE_V <= volts.si <= _MOST_LINE_V:
            raise Mistake(
                f"no wall gives {volts.text}",
                volts.span,
                "state the line's volts; a battery set has `line none`",
            )
        return LineSupply(volts.si, kinds[0], self.whole, Tolerances(**tolerance), bool(tolerance))

    def wire_statement(self, tree: Tree[Token]) -> None:
        (path,) = subtrees(tree)
        nodes = [token for token in tokens(path) if token.type == "NODE"]
        names = tuple(self.resolver.node(t, self.statement.place(t)) for t in nodes)
        if len(names) < 2:
            raise Mistake("`wire` joins two names or more", self.whole, "write `wire A to B`")
        self.into.wires.append(Wire(names, self.whole))

    def measure_statement(self, tree: Tree[Token]) -> None:
        self.once("measure from")
        self.into.measure_from = self._known_node(tokens(tree)[-1])

    def touchable_statement(self, tree: Tree[Token]) -> None:
        if self.into.touchable is None:
            self.into.touchable = []
            self.into.spans["touchable"] = self.whole
        for token in tokens(tree)[1:]:
            self.into.touchable.append(self._known_node(token))

    def hold_statement(self, tree: Tree[Token]) -> None:
        token = tokens(tree)[1]
        (value, *more) = self.quantities(tree.children[2:])
        if value.dimension != "voltage" or more:
            raise Mistake(
                f"a rail is held at a DC voltage, and {value.text} is none",
                value.span,
                "write it like `hold B1 276 V`",
            )
        node = self._known_node(token)
        self.into.holds.append(Hold(node, value, self.whole))

    def accept_statement(self, tree: Tree[Token]) -> None:
        names = [token for token in tokens(tree) if token.type == "NODE"]
        reason = _text(next(token for token in tokens(tree) if token.type == "STRING"))
        if not reason.strip():
            raise Mistake(
                "an accepted finding needs its reason", self.whole, "say why in quotation marks"
            )
        rule, *targets = names
        self.into.acceptances.append(
            Acceptance(
                str(rule).casefold(),
                tuple(self._target(token) for token in targets),
                reason,
                self.whole,
            )
        )

    def _target(self, token: Token) -> str:
        ref = str(token).upper()
        if ref in self.resolver.by_ref:
            return ref
        if self.resolver.is_part_like(ref):
            self._no_part(token)
        return self._known_node(token)

    def policy_statement(self, tree: Tree[Token]) -> None:
        _, rule, option, value = tree.children
        if isinstance(value, Tree):
            start, end = value.meta.start_pos, value.meta.end_pos
            text = self.statement.text[start:end]
        else:
            text = str(value)
        self.into.policies.append(
            Policy(str(rule).casefold(), str(option).casefold(), text.casefold(), self.whole)
        )

    def switch_statement(self, tree: Tree[Token]) -> None:
        _, token, _, position = tokens(tree)
        ref = str(token).upper()
        wafers = [
            draft
            for draft in self.resolver.drafts
            if draft.kind == "switch" and ref in (draft.ref, f"S{draft.number}")
        ]
        if not wafers:
            switches = [r for r, d in self.resolver.by_ref.items() if d.kind == "switch"]
            raise Mistake(
                f"there is no switch {token}",
                self.statement.place(token),
                did_you_mean(str(token), switches, "describe the switch first"),
            )
        known = list(dict.fromkeys(path.position for each in wafers for path in each.paths))
        at = str(position).upper()
        broken = any(each.broken for each in wafers)
        if at not in known and not (at == "OFF" and len(known) == 1) and not broken:
            raise Mistake(
                f"{ref} has no position {position}",
                self.statement.place(position),
                did_you_mean(at, known, f"its positions are {joined(known, 'and')}"),
                parts=(ref,),
            )
        self.into.settings.append(Setting(ref, at, self.whole))


def _is_line_frequency(value: Value) -> bool:
    """Whether some line has these hertz (railways 16 2/3, ships and aircraft 400)."""
    return len(value.amounts) == 1 and 15.0 <= value.si <= 500.0


def notation(tree: Tree[Token], statement: Statement) -> float:
    """What `notation M = 1000` (or 1000000) says of this drawing.

    Raises:
        Mistake: it speaks of something else.
    """
    _, letter, number = tree.children
    meaning = {"1000": 1e3, "1000000": 1e6}.get(str(number))
    if str(letter).upper() != "M" or meaning is None:
        raise Mistake(
            "only the letter M has two meanings on drawings",
            statement.whole(),
            "write `notation M = 1000` or `notation M = 1000000`",
        )
    return meaning


def gather(tree: Tree[Token], statement: Statement, into: Gathered, resolver: Resolver) -> None:
    """Read one statement into the chassis that is being gathered.

    Raises:
        Mistake: the statement cannot be understood.
    """
    reader = _Reader(statement, into, resolver)
    handler: Callable[[Tree[Token]], None] = getattr(reader, str(tree.data))
    handler(tree)


def _text(token: Token) -> str:
    return str(token)[1:-1]
