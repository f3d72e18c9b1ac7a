"""All open batches: what is next, a new order, the people."""

__all__ = ["what_next"]
