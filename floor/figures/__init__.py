"""Calculations on plain numbers."""
