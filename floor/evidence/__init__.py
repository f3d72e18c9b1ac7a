"""What machines and instruments wrote themselves, read without trusting it: what it says, and what is wrong with it."""

__all__: list[str] = []
