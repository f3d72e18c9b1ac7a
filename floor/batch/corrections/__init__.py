"""What is entered afterwards: notes, strikes and what relied on the struck entries, acts from paper."""

__all__ = ["commands", "from_paper", "instead", "put_off", "unproved_work", "strike_effects"]
