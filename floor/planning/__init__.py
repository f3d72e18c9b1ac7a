"""The live state as a planning problem, and the plan back in words about loads."""

__all__ = [
    "chart",
    "due_ranking",
    "finish",
    "batch_forecast",
    "start_plan",
    "plan",
    "plan_text",
    "problem",
    "progress",
    "questions",
    "scenario",
    "make_plan",
    "snapshot",
    "unbroken_work",
    "unplannable",
    "whatif",
]
