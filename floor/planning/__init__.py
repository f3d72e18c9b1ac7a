"""The live state as a planning problem, and the plan back in words about loads."""

__all__ = [
    "chart",
    "dispatch_list",
    "earlier_batches",
    "finish",
    "batch_forecast",
    "start_plan",
    "plan",
    "plan_text",
    "problem",
    "calculation_progress",
    "questions",
    "scenario",
    "make_plan",
    "pace",
    "snapshot",
    "time_scale",
    "unbroken_work",
    "unplannable",
    "whatif",
]
