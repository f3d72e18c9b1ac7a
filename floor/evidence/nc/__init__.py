"""Numerical-control programs (ISO 6983 and RS-274 words), read for a set-up check.

A value is known, assumed or unknown, with the reason and the line. A box or a depth that the text does not give is
never made up, and a word that cannot be read is listed. Where controls read a word in two ways, both readings are
reported until a setting of the `dialect` decides. The words follow NIST IR 6556, as quoted; where controls differ
from it, their manuals.
"""

__all__ = ["dialect", "reader", "report"]
