"""Handing a batch over, and taking it over."""
