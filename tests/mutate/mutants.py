"""The small changes possible in a module: each is one fault that should turn a test red.

Unchanged are docstrings, annotations, decorators, imports, `__all__`, type-checker-only code, and f-strings, whose
positions Python 3.11 does not give. So are `assert` and `strict=`: they state what is true anyway, and removing them
changes nothing.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass

COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.GtE), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
"""A comparison that shifts at its limit, and one that reverses it."""
TURNED = (ast.Eq, ast.NotEq, ast.Is, ast.IsNot, ast.In, ast.NotIn)
"""Comparisons whose change is their negation already."""
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv, ast.Pow: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
    ast.LShift: ast.RShift, ast.RShift: ast.LShift,
}  # fmt: skip
OPPOSITE = {"min": "max", "max": "min", "any": "all", "all": "any"}
ATOMS = (ast.Constant, ast.Name, ast.Call, ast.Attribute, ast.Subscript, ast.List, ast.Dict, ast.Tuple)
"""Expressions that need no brackets in place of another."""
OTHER_RETURNS = {"bool": "not ({})", "int": "({}) + 1", "float": "({}) + 1", "str": "''", "list": "[]", "tuple": "()"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one file."""

    file: str
    function: str
    """Qualified name of the enclosing definition; empty at module level."""
    line: int
    start: int
    end: int
    """Bytes of the source that it replaces."""
    text: str
    operator: str
    was: str
    now: str
    lines: tuple[int, int]
    around: tuple[int, int]
    """Lines of the statement, without those in it."""
    body: tuple[int, int] | None
    """Lines of the innermost function; None if it runs at import."""
    names: tuple[str, ...]
    """The name it assigns, if it runs at import."""

    @property
    def change(self) -> str:
        return f"{self.was} -> {self.now}"

    @property
    def key(self) -> tuple[str, str, str]:
        """Its name, independent of what is above it in the file."""
        return self.file, self.function, self.change

    def apply(self, source: str) -> str:
        raw = source.encode()
        return (raw[: self.start] + self.text.encode() + raw[self.end :]).decode()


def mutants_of(source: str, file: str) -> list[Mutant]:
    """Every change of a module, in text order."""
    tree = ast.parse(source)
    found = _Finder(source, file)
    found.block(tree.body)
    made = {(one.start, one.end, one.text): one for one in found.mutants}
    return sorted(made.values(), key=lambda one: (one.start, one.end, one.text))


class _Finder:
    """Walks the statements of a module, tracking the enclosing function."""

    def __init__(self, source: str, file: str) -> None:
        self.file = file
        lines = source.encode().splitlines(keepends=True)
        self.starts = [0]
        for line in lines:
            self.starts.append(self.starts[-1] + len(line))
        self.mutants: list[Mutant] = []
        self.scope: list[str] = []
        self.returns = ""
        self.body: tuple[int, int] | None = None
        self.around = (0, 0)
        self.names: tuple[str, ...] = ()

    # statements

    def block(self, body: list[ast.stmt]) -> None:
        for statement in body:
            self.statement(statement)

    def statement(self, node: ast.stmt) -> None:
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert | ast.Global | ast.Nonlocal | ast.Pass):
            return
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            self.function(node)
        elif isinstance(node, ast.ClassDef):
            self.within(node.name, node.body)
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            self.block(node.orelse)
        elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return
        else:
            self.other(node)

    def function(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        if any(ast.unparse(one).endswith("overload") for one in node.decorator_list):
            return
        before = self.body, self.returns, self.around, self.names
        self.body = (node.body[0].lineno, node.end_lineno or node.lineno)
        self.returns = ast.unparse(node.returns) if node.returns else ""
        self.scope.append(node.name)
        self.around = (_first_line(node), node.body[0].lineno - 1)
        for default in (*node.args.defaults, *(one for one in node.args.kw_defaults if one is not None)):
            self.default(default)
        self.block(node.body)
        self.scope.pop()
        self.body, self.returns, self.around, self.names = before

    def within(self, name: str, body: list[ast.stmt]) -> None:
        before = self.body, self.names
        self.body = None
        self.scope.append(name)
        self.block(body)
        self.scope.pop()
        self.body, self.names = before

    def other(self, node: ast.stmt) -> None:
        inner = [
            one for field in ("body", "orelse", "finalbody", "handlers", "cases") for one in getattr(node, field, ())
        ]
        first = min((_first_line(one) for one in inner), default=(node.end_lineno or node.lineno) + 1)
        self.around = (node.lineno, max(first - 1, node.lineno))
        if self.body is None:
            self.names = (*self.scope, *_given(node))
        self.deleted(node)
        if isinstance(node, ast.AnnAssign):
            if node.value is not None:
                self.default(node.value) if self.body is None else self.expression(node.value)
        elif isinstance(node, ast.AugAssign):
            self.augmented(node)
            self.expression(node.value)
        elif isinstance(node, ast.Return) and node.value is not None:
            self.returned(node.value)
            self.expression(node.value)
        elif not _is_text(node):
            for child in ast.iter_child_nodes(node):
                if isinstance(child, ast.expr):
                    self.condition(child, node)
                    self.expression(child)
                elif isinstance(child, ast.withitem):
                    self.expression(child.context_expr)
        for one in inner:
            around = self.around
            if isinstance(one, ast.stmt):
                self.statement(one)
            else:
                if isinstance(one, ast.match_case) and one.guard is not None:
                    self.around = (one.guard.lineno, one.guard.lineno)
                    self.condition(one.guard, one)
                    self.expression(one.guard)
                self.block(one.body)
            self.around = around

    def deleted(self, node: ast.stmt) -> None:
        effect = isinstance(node, ast.Expr) and isinstance(node.value, ast.Call | ast.Await)
        kept = isinstance(node, ast.Assign) and all(
            isinstance(one, ast.Attribute | ast.Subscript) for one in node.targets
        )
        jump = isinstance(node, ast.Raise | ast.Continue | ast.Break) or (
            isinstance(node, ast.Return) and not node.value
        )
        if effect or kept or jump or isinstance(node, ast.AugAssign):
            self.add(node, "pass", "statement deleted")
        if isinstance(node, ast.Continue | ast.Break):
            self.add(node, "break" if isinstance(node, ast.Continue) else "continue", "jump")

    def augmented(self, node: ast.AugAssign) -> None:
        other = RECKONED.get(type(node.op))
        if other is not None and not _texts(node.value):
            changed = deepcopy(node)
            changed.op = other()
            self.add(node, ast.unparse(changed), "arithmetic")

    def returned(self, value: ast.expr) -> None:
        if isinstance(value, ast.Constant):
            return  # changed as any constant
        known = OTHER_RETURNS.get(self.returns.split("[")[0])
        self.add(value, known.format(ast.unparse(value)) if known else "None", "return value")

    # expressions

    def default(self, node: ast.expr) -> None:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            self.add(node, repr("" if node.value else "?"), "default")
        self.expression(node)

    def condition(self, node: ast.expr, owner: ast.AST) -> None:
        """The test of an if, a while, a conditional expression or a filter."""
        if (
            not isinstance(owner, ast.If | ast.While | ast.IfExp | ast.match_case)
            or getattr(owner, "test", node) is not node
        ):
            return
        self.forced(node, loop=isinstance(owner, ast.While))

    def forced(self, node: ast.expr, loop: bool = False) -> None:
        if isinstance(node, ast.Constant):
            return
        self.add(node, "False", "condition forced")
        if not loop:
            self.add(node, "True", "condition forced")
        negated = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)
        if not negated and not (isinstance(node, ast.Compare) and isinstance(node.ops[0], TURNED)):
            self.add(node, f"not ({ast.unparse(node)})", "not")

    def expression(self, node: ast.expr) -> None:
        if isinstance(node, ast.JoinedStr):
            return
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("isinstance", "cast"):
            return  # of types
        change = CHANGES.get(type(node))
        if change is not None:
            for changed, operator in change(node, self.body is not None):
                self.add(node, ast.unparse(changed), operator)
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.expr):
                self.condition(child, node)
                self.expression(child)
            elif isinstance(child, ast.comprehension):
                self.expression(child.iter)
                for test in child.ifs:
                    self.forced(test)
                    self.expression(test)
            elif isinstance(child, ast.keyword) and child.arg != "strict":
                self.expression(child.value)
            elif isinstance(child, ast.arguments):
                for default in (*child.defaults, *(one for one in child.kw_defaults if one is not None)):
                    self.default(default)

    def add(self, node: ast.expr | ast.stmt, now: str, operator: str) -> None:
        was = ast.unparse(node)
        if now == was:
            return
        bare = isinstance(node, ast.stmt) or isinstance(ast.parse(now, mode="eval").body, ATOMS)
        line, last = node.lineno, node.end_lineno or node.lineno
        start = self.starts[line - 1] + node.col_offset
        end = self.starts[last - 1] + (node.end_col_offset or 0)
        self.mutants.append(
            Mutant(
                self.file,
                ".".join(self.scope),
                line,
                start,
                end,
                now if bare else f"({now})",
                operator,
                was,
                now,
                (line, last),
                self.around,
                self.body,
                self.names,
            )  # fmt: skip
        )


Changes = Iterator[tuple[ast.expr, str]]


def _compare(node: ast.Compare, _: bool) -> Changes:
    for place, op in enumerate(node.ops):
        for other in COMPARED[type(op)]:
            changed = deepcopy(node)
            changed.ops[place] = other()
            yield changed, "comparison"


def _both(node: ast.BoolOp, _: bool) -> Changes:
    changed = deepcopy(node)
    changed.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    yield changed, "and, or"
    for place in range(len(node.values)):
        rest = [deepcopy(one) for n, one in enumerate(node.values) if n != place]
        yield rest[0] if len(rest) == 1 else ast.BoolOp(deepcopy(node.op), rest), "operand left out"


def _unary(node: ast.UnaryOp, _: bool) -> Changes:
    if isinstance(node.op, ast.Not):
        yield deepcopy(node.operand), "not"
    elif isinstance(node.op, ast.USub):
        yield deepcopy(node.operand), "arithmetic"


def _arithmetic(node: ast.BinOp, in_function: bool) -> Changes:
    other = RECKONED.get(type(node.op))
    types = isinstance(node.op, ast.BitOr) and not in_function  # a union of types
    if other is not None and not types and not _texts(node.left, node.right):
        changed = deepcopy(node)
        changed.op = other()
        yield changed, "arithmetic"


def _constant(node: ast.Constant, _: bool) -> Changes:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value), "constant"
    elif isinstance(node.value, int | float):
        yield ast.Constant(node.value + 1), "constant"
        if isinstance(node.value, int):
            yield ast.Constant(node.value - 1), "constant"


def _called(node: ast.Call, _: bool) -> Changes:
    if isinstance(node.func, ast.Name) and node.func.id in OPPOSITE:
        changed = deepcopy(node)
        changed.func = ast.Name(OPPOSITE[node.func.id])
        yield changed, "min, max, any, all"


CHANGES: dict[type[ast.expr], Callable[..., Changes]] = {
    ast.Compare: _compare, ast.BoolOp: _both, ast.UnaryOp: _unary, ast.BinOp: _arithmetic, ast.Constant: _constant,
    ast.Call: _called,
}  # fmt: skip


def _texts(*nodes: ast.expr) -> bool:
    """Whether one of them is a text, so arithmetic with it can only fail."""
    return any(isinstance(one, ast.JoinedStr) or _literal_text(one) for one in nodes)


def _literal_text(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and _literal_text(node.value)


def _first_line(node: ast.AST) -> int:
    """Where a statement begins, with its decorators; a handler or a case begins with its own header."""
    line = getattr(node, "lineno", None)
    if line is None:
        assert isinstance(node, ast.match_case)
        line = node.pattern.lineno
    return min([line, *(one.lineno for one in getattr(node, "decorator_list", ()))])


def _given(node: ast.stmt) -> tuple[str, ...]:
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return tuple(one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name))
