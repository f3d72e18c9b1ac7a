"""Files from machines and instruments, read without trusting them: what they say, and what is wrong with them.

Nothing in them is ever run.
"""

__all__ = ["logger_file", "logger_findings", "nc", "table_file"]
