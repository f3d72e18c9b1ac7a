"""What is left of a tool, and what a cycle takes of it."""

from __future__ import annotations

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import count_pieces_in_cycle
from floor.checklist.equipment import Tool
from floor.checklist.gates import ToolLoaded
from floor.text import format_count, format_span


def compute_tool_life(batch: Batch, run: Run, tool: int) -> tuple[float | None, float]:
    """(left, needed by the run's cycle), in the unit of the tool's card; left is None without one."""
    card = batch.checklist.tool(tool)
    use = next((use for use in batch.find_operation(run).tools if use.tool == tool), None)
    state = batch.tools.get((run.station, tool))
    need = use.per_piece.base * count_pieces_in_cycle(batch, run) if use and run.started is None else 0.0
    if card is None or card.life is None or state is None:
        return None, need
    return max(card.life.base - state.used, 0.0), need


def compute_tool_wear(batch: Batch, run: Run) -> dict[int, float]:
    """Wear of each tool with a life by the cycle of a run, in the unit of its card."""
    asked = {step.tool for _, step in batch.find_operation(run).numbered_steps if isinstance(step, ToolLoaded)}
    return {
        use.tool: use.per_piece.base * len(run.pieces)
        for use in batch.find_operation(run).tools
        if use.tool in asked or (run.station, use.tool) in batch.tools
    }


def compute_wasted_tool_life(batch: Batch, run: Run) -> dict[int, float]:
    """Tool life lost by a stopped cycle that is restarted, for tools not changed since."""
    tools = batch.tools
    return {
        tool: used
        for tool, used in compute_tool_wear(batch, run).items()
        if run.stopped and (run.station, tool) in tools and tools[run.station, tool].since <= run.stopped.at
    }


def format_life_left(card: Tool | None, amount: float) -> str:
    """``40 pieces left``, ``12 min left``: as the tool's card counts."""
    return f"{say_life(card, amount, noun='piece')} left"


def say_life(card: Tool | None, amount: float, noun: str = "") -> str:
    """``40``, with a noun ``40 pieces``, or ``12 min``: as the tool's card counts."""
    by_pieces = card is not None and card.life is not None and card.life.in_pieces
    if not by_pieces:
        return format_span(amount)
    return format_count(int(amount), noun) if noun else f"{amount:g}"
