"""What is said afterwards: notes, entries struck out and what rested on them, entries from paper."""

__all__ = ["commands", "from_paper", "impact", "strike_effects"]
