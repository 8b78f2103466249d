"""Reading the pins of a `type` statement, and what base and heater say of them.

Belongs here: the `pins` clause. Does not belong here: the other clauses (typecards.py).
"""

from __future__ import annotations

from collections.abc import Iterable

from lark import Token, Tree

from netcheck.catalog.bases import base_names, legal_pins
from netcheck.findings import Span
from netcheck.language.mistakes import Mistake, did_you_mean, joined
from netcheck.language.source import Item, Statement
from netcheck.language.type_words import ELECTRODES, HEATER_WORDS, KNOWN_ELECTRODES

__all__ = ["Pins", "check_base"]

_UNCONNECTED = frozenset({"nc", "none"})


def check_base(base: str, span: Span) -> None:
    """Refuse a base that no socket list knows.

    Raises:
        Mistake: the base is unknown.
    """
    if legal_pins(base) is None:
        raise Mistake(
            f"{base} is no base I know",
            span,
            did_you_mean(base, base_names(), f"the bases are {joined(base_names(), 'and')}"),
        )


class Pins:
    """The pins of one type: `by_pin`, and `unplaced` electrodes whose pin is not known."""

    def __init__(self, statement: Statement) -> None:
        self.statement = statement
        self.by_pin: dict[str, tuple[str, ...]] = {}
        self.unplaced: tuple[str, ...] = ()
        self.places: dict[str, Span] = {}

    def read(self, items: list[Item]) -> None:
        """Read `1 shell 2 heater 3 plate …`; `cap` is the top cap, `?` an unknown pin.

        Raises:
            Mistake: a pin stands twice, or a word is no electrode.
        """
        pin = ""
        heaters = 0
        for item, word in _flat(items):
            if word.isdigit() or word in ("cap", "?"):
                pin = word
                self._open(pin, item)
                continue
            if not pin:
                raise Mistake(
                    f"on which pin is the {word}?",
                    self.statement.place(item),
                    "write the pin number first",
                )
            if word in _UNCONNECTED:
                continue
            heaters += word in HEATER_WORDS
            self._add(pin, self._electrode(item, word, heaters))

    def _open(self, pin: str, item: Item) -> None:
        if pin in self.by_pin:
            raise Mistake(f"pin {pin} stands twice", self.statement.place(item), "keep one")
        self.places[pin] = self.statement.place(item)
        if pin != "?":
            self.by_pin[pin] = ()

    def _add(self, pin: str, electrode: str) -> None:
        if pin == "?":
            self.unplaced = (*self.unplaced, electrode)
        else:
            self.by_pin[pin] = (*self.by_pin[pin], electrode)

    def _electrode(self, item: Item, word: str, heaters: int) -> str:
        place = self.statement.place(item)
        if word in HEATER_WORDS:
            if heaters > 2:
                raise Mistake(
                    "a heater has two ends, and this is a third pin for it",
                    place,
                    "a tap between them is called `tap`",
                )
            return f"heater{heaters}"
        name = ELECTRODES.get(word, word)
        if name not in KNOWN_ELECTRODES:
            raise Mistake(
                f"{word} is no electrode",
                place,
                did_you_mean(
                    word,
                    [*KNOWN_ELECTRODES, *ELECTRODES],
                    f"use {joined(sorted(KNOWN_ELECTRODES))}",
                ),
            )
        return name

    def check(self, base: str, *, heated: bool) -> None:
        """Compare the pins with the base, and the heater with its two ends.

        Raises:
            Mistake: a pin that the base lacks, or one end of a heater.
        """
        legal = legal_pins(base)
        for pin in self.by_pin if legal is not None else ():
            if pin not in (legal or ()):
                raise Mistake(
                    f"the base {base} has no pin {pin}",
                    self.places[pin],
                    f"it has {joined((legal or ())[:-1], 'and')}, and perhaps a cap",
                )
        placed = [e for group in self.by_pin.values() for e in group]
        ends = {e for e in (*placed, *self.unplaced) if e in ("heater1", "heater2")}
        if len(ends) == 1:
            raise Mistake(
                "a heater has two ends, and only one is on a pin",
                self.statement.whole(),
                "give both heater pins",
            )
        if heated and not ends:
            raise Mistake(
                "this type has a heater, and no pin for it",
                self.statement.whole(),
                "give both heater pins",
            )


def _flat(items: Iterable[Item]) -> Iterable[tuple[Item, str]]:
    """Numbers and words one by one (`5 k` is a value to the lexer, a pin and a cathode here)."""
    for item in items:
        if isinstance(item, Tree):
            for leaf in item.scan_values(lambda each: isinstance(each, Token)):
                yield leaf, str(leaf).casefold()
        else:
            yield item, str(item).casefold()
