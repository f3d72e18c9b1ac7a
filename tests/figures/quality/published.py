"""Data of published examples."""

from __future__ import annotations

WAFERS = [
    0.24, 0.30, 0.16, 0.20, 0.08, 0.14, 0.32, 0.18, 0.28, 0.20, 0.10, 0.12, 0.34, 0.24, 0.44,
    0.16, 0.20, 0.10, 0.26, 0.22, 0.40, 0.36, 0.48, 0.30, 0.18, 0.24, 0.14, 0.26, 0.18, 0.12,
]  # fmt: skip
"""Share of 50 chips that failed, wafer by wafer: NIST/SEMATECH e-Handbook 6.3.3.2. The counts are those of Montgomery's
juice cans (*Introduction to Statistical Quality Control*)."""

FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""Ten batches: NIST/SEMATECH e-Handbook 6.3.2.2."""

VISCOSITIES = [
    34.05, 34.40, 33.59, 35.96, 34.70, 33.51, 33.79, 34.04, 34.52, 33.75,
    33.27, 33.71, 34.03, 34.58, 34.02, 33.97, 34.05, 34.04, 33.73, 34.05,
]  # fmt: skip
"""Twenty batches of Montgomery's, in the vignette of the R package qcc."""

_RINGS = """
30 2 19 -8 8 | -5 -8 1 11 4 | -12 24 21 5 2 | 2 -4 -7 15 9 | -8 7 15 -11 14 | 9 -6 -3 -15 -7 | -5 6 -6 0 5 |
-15 3 -7 15 -12 | 8 -5 9 5 4 | -2 0 -10 7 -5 | -6 -2 -6 -5 -10 | 4 0 7 0 -4 | -17 2 -2 -3 12 | 6 -33 -6 0 -16 |
12 14 -2 -1 7 | 0 -16 5 -2 -4 | -6 12 -14 5 7 | 6 10 18 3 0 | -16 2 3 5 -3 | 0 10 13 20 3 | -12 1 9 5 -4 |
4 -1 -10 6 9 | 10 -11 -10 9 14 | 15 8 -7 0 10 | -18 -16 -5 17 13
"""
RINGS = [[74 + int(each) / 1000 for each in group.split()] for group in _RINGS.split("|")]
"""Diameters in mm of Montgomery's piston rings, 25 subgroups of 5."""
