"""Searching the record: filters, queries, and the trace of a piece."""

__all__ = ["typed_criteria", "history_filter", "matching", "recorded_lots", "trace"]
