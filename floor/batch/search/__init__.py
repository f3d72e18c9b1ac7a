"""What is looked for in the record: filters, queries, and where a piece has been."""

__all__ = ["criteria", "filters", "query", "trace"]
