"""What all parts of a checklist share: frozen dataclasses, and short texts that fit a terminal.

The annotations say what a file may hold (`Limits`, `Tagged`, `floor.checklist.units.Unit`) through the hooks by
which pydantic asks any object for its schema. So a file is checked by these very classes, and nothing here imports
pydantic: a program that only opens frozen checklists never pays for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
from typing import Annotated, Any, ClassVar, dataclass_transform


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field,))
class Strict:
    """A part of a checklist: nothing it does not know is let in, nothing changes once it is made.

    Every subclass is a frozen dataclass whose fields are given by name. Its methods are written here once: to have
    them made for each of the thirty classes takes three times as long as all the rest of importing these.
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
    """The fields of a dataclass with their defaults, `dataclasses.MISSING` where there is none."""
    return {
        field.name: field.default if field.default_factory is MISSING else field.default_factory()
        for field in fields(part)
    }


def _values(part: Strict) -> dict[str, Any]:
    return {field.name: getattr(part, field.name) for field in fields(part)}


class Limits:
    """What a text, a number or a list must keep to, by pydantic's names: ``ge``, ``max_length``, ``pattern`` …"""

    def __init__(self, **limits: float | str) -> None:
        self.limits = limits

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {**handler(source), **self.limits}


class WholeNumber:
    """For a literal number: a truth value is not one, although ``True == 1``."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {"type": "chain", "steps": [{"type": "int", "strict": True}, handler(source)]}

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return dict(handler(schema["steps"][-1]))


class Tagged:
    """Which of several classes a table becomes: the one under the value of its field, or under `untagged`."""

    def __init__(self, field: str, classes: Mapping[str, type[Strict]], untagged: str) -> None:
        self.field, self.classes, self.untagged = field, classes, untagged

    def tag(self, table: Any) -> Any:
        return table.get(self.field, self.untagged) if isinstance(table, dict) else None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        choices = {tag: handler.generate_schema(choice) for tag, choice in self.classes.items()}
        return {"type": "tagged-union", "discriminator": self.tag, "choices": choices}


NAME = r"^[A-Za-z0-9][A-Za-z0-9 _-]*$|^$"
PLAIN = r"^[^\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]*$"
"""Neither control characters nor those that hide or turn round what stands beside them."""

Id = Annotated[str, Limits(pattern=NAME, max_length=40)]
"""A name that other parts of the file refer to: letters, digits, spaces, dash."""

GivenId = Annotated[Id, Limits(min_length=1)]
"""A name that may not be left empty."""

Text = Annotated[str, Limits(pattern=PLAIN, max_length=240)]
"""One line for people."""
