"""How rules speak of parts and amounts, so that every finding says them in the same way.

Belongs here: wording and number forms that several rules use, and the one line of arithmetic
they share (a capacitor's current on the line). Does not belong here: any judgement.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Final

from netcheck.language.mistakes import joined
from netcheck.parts import Part

__all__ = ["amount", "capacitor_current_a", "described", "listed", "named"]

# Per SI unit: (least size, factor, what follows the number), largest first; the trade's forms.
_SCALES: Final[dict[str, tuple[tuple[float, float, str], ...]]] = {
    "ohm": ((1e6, 1e-6, "M"), (1e3, 1e-3, "K"), (0.0, 1.0, " ohm")),
    "F": ((1e-9, 1e6, " mfd"), (0.0, 1e12, " mmf")),
    "A": ((1.0, 1.0, " A"), (1e-4, 1e3, " mA"), (0.0, 1e6, " uA")),
    "Hz": ((1e6, 1e-6, " MHz"), (1e3, 1e-3, " kHz"), (0.0, 1.0, " Hz")),
    "H": ((1.0, 1.0, " H"), (1e-3, 1e3, " mH"), (0.0, 1e6, " uH")),
}
_QUOTED: Final = re.compile(r'"[^"]*"')
_OLD_PART: Final = re.compile(r",?\s*\breplac(?:es|ing)\b.*", re.DOTALL | re.IGNORECASE)


# Below this an amount is what rounding left of zero, whatever its unit.
_NOTHING = 1e-15


def amount(value: float, unit: str) -> str:
    """Return an SI amount with three significant digits in the units of the trade.

    `unit` is ohm, F, A, Hz, H (scaled as parts lists write them) or any other, kept as it is.

    >>> amount(470e3, "ohm"), amount(0.05e-6, "F"), amount(2.2619e-3, "A"), amount(117, "V")
    ('470K', '0.05 mfd', '2.26 mA', '117 V')
    >>> amount(150, "ohm"), amount(220e-12, "F"), amount(0, "A"), amount(0.25, "W")
    ('150 ohm', '220 mmf', '0 A', '0.25 W')
    >>> amount(999.9e3, "ohm"), amount(1600, "V"), amount(1000e-6, "F"), amount(33.2e-6, "A")
    ('1M', '1600 V', '1000 mfd', '33.2 uA')
    """
    # The digits are cut first, so that 999.9K does not become 1000K.
    rounded = float(f"{value:.3g}") if abs(value) > _NOTHING else 0.0
    scales = _SCALES.get(unit) if rounded else None
    if scales is None:
        return f"{rounded:g} {unit}"
    _, factor, suffix = next(row for row in scales if abs(rounded) >= row[0])
    return f"{float(f'{rounded * factor:.3g}'):g}{suffix}"


def described(part: Part) -> str:
    """Return what the text says a part now is; its note and what it replaces are left out."""
    said = part.tube_name or _OLD_PART.sub("", _QUOTED.sub("", part.description.text))
    return re.sub(r"(,\s*)+", ", ", " ".join(said.split())).strip(" ,")


def named(part: Part) -> str:
    """Return the part's reference with what it now is: `C21 (.05 mfd 400 V paper)`."""
    plain = described(part)
    return f"{part.ref} ({plain})" if plain else part.ref


def listed(refs: Iterable[str]) -> str:
    """Return references as a list in words, each once and in order.

    >>> listed(["C1"]), listed(["C1", "C2"]), listed(["C1", "C2", "C2", "C3"]), listed([])
    ('C1', 'C1 and C2', 'C1, C2 and C3', '')
    """
    return joined(dict.fromkeys(refs), "and")


def capacitor_current_a(farad: float, volts: float, hertz: float) -> float:
    """Return the amperes rms a capacitor passes: 2 x pi x f x C x V (elementary AC theory).

    `farad` in farads, `volts` rms across it, `hertz` the line frequency (0 on a DC line: none).
    """
    return 2 * math.pi * hertz * farad * volts
