"""The live state as a planning problem, and the plan back in words about loads."""

__all__ = [
    "chart",
    "due_ranking",
    "finish",
    "forecast",
    "start_plan",
    "plan",
    "plan_text",
    "problem",
    "progress",
    "questions",
    "scenario",
    "service",
    "snapshot",
    "unbroken_work",
    "unplannable",
    "whatif",
]
