"""Reading `type`: a tube the catalogue lacks, made equal in every way to a built-in one.

Belongs here: the clauses of a type statement. Does not belong here: pins (type_pins.py), the
words of limits and figures (type_words.py), the catalogue's own data.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from lark import Token, Tree

from netcheck.catalog.sections import build_sections
from netcheck.language.mistakes import Mistake, did_you_mean, joined
from netcheck.language.quantities import read_quantity
from netcheck.language.source import Item, Statement
from netcheck.language.type_pins import Pins, check_base
from netcheck.language.type_words import (
    ELECTRODES,
    FIGURES,
    KINDS,
    KNOWN_ELECTRODES,
    LIMITS,
    RATINGS,
    section_of,
)
from netcheck.parts import OperatingPoint, TubeType, Value

__all__ = ["read_type"]


def read_type(tree: Tree[Token], statement: Statement) -> TubeType:
    """Make the tube type of a `type` statement.

    Raises:
        Mistake: a clause cannot be understood, or base, heater and pins contradict each other.
    """
    return _Card(tree, statement).read()


class _Card:
    """The clauses of one type, each read once (limits and points may be many)."""

    def __init__(self, tree: Tree[Token], statement: Statement) -> None:
        self.statement = statement
        self.name = str(tree.children[1])
        clauses = [c for c in tree.children[2:] if isinstance(c, Tree) and c.data == "type_clause"]
        self.kind_items = [c for c in tree.children[2:] if c not in clauses]
        self.clauses = [list(c.children) for c in clauses]
        self.base = ""
        self.heating = "none"
        self.heater: dict[str, float] = {}
        self.pins = Pins(statement)
        self.limits: dict[str, float] = {}
        self.rating = "unknown"
        self.points: list[list[Item]] = []
        self.source = "this file"
        self.note = ""
        self.seen: set[str] = set()

    def read(self) -> TubeType:
        """Read every clause, then what only the whole shows."""
        kind = self._kind()
        for items in self.clauses:
            self._clause(items)
        if not self.pins.by_pin:
            raise Mistake(
                f"the type {self.name} has no pins",
                self.statement.whole(),
                "add a clause like `pins 1 shell 2 heater 3 plate 5 grid 7 heater 8 cathode`",
            )
        self.pins.check(self.base, heated=bool(self.heater))
        sections = build_sections(kind, self.pins.by_pin, self.pins.unplaced)
        names = {section.name for section in sections}
        chief = sections[0].name if sections else ""
        return TubeType(
            name=self.name,
            kind=kind,
            base=self.base,
            pins=self.pins.by_pin,
            heating=self.heating,
            heater_v=self.heater.get("voltage"),
            heater_a=self.heater.get("current"),
            tap_v=self.heater.get("tap"),
            limits=self.limits,
            rating_system=self.rating,
            sections=sections,
            points=tuple(self._point(items, names, chief) for items in self.points),
            sources={"all": self.source},
            note=self.note,
            span=self.statement.whole(),
        )

    def _kind(self) -> str:
        first = self.kind_items[0]
        span = self.statement.place(first).joined(self.statement.place(self.kind_items[-1]))
        words = " ".join(_written(item).casefold() for item in self.kind_items)
        plain = words
        for loose in ("remote cutoff", "sharp cutoff", "half wave", "full wave", "duo diode"):
            plain = plain.replace(loose, loose.replace(" ", "-"))
        if plain not in KINDS:
            raise Mistake(
                f"{words} is no kind of tube I know",
                span,
                did_you_mean(
                    plain,
                    KINDS,
                    f"a comma parts the kind from its clauses; kinds are {joined(KINDS, 'and')}",
                ),
            )
        return KINDS[plain]

    def _clause(self, items: list[Item]) -> None:
        word = _written(items[0]).casefold()
        handlers: dict[str, Callable[[list[Item]], None]] = {
            "base": self._base,
            "heater": self._heater,
            "filament": self._filament,
            "pins": self.pins.read,
            "limit": self._limit,
            "rating": self._rating,
            "point": self.points.append,
            "source": self._source,
            "note": self._note,
        }
        handler = handlers.get(word)
        place = self.statement.place(items[0])
        if handler is None:
            raise Mistake(
                f"{_written(items[0])} opens no clause of a type",
                place,
                did_you_mean(word, handlers, f"the clauses are {joined(handlers, 'and')}"),
            )
        if len(items) < 2:
            raise Mistake(f"`{word}` says nothing", place, "add what it is about")
        once = "heater" if word == "filament" else word
        if once in self.seen and once not in ("limit", "point"):
            raise Mistake(f"`{once}` stands twice in this type", place, "keep one of them")
        self.seen.add(once)
        handler(items[1:])

    def _base(self, items: list[Item]) -> None:
        self.base = " ".join(_written(item) for item in items)
        check_base(self.base, self.statement.place(items[0]))

    def _source(self, items: list[Item]) -> None:
        self.source = _written(items[0]).strip('"')

    def _note(self, items: list[Item]) -> None:
        self.note = _written(items[0]).strip('"')

    def _value(self, item: Item) -> Value:
        if isinstance(item, Tree):
            return read_quantity(item, self.statement.place(item), None)
        raise Mistake(
            f"{item} is no value", self.statement.place(item), "write a number with its unit"
        )

    def _heater(self, items: list[Item]) -> None:
        self.heating = self.heating if self.heating == "direct" else "indirect"
        tapped = False
        for item in items:
            if isinstance(item, Token) and str(item).casefold() == "tap":
                tapped = True
                continue
            value = self._value(item)
            name = "tap" if tapped else value.dimension
            fits = value.dimension == "voltage" or (not tapped and value.dimension == "current")
            if not fits or name in self.heater:
                raise Mistake(
                    f"a heater is told by volts, amperes and the volts of its tap, each once; "
                    f"{value.text} is none of these or stands twice",
                    value.span,
                    "write it like `heater 6.3 V 0.3 A` or `heater 35 V 0.15 A tap 7.5 V`",
                )
            self.heater[name] = value.si

    def _filament(self, items: list[Item]) -> None:
        self.heating = "direct"
        self._heater(items)

    def _limit(self, items: list[Item]) -> None:
        word = _written(items[0]).casefold()
        word = {"anode": "plate", "g2": "screen"}.get(word, word)
        words = sorted({name for name, _ in LIMITS})
        place = self.statement.place(items[0])
        if word not in words:
            raise Mistake(
                f"{word} is no limit",
                place,
                did_you_mean(word, words, f"limits are {joined(words, 'and')}"),
            )
        if len(items) < 2:
            raise Mistake(
                f"the limit of the {word} has no value", place, "write it like `limit plate 250 V`"
            )
        for item in items[1:]:
            value = self._value(item)
            name = LIMITS.get((word, value.dimension))
            if name is None:
                raise Mistake(f"{value.text} cannot limit the {word}", value.span, "check the unit")
            if name in self.limits:
                raise Mistake(f"the {word} is limited twice", value.span, "keep one")
            self.limits[name] = value.si

    def _rating(self, items: list[Item]) -> None:
        word = "-".join(_written(item).casefold() for item in items)
        if word not in RATINGS:
            raise Mistake(
                f"{word} is no rating system",
                self.statement.place(items[0]),
                did_you_mean(word, RATINGS, f"use {joined(sorted(set(RATINGS.values())))}"),
            )
        self.rating = RATINGS[word]

    def _point(self, items: list[Item], names: set[str], chief: str) -> OperatingPoint:
        volts: dict[str, float] = {}
        amperes: dict[str, float] = {}
        figures: dict[str, float] = {}
        word = ""
        for item in items:
            if isinstance(item, Token):
                word = self._subject(item)
                continue
            self._figure(word, self._value(item), volts, amperes, figures)
        return OperatingPoint(
            section=section_of((*volts, *amperes), names, chief),
            volts=volts,
            amperes=amperes,
            gm_s=figures.get("gm"),
            rp_ohm=figures.get("rp"),
            mu=figures.get("mu"),
            cathode_ohm=figures.get("bias"),
            load_ohm=figures.get("load"),
            output_w=figures.get("output"),
            source=self.source,
        )

    def _subject(self, item: Token) -> str:
        """The electrode or figure that the next values of a point belong to."""
        word = str(item).casefold()
        name = ELECTRODES.get(word, word)
        if name not in KNOWN_ELECTRODES and name not in FIGURES:
            raise Mistake(
                f"{item} is no electrode and no figure of a point",
                self.statement.place(item),
                did_you_mean(word, [*KNOWN_ELECTRODES, *FIGURES], f"use {joined(FIGURES)}"),
            )
        return name

    def _figure(
        self,
        word: str,
        value: Value,
        volts: dict[str, float],
        amperes: dict[str, float],
        figures: dict[str, float],
    ) -> None:
        by_dimension = {"voltage": volts, "current": amperes}
        if word in FIGURES and value.dimension == FIGURES[word]:
            into = figures
        elif word and word not in FIGURES and value.dimension in by_dimension:
            into = by_dimension[value.dimension]
        else:
            raise Mistake(
                f"{value.text} is nothing that {word or 'a point'} has",
                value.span,
                "write it like `point plate 250 V 10 mA screen 100 V 2 mA grid -3 V gm 2000 umho`",
            )
        if word in into:
            raise Mistake(f"{word} has two values of one kind", value.span, "keep one")
        into[word] = value.si


def _written(item: Item) -> str:
    if isinstance(item, Tree):
        return " ".join(str(child) for child in _leaves(item))
    return str(item)


def _leaves(tree: Tree[Token]) -> Iterable[Token]:
    return tree.scan_values(lambda each: isinstance(each, Token))
