"""The live state of the open batches as the planner's problem, and its answer back in words about loads."""
