"""The plan, how it is renewed in the background, and what-if."""
