"""What the counts and readings of a batch say about its process."""

__all__ = ["costs", "drifts", "happenings", "loss_causes", "loss_patterns", "measured_values", "time_elements"]
