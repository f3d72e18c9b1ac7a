"""Statements that decide the next block: conditions, jumps and loops."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan

from floor.evidence.nc.block import Control, split_block
from floor.evidence.nc.execute import read_block, read_both_ways
from floor.evidence.nc.expressions import evaluate
from floor.evidence.nc.flow import Flow, Loop
from floor.evidence.nc.subprogram_calls import call_named, define, return_named


def obey(flow: Flow, control: Control, at: int) -> int:
    """The line to go on with after a statement."""
    handler = _HANDLERS.get(control.kind)
    if handler is None or (flow.s.lost and control.kind not in _ALWAYS):
        if handler is None:
            flow.lose("jump not known", at)
        return at + 1
    return handler(flow, control, at)


def _test(flow: Flow, control: Control, at: int) -> bool | None:
    """Whether a condition holds; None, with everything unknown, if it cannot be known."""
    value = evaluate(control.test, flow.s.variables)
    if isnan(value):
        flow.lose("jump not known", at)
        return None
    return bool(value)


def _if_goto(flow: Flow, control: Control, at: int) -> int:
    return _goto(flow, control, at) if _test(flow, control, at) else at + 1


def _goto(flow: Flow, control: Control, at: int) -> int:
    target = evaluate(control.name, flow.s.variables)
    if isnan(target):
        flow.lose("jump not known", at)
        return at + 1
    return flow.jump_to(int(target), at, at)


def _if_then(flow: Flow, control: Control, at: int) -> int:
    value = evaluate(control.test, flow.s.variables)
    block = split_block(control.name)
    if block.control or value == 0:
        if block.control:
            flow.lose("jump not known", at)
        return at + 1
    if isnan(value):
        read_both_ways(flow.s, flow.r, block, at + 1)
    else:
        read_block(flow.s, flow.r, block, at + 1, False)
    return at + 1


def _while(flow: Flow, control: Control, at: int) -> int:
    test = _test(flow, control, at)
    if test is None:
        return at + 1
    name = control.name
    if test:
        _enter(flow, name, at, 0)
        return at + 1
    _forget(flow, name)
    return flow.go_behind(flow.places.find_control(at, {"END", "OENDWHILE"}, name), at)


def _enter(flow: Flow, name: str, at: int, left: int) -> None:
    _forget(flow, name)
    flow.loops.append(Loop(name, at, left))
    flow.r.loops[at + 1] = flow.r.loops.get(at + 1, 0) + 1


def _forget(flow: Flow, name: str) -> None:
    flow.loops = [loop for loop in flow.loops if loop.name != name]


def _loop_again(flow: Flow, control: Control, at: int) -> int:
    for loop in flow.loops:
        if loop.name == control.name:
            return loop.head
    return at + 1


def _repeat(flow: Flow, control: Control, at: int) -> int:
    count = evaluate(control.test, flow.s.variables)
    if isnan(count):
        flow.lose("jump not known", at)
        return at + 1
    if count < 1:
        return flow.go_behind(flow.places.find_control(at, {"OENDREPEAT"}, control.name), at)
    _enter(flow, control.name, at, int(count))
    return at + 1


def _repeat_again(flow: Flow, control: Control, at: int) -> int:
    loop = next((one for one in flow.loops if one.name == control.name), None)
    if loop is None or loop.left <= 1:
        _forget(flow, control.name)
        return at + 1
    _enter(flow, loop.name, loop.head, loop.left - 1)
    return loop.head + 1


def _branch(flow: Flow, control: Control, at: int) -> int:
    """``O1 IF``: enter it, or go to the next ELSEIF, ELSE or ENDIF of that name."""
    while True:
        test = _test(flow, control, at)
        if test is None or test:
            return at + 1
        place = flow.places.find_control(at, {"OELSEIF", "OELSE", "OENDIF"}, control.name)
        found = None if place is None else flow.places.read_control(place)
        if place is None or found is None or found.kind != "OELSEIF":
            return flow.go_behind(place, at)
        control, at = found, place


def _skip_branch(flow: Flow, control: Control, at: int) -> int:
    return flow.go_behind(flow.places.find_control(at, {"OENDIF"}, control.name), at)


def _pass(flow: Flow, control: Control, at: int) -> int:
    return at + 1


_HANDLERS: dict[str, Callable[[Flow, Control, int], int]] = {
    "IFGOTO": _if_goto, "GOTO": _goto, "IFTHEN": _if_then, "WHILEDO": _while, "END": _loop_again, "OWHILE": _while,
    "OENDWHILE": _loop_again, "OREPEAT": _repeat, "OENDREPEAT": _repeat_again, "OSUB": define,
    "OENDSUB": return_named, "ORETURN": return_named, "OCALL": call_named, "OIF": _branch, "OELSEIF": _skip_branch,
    "OELSE": _skip_branch, "OENDIF": _pass,
}  # fmt: skip
_ALWAYS = {"OSUB", "OENDSUB", "OCALL"}
"""Followed even while it is unknown which blocks run."""
