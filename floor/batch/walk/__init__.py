"""A run at a station: started, walked line by line, its cycle and timers, released or put back."""

__all__ = [
    "arrival",
    "clock_jumps",
    "clocks",
    "commands",
    "cures",
    "cycles",
    "lines",
    "put_back",
    "recap",
    "stop_cycle",
]
