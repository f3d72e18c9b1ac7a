"""The rules of a batch, by subject; pure: nothing here reads a clock or a file."""
