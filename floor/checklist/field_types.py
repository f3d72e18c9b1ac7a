"""What all parts of a checklist share: frozen dataclasses and short texts that fit a terminal.

Annotations (`Limits`, `Tagged`, `floor.checklist.units.Unit`) state what a file may hold through the hooks pydantic
calls on any object. So files are checked by these same classes, yet nothing here imports pydantic: opening a frozen
checklist never pays for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
from typing import Annotated, Any, ClassVar, dataclass_transform


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field,))
class Strict:
    """A part of a checklist: no unknown fields, and no changes once made.

    Every subclass is a frozen dataclass with keyword fields. Its methods are written here once: generating them for
    each of the thirty classes takes three times as long as the rest of their import.
    """

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]
    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid", "strict": True}

    def __init_subclass__(cls) -> None:
        dataclass(init=False, repr=False, eq=False, kw_only=True)(cls)

    def __init__(self, **given: Any) -> None:
        known = read_defaults(self)
        self.__dict__.update(known | given)
        missing = [name for name, value in vars(self).items() if value is MISSING]
        if missing or not given.keys() <= known.keys():
            raise TypeError(f"fields missing: {missing}, unknown: {sorted(given.keys() - known.keys())}")

    def __setattr__(self, name: str, value: object) -> None:
        raise FrozenInstanceError(f"cannot assign to {name!r}")

    def __delattr__(self, name: str) -> None:
        raise FrozenInstanceError(f"cannot delete {name!r}")

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and _values(self) == _values(other)

    def __hash__(self) -> int:
        return hash((type(self), *_values(self).values()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in _values(self).items())})"


def read_defaults(part: Any) -> dict[str, Any]:
    """The fields of a dataclass with their defaults; `dataclasses.MISSING` if there is none."""
    return {
        field.name: field.default if field.default_factory is MISSING else field.default_factory()
        for field in fields(part)
    }


def _values(part: Strict) -> dict[str, Any]:
    return {field.name: getattr(part, field.name) for field in fields(part)}


class Limits:
    """Limits of a text, number or list, by pydantic's names: ``ge``, ``max_length``, ``pattern`` …"""

    def __init__(self, **limits: float | str) -> None:
        self.limits = limits

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {**handler(source), **self.limits}


class WholeNumber:
    """For a literal number: a boolean is not one, although ``True == 1``."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {"type": "chain", "steps": [{"type": "int", "strict": True}, handler(source)]}

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return dict(handler(schema["steps"][-1]))


class Tagged:
    """Which of several classes a table becomes, by the value of its field, or `untagged`."""

    def __init__(self, field: str, classes: Mapping[str, type[Strict]], untagged: str) -> None:
        self.field, self.classes, self.untagged = field, classes, untagged

    def tag(self, table: Any) -> Any:
        return table.get(self.field, self.untagged) if isinstance(table, dict) else None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        choices = {tag: handler.generate_schema(choice) for tag, choice in self.classes.items()}
        return {"type": "tagged-union", "discriminator": self.tag, "choices": choices}


class Shaped:
    """Which of several kinds a value is, by its shape, so that only what is wrong with that one is reported."""

    def __init__(self, kinds: Mapping[str, Any], tag: Callable[[Any], str]) -> None:
        """``kinds`` by their tags; ``tag`` gives that of a value."""
        self.kinds, self.tag = kinds, tag

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        choices = {tag: handler.generate_schema(kind) for tag, kind in self.kinds.items()}
        return {"type": "tagged-union", "discriminator": self.tag, "choices": choices}


NAME = r"^[A-Za-z0-9][A-Za-z0-9 _-]*$|^$"
PLAIN = r"^[^\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]*$"
"""No control characters, and none that hide or reverse the text around them."""

Id = Annotated[str, Limits(pattern=NAME, max_length=40)]
"""A name other parts of the file refer to: letters, digits, spaces, dash."""

GivenId = Annotated[Id, Limits(min_length=1)]
"""A name that may not be empty."""

Text = Annotated[str, Limits(pattern=PLAIN, max_length=240)]
"""One line for people."""
