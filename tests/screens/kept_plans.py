"""Plans that one test has searched for, kept for the others: a search takes seconds, and most tests plan the same shop.

The planner gives the same answer for the same question, unless it is stopped; only an answer that nothing stopped is
kept. A test about the search itself asks for `searched_anew`.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from functools import wraps
from typing import Any

KEPT = {
    "floor.planning.plan.solve_feasible_part",
    "floor.planning.make_plan.simulate_finishes",
    "floor.planning.whatif.simulate_finishes",
    "floor.planning.whatif.compute_savings_of_one_more",
}
"""Where the planning room asks the planner."""


def keep_answers(work: Callable[..., Any]) -> Callable[..., Any]:
    """The same function, which works out each answer once."""
    kept: dict[bytes, Any] = {}

    @wraps(work)
    def ask(*given: Any, should_stop: Callable[[], bool] | None = None, on_progress: Any = None, **named: Any) -> Any:
        tools = {name: tool for name, tool in named.items() if callable(tool)}
        key = pickle.dumps((given, sorted((name, value) for name, value in named.items() if name not in tools)))
        if key in kept:
            return kept[key]
        stopped = told = False

        def is_stopped() -> bool:
            nonlocal stopped
            stopped = stopped or (should_stop is not None and should_stop())
            return stopped

        def listen(tool: Callable[..., Any]) -> Callable[..., Any]:
            def call(*given: Any) -> Any:
                nonlocal told  # the asker learned more than the answer says
                told = True
                return tool(*given)

            return call

        heard = {name: listen(tool) for name, tool in tools.items()}
        answer = work(*given, should_stop=is_stopped, on_progress=on_progress, **(named | heard))
        if not (stopped or told):
            kept[key] = answer
        return answer

    return ask
