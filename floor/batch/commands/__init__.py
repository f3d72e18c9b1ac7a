"""Commands: what people ask of a batch, checked against its state."""
