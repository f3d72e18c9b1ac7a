"""Program modules that record which of their lines run.

Belongs to the worker, which is not part of the tree under trial: imports nothing from the tree.
"""

from __future__ import annotations

import ast
import builtins
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType

INNER = ("body", "orelse", "finalbody", "handlers", "cases")


class Marks:
    """Program modules that record which of their blocks run: each block starts with `__ran__[n] = 1`.

    Only code in functions is recorded. All modules are compiled at once, for many forks. A trace function, called at
    every line, had not finished the slowest test after ten minutes here.
    """

    def __init__(self, root: Path, rooms: tuple[str, ...]) -> None:
        self.root = f"{root}/"
        self.blocks: list[tuple[str, list[int]]] = []
        """File and lines."""
        paths = (str(path) for room in rooms for path in sorted((root / room).rglob("*.py")))
        self.codes = {path: self.code_of(Path(path).read_text(), path) for path in paths}
        self.ran = bytearray(len(self.blocks))

    def install(self) -> None:
        builtins.__ran__ = self.ran  # type: ignore[attr-defined]
        usual = SourceFileLoader.get_code

        def get_code(loader: SourceFileLoader, name: str) -> CodeType | None:
            return self.codes.get(loader.path) or usual(loader, name)

        SourceFileLoader.get_code = get_code  # type: ignore[method-assign]

    def code_of(self, source: str, path: str) -> CodeType:
        tree = ast.parse(source)
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                header = range(
                    min(node.lineno, *(one.lineno for one in node.decorator_list), node.lineno), node.body[0].lineno
                )
                node.body = self._marked(node.body, path.removeprefix(self.root), [*header])
        code: CodeType = compile(ast.fix_missing_locations(tree), path, "exec", dont_inherit=True)
        return code

    def _marked(self, body: list[ast.stmt], file: str, header: list[int]) -> list[ast.stmt]:
        """A block is code that runs in sequence; after a compound statement a new one starts."""
        found: list[ast.stmt] = []
        lines: list[int] | None = None
        for statement in body:
            text = isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)
            if lines is None and not text:
                lines = header
                found.append(self._mark(file, lines))
                header = []
            found.append(statement)
            if text or isinstance(statement, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                continue  # a function in it has blocks of its own
            assert lines is not None
            inner = [one for field in INNER for one in getattr(statement, field, ())]
            first = min(map(_first_line, inner), default=(statement.end_lineno or statement.lineno) + 1)
            lines += range(statement.lineno, max(first, statement.lineno + 1))
            if inner:
                self._mark_inner(statement, file)
                lines = None
        return found

    def _mark_inner(self, statement: ast.AST, file: str) -> None:
        for field in ("body", "orelse", "finalbody"):
            if getattr(statement, field, None):
                setattr(statement, field, self._marked(getattr(statement, field), file, []))
        for one in (*getattr(statement, "handlers", ()), *getattr(statement, "cases", ())):
            one.body = self._marked(one.body, file, [_first_line(one)])

    def _mark(self, file: str, lines: list[int]) -> ast.stmt:
        self.blocks.append((file, lines))
        return ast.parse(f"__ran__[{len(self.blocks) - 1}] = 1").body[0]

    def lines(self) -> dict[str, list[int]]:
        """Lines run since the last call, by file."""
        found: dict[str, set[int]] = {}
        for number, (file, lines) in enumerate(self.blocks):
            if self.ran[number]:
                found.setdefault(file, set()).update(lines)
        self.ran[:] = bytes(len(self.ran))
        return {file: sorted(lines) for file, lines in found.items()}


def _first_line(node: ast.AST) -> int:
    """First line of a statement, handler or case, which has no line of its own."""
    return int(getattr(node, "lineno", 0)) or int(node.pattern.lineno)  # type: ignore[attr-defined]
