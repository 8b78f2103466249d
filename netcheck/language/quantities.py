"""Values as parts lists write them, made into quantities of the right dimension.

Belongs here: numbers, unit spellings, pint. Does not belong here: which value a part may have
(vocabulary.py, describe.py). pint gives every unit its dimension and factor; what leaves this
module for the rest of netcheck is SI floats.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from lark import Token, Tree

from netcheck.findings import Span
from netcheck.language.mistakes import Mistake
from netcheck.parts import Value

if TYPE_CHECKING:
    import pint

__all__ = ["UNITS", "Unit", "find_unit", "pint_quantity", "read_quantity", "registry"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as written: what pint calls it, how the canonical layout writes it, its role."""

    pint_name: str
    canonical: str
    role: str
    notice: str = ""


def _spell(pint_name: str, canonical: str, role: str, words: str) -> dict[str, Unit]:
    return dict.fromkeys(words.split(), Unit(pint_name, canonical, role))


# Spellings are matched whatever their case, but for those in _EXACT.
UNITS: dict[str, Unit] = {
    **_spell("microfarad", "mfd", "capacitance", "mfd mfds mf uf ufd microfarad microfarads"),
    **_spell(
        "picofarad", "pF", "capacitance", "pf mmf mmfd mmfds uuf uufd puff picofarad picofarads"
    ),
    **_spell("nanofarad", "nF", "capacitance", "nf nanofarad nanofarads"),
    **_spell("farad", "F", "capacitance", "f farad farads"),
    # 1 cm of the centimetre-gram-second system is 1/(4 pi eps0) x 1 cm = 1.11 pF
    # (SI Brochure, 9th ed., and any table of electrostatic units).
    **_spell("statcapacity", "cm", "capacitance", "cm"),
    **_spell("ohm", "ohm", "resistance", "ohm ohms r"),
    **_spell("kiloohm", "K", "resistance", "k kohm kohms kilohm kilohms"),
    **_spell("megaohm", "meg", "resistance", "meg megs megohm megohms"),
    **_spell("volt", "V", "voltage", "v volt volts"),
    **_spell("volt", "V", "voltage", "wv wvdc vdc v.d.c. v.d.c"),
    **_spell("volt", "VAC", "voltage-ac", "vac v.a.c. v.a.c"),
    **_spell("volt", "V", "voltage", "vw v.w. v.w"),
    **_spell("kilovolt", "kV", "voltage", "kv kilovolt kilovolts"),
    **_spell("millivolt", "mV", "voltage", "mv millivolt millivolts"),
    **_spell("ampere", "A", "current", "a amp amps ampere amperes"),
    **_spell("milliampere", "mA", "current", "ma milliamp milliamps milliampere milliamperes"),
    **_spell("microampere", "uA", "current", "ua microamp microamps microampere microamperes"),
    **_spell("watt", "W", "power", "w watt watts"),
    **_spell("milliwatt", "mW", "power", "mw milliwatt milliwatts"),
    **_spell("volt * ampere", "VA", "power", "va"),
    **_spell("henry", "H", "inductance", "h hy henry henries henrys"),
    **_spell("millihenry", "mH", "inductance", "mh mhy millihenry millihenries"),
    **_spell("microhenry", "uH", "inductance", "uh uhy microhenry microhenries"),
    **_spell("hertz", "Hz", "frequency", "hz cps cycle cycles hertz ~ c/s"),
    **_spell("kilohertz", "kc", "frequency", "kc kcs khz kilocycle kilocycles kc/s"),
    **_spell("megahertz", "Mc", "frequency", "mc mcs mhz megacycle megacycles mc/s"),
    **_spell("percent", "%", "tolerance", "% percent"),
    **_spell("microsiemens", "umho", "conductance", "umho umhos micromho micromhos ua/v"),
    **_spell("millisiemens", "mA/V", "conductance", "ma/v mmho mmhos"),
    **_spell("ohm / volt", "ohm/V", "sensitivity", "ohm/v ohms/v"),
    **_spell("kiloohm / volt", "k/V", "sensitivity", "k/v kohm/v kohms/v"),
}

# Old drawings write mF for microfarad: read so, and said (section 5.4, unit abbreviations as used
# on US drawings of the 1930s to 1950s; common practice, no source).
_EXACT = {
    "mF": Unit(
        "microfarad",
        "mfd",
        "capacitance",
        notice="mF is read as microfarad, as old drawings mean it",
    ),
}

# M is mega on some drawings and thousand on others; beyond the largest megohm value a set
# commonly holds (22 megohm, common practice, no source) the text has to say which.
_LARGEST_PLAIN_M = 22.0

_LARGEST_NUMBER = 1e15
# Fuses, resistors and condensers are marked in these parts.
_DENOMINATORS = frozenset({2, 3, 4, 5, 8, 10, 16, 20, 32, 100})

_PREFIX_ALONE = {"u": "uF or mfd", "n": "nF", "p": "pF or mmf", "m": "mA, mH, mV or meg"}

_DEFINITIONS = """
kilo- = 1e3 = k-
mega- = 1e6 = M-
milli- = 1e-3 = m-
micro- = 1e-6 = u-
nano- = 1e-9 = n-
pico- = 1e-12 = p-
second = [time] = s
ampere = [current] = A
volt = [voltage] = V
ohm = volt / ampere
siemens = ampere / volt
watt = volt * ampere
farad = ampere * second / volt
henry = volt * second / ampere
hertz = 1 / second
percent = 0.01
statcapacity = 1.112650056e-12 * farad
""".strip()


@cache
def registry() -> pint.UnitRegistry[Any]:
    """The one unit registry: the dozen units a radio needs (the full default costs 126 ms)."""
    import pint

    made: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    made.load_definitions(_DEFINITIONS.split("\n"))
    return made


# How many SI base units one of each is: what pint makes of the definitions above. Kept ready
# because importing pint would double the time of a `netcheck lint` (155 ms, measured); a test
# holds every entry to pint's own figure.
_FACTORS = {
    "microfarad": 1e-6, "picofarad": 1e-12, "nanofarad": 1e-9, "farad": 1.0,
    "statcapacity": 1.112650056e-12, "ohm": 1.0, "kiloohm": 1e3, "megaohm": 1e6, "volt": 1.0,
    "kilovolt": 1e3, "millivolt": 1e-3, "ampere": 1.0, "milliampere": 1e-3, "microampere": 1e-6,
    "watt": 1.0, "milliwatt": 1e-3, "volt * ampere": 1.0, "henry": 1.0, "millihenry": 1e-3,
    "microhenry": 1e-6, "hertz": 1.0, "kilohertz": 1e3, "megahertz": 1e6, "percent": 1e-2,
    "microsiemens": 1e-6, "millisiemens": 1e-3, "ohm / volt": 1.0, "kiloohm / volt": 1e3,
}  # fmt: skip


def pint_quantity(value: Value) -> Any:
    """The (first) amount of a value as a pint quantity in SI units.

    Raises:
        ValueError: the value is unknown, or of a kind that has no unit.
    """
    units = {
        unit.role: unit.pint_name for unit in UNITS.values() if _FACTORS[unit.pint_name] == 1.0
    }
    units["tolerance"] = units["ratio"] = ""
    if value.dimension not in units:
        raise ValueError(f"{value.dimension} has no unit")
    return registry().Quantity(value.si, units[value.dimension])


def find_unit(spelling: str) -> Unit | None:
    """The unit of this spelling, or None. `M` and `m` alone are not found: they need a context."""
    plain = spelling.casefold()
    return _EXACT.get(spelling) or UNITS.get(plain) or UNITS.get(plain.rstrip("."))


_CODE = re.compile(r"(\d+)([RKMrkmnpu])(\d+)")
_CODE_FACTORS = {"R": 1.0, "K": 1e3, "M": 1e6, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12}


def read_quantity(tree: Tree[Token], span: Span, notation_m: float | None) -> Value:
    """Make a value of a `quantity` tree.

    Args:
        tree: NUMBER and perhaps UNIT.
        span: its place.
        notation_m: what M after a resistance stands for, when the text says so.

    Raises:
        Mistake: the number or the unit cannot be read, or could be read in two ways.
    """
    number = str(tree.children[0])
    written_unit = str(tree.children[1]) if len(tree.children) > 1 else ""
    code = _CODE.fullmatch(number)
    if code is not None:
        return _coded(code, written_unit, span)
    if "/" in number and written_unit:
        _check_fraction(number, span)
    amounts, spread, canonical = _amounts(number, span)
    if not written_unit:
        return Value(amounts, "ratio", canonical, span, spread)
    unit = _resolve(written_unit, amounts, span, notation_m)
    factor = _FACTORS[unit.pint_name]
    scaled = tuple(_tidy(amount * factor) for amount in amounts)
    if unit.role == "tolerance" and number.startswith("+") and len(scaled) == 2:
        # +50-10% of an electrolytic: one tolerance of two ways
        more, less = canonical.split("-")
        return Value((scaled[0], -scaled[1]), unit.role, f"+{more}% -{less}%", span)
    joint = "" if unit.canonical in ("%", "K") else " "
    # Two rising numbers are the ends of a trimmer or a slug; volts and ohms go along a path.
    spread = spread and unit.role in ("capacitance", "inductance")
    return Value(scaled, unit.role, f"{canonical}{joint}{unit.canonical}", span, spread)


def _check_fraction(number: str, span: Span) -> None:
    """Refuse what only looks like a fraction: 20/20 mfd is a can of two sections."""
    top, _, bottom = number.rpartition(" ")[2].lstrip("+-").partition("/")
    if int(top) >= int(bottom) or int(bottom) not in _DENOMINATORS:
        raise Mistake(
            f"{number} is no fraction that parts are marked with",
            span,
            "write the value as a number; each section of a body has a line of its own (C1A, C1B)",
        )


def _tidy(amount: float) -> float:
    """Round off the last binary digits, so that 0.05 x 1e-6 equals 50 x 1e-9."""
    return float(f"{amount:.12g}")


def _resolve(
    written: str, amounts: tuple[float, ...], span: Span, notation_m: float | None
) -> Unit:
    if written == "M":
        if notation_m is not None:
            name = {1e3: ("kiloohm", "K"), 1e6: ("megaohm", "meg")}[notation_m]
            return Unit(*name, "resistance")
        if max(amounts) > _LARGEST_PLAIN_M:
            number = f"{amounts[0]:g}"
            raise Mistake(
                f"{number}M can mean {number} megohm or {amounts[0] * 1e3:,.0f} ohm",
                span,
                f"write {number} meg or {number}K, or say `notation M = 1000` for this drawing",
            )
        return UNITS["meg"]
    if written == "mohm" or written == "m":
        raise Mistake(
            f"{written} after a number can mean milli or mega",
            span,
            "write meg for megohm, mA, mH or mV for thousandths",
        )
    if written in ("Mohm", "Mohms", "MOHM", "MOHMS"):
        return UNITS["meg"]
    unit = find_unit(written)
    if unit is None:
        raise Mistake(f"{written} is no unit of a radio", span, "write ohm, K, meg, mfd, pF, V …")
    return unit


def _coded(code: re.Match[str], unit: str, span: Span) -> Value:
    """4K7, 2M2, 4R7 (IEC 60062 letter codes) and 2n2F; capacitances need their F."""
    whole, letter, fraction = code.groups()
    amount = _tidy(
        float(f"{whole}.{fraction}") * _CODE_FACTORS[letter.upper() if letter in "rk" else letter]
    )
    plain = _plain_number(f"{whole}.{fraction}")
    if letter in "RKrkM" and unit.casefold() in ("", "ohm", "ohms"):
        suffix = {"R": " ohm", "K": "K", "M": " meg"}[letter.upper()]
        return Value((amount,), "resistance", plain + suffix, span)
    bases = {"f": ("capacitance", "F"), "h": ("inductance", "H")}
    if letter in "munp" and unit.casefold() in bases:
        role, base = bases[unit.casefold()]
        return Value((amount,), role, _canonical_small(plain, letter, base), span)
    hint = _PREFIX_ALONE.get(letter, "ohm, K or meg")
    raise Mistake(
        f"{code.group()}{unit} has no unit", span, f"units are always written: {plain} {hint}"
    )


def _canonical_small(plain: str, letter: str, base: str) -> str:
    if base == "F" and letter == "u":
        return f"{plain} mfd"
    return f"{plain} {letter}{base}"


def _amounts(number: str, span: Span) -> tuple[tuple[float, ...], bool, str]:
    """The numbers in `1 1/2`, `340-0-340`, `10-420`, `.05`; whether a spread; canonical text."""
    if "/" in number:
        whole, _, fraction = number.rpartition(" ") if " " in number.strip() else ("", "", number)
        top, _, bottom = fraction.strip().partition("/")
        if not float(bottom):
            raise Mistake(f"{number} divides by nothing", span, "write the value as a number")
        amount = abs(float(whole or 0)) + abs(float(top)) / float(bottom)
        amount = -amount if number.startswith("-") else amount
        canonical = f"{whole.strip()} {fraction.strip()}".strip().lstrip("+")
        return (amount,), False, canonical
    pieces = number.lstrip("+-").split("-")
    values = tuple(float(piece) for piece in pieces)
    if any(value > _LARGEST_NUMBER for value in values):
        raise Mistake(f"{number} is too large for any part", span, "check the number")
    canonical = "-".join(_plain_number(piece) for piece in pieces)
    if number.startswith("-"):
        values = (-values[0], *values[1:])
        canonical = f"-{canonical}"
    rising = len(values) == 2 and 0 < values[0] < values[1]
    return values, rising, canonical


def _plain_number(piece: str) -> str:
    """A number with a leading zero, and no idle zeros or point at its end."""
    whole, point, fraction = piece.partition(".")
    fraction = fraction.rstrip("0") if point else ""
    return (whole.lstrip("0") or "0") + (f".{fraction}" if fraction else "")
