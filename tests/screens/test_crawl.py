"""Keys pressed without a plan: nothing ends the program, Escape leads out, and looking enters nothing.

A part of what ``python -m tests.screens.crawl`` does at length: all screens that one key opens, each with every key.
"""

from __future__ import annotations

import pytest

from tests.screens.crawl import KEYS, Crawl, Crawled, make_demo_shop, make_empty_shop

pytestmark = pytest.mark.usefixtures("drawn")

ASKED = ("ConfirmDialog", "FormDialog", "BeginScreen", "WalkScreen", "CountScreen", "ChoiceDialog", "SignInDialog")
"""Where something is asked, so that a key may answer."""
FROM_THE_TOP = tuple(key for key in KEYS if len(key) == 1 or key in ("enter", "escape", "tab", "delete", "down"))


def wrote_by_looking(found: Crawled) -> list[str]:
    """Entries made where nothing was asked. `u` takes the last act back, which is what it is for."""
    return [
        f"{place}: {key} made {', '.join(sorted(kinds))}"
        for (place, key), kinds in found.wrote.items()
        if not place.startswith(ASKED) and key != "u"
    ]


@pytest.mark.parametrize("make", [make_demo_shop, make_empty_shop], ids=["demo", "empty"])
async def test_every_key_at_the_opening_screen_and_back(make) -> None:  # type: ignore[no-untyped-def]
    found = await Crawl(make, "TN", FROM_THE_TOP).crawl(most=1, deep=0)
    assert found.wrong == []
    assert wrote_by_looking(found) == []
    assert found.pressed >= len(FROM_THE_TOP)
    assert len(found.seen) > 5, "or no key opened anything"
    assert found.ends == {("NextScreen row 0", "q")}
