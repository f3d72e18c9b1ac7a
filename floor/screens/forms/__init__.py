"""Dialogs and fields."""
