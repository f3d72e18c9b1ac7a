"""What is next, over all open batches, and what is read from two meters away."""

__all__ = ["large_view", "tasks"]
