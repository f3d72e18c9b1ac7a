"""The terminal screens."""

__all__ = ["batch", "forms", "frame", "shop", "walk"]
