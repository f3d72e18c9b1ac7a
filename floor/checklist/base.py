"""What all parts of a checklist share: strict, frozen models and short texts that fit a terminal."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints


class Strict(BaseModel):
    """A part of a checklist: nothing it does not know is let in, nothing changes after loading."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, defer_build=True)


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("holds a control character; write plain text on one line")
    return text


Id = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9 _-]*$|^$", max_length=40)]
"""A name that other parts of the file refer to: letters, digits, spaces, dash."""

Text = Annotated[str, StringConstraints(max_length=240), AfterValidator(_printable)]
"""One line for people."""
