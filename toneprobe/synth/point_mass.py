"""What a small mass at one place of a string does to its partials: the simplest false string."""

import numpy as np


def point_mass_ratio(n: np.ndarray, fraction: float, place: float) -> np.ndarray:
    """Frequency of each partial over its frequency without the mass, for an ideal string between rigid ends.

    n: partial numbers; fraction: the mass over the string's mass; place: its distance from one end over the length.
    Exact: with z = kL the loaded string obeys sin z = fraction·z·sin(z·place)·sin(z·(1 − place)), and its n-th root lies
    between (n − 1)π and nπ, where (−1)^n times the difference of the two sides changes sign once from − to +.
    """
    n = np.asarray(n, dtype=float)
    low, high = (n - 1.0) * np.pi, n * np.pi
    sign = np.cos(n * np.pi)
    for _ in range(60):
        z = 0.5 * (low + high)
        below = sign * (np.sin(z) - fraction * z * np.sin(z * place) * np.sin(z * (1.0 - place))) < 0.0
        low, high = np.where(below, z, low), np.where(below, high, z)
    return 0.5 * (low + high) / (n * np.pi)
