"""Trials: settings tried on a few pieces before or in a batch, what they gave, and the choice."""

__all__ = ["commands", "compare", "pieces", "typed_numbers"]
