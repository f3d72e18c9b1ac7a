"""Searching the record: filters, queries, and the trace of a piece."""

__all__ = ["criteria", "filters", "query", "trace"]
