"""What all parts of a checklist share: strict, frozen models and short texts that fit a terminal."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints


class Strict(BaseModel):
    """A part of a checklist: nothing it does not know is let in, nothing changes after loading."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, defer_build=True)


NAME = r"^[A-Za-z0-9][A-Za-z0-9 _-]*$|^$"
PLAIN = r"^[^\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]*$"
"""Neither control characters nor those that hide or turn round what stands beside them."""

Id = Annotated[str, StringConstraints(pattern=NAME, max_length=40)]
"""A name that other parts of the file refer to: letters, digits, spaces, dash."""

Text = Annotated[str, StringConstraints(pattern=PLAIN, max_length=240)]
"""One line for people."""
