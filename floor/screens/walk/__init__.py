"""Working a run: its walk, counting, what happened to it, and the view from two meters away."""

__all__ = ["screen"]
