"""Tells what a pilot lamp, ballast tube or barretter is from the number printed on it.

Belongs here: rated volts and amperes, and the RMA ballast code. Does not belong here: how a
filament behaves off its rating (circuit/).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from netcheck.catalog.added import added_rows
from netcheck.catalog.tables import read_toml

__all__ = [
    "Ballast", "Barretter", "Lamp", "ballast", "barretter", "lamp", "lamp_key", "lamps",
    "own_lamps",
]  # fmt: skip

_CODE = re.compile(
    r"(?P<action>B?)(?P<lamp>[KLM])(?P<four>X?)(?P<volts>\d{1,3})(?P<arrangement>[A-Z]{0,3})"
)


@dataclass(frozen=True, slots=True)
class Lamp:
    """A pilot lamp: rated volts and amperes, base, colour of the bead (empty = not known)."""

    designation: str
    v: float
    a: float
    source: str
    base: str = ""
    bead: str = ""

    @property
    def hot_ohm(self) -> float:
        """Resistance at rated volts."""
        return self.v / self.a


@dataclass(frozen=True, slots=True)
class Ballast:
    """A ballast tube read from its RMA code: `drop_v` volts in all, the lamp's section included.

    `regulates_lamp` is the leading B (ballast action on the lamp), `four_pin` the X,
    `arrangement` the letters at the end (circuit inside).
    """

    code: str
    drop_v: float
    lamp_v: float
    lamp_a: float
    lamp_types: tuple[str, ...]
    regulates_lamp: bool
    four_pin: bool
    arrangement: str
    source: str

    def ohm(self, string_a: float) -> float:
        """Return the resistance in a heater string of `string_a` amperes (Ohm's law)."""
        return self.drop_v / string_a

    def watts(self, string_a: float) -> float:
        """Return the heat in a heater string of `string_a` amperes."""
        return self.drop_v * string_a


@dataclass(frozen=True, slots=True)
class Barretter:
    """An iron-hydrogen regulator: holds `a` amperes from `from_v` to `to_v` volts across it."""

    designation: str
    a: float
    from_v: float
    to_v: float
    source: str


def lamp_key(text: str) -> str:
    """`No. 47`, `#47` and `47` are one designation; blanks and hyphens mean nothing."""
    plain = re.sub(r"[\s\u2010-\u2015-]+", "", text).upper()
    return re.sub(r"^(NO\.?|#|TYPE)(?=\d)", "", plain)


@cache
def own_lamps() -> Mapping[str, Lamp]:
    """Return the pilot lamps of netcheck's own catalogue by their designations."""
    records = read_toml("lamps.toml")["lamp"]
    return MappingProxyType({name: Lamp(designation=name, **f) for name, f in records.items()})


@cache
def lamps() -> Mapping[str, Lamp]:
    """Return every pilot lamp by its designation, those of other distributions included."""
    more = {
        row["designation"]: Lamp(
            row["designation"],
            float(row["v"]),
            float(row["a"]),
            row["source"],
            row["base"],
            row["bead"],
        )
        for row in added_rows("lamps")
    }
    return MappingProxyType({**own_lamps(), **more})


def lamp(designation: str) -> Lamp | None:
    """Return the pilot lamp with this number (`47`, `No. 47`), or None."""
    return lamps().get(lamp_key(designation))


def ballast(code: str) -> Ballast | None:
    """Read an RMA ballast code (`K55B`, `BL49-D`, `KX42C`), or None when it is not one.

    Source: see ballast_code in lamps.toml. A makers' number outside the code is not read.
    """
    match = _CODE.fullmatch(lamp_key(code))
    if match is None or int(match["volts"]) == 0:
        return None
    table = read_toml("lamps.toml")
    letter = table["ballast"][match["lamp"]]
    return Ballast(
        code=lamp_key(code),
        drop_v=float(match["volts"]),
        lamp_v=letter["v"],
        lamp_a=letter["a"],
        lamp_types=tuple(letter["lamps"]),
        regulates_lamp=bool(match["action"]),
        four_pin=bool(match["four"]),
        arrangement=match["arrangement"],
        source=table["ballast_code"]["source"],
    )


def barretter(designation: str) -> Barretter | None:
    """Return the barretter with this number, or None."""
    fields = read_toml("lamps.toml")["barretter"].get(lamp_key(designation))
    return Barretter(designation=lamp_key(designation), **fields) if fields else None
