"""`dataclasses.dataclass` with its methods written at first use.

The standard one compiles up to six methods per class at import. With some 250 classes, of which opening the program
uses a few, that took longer than all other imports of Floor. Frozen ones are also created faster here: a field is set
by its slot, not by its name.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(*, slots, frozen=False, eq=True, kw_only=False):
        """A class decorator like the standard one, for classes with slots.

        Differs only in what nobody here relies on: ``__init__`` shows its parameters only after first use, and no
        subclass of a frozen class is assignable.
        """
        assert slots, "a class without slots is for the standard decorator"

        def make(cls):
            cls.__doc__ = cls.__doc__ or cls.__name__  # else the standard one writes out the whole signature
            plain = dataclasses.dataclass(init=False, repr=False, eq=False, kw_only=kw_only, slots=True)
            made = plain(cls)
            own = vars(made)
            methods = {"__init__": _postpone(made, "__init__", _write_init)}
            if "__repr__" not in own:
                methods["__repr__"] = _show
            if eq and "__eq__" not in own:
                methods["__eq__"] = _postpone(made, "__eq__", _write_eq)
                if own.get("__hash__") is None:
                    methods["__hash__"] = _postpone(made, "__hash__", _write_hash) if frozen else None
            if frozen:
                methods |= {
                    "__setattr__": _refuse,
                    "__delattr__": _refuse,
                    "__getstate__": _take_state,
                    "__setstate__": _put_state,
                }
            for name, method in methods.items():
                setattr(made, name, method)
            return made

        return make


Method = Callable[..., Any]
_NO_NAMES: Mapping[str, object] = {}


def _postpone(cls: type[Any], name: str, write: Callable[[type[Any]], Method]) -> Method:
    """A method that writes the real one at its first call and replaces itself with it."""

    def first(self: object, *args: object, **named: object) -> Any:
        method = write(cls)
        setattr(cls, name, method)
        return method(self, *args, **named)

    return first


def _write_init(cls: type[Any]) -> Method:
    frozen = cls.__setattr__ is _refuse
    names: dict[str, Any] = {"MISSING": dataclasses.MISSING}
    given: list[str] = []
    by_name: list[str] = []
    body: list[str] = []
    for field in dataclasses.fields(cls):
        name, value = field.name, field.name
        names[f"set_{name}"] = getattr(cls, name).__set__
        default = ""
        if field.default is not dataclasses.MISSING:
            names[f"default_{name}"] = field.default
            default = f"=default_{name}"
        elif field.default_factory is not dataclasses.MISSING:
            names[f"make_{name}"] = field.default_factory
            default = "=MISSING"
            value = f"make_{name}() if {name} is MISSING else {name}"
        if field.init:
            (by_name if field.kw_only else given).append(name + default)
            body.append(f"set_{name}(self, {value})" if frozen else f"self.{name} = {value}")
    if by_name:
        given += ["*", *by_name]
    if hasattr(cls, "__post_init__"):
        body.append("self.__post_init__()")
    return _compile(cls, "__init__", ", ".join(given), "\n ".join(body) or "pass", names)


def _write_eq(cls: type[Any]) -> Method:
    mine, others = _list_compared(cls, "self"), _list_compared(cls, "other")
    return _compile(cls, "__eq__", "other", f"return {mine} == {others} if self.__class__ is other.__class__ else no")


def _write_hash(cls: type[Any]) -> Method:
    return _compile(cls, "__hash__", "", f"return hash({_list_compared(cls, 'self')})")


def _list_compared(cls: type[Any], owner: str) -> str:
    """The fields by which two objects are compared, as the source text of a tuple."""
    return "(" + "".join(f"{owner}.{field.name}, " for field in dataclasses.fields(cls) if field.compare) + ")"


def _compile(cls: type[Any], name: str, parameters: str, body: str, names: Mapping[str, object] = _NO_NAMES) -> Method:
    known: dict[str, Any] = {"no": NotImplemented, **names}
    exec(compile(f"def {name}(self, {parameters}):\n {body}", f"<{name} of {cls.__qualname__}>", "exec"), known)
    method: Method = known[name]
    method.__qualname__ = f"{cls.__qualname__}.{name}"
    return method


def _show(self: Any) -> str:
    shown = (f"{field.name}={getattr(self, field.name)!r}" for field in dataclasses.fields(self) if field.repr)
    return f"{self.__class__.__qualname__}({', '.join(shown)})"


def _refuse(self: object, name: str, value: object = None) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot change field {name!r}")


def _take_state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in dataclasses.fields(self)]


def _put_state(self: Any, state: list[Any]) -> None:
    for field, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)
