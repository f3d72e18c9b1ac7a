"""What the counts and readings of a batch say about its process."""

__all__ = ["loss_causes", "measured_values", "tool_age"]
