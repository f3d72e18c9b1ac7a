"""Dialogs and fields."""

__all__ = ["dialogs"]
