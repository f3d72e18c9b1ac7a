"""The last result is computed again only for a different thing, or if asked differently."""

from floor.screens.widgets.last_answer import Memo


def test_the_same_question_about_the_same_thing_is_answered_once() -> None:
    asked: list[tuple[object, ...]] = []

    def work(about: list[int], times: int) -> int:
        asked.append((about, times))
        return sum(about) * times

    kept, one, alike = Memo(), [1, 2], [1, 2]

    assert [kept.of(work, one, 2), kept.of(work, one, 2), kept.of(work, one, 3)] == [6, 6, 9]
    assert kept.of(work, alike, 3) == 9
    assert len(asked) == 3, "an equal thing is not the same thing"
