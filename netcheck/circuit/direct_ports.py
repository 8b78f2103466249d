"""Newton steps at the ports of a small network, by a matrix of its own for every variant.

Belongs here: the matrices of the ports and steps by them. Does not belong here: how the network is
reduced to its ports (direct_reduce.py), many variants or many ports (direct_wide.py).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netcheck.circuit.direct_newton import Newton, Work
from netcheck.circuit.direct_reduce import Reduced
from netcheck.circuit.direct_types import Array, Device, Indices, Linear

__all__ = ["PortNewton"]

# Matrices of a part of the rows, and rows at a time where there is none: some 30 MB.
_MOST_FIGURES, _MOST_ROWS = 4_000_000, 400


class PortNewton(Newton):
    """Newton's method at the ports."""

    def __init__(
        self,
        linear: Linear,
        devices: Sequence[Device],
        free: Indices,
        ports: Indices,
        fixed_v: Array,
        network: Reduced,
    ) -> None:
        super().__init__(linear, devices, free, ports, fixed_v)
        self.network = network
        self.open_v = network.open_v

    def work(self, rows: Indices) -> Work:
        """These rows side by side."""
        return _PortWork(self, rows)

    def opened(self, rows: Indices) -> Array:
        """Port volts with no device current, (n, p)."""
        return np.asarray(self.open_v[rows])

    def parted(self, rows: Indices) -> list[Indices]:
        """Rows in as many parts as keep their matrices from filling the memory."""
        each = max(1, _MOST_FIGURES // max(len(self.ports), 1) ** 2)
        return [rows[k : k + each] for k in range(0, len(rows), each)]

    def all_volts(self, linear: Linear) -> Array:
        """Volts of every node (B, count), the ports as found and the rest by what they draw."""
        every = np.arange(len(self.port_v))
        port_a = np.concatenate(
            [
                self.evaluated(self.port_v[some], some)[0]
                for some in np.array_split(every, max(1, len(every) // _MOST_ROWS))
            ]
        )
        volts = np.zeros((len(self.port_v), linear.count))
        volts[:, list(linear.fixed)] = self.fixed_v
        volts[:, self.free] = self.network.all_volts(port_a)
        volts[:, self.ports] = self.port_v
        return volts


class _PortWork(Work):
    """Rows with an impedance each."""

    newton: PortNewton

    def reduce(self) -> Array:
        """Take what these rows need of the linear network; port volts without devices (n, p)."""
        self.impedance = self.newton.network.impedances(self.rows)
        return self.newton.opened(self.rows)

    def kept(self) -> tuple[str, ...]:
        """The names of all that has a row a variant."""
        return (*super().kept(), "impedance")

    def direction(self) -> Array:
        """Newton's whole step, (n, p)."""
        diagonal = np.arange(len(self.newton.ports))
        held = self.slopes
        if self.newton.anchor_s:
            held = held.copy()
            held[:, diagonal, diagonal] += self.newton.anchor_s
        matrix = self.impedance @ held
        matrix[:, diagonal, diagonal] += 1.0
        return np.asarray(-np.linalg.solve(matrix, self.misfit[..., None])[..., 0])

    def drawn(self, chosen: slice | Indices, currents: Array) -> Array:
        """Volts that currents out of the ports take off them, (n, p)."""
        return np.asarray((self.impedance[chosen] @ currents[..., None])[..., 0])

    def evaluate(self, volts: Array, rows: Indices) -> tuple[Array, Array]:
        """Currents out of the ports and their slopes."""
        return self.newton.currents(volts, rows)
