"""How much a tube still conducts with its heater below its volts, for bringing a set up slowly.

Belongs here: the share of the full current against the share of the heater volts. Does not belong
here: what the heater gets (heaters), the operating point.

A heater of V volts takes W ~ V^1.58 (tungsten law, see heater_law) and radiates about as T^4, so
T ~ V^0.395. What an oxide cathode can emit goes as T^2 exp(-phi / kT) (Richardson and Dushman),
with 1050 K and 1.1 eV at full heat. It can emit some ten times what the tube draws then, so the
space charge governs until emission falls to that: the two are joined as 1/I = 1/I_space +
1/I_emission, and scaled to 1 at full heat. All of it from memory; within a tenth of the rated volts
it changes little, below half of them nothing to speak of is left.
"""

from __future__ import annotations

import math

__all__ = ["emission_share"]

_FULL_K = 1050.0
_WORK_K = 1.1 / 8.617e-5  # 1.1 eV over Boltzmann's constant in eV/K (CODATA 2018)
_RESERVE = 10.0
_HEAT = 1.58 / 4


def emission_share(heater_share: float) -> float:
    """The share of its current a warm tube gives at this share of its heater volts.

    1 at full heat, never above 1 (an over-run heater adds nothing that the space charge lets
    through), 0 for a cold one.

    >>> emission_share(1.0), emission_share(0.0)
    (1.0, 0.0)
    """
    if heater_share <= 0.05:
        return 0.0
    share = min(heater_share, 1.0)
    kelvin = _FULL_K * share**_HEAT
    emitted = (kelvin / _FULL_K) ** 2 * math.exp(-_WORK_K * (1 / kelvin - 1 / _FULL_K))
    share_of_full: float = (1 + 1 / _RESERVE) / (1 + 1 / (_RESERVE * emitted))
    return share_of_full
