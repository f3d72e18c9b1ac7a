"""Keys of the shop's own: from ``shop.toml`` to the map that every screen looks its keys up in.

WCAG 2.2, success criterion 2.1.4: keys of a single letter can be turned off, or others put in their place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

from textual.binding import Binding, BindingType
from textual.keys import Keys, _character_to_key

from floor.screens.frame.screen import FloorScreen
from floor.shop.settings import FILE, SettingsError

LETTERS = "letters"
"""The name that stands for all keys of a single letter."""
WITH = ("alt", "ctrl+alt")
"""What may be asked for together with a letter."""
_MODIFIERS = {"ctrl", "alt", "shift"}
_NAMES = {key.value for key in Keys} | {"space", "plus", "minus", "slash"}


def build_key_map(asked: Mapping[str, str], folder: Path, program: Sequence[BindingType]) -> dict[str, str]:
    """Name of a key in the program → key that does it now.

    Args:
        asked: the section ``keys`` of the shop's file.
        folder: the shop's, for saying where the fault is.
        program: the keys that hold on every screen.

    Raises:
        SettingsError: a name or a key that there is not, or one key twice on a screen; all of them.
    """
    if not asked:
        return {}
    screens = _screens(program)
    usual = {name: key for bindings in screens for name, key in bindings.items()}
    found = {name: key for name, key in asked.items() if name in usual and _is_key(key)}
    if asked.get(LETTERS) in WITH:
        found = {name: f"{asked[LETTERS]}+{key}" for name, key in usual.items() if len(key) == 1} | found
    faults = [*_find_faults(asked, usual), *_twice(found, screens)]
    if faults:
        raise SettingsError(
            folder / FILE, [f"keys: {fault}" for fault in dict.fromkeys(faults)], "The usual keys are in use."
        )
    return found


def _find_faults(asked: Mapping[str, str], usual: Mapping[str, str]) -> Iterator[str]:
    """Names that there are not first, then what is no key."""
    for name in asked:
        if name not in usual and name != LETTERS:
            yield f"there is no key named {name}; there are {LETTERS}, {', '.join(sorted(usual))}"
    if LETTERS in asked and asked[LETTERS] not in WITH:
        yield f'{LETTERS}: "{asked[LETTERS]}" is not {" or ".join(WITH)}'
    for name, key in asked.items():
        if name in usual and not _is_key(key):
            yield f'{name}: "{key}" is not a key; write it like "f9", "ctrl+s", "alt+s" or "s"'


def _is_key(text: str) -> bool:
    *modifiers, key = text.split("+")
    return set(modifiers) <= _MODIFIERS and (len(key) == 1 or key in _NAMES)


def _twice(found: Mapping[str, str], screens: Iterable[Mapping[str, str]]) -> Iterator[str]:
    """Where two names on one screen would have the same key."""
    for bindings in screens:
        by_key: dict[str, str] = {}
        for name, usual in bindings.items():
            for key in found.get(name, usual).split(","):
                long = _character_to_key(key) if len(key) == 1 else key
                if by_key.setdefault(long, name) != name and (name in found or by_key[long] in found):
                    yield f"{name} and {by_key[long]} would both be {key}"


def _screens(program: Sequence[BindingType]) -> list[dict[str, str]]:
    """The named keys of each screen, those of frame and program included: name → key, or several with commas."""
    import floor.screens as package

    for module in walk_packages(package.__path__, f"{package.__name__}."):
        import_module(module.name)
    found = []
    for screen in _kinds(FloorScreen):
        bindings = [*program, *(one for kind in reversed(screen.__mro__) for one in vars(kind).get("BINDINGS", ()))]
        found.append({one.id: one.key for one in bindings if isinstance(one, Binding) and one.id})
    return found


def _kinds(screen: type[FloorScreen]) -> Iterator[type[FloorScreen]]:
    for kind in screen.__subclasses__():
        yield kind
        yield from _kinds(kind)
