"""Lithium-polymer cells: voltage at rest against charge, resistance against warmth and charge.

Resting voltages are the trade's usual table, full at 4.20 V (common practice; makers agree within 0.03 V). The
resistance rule is from memory: a cell at 5 °C shows about 1.6 times what it does at 25 °C.

LiPo cells can burn: charge them watched, on a surface that cannot catch fire, never below 0 °C, and
retire swollen ones. Land with a fifth of the charge left.
"""

from __future__ import annotations

import numpy as np

from sheetlark.drive.family import Floats

CHARGE = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
RESTING_V = np.array([3.27, 3.61, 3.69, 3.73, 3.77, 3.80, 3.84, 3.87, 3.95, 4.02, 4.11, 4.20])
WARM_K = 298.15
CUT_OFF_V = 3.0  # a cell below it is harmed; many controllers cut here
REST_CUT_OFF_V = 3.5  # resting advice at the end of a flight
RESERVE = 0.2  # of the charge, left in at landing


def open_circuit_v(charge: Floats | float) -> Floats:
    """Voltage of a resting cell at a state of charge from 0 to 1. [V]."""
    return np.asarray(np.interp(charge, CHARGE, RESTING_V), dtype=np.float64)


def resistance_factor(charge: Floats | float, temperature_k: Floats | float) -> Floats:
    """Cell resistance over its value at 25 °C and half charge. [-].

    exp(0.0235 (25 °C - T)), held between 0.7 and 3, times a rise of up to half below a fifth of the charge.
    """
    cold = np.clip(np.exp(0.0235 * (WARM_K - np.asarray(temperature_k, dtype=np.float64))), 0.7, 3.0)
    empty = 1.0 + 0.5 * np.clip(1.0 - np.asarray(charge, dtype=np.float64) / 0.2, 0.0, 1.0)
    return np.asarray(cold * empty, dtype=np.float64)
