"""What is next over all open batches, and the view from two meters away."""

__all__ = ["due_alarms", "due_task", "large_view_content", "task_order", "tasks"]
