"""What the counts and readings of a batch say about its process."""

__all__ = [
    "batch_facts",
    "costs",
    "drifts",
    "first_article",
    "happenings",
    "lesson_figures",
    "lesson_kinds",
    "lessons",
    "loss_causes",
    "loss_patterns",
    "measured_values",
    "run_times",
    "time_elements",
    "tool_age",
    "yield_lessons",
]
