"""Styles and code name the same things: nothing is styled that is not there, no class is set for nothing."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import textual.widget
from textual.css.model import Selector, SelectorType
from textual.css.parse import parse
from textual.dom import DOMNode
from textual.widget import Widget

import floor
from floor.app import FloorApp
from floor.screens.batch.screen import BatchScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.plan.screen import PlanScreen
from tests.screens.conftest import Open

PACKAGE = Path(floor.__file__).parent
SHEETS = [*PACKAGE.rglob("*.tcss")]

PARTS = {"datatable--header", "input--placeholder", "input--selection", "rows--head", "rows--cursor"}
"""Parts of a widget, by the library's way of naming them."""
UNSTYLED = {"-narrow": "the library asks for a name of each width; without -wide a screen is narrow"}
"""Classes that are set and have no style → why."""


@cache
def read_modules() -> list[ast.Module]:
    return [ast.parse(path.read_text(encoding="utf-8")) for path in PACKAGE.rglob("*.py")]


def list_styles() -> Iterator[str]:
    """Every style sheet: the files, and the strings of the classes."""
    for path in SHEETS:
        yield path.read_text(encoding="utf-8")
    for module in read_modules():
        for node in ast.walk(module):
            if isinstance(node, ast.Assign):
                names = {target.id for target in node.targets if isinstance(target, ast.Name)}
                if names & {"CSS", "DEFAULT_CSS"}:
                    parts = node.value.values if isinstance(node.value, ast.JoinedStr) else [node.value]
                    yield "".join(str(part.value) if isinstance(part, ast.Constant) else "1" for part in parts)


def list_selectors() -> Iterator[Selector]:
    for style in list_styles():
        plain = re.sub(r"\$[a-z-]+", "red", style)  # the colors of the theme: the program has them
        for rules in parse("", plain, ("", "")):
            for chosen in rules.selector_set:
                yield from chosen.selectors


def name_styled(kind: SelectorType) -> set[str]:
    return {one.name for one in list_selectors() if one.type is kind}


def read_texts(node: ast.expr) -> Iterator[str]:
    """Every text that an expression may give; of a text with a value in it, what stands before the value and ``*``."""
    if isinstance(node, ast.JoinedStr):
        first = node.values[0]
        yield f"{first.value}*" if isinstance(first, ast.Constant) else "*"
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*read_texts(node.body), *read_texts(node.orelse))


def list_set(keyword: str, *methods: str) -> set[str]:
    """What the code gives as this keyword, or puts on a widget by these methods."""
    found: set[str] = set()
    for module in read_modules():
        for node in ast.walk(module):
            if isinstance(node, ast.Call):
                given = [one.value for one in node.keywords if one.arg == keyword]
                if isinstance(node.func, ast.Attribute) and node.func.attr in methods:
                    given += node.args
                for value in given:
                    found.update(one for text in read_texts(value) for one in text.split())
    return found


def list_classes_set() -> set[str]:
    return list_set("classes", "add_class", "set_class", "remove_class", "toggle_class") | {
        name for _, name in floor_breakpoints()
    }


def floor_breakpoints() -> list[tuple[int, str]]:
    from floor.screens.frame.screen import FloorScreen

    return FloorScreen.HORIZONTAL_BREAKPOINTS


def list_widgets() -> set[str]:
    """The name of every widget and screen there is."""
    for path in (PACKAGE / "screens").rglob("*.py"):
        __import__(".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__"))

    def search(kind: type[Widget]) -> Iterator[str]:
        yield kind.__name__
        for below in kind.__subclasses__():
            yield from search(below)

    return {*search(textual.widget.Widget), FloorApp.__name__}


def test_every_id_that_is_styled_is_there() -> None:
    ids = list_set("id")
    begun = tuple(one.removesuffix("*") for one in ids if one.endswith("*"))

    assert {one for one in name_styled(SelectorType.ID) if one not in ids and not one.startswith(begun)} == set()


def test_every_class_that_is_styled_is_set() -> None:
    assert name_styled(SelectorType.CLASS) - list_classes_set() - PARTS == set()


def test_every_class_that_is_set_is_styled_or_argued() -> None:
    assert list_classes_set() - name_styled(SelectorType.CLASS) == UNSTYLED.keys()


def test_every_widget_that_is_styled_is_one() -> None:
    import textual.widgets

    for name in textual.widgets.__all__:
        getattr(textual.widgets, name)  # they come when they are asked for

    assert name_styled(SelectorType.TYPE) - list_widgets() == set()


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
async def test_a_screen_is_styled_once_when_it_is_opened(
    open_app: Open, batch: str, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library would style it again when it comes up and when it knows its width; nothing would change by that."""
    again: list[DOMNode] = []
    update = FloorApp.update_styles

    def listen(app: FloorApp, node: DOMNode, animate: bool = True) -> None:
        again.extend([node] if isinstance(node, FloorScreen) and node.children else [])
        update(app, node, animate)

    monkeypatch.setattr(FloorApp, "update_styles", listen)
    app = open_app()
    async with app.run_test(size=size) as pilot:
        for screen in (BatchScreen(app.session, batch), PlanScreen(app.session)):
            app.go(screen)
            await pilot.pause()
            assert screen.has_class("-wide") is (size[0] == 160)
            assert again == []
            styled = [dict(node._css_styles.get_rules()) for node in screen.walk_children()]
            update(app, screen, animate=False)
            assert [dict(node._css_styles.get_rules()) for node in screen.walk_children()] == styled
