"""A run at a station: started, walked line by line, its cycle and timers, released or put back."""

__all__ = [
    "any_order",
    "next_run",
    "clock_jumps",
    "clocks",
    "commands",
    "clocks_before_next_run",
    "lines",
    "load_clocks",
    "no_longer_asked",
    "shared_cycles",
    "standing",
    "station_walk",
    "put_back",
    "recap",
    "stop_cycle",
    "words_left",
]
