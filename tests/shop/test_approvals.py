"""CBP-12: only the approved content of a checklist is worked by (ISO 9001:2015, 7.5.2 c and 7.5.3.1 a, from memory)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.describe import describe
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.shop import Shop
from floor.shop.approvals import judge_approval, list_approvals
from floor.shop.checklists import ChecklistFile, list_checklists, read_checklist_file

TEXT = (Path(__file__).parents[1] / "batch" / "part.toml").read_text(encoding="utf-8")
REVISION_B = TEXT.replace('revision = "A"', 'revision = "B"')


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop")
    shop.add_person("LL", "Lena", True, by="LL", pin="2468")
    shop.add_person("AA", "Arne", False, by="LL")
    (shop.folder / "checklists").mkdir()
    write(shop, TEXT)
    yield shop
    shop.close()


def write(shop: Shop, text: str, name: str = "own.toml") -> ChecklistFile:
    path = shop.folder / "checklists" / name
    path.write_text(text, encoding="utf-8")
    return read_checklist_file(shop.folder, path)


def open_from(shop: Shop, one: ChecklistFile, by: str) -> Batch:
    assert one.loaded.checklist is not None
    return shop.open_batch(OpenBatch(shop.find_next_id(), one.loaded.checklist, one.digest, one.name, 5, 5), by)


def said_at_opening(batch: Batch) -> str:
    return describe(batch, batch.entries[0])


def test_until_a_lead_approves_one_any_checklist_opens(shop: Shop) -> None:
    """Shops that approve none go on as before, and nothing is said of it."""
    batch = open_from(shop, list_checklists(shop.folder)[0], "AA")
    assert not {"approved_by", "unapproved"} & batch.entries[0].body.keys()


def test_what_is_approved_opens_for_anybody_and_a_changed_file_only_by_a_lead_on_record(shop: Shop) -> None:
    one = list_checklists(shop.folder)[0]
    with pytest.raises(Refused) as refused:
        shop.approve_checklist(one, "AA")
    assert refused.value.why == "authority"
    shop.approve_checklist(one, "LL")
    assert said_at_opening(open_from(shop, one, "AA")).endswith("checklist approved by LL")
    assert read_checklist_file(shop.folder, one.path).digest == one.digest

    for changed in (TEXT + "\n# one more line\n", REVISION_B):
        other = write(shop, changed)
        with pytest.raises(Refused, match="unapproved checklist") as refused:
            open_from(shop, other, "AA")
        assert refused.value.why == "authority"
    assert said_at_opening(open_from(shop, other, "LL")).endswith("CHECKLIST NOT APPROVED")


def test_the_content_approved_last_is_the_approved_one_of_its_part(shop: Shop) -> None:
    old, new = list_checklists(shop.folder)[0], write(shop, REVISION_B, "newer.toml")
    for one in (old, new):
        shop.approve_checklist(one, "LL")
    open_from(shop, new, "AA")
    with pytest.raises(Refused, match="Opening the unapproved checklist of KB-7 A needs a lead"):
        open_from(shop, old, "AA")
    with pytest.raises(Refused, match="approved already, by LL"):
        shop.approve_checklist(new, "LL")

    broken = write(shop, "order = ")
    with pytest.raises(Refused, match=r"he file own\.toml has errors"):
        shop.approve_checklist(broken, "LL")


def test_a_shop_may_let_nobody_open_what_is_not_approved(shop: Shop) -> None:
    one = list_checklists(shop.folder)[0]
    shop.approve_checklist(one, "LL")
    other = write(shop, REVISION_B)
    (shop.folder / "shop.toml").write_text("approved_checklists_only = true\n", encoding="utf-8")
    again = Shop(shop.folder)
    again.sign_in("LL", "2468")
    for by in ("AA", "LL"):
        with pytest.raises(Refused, match="he checklist of KB-7 B is not approved") as refused:
            open_from(again, other, by)
        assert refused.value.why == "not now"
    again.approve_checklist(other, "LL")
    assert open_from(again, other, "AA").checklist.part.revision == "B"
    again.close()


def test_approvals_are_known_at_other_terminals_and_after_a_restart(shop: Shop) -> None:
    one = list_checklists(shop.folder)[0]
    shop.approve_checklist(one, "LL")
    again = Shop(shop.folder)
    found = again.approvals.find("kb-7", one.digest)
    assert found is not None
    assert (found.by, found.revision) == ("LL", "A")
    again.close()


def test_who_may_open_is_judged_anew_each_time(shop: Shop) -> None:
    """A lead may approve it, or another content, while the form is open."""
    one = list_checklists(shop.folder)[0]
    assert one.loaded.checklist is not None
    asked = OpenBatch("B0001", one.loaded.checklist, one.digest, one.name, 5, 5)
    none = list_approvals(())
    shop.approve_checklist(one, "LL")
    refused = judge_approval(none, asked, approved_only=True)
    assert (refused.approved_by, refused.unapproved) == ("", "nobody")
    opens = judge_approval(shop.approvals, refused, approved_only=True)
    assert (opens.approved_by, opens.unapproved) == ("LL", "anybody")
    assert judge_approval(none, opens, approved_only=True) == refused
