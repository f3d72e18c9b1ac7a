"""What all screens share: the frame, the keys, the theme, signing in, and what the program does for them."""

__all__ = [
    "key_guard",
    "key_map",
    "news_queue",
    "app_services",
    "screen",
    "session",
    "sign_in",
    "terminal",
    "theme",
    "too_small",
]
