"""Numerical-control programs (ISO 6983 and RS-274 words), read for a set-up check.

A value is known, assumed or unknown, with reason and line. Travel or depth the text does not give is never made up,
and a word that cannot be read is listed. If controls read a word in two ways, both are reported until a `dialect`
setting decides. Words follow NIST IR 6556, as quoted; where controls differ, their manuals.
"""

__all__ = [
    "against_card",
    "describe",
    "dialect",
    "finding_kinds",
    "offsets_against_card",
    "reader",
    "report",
    "summary",
    "tools_against_card",
    "units",
]
