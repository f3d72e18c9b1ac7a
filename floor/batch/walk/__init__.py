"""A run at a station: begun, walked line by line, its cycle and its clocks, released or put back."""

__all__ = ["arrival", "clock_jumps", "clocks", "commands", "cycles", "lines", "put_back", "recap", "stop_cycle"]
