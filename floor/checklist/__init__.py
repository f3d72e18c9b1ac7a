"""The checklist: its file, its model, and what is wrong with it."""
