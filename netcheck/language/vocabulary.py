"""The words of the trade: reference letters, what each kind of part may be called, names.

Belongs here: closed lists with their synonyms on both sides of the ocean; the canonical word is
the one the layout writes. Does not belong here: how words are put together (describe.py,
terminals.py), or facts about components (catalog/).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

__all__ = [
    "FORBIDDEN_NODES",
    "KINDS",
    "LETTERS",
    "LONGEST_PHRASE",
    "NODE_SYNONYMS",
    "TERMINAL_SYNONYMS",
    "KindWords",
    "phrase",
    "word_list",
]

# Reference letters of IEEE Std 315-1975 clause 22 (letters the language design keeps).
LETTERS = {
    "C": "capacitor", "R": "resistor", "RT": "thermistor", "RV": "varistor", "L": "coil",
    "T": "transformer", "V": "tube", "D": "diode", "CR": "diode", "S": "switch", "F": "fuse",
    "DS": "lamp", "LS": "speaker", "M": "meter", "G": "vibrator", "P": "plug", "J": "jack",
    "BT": "battery", "Z": "load",
}  # fmt: skip

# What other letters on a drawing probably mean.
LETTER_HINTS = {
    "SW": "S", "VR": "R", "POT": "R", "PL": "DS", "I": "DS", "FU": "F", "SP": "LS", "SPK": "LS",
    "TR": "T", "CH": "L", "VT": "V", "TC": "C", "VC": "C", "BAT": "BT", "Y": "L", "B": "BT",
    "U": "Z", "X": "P", "H": "DS", "NE": "DS", "Q": "D", "IC": "Z", "K": "S", "MK": "LS",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class KindWords:
    """What may stand in the description of one kind: roles of values, canonical words.

    `plain` is the role of a number without a unit that is a designation (lamp 47), if any.
    """

    roles: frozenset[str]
    words: frozenset[str]
    designation_after: frozenset[str] = frozenset()


def _kind(roles: str, words: str, designation_after: str = "") -> KindWords:
    return KindWords(
        frozenset(roles.split()),
        frozenset(w.replace("_", " ") for w in words.split()),
        frozenset(designation_after.split()),
    )


_RATINGS = "voltage voltage-ac current power tolerance"

KINDS: dict[str, KindWords] = {
    "capacitor": _kind(
        "capacitance voltage voltage-ac current tolerance frequency",
        "capacitor electrolytic wet paper wax moulded oil film polyester polypropylene foil mica"
        " silver-mica ceramic tubular disc block bathtub can insulated uninsulated trimmer padder"
        " variable gang air polarized non-polarized tantalum metallized feed-through dry buffer"
        " cut-plate polystyrene glass coupling bypass reservoir smoothing filter tone",
    ),
    "resistor": _kind(
        "resistance " + _RATINGS,
        "resistor control rheostat composition carbon film metal-film metal-oxide wirewound"
        " metal-clad dropper cord tapped bleeder audio-taper linear-taper log-taper reverse-taper"
        " insulated fusible flameproof grid-stopper volume tone grid-leak"
        " plate-load cathode-bias screen field",
    ),
    "thermistor": _kind(
        "resistance " + _RATINGS,
        "thermistor ballast barretter ntc ptc urdox",
        "ballast barretter ntc urdox",
    ),
    "varistor": _kind("voltage voltage-ac current power", "varistor mov"),
    "coil": _kind(
        "resistance inductance tolerance frequency impedance capacitance " + _RATINGS,
        "coil choke field filter rf loop-antenna antenna oscillator if hum-bucking slug-tuned"
        " tapped air iron wave-trap wirewound loading peaking shield-can detector"
        " first second third",
    ),
    "transformer": _kind(
        "resistance inductance frequency impedance to-impedance capacitance " + _RATINGS,
        "transformer power output if rf antenna oscillator driver interstage audio vibrator auto"
        " push-pull universal slug-tuned tapped detector filament isolation line discriminator"
        " speaker first second third can",
    ),
    "tube": _kind("", "tube metal glass shielded loctal side-contact weak"),
    "diode": _kind(
        "voltage voltage-ac current resistance surge",
        "diode silicon selenium dry-disc germanium bridge rectifier",
    ),
    "switch": _kind(
        "voltage voltage-ac current",
        "switch spst spdt dpst dpdt rotary wafer toggle slide push-button power line band"
        " changeover tone phono interlock selector voltage-selector shorting non-shorting"
        " momentary thermal",
    ),
    "fuse": _kind("current voltage voltage-ac resistance", "fuse slow fast thermal holder wire"),
    "lamp": _kind(
        "voltage voltage-ac current power",
        "lamp dial neon led bayonet screw",
        "lamp dial neon",
    ),
    "speaker": _kind(
        "resistance impedance power",
        "speaker permanent-magnet electrodynamic headphone external horn extension moving-coil",
    ),
    "meter": _kind("current voltage resistance", "meter tuning signal"),
    "vibrator": _kind(
        "voltage frequency current", "vibrator synchronous non-synchronous split-reed shunt series"
    ),
    "plug": _kind(
        "voltage voltage-ac current",
        "plug polarized not-polarized earthed speaker battery interlock rubber-cord cloth-cord"
        " plastic-cord cord octal phono",
    ),
    "jack": _kind(
        "",
        "jack terminal antenna earth phono headphone speaker external extension tape television"
        " switched socket screw insulated microphone",
    ),
    "battery": _kind("voltage resistance", "battery A-battery B-battery C-battery dry storage"),
    "load": _kind("current resistance power", "load"),
}

# Other ways to write the words above; several words count as one where they stand together.
_SYNONYMS: dict[str, str] = {
    "condenser": "capacitor", "cap": "capacitor", "lytic": "electrolytic", "elko": "electrolytic",
    "valve": "tube", "bottle": "tube", "potentiometer": "control", "pot": "control",
    "volume control": "control volume", "tone control": "control tone",
    "carbon composition": "composition", "carbon comp": "composition", "comp": "composition",
    "carbon film": "film", "metal film": "metal-film", "metal oxide": "metal-oxide",
    "wire wound": "wirewound", "wire-wound": "wirewound", "ww": "wirewound",
    "metal clad": "metal-clad", "candohm": "metal-clad", "divider": "tapped",
    "audio taper": "audio-taper", "linear taper": "linear-taper", "linear": "linear-taper",
    "log taper": "log-taper", "log": "log-taper", "reverse taper": "reverse-taper",
    "dropping": "dropper", "line cord": "cord", "resistance cord": "cord", "grid stopper":
    "grid-stopper", "molded": "moulded", "moulded paper": "moulded paper", "waxed": "wax",
    "wax paper": "wax paper", "waxed paper": "wax paper", "paper in oil": "paper oil",
    "oil-filled": "oil", "oil filled": "oil", "mylar": "polyester", "silver mica": "silver-mica",
    "silvered mica": "silver-mica", "silvered-mica": "silver-mica", "disk": "disc",
    "disc ceramic": "disc ceramic", "feedthrough": "feed-through", "feed through": "feed-through",
    "metallised": "metallized", "nonpolarized": "non-polarized", "non polarized": "non-polarized",
    "unpolarised": "non-polarized", "bipolar": "non-polarized", "polarised": "polarized",
    "tuning gang": "gang", "tuning": "variable", "compensator": "trimmer", "cut plate": "cut-plate",
    "waxy": "wax", "bakelite block": "moulded block", "twist-lock": "can", "twist lock": "can",
    "blocking": "coupling", "decoupling": "bypass", "decoupler": "bypass", "timing": "buffer",
    "tuning condenser": "variable", "tuning capacitor": "variable", "if trimmer": "trimmer",
    "coupling capacitor": "coupling", "bypass capacitor": "bypass", "moulded": "moulded",
    "voltage divider": "tapped", "grid leak": "grid-leak", "plate load": "plate-load",
    "anode load": "plate-load", "cathode bias": "cathode-bias", "mains dropper": "dropper",
    "screen dropper": "screen dropper", "curtain burner": "cord", "volume": "volume",
    "amperite": "ballast", "ballast tube": "ballast", "if can": "if", "ift": "if",
    "if transformer": "if", "1st": "first", "2nd": "second", "3rd": "third",
    "speaker transformer": "output", "output transformer": "output", "ls transformer": "output",
    "audio output": "output", "pt": "power", "speaker field": "field", "frame aerial":
    "loop-antenna", "frame antenna": "loop-antenna", "panel": "dial", "panel lamp": "dial lamp",
    "mes": "screw", "mes bulb": "screw lamp", "interrupter": "vibrator", "sync": "synchronous",
    "split reed": "split-reed", "non-sync": "non-synchronous", "gb battery": "C-battery",
    "grid bias battery": "C-battery", "dry battery": "dry battery", "moving coil":
    "moving-coil", "energised": "electrodynamic", "energized": "electrodynamic",
    "mains energised": "electrodynamic", "pu": "phono", "smoothing choke": "filter choke",
    "field coil": "field",
    "loop antenna": "loop-antenna", "loop": "loop-antenna", "aerial": "antenna",
    "loop aerial": "loop-antenna", "hum bucking": "hum-bucking", "humbucking": "hum-bucking",
    "neutralising": "hum-bucking", "slug tuned": "slug-tuned", "wave trap": "wave-trap",
    "i.f": "if", "i.f.": "if", "r.f": "rf", "r.f.": "rf", "mic": "microphone",
    "tv": "television", "rf choke": "rf choke",
    "mains": "power", "mains transformer": "power transformer", "opt": "output", "push pull":
    "push-pull", "autotransformer": "auto", "auto transformer": "auto", "loktal": "loctal",
    "lock-in": "loctal", "side contact": "side-contact", "dry disc": "dry-disc", "dry disk":
    "dry-disc", "metal rectifier": "dry-disc rectifier", "copper oxide": "dry-disc",
    "push button": "push-button", "on-off": "power", "wave change": "band", "wavechange": "band",
    "waveband": "band", "change over": "changeover", "voltage selector": "voltage-selector",
    "mains selector": "voltage-selector", "slow blow": "slow", "slow-blow": "slow", "time delay":
    "slow", "time-delay": "slow", "time lag": "slow", "t": "slow", "quick": "fast", "fast acting":
    "fast", "quick-acting": "fast", "pilot": "dial", "pilot lamp": "dial lamp", "dial lamp":
    "dial lamp", "scale lamp": "dial lamp", "bulb": "lamp", "light": "lamp", "loudspeaker":
    "speaker", "pm": "permanent-magnet", "permanent magnet": "permanent-magnet", "dynamic":
    "electrodynamic", "headphones": "headphone", "phones": "headphone", "non synchronous":
    "non-synchronous", "nonsynchronous": "non-synchronous", "unpolarized": "not-polarized",
    "not polarized": "not-polarized", "not polarised": "not-polarized", "three-wire": "earthed",
    "three wire": "earthed", "grounded": "earthed", "rubber cord": "rubber-cord", "cloth cord":
    "cloth-cord", "rubber": "rubber-cord", "cloth": "cloth-cord", "fabric": "cloth-cord",
    "plastic cord": "plastic-cord", "vinyl cord": "plastic-cord", "vinyl": "plastic-cord",
    "ground": "earth", "gram": "phono", "pickup": "phono", "pick-up": "phono", "ta": "phono",
    "a battery": "A-battery", "b battery": "B-battery", "c battery": "C-battery",
    "a-battery": "A-battery", "b-battery": "B-battery", "c-battery": "C-battery",
    "accumulator": "storage", "lt battery": "A-battery", "ht battery": "B-battery",
    "grid battery": "C-battery", "fixed": "", "rated": "", "working": "", "nominal": "",
    "each": "each", "class": "class", "gang section": "gang", "line filter": "filter",
}  # fmt: skip

LONGEST_PHRASE = 3

# Node names. CHASSIS, B- and EARTH are three nodes; words that could mean any of them are refused.
FORBIDDEN_NODES = frozenset({"GROUND", "GND", "MASS", "MASSE", "E", "A", "P", "COMMON", "COM"})
NODE_SYNONYMS = {
    "HT+": "B+", "HT-": "B-", "BPLUS": "B+", "BMINUS": "B-", "FRAME": "CHASSIS",
}  # fmt: skip

# Words for terminals, whatever the part; tubes have their own (catalog.tubes.electrode).
TERMINAL_SYNONYMS: dict[str, dict[str, str]] = {
    "plug": {
        "live": "hot", "line": "hot", "l": "hot", "phase": "hot", "n": "neutral", "cold": "neutral",
        "ground": "earth", "gnd": "earth",
    },
    "diode": {"plate": "anode", "k": "cathode", "a": "anode", "plus": "+", "minus": "-",
              "positive": "+", "negative": "-"},
    "switch": {},
    "resistor": {"slider": "wiper", "arm": "wiper", "tap": "tap"},
    "capacitor": {"plus": "+", "minus": "-", "negative": "-", "positive": "+", "can": "body",
                  "case": "body", "shell": "body"},
    "battery": {"plus": "+", "minus": "-", "positive": "+", "negative": "-"},
    "vibrator": {"contact": "contacts", "coils": "coil"},
    "speaker": {"basket": "frame"},
    "jack": {"ring": "ring", "sleeve": "sleeve", "tip": "tip"},
}  # fmt: skip

# Winding names of coils and transformers; any other word is refused, so that a slip is seen.
WINDINGS = (
    "primary", "secondary", "tertiary", "high", "heater", "heater1", "heater2", "heater3",
    "filament", "filament1", "filament2", "rectifier", "bias", "tickler", "feedback", "grid",
    "plate", "antenna", "oscillator", "loop", "coupling", "voice", "field", "hum", "sw",
    "lw", "mw", "bc", "primary1", "primary2", "secondary1", "secondary2", "low", "screen",
    "main", "fm",
)  # fmt: skip
WINDING_SYNONYMS = {
    "pri": "primary", "sec": "secondary", "ht": "high", "hv": "high", "lt": "heater", "fil":
    "filament", "speech": "voice", "broadcast": "bc", "short": "sw", "long": "lw", "medium": "mw",
    "aerial": "antenna", "osc": "oscillator", "reaction": "tickler",
}  # fmt: skip


@cache
def word_list(kind: str) -> tuple[str, ...]:
    """Every word and synonym that a description of `kind` may use, for the nearest right word."""
    own = KINDS[kind].words
    also = (said for said, meant in _SYNONYMS.items() if set(meant.split()) <= own | {""})
    return (*sorted(own), *also)


def phrase(kind: str, words: list[str]) -> tuple[tuple[str, ...], int] | None:
    """Read the longest known phrase at the start of `words`.

    Returns:
        The canonical words it stands for and how many of `words` it takes, or None when the
        first word is not known for this kind.
    """
    own = {word.casefold(): word for word in KINDS[kind].words}
    for length in range(min(LONGEST_PHRASE, len(words)), 0, -1):
        said = " ".join(words[:length]).casefold()
        if length == 1 and said in own:
            return (own[said],), 1
        if said in _SYNONYMS:
            meant = tuple(_SYNONYMS[said].split())
            if all(word in KINDS[kind].words for word in meant):
                return meant, length
    return None
