"""A fault of the program ends it at once, and says what is safe."""

from __future__ import annotations

from collections.abc import Callable

from floor.app import FloorApp


class Shown:
    """A value far too big to print."""

    def __repr__(self) -> str:
        raise AssertionError("it was looked into")


async def test_a_fault_ends_the_program_without_printing_every_value(open_app: Callable[..., FloorApp]) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)):
        whole_shop = Shown()
        try:
            assert whole_shop
            raise ZeroDivisionError("a fault")
        except ZeroDivisionError:
            app._fatal_error()
        said = "".join(segment.text for shown in app._exit_renderables for segment in shown.segments)  # type: ignore[union-attr]
    assert "ZeroDivisionError: a fault" in said
    assert "Everything you entered is on the disk" in said
    assert "looked into" not in said
    assert "whole_shop =" not in said


async def test_a_fault_where_the_keyboard_is_read_says_what_is_safe_and_ends_with_a_status(
    open_app: Callable[..., FloorApp],
) -> None:
    """It comes past the app's own handling of faults."""
    app = open_app()
    async with app.run_test(size=(80, 24)):
        app.panic("a fault")
        said = "".join(segment.text for shown in app._exit_renderables for segment in shown.segments)  # type: ignore[union-attr]
    assert said.startswith("a fault")
    assert "Everything you entered is on the disk" in said
    assert app.return_code == 1
