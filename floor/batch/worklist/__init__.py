"""What is next, over all open batches, and what is read from two meters away."""
