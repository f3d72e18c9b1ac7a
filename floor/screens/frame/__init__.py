"""What all screens share: the frame, the keys, the theme, signing in, and what the program does for them."""

__all__ = [
    "find",
    "key_reader",
    "key_map",
    "news_queue",
    "run_in_thread",
    "scan",
    "app_services",
    "screen",
    "session",
    "sign_in",
    "terminal",
    "terminal_looks",
    "theme",
    "too_small",
    "tour",
]
