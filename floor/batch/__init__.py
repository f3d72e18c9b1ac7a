"""The rules of a batch, by subject; pure: nothing here reads a clock or a file."""

__all__ = [
    "command",
    "corrections",
    "counting",
    "describe",
    "event_base",
    "events",
    "fold",
    "gates",
    "gauge",
    "handover",
    "lifecycle",
    "load",
    "open_items",
    "proof",
    "run",
    "search",
    "state",
    "stations",
    "walk",
    "worklist",
]
