"""Subprograms: called by number or name, repeated, and left."""

from __future__ import annotations

import re
from math import isnan

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.block import Control
from floor.evidence.nc.code_actions import miss_everywhere
from floor.evidence.nc.execute import Signal
from floor.evidence.nc.expressions import evaluate
from floor.evidence.nc.flow import Call, Flow
from floor.evidence.nc.summary import Word

DEEPEST = 50
"""Most nested calls."""
_ARGUMENT = re.compile(r"\[[^\[\]]*(?:\[[^\[\]]*\][^\[\]]*)*\]")


def call(flow: Flow, signal: Signal, at: int) -> int:
    """M98 and M97: run the subprogram as often as stated; if it is not in the file, go on with nothing known."""
    start, count, name = _find_call(flow, signal, at)
    flow.r.calls.setdefault(name, Word(name, at + 1))
    if start is not None and _calls_itself(flow, start):
        flow.r.log.add("calls itself", at + 1, name)
        flow.lose("never left", at)
        return at + 1
    if start is None or len(flow.calls) >= DEEPEST:
        return _miss_call(flow, name, at)
    if count < 1 or _is_lost_in(flow, start):
        return at + 1
    flow.calls.append(Call(at + 1, start, count - 1, {}, {**flow.s.variables}))
    flow.r.called_lines.add(start + 1)
    return start


def _calls_itself(flow: Flow, start: int) -> bool:
    """Whether it runs already, and no variable has changed that could end it; or is nested too deep to go on."""
    entered = [one.given for one in flow.calls if one.start == start] + [{}] * (start == flow.main)
    return bool(entered) and (len(flow.calls) >= DEEPEST or flow.s.variables in entered)


def _find_call(flow: Flow, signal: Signal, at: int) -> tuple[int | None, int, str]:
    """(line of its name, how often, name). In ``P51002`` the digits before the last four may be a repeat count."""
    number = signal.name
    if signal.kind == "external":
        return None, 1, f"O{number or '?'}"
    if signal.kind == "local":
        return (flow.places.find_label(int(number), at) if number else None), signal.count, f"N{number or '?'}"
    start = flow.places.find_name(number)
    if start is None and len(number) > 4:
        shorter = str(int(number[-4:]))
        start = flow.places.find_name(shorter)
        if start is not None:
            return start, int(number[:-4]) * signal.count, f"O{shorter}"
    return start, signal.count, f"O{number or '?'}"


def leave(flow: Flow, signal: Signal, at: int) -> int:
    """M99: return to the caller; in the main program, repeat forever."""
    if signal.optional:
        return at + 1
    if not flow.calls:
        flow.r.log.add("main loops", at + 1)
        return flow.end("M99", at)
    back = flow.calls[-1].back
    to = go_back(flow)
    return flow.jump_to(int(signal.name), at, back - 1) if signal.name and to == back else to


def go_back(flow: Flow) -> int:
    """To its start if it is to be repeated, else to the line after the call, with the caller's locals."""
    ended = flow.calls.pop()
    if ended.again > 0 and not flow.s.lost:
        flow.calls.append(ended._replace(again=ended.again - 1))
        return ended.start
    if ended.local:
        flow.s.variables = {**{k: v for k, v in flow.s.variables.items() if not _is_local(k)}, **ended.local}
    return ended.back


def define(flow: Flow, control: Control, at: int) -> int:
    """``O1 SUB`` outside a call: go on after its end."""
    return flow.go_behind(flow.places.find_control(at, {"OENDSUB"}, control.name), at)


def call_named(flow: Flow, control: Control, at: int) -> int:
    """``O1 CALL``."""
    name = control.name if control.name.startswith("<") else str(int(control.name))
    start = flow.places.find_name(name)
    shown = f"O{name}"
    flow.r.calls.setdefault(shown, Word(shown, at + 1))
    found = None if start is None else flow.places.read_control(start)
    if start is None or found is None or found.kind != "OSUB" or len(flow.calls) >= DEEPEST:
        return _miss_call(flow, shown, at)
    if _is_lost_in(flow, start):
        return at + 1
    _pass_arguments(flow, control.test, at, start + 1)
    return start + 1


def return_named(flow: Flow, control: Control, at: int) -> int:
    return go_back(flow) if flow.calls else at + 1


def _pass_arguments(flow: Flow, text: str, at: int, start: int) -> None:
    """The values in brackets become the subprogram's #1, #2 …; the caller's are kept for the return."""
    variables = flow.s.variables
    values = [evaluate(one, variables) for one in _ARGUMENT.findall(text)]
    local = {name: value for name, value in variables.items() if _is_local(name)}
    flow.s.variables = {name: value for name, value in variables.items() if not _is_local(name)}
    flow.s.variables |= {str(n): value for n, value in enumerate(values, 1) if not isnan(value)}
    flow.calls.append(Call(at + 1, start, 0, local or {"0": 0.0}, {}))


def _is_local(name: str) -> bool:
    return name.isdigit() and int(name) <= 33


def _miss_call(flow: Flow, name: str, at: int) -> int:
    flow.r.missing.add(name)
    flow.r.log.add("call missing", at + 1, name)
    miss_everywhere(Step(flow.s, flow.r, at + 1, False), "call missing")
    return at + 1


def _is_lost_in(flow: Flow, start: int) -> bool:
    """Whether a subprogram calls itself while it is unknown which blocks run."""
    return flow.s.lost is not None and any(one.start in (start, start + 1) for one in flow.calls)
