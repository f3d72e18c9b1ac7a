"""Searching the record: filters, queries, and the trace of a piece."""

__all__ = ["typed_criteria", "history_filter", "matching", "recent_words", "recorded_lots", "trace"]
