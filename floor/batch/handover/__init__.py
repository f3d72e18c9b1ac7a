"""A half-done batch handed to the next shift: offered, read, counted, read back, accepted."""

__all__ = ["commands", "offers", "page", "signed_page"]
