"""One batch: where its pieces are, its history, what is held or left over, its close-out."""

__all__ = ["screen"]
