"""Pieces of screens that know nothing of batches or little: rows, lines of a walk."""
