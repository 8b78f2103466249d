"""Waves of the line side over one cycle, because sine and pulses cannot be added as phasors.

Belongs here: the waves that follow from the response of every net to the line and to each
rectifier's current, diodes in series with heaters. Does not belong here: that response
(line_response), which branches there are (line_network), the ohms (line_solver).

In a network of resistors a pulse divides the same way at every instant, so the waves are sums of
the line's sine and of the rectifiers' currents, each times a number. With capacitors or coils the
currents are taken apart into harmonics (J. Fourier) and each is divided at its own frequency.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.circuit.line_network import Dropper, LineNetwork
from netcheck.circuit.line_response import Response
from netcheck.circuit.phasor import Complex
from netcheck.circuit.rectify_law import Array
from netcheck.findings import NotSolved

__all__ = [
    "SAMPLES", "Waves", "currents_of", "droppers_as_ports", "rms_across",
]  # fmt: skip

SAMPLES = 240
_SWEEPS = 200
_STEADY = 1e-6


class Waves:
    """Volts of every net against the held ones at `SAMPLES` even instants of a cycle, (S, N).

    They follow from a response with the current of every port; each net's when it is asked for.
    `nets` are those that have a wave.
    """

    def __init__(self, response: Response, currents: Sequence[Array]) -> None:
        self._response = response
        self._currents = currents
        self._found: dict[str, Array] = {}
        self.nets = frozenset(response.line)

    def across(self, a: str, b: str) -> Array:
        """Volts of one net against another over the cycle, (S, N).

        Raises:
            KeyError: one of them has no wave.
        """
        return self._of(a) - self._of(b)

    def _of(self, net: str) -> Array:
        if net not in self._found:
            own = self._response.line[net], self._response.port[net]
            self._found[net] = _summed(self._response, own, self._currents)
        return self._found[net]


def line_wave(network: LineNetwork, phasor: Complex) -> Array:
    """The wave of a phasor of volts rms, (S, N); of a DC line its steady volts."""
    if not network.hertz:
        return np.repeat(phasor.real[:, None], SAMPLES, axis=1)
    turn = np.exp(2j * np.pi * np.arange(SAMPLES) / SAMPLES)
    return np.asarray(np.sqrt(2.0) * (phasor[:, None] * turn).imag)


def currents_of(response: Response, drawn: Sequence[Array]) -> list[Array]:
    """What flows at every port: the rectifiers' currents `drawn` (S, N), then the diodes'.

    Raises:
        NotSolved: a diode in series with heaters beside capacitors or coils.
    """
    network = response.network
    if not network.droppers:
        return list(drawn)
    if network.reactive:
        refs = ", ".join(d.ref for d in network.droppers)
        raise NotSolved(f"{refs} beside a capacitor or coil on the line side is not computed")
    return [*drawn, *_through_droppers(response, drawn)]


def rms_across(
    response: Response, currents: Sequence[Array], pairs: Sequence[tuple[str, str]]
) -> Array:
    """Volts rms between pairs of nets, (pairs, S), without their waves where ohms alone divide.

    The mean of (L s(t) + sum k_p i_p(t))^2 is L^2 + 2 L sum k_p mean(s i_p) + sum k_p k_q
    mean(i_p i_q).
    """
    both = [response.between(a, b) for a, b in pairs]
    if not both:
        return np.zeros((0, response.states))
    if response.network.reactive:
        return np.stack([_rms(_summed(response, one, currents)) for one in both])
    line = np.stack([one for one, _ in both])
    if not currents:
        return np.abs(line)
    share = np.stack([port[..., 0].real for _, port in both])  # (pairs, P, S)
    drawn = np.stack(currents)
    unit = np.ones(response.states, dtype=complex)
    sine = line_wave(response.network, unit)
    cosine = line_wave(response.network, 1j * unit)
    with_sine = np.einsum("psn,sn->ps", drawn, sine) / SAMPLES
    with_cosine = np.einsum("psn,sn->ps", drawn, cosine) / SAMPLES
    among = np.einsum("psn,qsn->pqs", drawn, drawn) / SAMPLES
    mixed = line.real * np.einsum("kps,ps->ks", share, with_sine)
    mixed += line.imag * np.einsum("kps,ps->ks", share, with_cosine)
    square = np.abs(line) ** 2 + 2 * mixed + np.einsum("kps,kqs,pqs->ks", share, share, among)
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))


def _summed(response: Response, one: tuple[Complex, Complex], currents: Sequence[Array]) -> Array:
    wave = line_wave(response.network, one[0])
    for k, own in enumerate(currents):
        if one[1][k].any():
            wave = wave + _divided(one[1][k], own)
    return wave


def _rms(wave: Array) -> Array:
    return np.asarray(np.sqrt(np.mean(wave**2, axis=-1)))


def _divided(response: Complex, drawn: Array) -> Array:
    """The wave that a current causes: times a number, or harmonic by harmonic."""
    if response.shape[1] == 1:
        return response.real * drawn
    lines = np.fft.rfft(drawn, axis=1)
    lines[:, : response.shape[1]] *= response
    lines[:, response.shape[1] :] = 0.0
    return np.fft.irfft(lines, SAMPLES, axis=1)


def _through_droppers(response: Response, drawn: Sequence[Array]) -> list[Array]:
    """The current of each diode in series with heaters, sample by sample.

    Each sees volts and ohms of the rest (L. Thevenin) and conducts where they are forward; several
    are swept in turn until none changes.

    Raises:
        NotSolved: they did not settle.
    """
    droppers, ahead = response.network.droppers, len(drawn)
    open_v, ohm = [], []
    for d in droppers:
        both = response.between(d.a, d.b)
        open_v.append(_summed(response, both, drawn))
        ohm.append(-both[1][ahead:, :, 0].real)
    amperes = [np.zeros_like(wave) for wave in open_v]
    scale = max(float(np.max(np.abs(wave))) for wave in open_v) + 1e-9
    for _ in range(_SWEEPS):
        moved = 0.0
        for j, d in enumerate(droppers):
            rest = open_v[j] - d.law.threshold_v
            for k in range(len(droppers)):
                if k != j:
                    rest = rest - ohm[j][k][:, None] * amperes[k]
            own = ohm[j][j][:, None] + d.law.ohm
            new = np.maximum(rest, 0.0) / own
            moved = max(moved, float(np.max(np.abs(new - amperes[j]) * own)))
            amperes[j] = new
        if moved < _STEADY * scale:
            return amperes
    refs = ", ".join(d.ref for d in droppers)
    raise NotSolved(f"the diodes in series with heaters ({refs}) did not settle")


def droppers_as_ports(droppers: Sequence[Dropper]) -> list[tuple[str, str]]:
    """The pairs of nets between which diodes in series draw."""
    return [(d.a, d.b) for d in droppers]
