"""Which pieces ride where: chosen pieces and places, loads split and joined, pieces moved by hand between counts."""

__all__ = ["commands", "choose"]
