"""Reading the words of a clause: trade words, and the keywords that open a clause of their own.

Belongs here: `class`, `measured`, `or`, `on`, `in`, `mark`, conditions, designations. Does not
belong here: values (values.py), which words exist (vocabulary.py).
"""

from __future__ import annotations

import re
from collections.abc import Callable

from lark import Token, Tree

from netcheck.language.drafts import Item, is_token
from netcheck.language.mistakes import Mistake, article, did_you_mean, joined
from netcheck.language.values import (
    CONDITIONS,
    SURGING,
    ValueClause,
)
from netcheck.language.vocabulary import (
    KINDS,
    LETTERS,
    WINDING_SYNONYMS,
    WINDINGS,
    phrase,
    word_list,
)
from netcheck.parts import Condition, Value

__all__ = ["Clause"]

_LEAKS = frozenset({"leak", "leaks", "leaky", "leakage", "leaking"})
_SAFETY_CLASS = re.compile(r"[XY][1-4](?:/[XY][1-4])?", re.IGNORECASE)
_REFERENCE = re.compile(rf"(?:{'|'.join(sorted(LETTERS, key=len, reverse=True))})\d+[A-Z]?", re.I)


class Clause(ValueClause):
    """One clause of a description: values, words and keywords."""

    def read(self) -> None:
        """Read every item; a mistake costs its own item only."""
        while self.at < len(self.items):
            start = self.at
            item = self.items[start]
            try:
                if isinstance(item, Tree):
                    self._quantity(item)
                elif item.type == "STRING":
                    self._note(item)
                elif item.type == "UNKNOWN":
                    self._unknown(item)
                else:
                    self._word(item)
            except Mistake as mistake:
                self.draft.wrong(mistake.message, mistake.span, mistake.action)
                self.at = max(self.at, start + 1)

    # --- words --------------------------------------------------------------------------------

    def _note(self, item: Token) -> None:
        self.at += 1
        if self.old:
            raise Mistake(
                "all that stands behind `replaces` speaks of the old part; this note is not kept",
                self.draft.place(item),
                "put the note before `replaces`",
            )
        if self.draft.note:
            raise Mistake("a part has one note", self.draft.place(item), "join the two texts")
        self.draft.note = str(item)[1:-1]

    def _word(self, item: Token) -> None:
        word = str(item).casefold()
        handler = _KEYWORDS.get(word)
        if handler is not None and handler(self, item):
            return
        if _SAFETY_CLASS.fullmatch(word) and self.draft.kind == "capacitor":
            self._classes(item)
            return
        if word in CONDITIONS:
            self._set_condition(item, CONDITIONS[word])
            return
        # A 2-gang capacitor is a gang; how many sections it has, their own lines say.
        said = [re.sub(r"^\d+-", "", str(each)) for each in self._words_from_here()]
        found = phrase(self.draft.kind, said)
        if found is not None:
            canonical, taken = found
            self.at += taken
            last = WINDING_SYNONYMS.get(said[taken - 1].casefold(), said[taken - 1].casefold())
            if not self.winding and last in self.draft.labels and self._value_at(0):
                raise Mistake(
                    f"does this value belong to the winding {last} or to the whole part?",
                    self.draft.place(item),
                    f"put a comma before `{last}`, or before the value",
                )
            self.target.words.extend(canonical)
            if not self.old:
                for each in canonical:
                    self.draft.spans.setdefault(each, self.draft.place(item))
            self._designation(canonical)
            return
        self.at = len(self.items)  # what follows may hang on the word that is not known
        if word == "replaces":
            twice = "`replaces` stands twice"
            raise Mistake(
                twice if self.old else "`replaces` opens a clause of its own",
                self.draft.place(item),
                "keep one of them" if self.old else "put a comma before it",
            )
        if self.draft.kind in ("coil", "transformer") and word in WINDINGS:
            if self.draft.labels - set(WINDINGS):
                self.draft.broken = True  # its name behind the colon is misspelt, and told there
                return
            raise Mistake(
                f"there is no winding called {item} among its terminals",
                self.draft.place(item),
                f"name the winding behind the colon too: {item} A to B",
            )
        if self.draft.kind == "capacitor" and word in _LEAKS:
            raise Mistake(
                f"{item} is no word for a capacitor: what was measured is a line of its own",
                self.draft.place(item),
                f"write `reading {self.draft.ref} leakage 12 uA at 200 V`, as your meter says it",
            )
        raise Mistake(
            f"{item} is no word for a {self.draft.kind}",
            self.draft.place(item),
            did_you_mean(
                str(item),
                {*word_list(self.draft.kind), *_KEYWORDS, *CONDITIONS} - {word},
                "see the word list of the reference; a remark of your own goes in quotation marks",
            ),
        )

    def _designation(self, canonical: tuple[str, ...]) -> None:
        """After `lamp` or `ballast` a number or code without a unit is the type."""
        if not set(canonical) & KINDS[self.draft.kind].designation_after:
            return
        if self.target.designation or self.at >= len(self.items):
            return
        item = self.items[self.at]
        if isinstance(item, Tree):
            number, *unit = item.children
            # 185R8 and 1904 are codes; 6.3 V is a value.
            code = str(number) + (str(unit[0]) if unit and str(unit[0]) in ("R", "H") else "")
            if unit and code == str(number):
                return
        elif item.type == "WORD" and re.search(r"\d", str(item)):
            code = str(item)
        else:
            return
        self.at += 1
        following = self._words_next_to(item)
        self.target.designation = code + following
        self.draft.spans.setdefault("type", self.draft.place(item))

    def _words_next_to(self, item: Item) -> str:
        """Letters right behind a code's number (49C is a number and a word to the lexer)."""
        if self.at >= len(self.items) or not is_token(self.items[self.at], "WORD"):
            return ""
        word = self.items[self.at]
        end = item.meta.end_pos if isinstance(item, Tree) else item.end_pos
        if not isinstance(word, Token) or word.start_pos != end:
            return ""
        self.at += 1
        return str(word)

    # --- clauses with a keyword ---------------------------------------------------------------

    def _classes(self, item: Token) -> None:
        """A safety class takes the AC volts before it, else those behind it."""
        self.at += 1
        volts, self.unclaimed_ac = self.unclaimed_ac, None
        following = self._item()
        if volts is None and isinstance(following, Tree):
            value = self._value(following)
            if value.dimension in ("voltage", "voltage-ac"):
                self.at += 1
                if self._peek() == "ac":
                    self.at += 1
                volts = value
                self.target.values.setdefault("voltage-ac", value)
        for each in str(item).upper().split("/"):
            self.target.classes.append((each, volts))
        if not self.old:
            self.draft.spans.setdefault("class", self.draft.place(item))

    def _class_keyword(self, item: Token) -> bool:
        self._only_for(item, "capacitor")
        self.at += 1
        following = self._take_word()
        if following is None or not _SAFETY_CLASS.fullmatch(str(following)):
            self.at = len(self.items)
            raise Mistake(
                "`class` wants a safety class of IEC 60384-14",
                self.draft.place(following if following is not None else item),
                "write class X1, X2, Y1, Y2 … with its AC volts, or leave the word out",
            )
        self.at -= 1
        self._classes(following)
        return True

    def _set_condition(self, item: Token, condition: Condition) -> None:
        if self.old:
            raise Mistake(
                f"all that stands behind `replaces` speaks of the old part, so {item} does too",
                self.draft.place(item),
                f"put {item} before `replaces`",
            )
        self.at += 1
        if self.draft.condition not in (None, condition):
            raise Mistake(
                f"it cannot be {self.draft.condition.value} and {condition.value}",
                self.draft.place(item),
                "keep one",
            )
        self.draft.condition = condition
        self.draft.spans["condition"] = self.draft.place(item)

    def _not(self, item: Token) -> bool:
        if self._peek(1) != "fitted":
            return False
        self._set_condition(item, Condition.NOT_FITTED)
        self.at += 1
        return True

    def _measured(self, item: Token) -> bool:
        self._only_now(item)
        self.at += 1
        value = self._take_value(item)
        if value.known and value.dimension not in _MEASURED.get(self.draft.kind, ()):
            self._wrong_dimension(value.dimension, value)
        self.draft.measured = value
        self.draft.spans["measured"] = self.draft.place(item).joined(value.span)
        return True

    def _or(self, item: Token) -> bool:
        self.at += 1
        value = self._take_value(item)
        if value.dimension not in (v.dimension for v in self.target.values.values()):
            raise Mistake(
                f"{value.text} is no alternate of anything before it",
                value.span,
                "an alternate has the same unit as the value it stands in for",
            )
        self.target.alternates.append(value)
        return True

    def _role_keyword(self, item: Token) -> bool:
        """`running 7.2 V`, `hot 1400 ohm`, `surge 525 V`."""
        role = str(item).casefold()
        if not isinstance(self._item(1), Tree):
            return False
        kinds, dimensions = _ROLES[role]
        self._only_for(item, *kinds)
        self.at += 1
        value = self._take_value(item)
        if value.dimension not in dimensions:
            raise Mistake(
                f"{value.text} is no value for `{item}`", value.span, f"give {dimensions[0]} there"
            )
        self._put(role, value) if role == "surge" else self._keep(role, value)
        self.draft.spans.setdefault(f"{self.winding} {role}".strip(), value.span)
        return True

    def _keep(self, role: str, value: Value) -> None:
        if role in self.target.values:
            raise Mistake(f"`{role}` stands twice", value.span, "keep one")
        self.target.values[role] = value

    def _only_for(self, item: Token, *kinds: str) -> None:
        """Refuse a keyword on a part that has nothing of the kind."""
        if self.draft.kind not in kinds:
            self.at = len(self.items)
            raise Mistake(
                f"`{item}` belongs to {joined([article(kind) for kind in kinds])}, "
                f"and {self.draft.ref} is {article(self.draft.kind)}",
                self.draft.place(item),
                "check the reference letter, or take the words out",
            )

    def _to(self, item: Token) -> bool:
        """`2500 ohm to 3.2 ohm`: a transformer's impedances."""
        self.at += 1
        value = self._take_value(item)
        if self.draft.kind != "transformer" or self.last_role != "impedance":
            raise Mistake(
                "`to` joins two impedances of a transformer and nothing else here",
                self.draft.place(item).joined(value.span),
                "the terminals stand behind a colon",
            )
        self._put("to-impedance", value)
        return True

    def _on(self, item: Token) -> bool:
        self._only_now(item)
        self.draft.on = self._reference(item)
        return True

    def _in(self, item: Token) -> bool:
        self._only_now(item)
        self.draft.inside = self._reference(item)
        return True

    def _reference(self, item: Token) -> str:
        self.at += 1
        word = self._take_word()
        if word is None or not _REFERENCE.fullmatch(str(word)):
            self.at = len(self.items)
            raise Mistake(
                f"`{item}` wants the reference of a part",
                self.draft.place(word if word is not None else item),
                f"write, say, {item} R6; words in quotation marks are a note",
            )
        self.draft.spans[str(item).casefold()] = self.draft.place(item).joined(
            self.draft.place(word)
        )
        return str(word).upper()

    def _mark(self, item: Token) -> bool:
        self._only_for(item, "capacitor")
        self._only_now(item)
        self.at += 1
        word = self._take_word()
        if word is None:
            raise Mistake("`mark` wants a word", self.draft.place(item), "write mark half-moon")
        following = self._take_word()  # half moon
        self.draft.mark = "-".join(str(w).casefold() for w in (word, following) if w is not None)
        return True

    def _reversed(self, item: Token) -> bool:
        if not self.winding:
            raise Mistake(
                "`reversed` flips a winding, and no winding is named before it",
                self.draft.place(item),
                "write the winding first, as in `secondary reversed`",
            )
        self.at += 1
        if self.winding not in self.draft.reversed_windings:
            self.draft.reversed_windings.append(self.winding)
        return True

    def _only_now(self, item: Token) -> None:
        if self.old:
            self.at = len(self.items)  # what follows belongs to the same slip
            raise Mistake(
                f"all that stands behind `replaces` speaks of the old part, so `{item}` does too",
                self.draft.place(item),
                f"put the `{item}` clause before `replaces`",
            )


# What a meter on the bench tells of each kind of part.
_MEASURED = {
    "capacitor": ("capacitance",),
    "resistor": ("resistance",),
    "thermistor": ("resistance",),
    "varistor": ("resistance", "voltage"),
    "coil": ("inductance", "resistance"),
    "transformer": ("inductance", "resistance"),
    "speaker": ("resistance",),
    "fuse": ("resistance",),
    "lamp": ("resistance", "current", "voltage"),
    "meter": ("resistance",),
    "diode": ("resistance", "voltage"),
    "battery": ("voltage",),
    "load": ("current", "resistance"),
}

# Keyword -> the kinds of part it belongs to, the dimensions of its value.
_ROLES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "running": (("battery",), ("voltage",)),
    "hot": (("resistor", "thermistor", "coil", "transformer"), ("resistance",)),
    "surge": (tuple(sorted(SURGING)), ("voltage", "voltage-ac")),
}

_KEYWORDS: dict[str, Callable[[Clause, Token], bool]] = {
    "class": Clause._class_keyword,
    "measured": Clause._measured,
    "or": Clause._or,
    "running": Clause._role_keyword,
    "hot": Clause._role_keyword,
    "surge": Clause._role_keyword,
    "to": Clause._to,
    "on": Clause._on,
    "in": Clause._in,
    "mark": Clause._mark,
    "reversed": Clause._reversed,
    "not": Clause._not,
}
Clause.keywords = frozenset(_KEYWORDS)
