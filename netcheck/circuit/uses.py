"""What coils and diodes can be used for by their own words and values, where wiring does not tell.

Belongs here: tuned, audio and power coils, signal and power diodes. Does not belong here: where a
part sits (role), capacitors and resistors.
"""

from __future__ import annotations

from netcheck.parts import Part

__all__ = ["is_audio_transformer", "is_signal_diode", "is_tunable"]

_RF_COIL = (
    "if", "rf", "antenna", "loop-antenna", "oscillator", "discriminator", "detector",
    "wave-trap", "loading", "peaking", "slug-tuned",
)  # fmt: skip
_AUDIO_TRANSFORMER = ("output", "driver", "interstage", "audio", "speaker", "push-pull")
_IRON = (
    *_AUDIO_TRANSFORMER, "power", "vibrator", "auto", "isolation", "line", "filament", "choke",
    "field", "filter", "hum-bucking",
)  # fmt: skip
_POWER_DIODE = ("selenium", "dry-disc", "bridge", "rectifier")

_SIGNAL_DIODE_A = 0.05
"""Detector and bias diodes carry less than this (common practice, no source)."""


def is_tunable(part: Part) -> bool:
    """Whether a coil or transformer can be part of a tuned circuit; a coil without words can."""
    if part.description.has(*_RF_COIL) or part.value("frequency") is not None:
        return True
    return part.kind == "coil" and not part.description.has(*_IRON)


def is_audio_transformer(part: Part) -> bool:
    """Whether a part is an output, driver or interstage transformer."""
    return part.description.has(*_AUDIO_TRANSFORMER)


def is_signal_diode(part: Part) -> bool:
    """Whether a diode may be a detector's: no rectifier by its words or its amperes."""
    rectifies = part.description.has(*_POWER_DIODE)
    return not rectifies and (part.description.number("current") or 0.0) < _SIGNAL_DIODE_A
