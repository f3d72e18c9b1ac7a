"""A run at a station: begun, walked line by line, its cycle and its clocks, released or put back."""
