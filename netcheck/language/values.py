"""Reading the quantities of a clause: each value into its role, wrong dimensions refused.

Belongs here: the cursor over a clause's items and everything about values. Does not belong here:
words and keywords (clauses.py), how a value is written (quantities.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lark import Token, Tree

from netcheck.findings import Harm
from netcheck.language.drafts import DescriptionDraft, Draft, Item, is_token
from netcheck.language.mistakes import Mistake, did_you_mean, nearest
from netcheck.language.quantities import find_unit, read_quantity
from netcheck.language.vocabulary import KINDS, LONGEST_PHRASE, phrase
from netcheck.parts import Condition, Value

__all__ = [
    "CONDITIONS",
    "EXAMPLES",
    "MAIN_ROLE",
    "NOUNS",
    "RENAMED_ROLES",
    "SURGING",
    "ValueClause",
]

# No electrolytic of a supply is made for less; cathode bypasses are written out in full.
_LEAST_FILTER_V = 25.0

# Parts that have a surge rating beside their working volts.
SURGING = frozenset({"capacitor", "diode"})

NOUNS = {
    "resistance": "a resistance", "capacitance": "a capacitance", "inductance": "an inductance",
    "voltage": "a voltage", "voltage-ac": "an AC voltage", "current": "a current",
    "power": "a power", "tolerance": "a tolerance", "frequency": "a frequency",
    "conductance": "a transconductance", "sensitivity": "a meter's sensitivity",
    "ratio": "a number without a unit",
}  # fmt: skip
MAIN_ROLE = {
    "capacitor": "capacitance", "resistor": "resistance", "thermistor": "resistance",
    "varistor": "voltage", "coil": "inductance", "fuse": "current", "lamp": "voltage",
    "battery": "voltage", "load": "current", "speaker": "impedance", "switch": "voltage",
    "transformer": "impedance", "diode": "voltage", "vibrator": "voltage",
}  # fmt: skip
EXAMPLES = {
    "capacitor": "0.05 mfd 400 V paper", "resistor": "470K 1/2 W", "battery": "1.5 V A-battery",
    "fuse": "1/2 A 250 V slow", "lamp": "lamp 47", "load": "load 35 mA", "coil": "choke 10 H",
    "speaker": "3.2 ohm", "transformer": "output, 2500 ohm to 3.2 ohm",
}  # fmt: skip
CONDITIONS = {
    "original": Condition.ORIGINAL, "new": Condition.NEW, "restuffed": Condition.RESTUFFED,
    "removed": Condition.REMOVED,
}  # fmt: skip
RENAMED_ROLES = {  # a resistance that is an impedance where it stands
    ("speaker", "resistance"): "impedance",
    ("transformer", "resistance"): "impedance",
}


class ValueClause:
    """A cursor over the items of one clause, with what it takes to read values into `target`."""

    keywords: frozenset[str] = frozenset()

    def __init__(
        self,
        draft: Draft,
        items: list[Item],
        notation_m: float | None,
        target: DescriptionDraft,
        *,
        winding: str = "",
        old: bool = False,
    ) -> None:
        self.draft = draft
        self.items = items
        self.notation_m = notation_m
        self.target = target
        self.winding = winding
        self.old = old
        self.at = 0
        self.last_role = ""
        self.unclaimed_ac: Value | None = None

    # --- values -------------------------------------------------------------------------------

    def _quantity(self, tree: Tree[Token]) -> None:
        value = self._value(tree)
        self.at += 1
        if value.dimension == "ratio":
            self._bare_number(tree, value)
            return
        if value.dimension == "resistance" and self._peek() in ("ohm", "ohms"):
            self.at += 1  # 470 K ohm
        role = self._role_after(value)
        self._put(role, value)

    def _value(self, tree: Tree[Token]) -> Value:
        value = read_quantity(tree, self.draft.place(tree), self.notation_m)
        unit = find_unit(str(tree.children[1])) if len(tree.children) > 1 else None
        if unit is not None and unit.notice:
            self._notice(unit.notice, value, "write mfd or uF, so that nobody reads thousandths")
        return value

    def _notice(self, message: str, value: Value, action: str) -> None:
        self.draft.mistakes.append(
            Mistake(
                f"{self.draft.ref}: {message}",
                value.span,
                action,
                rule="old-notation",
                harm=Harm.RECORD,
                parts=(self.draft.ref,),
                why="Signs of old drawings are read as their time meant them, and said.",
            )
        )

    def _role_after(self, value: Value) -> str:
        """The role of a value, given the words around it (`V AC`, `surge`, `each`, `to`)."""
        kind = self.draft.kind
        role = value.dimension
        if not self.winding:
            role = RENAMED_ROLES.get((kind, role), role)
        following = self._peek()
        if role == "voltage" and following.replace(".", "") in ("ac", "dc"):
            self.at += 1
            role = "voltage-ac" if following.startswith("a") else "voltage"
            following = self._peek()
        # `525 V surge`; but in `450 V surge 525 V` the word opens the next value.
        if role in ("voltage", "voltage-ac") and following == "surge" and not self._value_at(1):
            self.at += 1
            return "surge"
        if following == "each":
            self.at += 1
            if kind not in ("coil", "transformer"):
                raise Mistake(
                    f"`each` speaks of windings, and a {kind} has none",
                    value.span,
                    "write the value of this one part",
                )
            return f"{role}-each"
        return role

    def _put(self, role: str, value: Value) -> None:
        plain = role.removesuffix("-each")
        allowed = KINDS[self.draft.kind].roles
        extra = {"surge"} if self.draft.kind in SURGING else set()
        if plain not in allowed | extra:
            self._wrong_dimension(plain, value)
        value = self._signed(role, value)
        if role == "voltage-ac":
            self.unclaimed_ac = value
            if self.target.classes and role in self.target.values:
                return  # a second class has a voltage of its own: X1 440 VAC Y2 300 VAC
        if role in self.target.values and role != "tolerance":
            first = self.target.values[role]
            raise Mistake(
                f"both {first.text} and {value.text} are given as {NOUNS.get(plain, plain)}",
                value.span,
                "keep one; an alternate stands behind `or`, the old part behind `replaces`",
            )
        self.target.values[role] = value
        self.last_role = role
        if not self.old:
            self.draft.spans.setdefault(f"{self.winding} {role}".strip(), value.span)

    def _signed(self, role: str, value: Value) -> Value:
        """Refuse signs that mean nothing; join `+50% -10%` into one tolerance of two ways."""
        low = any(amount < 0 for amount in value.amounts)
        first = self.target.values.get(role)
        if role != "tolerance" and low:
            raise Mistake(f"{value.text} is less than nothing", value.span, "take the sign out")
        if role != "tolerance" or (first is None and (not low or len(value.amounts) > 1)):
            return value
        if first is None or len(first.amounts) > 1 or not low:
            raise Mistake(
                f"{value.text} is no tolerance by itself",
                value.span,
                "write 10% for both ways, or +50% -10%",
            )
        text = f"+{first.text} {value.text}"
        return Value((first.si, value.si), role, text, first.span.joined(value.span))

    def _wrong_dimension(self, role: str, value: Value) -> None:
        kind = self.draft.kind
        noun = NOUNS.get(role, role)
        if kind == "battery" and role == "current":
            raise Mistake(
                f"a battery is told by its volts, and {value.text} is a current",
                value.span,
                f"write {value.text.replace('A', 'V')} A-battery if an A-battery is meant",
            )
        example = EXAMPLES.get(kind)
        raise Mistake(
            f"{value.text} is {noun}, which a {kind} does not have",
            value.span,
            f"check the unit; a {kind} is written like this: {example}"
            if example
            else "check the reference letter and the unit",
        )

    def _bare_number(self, tree: Tree[Token], value: Value) -> None:
        """A number without a unit: an old electrolytic's 8-450, or a mistake."""
        written = str(tree.children[0])
        pair = re.fullmatch(r"(\d+(?:\.\d+)?)[-/](\d+(?:\.\d+)?)", written)
        if pair and self.draft.kind == "capacitor" and self._has_word("electrolytic"):
            mfd, volts = pair.groups()
            if float(volts) < max(_LEAST_FILTER_V, float(mfd)):
                raise Mistake(
                    f"{written} may be two sections, or mfd and volts",
                    value.span,
                    "write 8 mfd 450 V; each section of a body has a line of its own (C1A, C1B)",
                )
            self._notice(
                f"{written} is read as {mfd} mfd {volts} V", value, f"write {mfd} mfd {volts} V"
            )
            micro = float(f"{float(mfd) * 1e-6:.12g}")
            self._put("capacitance", Value((micro,), "capacitance", f"{mfd} mfd", value.span))
            self._put("voltage", Value((float(volts),), "voltage", f"{volts} V", value.span))
            return
        following = self._item()
        if self.draft.kind == "diode" and not self.target.designation:
            self._type_number(tree, following)
            return
        if is_token(following, "WORD") and not self.is_known_word(str(following)):
            word = str(following)
            self.at += 1
            if find_unit(self._peek()) is not None:
                self.at += 1  # the unit of the same slip
            raise Mistake(
                f"{self._as_written(tree, following)} has no unit I know",
                value.span.joined(self.draft.place(following)),
                _unit_hint(written, word),
            )
        fraction = self._value_at(0) and re.fullmatch(r"(\d)/(\d)", self._number_at(0))
        if fraction and "/" not in written:
            top, bottom = (int(digit) for digit in fraction.groups())
            joined_up = f"{value.si + top / max(bottom, 1):g}"
            raise Mistake(
                f"{written} {fraction.group()} may be one value or two",
                value.span,
                f"write {joined_up} with a point, or give {written} its unit",
            )
        raise Mistake(
            f"{written} has no unit",
            value.span,
            f"units are always written, as in {EXAMPLES.get(self.draft.kind, '470K or 0.05 mfd')}",
        )

    def _type_number(self, tree: Tree[Token], following: Item | None) -> None:
        """1N4007: a number and a word to the lexer, a type to everybody else."""
        self.target.designation = str(tree.children[0])
        if isinstance(following, Token) and following.start_pos == tree.meta.end_pos:
            self.target.designation += str(following)
            self.at += 1

    def _as_written(self, tree: Tree[Token], word: Token) -> str:
        start, end = int(tree.meta.start_pos), int(word.end_pos or 0)
        return self.draft.statement.text[start:end]

    def _has_word(self, word: str) -> bool:
        """Whether the whole clause (read or still to read) says `word`."""
        said = [str(item) for item in self.items if is_token(item, "WORD")]
        meant = [phrase(self.draft.kind, [each]) for each in said]
        return word in self.target.words or any(m is not None and word in m[0] for m in meant)

    def _unknown(self, item: Token) -> None:
        """`?` for the part's chief value, or for that of the unit that follows."""
        self.at += 1
        role = MAIN_ROLE.get(self.draft.kind, "voltage")
        if self.winding:
            role = "resistance"
        following = self._item()
        unit = find_unit(str(following)) if is_token(following, "WORD") else None
        if unit is not None:
            self.at += 1
            role = unit.role
        text = f"? {unit.canonical}" if unit is not None else "?"
        self._put(role, Value((), role, text, self.draft.place(item)))

    # --- small steps --------------------------------------------------------------------------

    def _number_at(self, ahead: int) -> str:
        item = self._item(ahead)
        return str(item.children[0]) if isinstance(item, Tree) else ""

    def _value_at(self, ahead: int) -> bool:
        return isinstance(self._item(ahead), Tree)

    def _item(self, ahead: int = 0) -> Item | None:
        at = self.at + ahead
        return self.items[at] if at < len(self.items) else None

    def _peek(self, ahead: int = 0) -> str:
        item = self._item(ahead)
        return str(item).casefold() if isinstance(item, Token) and item.type == "WORD" else ""

    def _take_word(self) -> Token | None:
        item = self._item()
        if not isinstance(item, Token) or item.type != "WORD":
            return None
        self.at += 1
        return item

    def _take_value(self, keyword: Token) -> Value:
        item = self._item()
        self.at += 1
        if isinstance(item, Tree):
            value = self._value(item)
            if len(value.amounts) > 1 and not value.spread:
                raise Mistake(f"{value.text} is more than one value", value.span, "write one")
            if value.dimension != "ratio":
                return self._signed("", value)
        elif isinstance(item, Token) and item.type == "UNKNOWN":
            return Value((), MAIN_ROLE.get(self.draft.kind, "voltage"), "?", self.draft.place(item))
        raise Mistake(
            f"`{keyword}` wants a value with its unit",
            self.draft.place(keyword),
            f"write it like `{keyword} {EXAMPLES.get(self.draft.kind, '531K').split()[0]} …`",
        )

    def _words_from_here(self) -> Iterator[Token]:
        for item in self.items[self.at : self.at + LONGEST_PHRASE]:
            if not isinstance(item, Token) or item.type not in ("WORD", "COUNTED"):
                return
            yield item

    def is_known_word(self, word: str) -> bool:
        """Whether `word` means something in a description of this kind."""
        if word.casefold() in self.keywords or word.casefold() in CONDITIONS:
            return True
        return phrase(self.draft.kind, [word]) is not None


def _unit_hint(number: str, word: str) -> str:
    hints = {"u": f"{number} uF or {number} mfd", "n": f"{number} nF", "p": f"{number} pF"}
    close = hints.get(word.casefold())
    if close is not None:
        return f"units are always written: {close}"
    likely = nearest(word, _LIKELY_UNITS)
    if likely in _CAPACITANCES:
        # The two differ a million times; which of them a slip was meant for is not ours to guess.
        return "write mfd (uF) or mmf (pF), whichever the drawing has"
    return did_you_mean(
        word,
        _LIKELY_UNITS,
        "write the unit as the reference lists it, or put a remark in quotation marks",
    )


_CAPACITANCES = ("mfd", "uF", "mmf", "mmfd", "pF")
_LIKELY_UNITS = (*_CAPACITANCES, "ohm", "meg", "volts", "watts", "henry", "amp", "kc")
