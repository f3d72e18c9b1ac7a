"""What README.md documents of the data that Floor writes."""

from __future__ import annotations

import re

from tests.language import ROOT


def list_documented(chapter: str, kind: str) -> set[str]:
    """The fields in a chapter's lists of this kind; one with a leading dot is in the one before it without.

    Args:
        kind: such as "JSON fields"; a list follows where a line ends with it and a colon.
    """
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.partition(f"\n### {chapter}\n")[2].partition("\n### ")[0]
    found: set[str] = set()
    for part in section.split(f"{kind}:\n\n")[1:]:
        for item in part.partition("\n\n")[0].removeprefix("- ").split("\n- "):
            above = ""
            for name in re.findall(r"`([^`]+)`", item.partition("`: ")[0] + "`"):
                bare = name.strip(".").removesuffix("[]")
                above = above if name.startswith(".") else bare
                found.add(f"{above}.{bare}" if name.startswith(".") else bare)
    return found
