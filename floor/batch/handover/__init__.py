"""A half-done batch handed to the next shift: offered, read, counted, read back, accepted."""

__all__ = ["commands", "events", "measures", "offers", "page", "risks", "signed_page"]
