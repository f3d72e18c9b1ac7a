"""A batch opened, its pieces started and loaded, entered half done, sent to another shop, closed."""

__all__ = ["commands", "enter_half_done", "half_done", "transfer"]
