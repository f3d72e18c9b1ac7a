"""A lesson taken into the checklist's file: what changes, what is on record, and what keeps it from being taken."""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.event_base import iter_events
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.batch.quality.lesson_kinds import ChoiceLesson, WhyNot
from floor.batch.state import Batch
from floor.batch.trials.commands import ChooseSetting, EnterTrialResult, PlanTrial
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.patching import Change, Field
from floor.ledger import LedgerError, WriteFailed
from floor.shop import Shop
from floor.shop.checklists import list_checklists
from floor.shop.events import LessonTaken
from floor.shop.lessons import LessonFile, Patch, find_file_state, read_lesson_file, study_batch
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, thermal_break
from tests.shop.taught import PART, own_file, teach

LIFE = Change(Field("tools", 1, ("life",)), "60 min", "20 min")


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: ManualClock) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    shop.add_person("AA", "Arne Aas", False, by="LL")
    yield shop
    shop.close()


@pytest.fixture
def batch(shop: Shop, clock: ManualClock) -> Batch:
    return teach(shop, clock)


def bare(shop: Shop, file: str = "checklists/part.toml") -> Batch:
    """A batch of the shop's own file in which nothing was done."""
    own_file(shop).parent.mkdir(exist_ok=True)
    own_file(shop).write_bytes(PART.read_bytes())
    checklist = load_checklist(own_file(shop)).checklist
    assert checklist is not None
    return shop.open_batch(OpenBatch(shop.find_next_id(), checklist, "digest", file, 8, 8), "LL")


def taken(shop: Shop) -> list[LessonTaken]:
    return [event for _, event in iter_events(shop._journal.entries, LessonTaken)]


def refused(shop: Shop, batch: Batch, change: Change = LIFE, by: str = "LL") -> Refused:
    """The refusal of a lesson; file and record are as they were."""
    before = {path: path.read_bytes() for path in sorted(shop.folder.rglob("*")) if path.is_file()}
    with pytest.raises(Refused) as refusal:
        shop.take_lessons(batch.id, [change], by)
    assert {path: path.read_bytes() for path in sorted(shop.folder.rglob("*")) if path.is_file()} == before
    assert refusal.value.wrong
    assert refusal.value.remedy
    return refusal.value


def test_every_lesson_of_a_batch_can_be_taken_one_by_one_and_the_file_loads(shop: Shop, batch: Batch) -> None:
    before = own_file(shop).read_text(encoding="utf-8")
    changes: list[Change] = []
    for left in range(len(study_batch(shop, batch).lessons.offered), 0, -1):
        offered = study_batch(shop, batch).lessons.offered
        assert len(offered) == left
        shop.take_lessons(batch.id, offered[0].changes, "LL")
        changes += offered[0].changes

    after = own_file(shop).read_text(encoding="utf-8")
    assert len(changes) >= 5
    wanted = tomllib.loads(before)
    for field, _, value in changes:
        [table] = [one for one in wanted[field.table] if field.number in (one.get("op"), one.get("number"))]
        (table["time"] if len(field.keys) == 2 else table)[field.keys[-1]] = value
    assert tomllib.loads(after) == wanted
    gone = [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line.startswith("- ")]
    assert all(line.startswith(("- time = ", "- life = ")) for line in gone)
    assert load_checklist(own_file(shop)).checklist is not None
    assert [one for said in taken(shop) for one, _, _ in said.changes] == [str(one.field) for one in changes]


def test_who_took_what_from_which_batch_is_on_record_and_read_by_other_terminals(shop: Shop, batch: Batch) -> None:
    shop.take_lessons(batch.id, [LIFE], "LL")

    [said] = taken(shop)
    assert said == LessonTaken(
        batch=batch.id,
        first=batch.entries[0].hash,
        file="checklists/part.toml",
        changes=(("tool 1 life", '"60 min"', '"20 min"'),),
    )
    entry = next(one for one in shop._journal.entries if one.kind == LessonTaken.KIND)
    assert (entry.by, entry.time) == ("LL", shop.now().at)
    other = Shop(shop.folder, shop.clock)
    assert study_batch(other, other.batch(batch.id)).taken == {
        "tool 1 life": f'"60 min" to "20 min" in checklists/part.toml, by LL {shop.now().at:%Y-%m-%d %H:%M}'
    }
    other.close()


def test_open_batches_keep_their_checklist_and_the_next_opens_with_the_new_one(shop: Shop, batch: Batch) -> None:
    frozen = batch.checklist
    shop.take_lessons(batch.id, [LIFE], "LL")

    assert shop.batch(batch.id).checklist == frozen
    again = Shop(shop.folder, shop.clock)
    assert again.batch(batch.id).checklist == frozen
    again.close()
    [own] = [one for one in list_checklists(shop.folder) if one.own]
    assert own.loaded.checklist is not None
    card = own.loaded.checklist.tool(1)
    assert card is not None
    assert card.life is not None
    assert card.life.text == "20 min"


def test_a_closed_batch_teaches_too(shop: Shop) -> None:
    batch = bare(shop)
    shop.do(batch.id, SetPiecesAside("scrap", "stock cracked", op=10, count=8), "LL")
    shop.do(batch.id, CloseBatch("all stock cracked"), "LL")
    assert batch.id in shop.closed()
    shop.take_lessons(batch.id, [LIFE], "LL")
    assert study_batch(shop, shop.batch(batch.id)).taken


def test_a_yield_is_taken_once_unless_the_file_says_again_what_it_did(shop: Shop, batch: Batch) -> None:
    def is_offered() -> bool:
        return any(one.changes[0].field.keys == ("expected_yield",) for one in study_batch(shop, batch).lessons.offered)

    changes = next(one for one in study_batch(shop, batch).lessons.offered if len(one.changes) == 2).changes
    assert is_offered()
    shop.take_lessons(batch.id, changes, "LL")
    assert not is_offered()
    own_file(shop).write_bytes(PART.read_bytes())  # somebody brought the old file back
    assert is_offered()


# --- what keeps it from being taken -----------------------------------------------------------------------------------


def test_it_takes_a_lead_and_their_pin(shop: Shop) -> None:
    batch = bare(shop)
    assert refused(shop, batch, by="AA").why == "authority"
    assert refused(shop, batch, by="ZZ").why == "authority"
    shop.set_pin("LL", "4711", "LL")
    shop._given.clear()
    assert "PIN" in refused(shop, batch).wrong


def test_a_file_edited_meanwhile_is_read_again(shop: Shop) -> None:
    """What somebody else changed in it stays; a value that is not the one shown is not overwritten."""
    batch = bare(shop)
    text = own_file(shop).read_text(encoding="utf-8")
    own_file(shop).write_text(text.replace('after = "1 min"', 'after = "9 min"') + "# by hand\n", encoding="utf-8")
    shop.take_lessons(batch.id, [LIFE], "LL")
    after = own_file(shop).read_text(encoding="utf-8")
    assert 'after = "9 min"' in after
    assert after.endswith("# by hand\n")

    said = refused(shop, batch)
    assert said.wrong == 'in checklists/part.toml, tool 1 life is "20 min" there now, not "60 min"'
    assert "look at the lessons again" in said.remedy


def test_a_file_that_is_gone_broken_or_of_another_part_is_told(shop: Shop) -> None:
    batch = bare(shop)
    text = own_file(shop).read_text(encoding="utf-8")
    for wrong, saved in (
        ("cannot be used: line 7, column 10", text.replace('number = "KB-7"', "number = KB-7")),
        ("is of part KB-8 now, not KB-7", text.replace('number = "KB-7"', 'number = "KB-8"')),
    ):
        own_file(shop).write_text(saved, encoding="utf-8")
        assert wrong in refused(shop, batch).wrong
        assert wrong in study_batch(shop, batch).wrong
        assert study_batch(shop, batch).text is None
    own_file(shop).unlink()
    assert "is not there any more" in refused(shop, batch).wrong


def test_another_revision_of_the_part_is_told(shop: Shop) -> None:
    batch = bare(shop)
    text = own_file(shop).read_text(encoding="utf-8")
    own_file(shop).write_text(text.replace('revision = "A"', 'revision = "B"'), encoding="utf-8")
    assert study_batch(shop, batch).note == ", revision B now; the batch was made to A"


def test_a_file_that_would_have_errors_is_never_left_behind(shop: Shop) -> None:
    batch = bare(shop)
    too_long = Change(Field("tools", 1, ("life",)), "60 min", "0 min")
    said = refused(shop, batch, too_long)
    assert "could not be used: line 79" in said.wrong


def test_a_file_that_is_read_only_is_left_alone(shop: Shop) -> None:
    """Renaming over it would not ask; whoever shut it meant it."""
    batch = bare(shop)
    own_file(shop).chmod(0o444)
    assert "read-only" in refused(shop, batch).wrong
    own_file(shop).chmod(0o664)
    shop.take_lessons(batch.id, [LIFE], "LL")
    assert own_file(shop).stat().st_mode & 0o777 == 0o664, "as it was"


def test_a_full_disk_changes_neither_file_nor_record(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = bare(shop)

    def full(fd: int, data: bytes, offset: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("floor.shop.lessons.REAL_FILES.write", full)
        assert "No space left on device" in refused(shop, batch).wrong

    def record_full(self: object, *given: object) -> None:
        raise WriteFailed("The disk is full: nothing was written.")

    before = own_file(shop).read_bytes()
    monkeypatch.setattr("floor.ledger.journal.JournalWriter.append", record_full)
    with pytest.raises(LedgerError):
        shop.take_lessons(batch.id, [LIFE], "LL")
    assert own_file(shop).read_bytes() == before
    assert sorted(path.name for path in own_file(shop).parent.iterdir()) == ["part.toml"]


def test_a_save_in_the_last_moment_wins(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = bare(shop)
    look = Patch.need_unchanged

    def saved_first(self: Patch) -> None:
        own_file(shop).write_text("# saved\n", encoding="utf-8")
        look(self)

    monkeypatch.setattr(Patch, "need_unchanged", saved_first)
    with pytest.raises(Refused, match="saved by somebody in this moment"):
        shop.take_lessons(batch.id, [LIFE], "LL")
    assert own_file(shop).read_text(encoding="utf-8") == "# saved\n"
    assert taken(shop) == []


def test_a_file_that_goes_bad_in_the_last_moment_is_told(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = bare(shop)
    for bad in (b"\xff\xfe no text", None):
        own_file(shop).write_bytes(PART.read_bytes())

        def read(*given: object, bad: bytes | None = bad) -> LessonFile:
            file = read_lesson_file(shop.folder, batch)
            own_file(shop).write_bytes(bad) if bad else own_file(shop).unlink()
            return file

        with monkeypatch.context() as patched:
            patched.setattr("floor.shop.lessons.read_lesson_file", read)
            patched.setattr("floor.shop.lessons._need_writable", lambda file, target: None)
            with pytest.raises(Refused, match="cannot be read any more"):
                shop.take_lessons(batch.id, [LIFE], "LL")
    assert taken(shop) == []


def test_a_file_that_could_not_be_replaced_is_offered_again_though_it_is_on_record(
    shop: Shop, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    changes = next(one for one in study_batch(shop, batch).lessons.offered if len(one.changes) == 2).changes

    def shut(old: Path, new: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    with monkeypatch.context() as patched:
        patched.setattr("floor.shop.lessons.REAL_FILES.rename", shut)
        with pytest.raises(Refused, match="it is as it was, though on record as taken"):
            shop.take_lessons(batch.id, changes, "LL")
    assert own_file(shop).read_bytes() == PART.read_bytes()
    assert changes in [one.changes for one in study_batch(shop, batch).lessons.offered]


# --- files as they come -----------------------------------------------------------------------------------------------


def test_byte_order_mark_and_line_endings_stay(shop: Shop) -> None:
    batch = bare(shop)
    text = b"\xef\xbb\xbf" + PART.read_bytes().replace(b"\n", b"\r\n")
    own_file(shop).write_bytes(text)
    shop.take_lessons(batch.id, [LIFE], "LL")
    assert own_file(shop).read_bytes() == text.replace(b'life = "60 min"', b'life = "20 min"')


def test_a_link_stays_a_link(shop: Shop, tmp_path: Path) -> None:
    batch = bare(shop)
    real = tmp_path / "kept elsewhere.toml"
    os.replace(own_file(shop), real)
    own_file(shop).symlink_to(real)
    shop.take_lessons(batch.id, [LIFE], "LL")
    assert own_file(shop).is_symlink()
    assert 'life = "20 min"' in real.read_text(encoding="utf-8")


def test_of_a_shipped_checklist_the_shop_gets_a_copy(shop: Shop) -> None:
    [shipped] = [path for path in list_shipped_checklists() if path.name == "thermal-break-plate.toml"]
    before = shipped.read_bytes()
    opening = OpenBatch(shop.find_next_id(), thermal_break(), "digest", shipped.name, 8, 8)
    batch = shop.open_batch(opening, "LL")
    assert "a copy of Floor's own" in study_batch(shop, batch).note
    life = Change(Field("operations", 20, ("time", "before")), "10 min", "12 min")
    file = shop.take_lessons(batch.id, [life], "LL")

    copy = shop.folder / "checklists" / shipped.name
    assert file.path == copy
    assert shipped.read_bytes() == before
    assert copy.read_bytes() == before.replace(
        b'before = "10 min", before_piece = "1.2', b'before = "12 min", before_piece = "1.2'
    )
    assert copy.read_bytes() != before
    shop.take_lessons(batch.id, [life._replace(before="12 min", after="13 min")], "LL")
    assert b'before = "13 min"' in copy.read_bytes(), "from now on the copy is changed"
    assert study_batch(shop, batch).note == ""


def test_an_edit_shows_in_the_state_of_the_file(shop: Shop) -> None:
    batch = bare(shop)
    state = find_file_state(shop.folder, batch)
    own_file(shop).write_text("# other\n", encoding="utf-8")
    assert find_file_state(shop.folder, batch) != state
    own_file(shop).unlink()
    assert find_file_state(shop.folder, batch) not in (state, ())


def test_what_a_trial_chose_is_taken_as_a_step_of_its_operation(shop: Shop) -> None:
    batch = bare(shop)
    for command in (
        PlanTrial("which lacquer?", (("lacquer", ("A", "B")),), "number", "gloss", 0, "GU", 20),
        EnterTrialResult(1, 2, (90.0, 91.0)),
        ChooseSetting(1, 2, "glossier", "Lacquer: B"),
        PlanTrial("which cloth?", (("cloth", ("soft", "coarse")),), "number", "haze", 0, "%"),
        EnterTrialResult(2, 2, (1.0,)),
        ChooseSetting(2, 2, "no haze", "Cloth: coarse"),
    ):
        shop.do(batch.id, command, "AA")
    (one,) = study_batch(shop, shop.batch(batch.id)).lessons.offered
    assert isinstance(one, ChoiceLesson), "the second trial is of no operation"
    assert (one.op, one.trial, one.text, one.by, one.reason) == (20, 1, "Lacquer: B", "AA", "glossier")

    shop.take_lessons(batch.id, one.changes, "LL")
    loaded = load_checklist(own_file(shop)).checklist
    assert loaded is not None
    assert loaded.ops[20].steps[0].title() == "Lacquer: B"
    assert taken(shop)[-1].changes == (('op 20 step "Lacquer: B"', "not stated", '"Lacquer: B"'),)
    found = study_batch(shop, shop.batch(batch.id)).lessons
    assert found.offered == ()
    assert [one.why_not for one in found.kept if isinstance(one, ChoiceLesson)] == [WhyNot.AS_STATED]

    shop.do(batch.id, ChooseSetting(1, 0, "none is better after all"), "AA")
    assert not any(isinstance(one, ChoiceLesson) for one in study_batch(shop, shop.batch(batch.id)).lessons.lessons)


def test_a_step_taken_out_of_the_file_again_is_offered_again(shop: Shop) -> None:
    batch = bare(shop)
    before = own_file(shop).read_bytes()
    for command in (
        PlanTrial("which lacquer?", (("lacquer", ("A", "B")),), "good or bad", "gloss", 0, op=20),
        EnterTrialResult(1, 2, good=3),
        ChooseSetting(1, 2, "glossier", "Lacquer: B"),
    ):
        shop.do(batch.id, command, "AA")
    shop.take_lessons(batch.id, study_batch(shop, shop.batch(batch.id)).lessons.offered[0].changes, "LL")
    own_file(shop).write_bytes(before)
    assert len(study_batch(shop, shop.batch(batch.id)).lessons.offered) == 1
