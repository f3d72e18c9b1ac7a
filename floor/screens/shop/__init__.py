"""All open batches: what is next, a new order, the people, the gauges."""

__all__ = ["wall", "what_next"]
