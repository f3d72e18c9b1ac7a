"""What machines and instruments wrote, read without trusting it: what it says, and what is wrong with it.

Nothing in it is ever run.
"""

__all__ = ["nc"]
