"""Settings of a control as typed, and the dialect that they make."""

from __future__ import annotations

from floor.checklist.control_settings import read_settings
from floor.evidence.nc.dialect import Dialect


def test_the_settings_of_a_machine() -> None:
    told = read_settings(
        ["M71=air", "m088=through tool", "rapid=9000, 8000, 6000 mm/min", "tool-change-time=8 s", "DWELL=seconds"]
    )
    assert told == Dialect(
        dwell="seconds",
        m_codes=((71, "air"), (88, "through tool")),
        rapid=(9000, 8000, 6000),
        tool_change_seconds=8,
    )
    assert read_settings(["rapid=400 in/min"]).rapid == (10160, 10160, 10160)
    assert read_settings([]) == Dialect()
