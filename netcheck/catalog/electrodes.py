"""Maps the words people use for a tube's electrodes to the one canonical name of the terminal.

Belongs here: trade words of both sides of the ocean, and the sentence for a word that could mean
two electrodes. Does not belong here: socket pins, node names, spelling correction.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from netcheck.catalog.sections import terminal_names
from netcheck.parts import Section, TubeType

__all__ = ["ambiguous_word", "electrode", "electrode_words"]

_NUMBERED = re.compile(
    r"(plate|anode|p|a|cathode|k|kathode|grid|g|diode|d|heater|filament|h|f)-?(\d)"
)
_STEMS = {
    "anode": "plate", "p": "plate", "a": "plate", "k": "cathode", "kathode": "cathode",
    "g": "grid", "d": "diode", "filament": "heater", "h": "heater", "f": "heater",
}  # fmt: skip
_WORDS = {
    "control-grid": "grid", "control": "grid", "screen-grid": "screen", "sg": "screen",
    "suppressor-grid": "suppressor", "htap": "tap", "heater-tap": "tap", "filament-tap": "tap",
    "top-cap": "cap", "grid-cap": "cap", "plate-cap": "cap", "metal": "shell", "can": "shell",
    "internal-shield": "shield", "signal-grid": "signal", "mixer-grid": "signal",
    "osc": "oscillator", "oscillator-grid": "oscillator", "osc-grid": "oscillator",
    "oscgrid": "oscillator", "injection": "injection-grid", "oscplate": "oscillator-plate",
    "osc-plate": "oscillator-plate", "oscillator-anode": "oscillator-plate",
    "osc-anode": "oscillator-plate", "oscanode": "oscillator-plate",
    "anode-grid": "oscillator-plate", "triode-anode": "triode-plate",
    "heptode-plate": "mixer-plate", "heptode-anode": "mixer-plate", "hexode-plate": "mixer-plate",
    "hexode-anode": "mixer-plate", "mixer-anode": "mixer-plate", "pentode-plate": "mixer-plate",
    "pentode-anode": "mixer-plate", "pentode-grid": "mixer-g1", "heptode-grid": "signal",
    "hexode-grid": "signal", "pentode-cathode": "cathode",
}  # fmt: skip


def _plain(word: str) -> str:
    """Lower case, hyphens, one canonical stem (`Anode 2` and `a2` become `plate2`)."""
    word = re.sub(r"[\s_]+", "-", word.strip().lower())
    numbered = _NUMBERED.fullmatch(word)
    if numbered:
        stem, number = numbered.groups()
        return _STEMS.get(stem, stem) + number
    return _WORDS.get(word, _STEMS.get(word, word))


def _terminals(tube: TubeType) -> dict[str, str]:
    """Every electrode of the type with its terminal, those of unknown pin included."""
    extra = [e for s in tube.sections for e in _of(s)]
    if tube.tap_v is not None:
        extra.append("tap")
    return terminal_names(tube.pins, extra)


def _of(section: Section) -> tuple[str, ...]:
    screen = (section.screen,) if section.screen else ()
    cathode = (section.cathode,) if section.cathode else ()
    return (section.plate, *section.controls, *screen, *cathode)


def _converter(tube: TubeType) -> Section | None:
    return next((s for s in tube.sections if s.kind == "converter"), None)


def electrode(tube: TubeType, word: str) -> str | None:
    """Return the canonical terminal name that `word` means on this type, or None.

    None stands both for a word the type does not have and for one that could mean two electrodes;
    `ambiguous_word` tells the two apart.
    """
    plain = _plain(word)
    names = _terminals(tube)
    if plain in names:
        return names[plain]
    choices = _choices(tube, plain, names)
    return choices[0] if len(choices) == 1 else None


def _choices(tube: TubeType, plain: str, names: Mapping[str, str]) -> list[str]:
    """The different terminals a word that is no electrode name may mean."""
    numbered = re.fullmatch(r"([a-z]+)(\d)", plain)
    found = _numbered(numbered[1], numbered[2], names) if numbered else _by_role(tube, plain, names)
    return list(dict.fromkeys(name for name in found if name))


def _numbered(stem: str, number: str, names: Mapping[str, str]) -> list[str]:
    """`grid1` for g1 and back, `plate1` of a twin diode, either cathode where there is only one."""
    if stem == "grid":
        return [names.get(f"g{number}", "")]
    if stem == "plate":
        return [names.get(f"diode{number}", "")] if "plate" not in names else []
    if stem == "cathode" and "cathode" in names and number in "12":
        paired = any(name in names for name in ("plate2", "cathode2"))
        return [names["cathode"]] if paired else []
    if stem == "diode" and number == "1":
        diodes = [names[d] for d in ("diode1", "diode2", "diode3") if d in names]
        return diodes if len(diodes) == 1 else []
    return []


def _by_role(tube: TubeType, plain: str, names: Mapping[str, str]) -> list[str]:
    """Words that name a duty rather than an electrode."""
    converter = _converter(tube)
    if plain in ("plate", "cathode", "diode"):
        return [names[e] for e in sorted(names) if re.fullmatch(plain + r"\d", e)]
    if plain == "grid":
        return [grid for section in tube.sections for grid in section.controls]
    if plain == "screen":
        return [s.screen for s in tube.sections if s.screen]
    if plain == "suppressor":
        found = names.get("g5" if converter else "g3", "")
        return [] if converter and found == converter.screen else [found]
    if plain == "cap":
        return list(tube.pins.get("cap", ()))[:1]
    if plain == "shield":
        return [names.get("shell", "")]
    if plain in ("triode-plate", "triode-grid", "triode-cathode"):
        return _triode_word(tube, plain)
    if plain in ("mixer-plate", "mixer-g1"):
        multiple = len([s for s in tube.sections if s.controls]) > 1 or converter
        return [names.get("plate" if plain == "mixer-plate" else "g1", "")] if multiple else []
    return _converter_word(tube, converter, plain) if converter else []


def _triode_word(tube: TubeType, plain: str) -> list[str]:
    """`triode-plate` on a type whose triode has no special electrode names (a 12AV6)."""
    triodes = [s for s in tube.sections if s.name == "triode"]
    if len(triodes) != 1:
        return []
    section = triodes[0]
    grid = section.controls[0] if section.controls else ""
    parts = {"triode-plate": section.plate, "triode-cathode": section.cathode}
    return [parts.get(plain, grid)]


def _converter_word(tube: TubeType, converter: Section, plain: str) -> list[str]:
    """Signal, oscillator and injection grids and the oscillator's plate, per family."""
    own = next((s for s in tube.sections if s.name in ("triode", "oscillator")), None)
    if plain == "signal":
        return list(converter.controls[:1])
    if plain == "injection-grid":
        return list(converter.controls[1:2])
    if plain == "oscillator":
        return list(own.controls if own else converter.controls[1:2])
    if plain == "oscillator-plate":
        return [own.plate] if own else []
    return []


def electrode_words(tube: TubeType) -> list[str]:
    """Return the words that `electrode` accepts here, canonical names first (for did-you-mean)."""
    names = list(dict.fromkeys(_terminals(tube).values()))
    extra = (
        "plate", "grid", "screen", "suppressor", "cathode", "diode", "signal", "oscillator",
        "oscillator-plate", "cap", "shield",
    )  # fmt: skip
    return [*names, *(w for w in extra if w not in names and electrode(tube, w) is not None)]


def ambiguous_word(tube: TubeType, word: str) -> str | None:
    """Return a sentence when `word` could mean two electrodes of this type, else None."""
    plain = _plain(word)
    names = _terminals(tube)
    if plain in names:
        return None
    choices = _choices(tube, plain, names)
    if len(choices) < 2:
        return None
    converter = _converter(tube)
    if plain == "grid" and converter and set(choices) == set(converter.controls):
        signal, oscillator = converter.controls[:2]
        choices = [f"signal ({signal})", f"oscillator ({oscillator})"]
    return f"{word!r} could mean {len(choices)} electrodes of the {tube.name}: say " + " or ".join(
        choices
    )
