"""What people ask in a what-if."""

from floor.planning.questions.base import WhatIfQuestion
from floor.planning.questions.days import NotUnderstood
from floor.planning.questions.kinds import EXAMPLE, MOST, WORDS, apply_questions, read_questions

__all__ = [
    "apply_questions",
    "EXAMPLE",
    "MOST",
    "NotUnderstood",
    "likely_questions",
    "read_questions",
    "WhatIfQuestion",
    "WORDS",
]
