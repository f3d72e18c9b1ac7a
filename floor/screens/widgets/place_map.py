"""A carrier from above, as it lies before whoever stands there: a cell for each place, with a word for what is in it.

The one drawing of a carrier: the count marks pieces on it, other screens show on it which pieces they mean.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.widget import Widget

from floor.dataclass import dataclass
from floor.text import count_cells, wrap_text

MARK = "■"
LARGEST = 14
"""Columns of a cell where there is all the room."""
ROOMY = 12
"""Rows from which it leaves gaps, where it stands beside something else."""
LONGEST_WORD = 6
HEAD = 4
"""Columns of the letters of the rows."""
STYLES = {"loud": "bold $error", "quiet": "$secondary", "": ""}


class Cell(NamedTuple):
    """What is said of a place."""

    word: str = "-"
    beside: str = ""
    """What stands behind it: the number of the piece, the key of a reason."""
    look: Literal["loud", "quiet", ""] = "quiet"
    marked: bool = False


EMPTY = Cell()


@dataclass(frozen=True, slots=True)
class Places:
    """A carrier to be drawn."""

    rows: int
    columns: int
    cells: Mapping[str, Cell]
    """By the name of the place; one that is not in it has no piece."""
    here: str = ""
    """The place that the cursor is in, in brackets."""
    beside: int = 0
    """Columns for what stands behind a word."""
    marks: str = ""
    """What the mark of a piece says, where some may be marked: chosen."""
    title: str = ""


NO_PLACES = Places(0, 0, {})


def name_place(row: int, column: int) -> str:
    """The name of a place by its row and column, both from 0, as the checklist names it."""
    return f"{chr(65 + row)}{column + 1}"


class PlaceMap(Widget):
    """The drawing of a carrier, in the largest cells that there is room for; out of sight where there is too little."""

    class Pressed(Message):
        """A place was clicked or touched."""

        def __init__(self, place: str) -> None:
            super().__init__()
            self.place = place

    def __init__(self, id: str, *, gives_way: bool = True, explains: bool = True) -> None:
        """
        Args:
            gives_way: whether it is out of sight where it has too little room, as a list says the same.
            explains: whether the letters and signs of the cells are explained below.
        """
        super().__init__(id=id)
        self.places = NO_PLACES
        self.gives_way = gives_way
        self.explains = explains
        self.cell = self.step = 1

    def draw(self, places: Places | None, width: int, height: int) -> bool:
        """Draw a carrier within so many columns and rows; nothing where there is none, or it does not fit.

        Returns:
            Whether it is in sight.
        """
        before, size = self.places, (self._count_columns(), self._count_rows())
        self.places = places or NO_PLACES
        self._fit(width, height)
        now = (self._count_columns(), self._count_rows())
        fits = bool(self.places.rows) and now[0] <= width and now[1] <= height
        self.display = fits or not self.gives_way
        if self.places != before or now != size:
            self.refresh(layout=now != size)
        return self.display

    def _fit(self, width: int, height: int) -> None:
        """The largest cells for this room: with their words, or with the first letters."""
        said, columns = self.places, max(self.places.columns, 1)
        behind = said.beside + bool(said.marks)
        words = LONGEST_WORD + behind + bool(said.beside) + 2
        least = 3 + behind
        each = (width - HEAD) // columns
        self.cell = min(each, max(LARGEST, words)) if each >= words else least + (columns <= 9)
        if self.cell * columns > width - HEAD:
            self.cell = least
        around = len(self._list_around())
        most = 1 if self.gives_way and height < ROOMY else 3 if self.cell >= LARGEST else 2
        self.step = max(1, min((height - around) // (said.rows + 1), most))

    @property
    def has_words(self) -> bool:
        return self.cell >= LONGEST_WORD + self.places.beside + bool(self.places.marks) + bool(self.places.beside) + 2

    def _count_columns(self) -> int:
        return HEAD + self.cell * self.places.columns

    def _count_rows(self) -> int:
        return self.step * (self.places.rows + 1) + len(self._list_around())

    def get_content_width(self, container: Size, viewport: Size) -> int:
        return max([self._count_columns(), *map(count_cells, self._list_around())])

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return self._count_rows()

    def render(self) -> Content:
        said = self.places
        head = " " * HEAD + "".join(f"{column + 1:^{self.cell}}" for column in range(said.columns))
        gap = [Content("")] * (self.step - 1)
        lines = [Content.assemble((said.title, "bold"))] if said.title else []
        lines += [Content.assemble((head, "$secondary")), *gap]
        for row in range(said.rows):
            cells = [self._draw_cell(name_place(row, column)) for column in range(said.columns)]
            lines += [Content.assemble((f" {chr(65 + row)}  ", "$secondary"), *cells), *gap]
        return Content("\n").join([*lines, *(Content.assemble((line, "$secondary")) for line in self._explain())])

    def _draw_cell(self, name: str) -> tuple[str, str]:
        one, here = self.places.cells.get(name, EMPTY), name == self.places.here
        text = f"{one.word} {one.beside}".strip() if self.has_words else shorten(one) + one.beside
        text += MARK if one.marked else ""
        left, right = ("[", "]") if here else (" ", " ")
        style = "bold $accent" if (here or one.marked) and one.look != "loud" else STYLES[one.look]
        return f"{left}{text:^{self.cell - 2}}{right}", style or "$foreground"

    def _list_around(self) -> list[str]:
        """Lines above and below the places."""
        return [*([self.places.title] if self.places.title else []), *self._explain()]

    def _explain(self) -> list[str]:
        """The words of the letters in the cells, and what the mark stands for."""
        if not self.explains:
            return []
        cells = self.places.cells.values()
        words = () if self.has_words else list_words(cells)
        said = ", ".join([*words, *([f"{MARK} {self.places.marks}"] if self.places.marks else [])])
        return wrap_text(said, width=max(self._count_columns(), 24)) if said else []

    def on_click(self, event: events.Click) -> None:
        column = (event.x - HEAD) // self.cell
        row = (event.y - bool(self.places.title)) // self.step - 1
        if 0 <= row < self.places.rows and 0 <= column < self.places.columns:
            self.post_message(self.Pressed(name_place(row, column)))


def draw_side_by_side(maps: Sequence[PlaceMap], places: Sequence[Places], width: int, height: int) -> bool:
    """Draw carriers beside each other: as many of the first ones as there is room for.

    Returns:
        Whether any is in sight.
    """
    many = len(places)
    while many and not all(
        one.draw(each, width // many, height) for one, each in zip(maps, places[:many], strict=False)
    ):
        many -= 1
    for one in maps[many:]:
        one.display = False
    return many > 0


def shorten(cell: Cell) -> str:
    """The letter for a word; a capital for what is not simply good."""
    return cell.word[:1].upper() if cell.look == "loud" else cell.word[:1]


def list_words(cells: Iterable[Cell]) -> list[str]:
    """``H hold``, each letter once."""
    return list(dict.fromkeys(f"{shorten(one)} {one.word}" for one in cells if one.word != EMPTY.word))
