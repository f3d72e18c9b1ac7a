"""Large block letters: a small font of squares, drawn with half blocks at any whole size.

A letter of size 1 is five half rows high. With character cells of 8 × 16 px at 96 px to the inch that is 10.6 mm;
NUREG-0700, section 1.3, asks for a height of 16 minutes of arc, 9.3 mm at two meters.
"""

from __future__ import annotations

import unicodedata

HEIGHT = 5
"""Squares of a letter."""
_FONT = {
    "A": ".#. #.# ### #.# #.#",
    "B": "###. #..# ###. #..# ###.",
    "C": ".## #.. #.. #.. .##",
    "D": "###. #..# #..# #..# ###.",
    "E": "### #.. ##. #.. ###",
    "F": "### #.. ##. #.. #..",
    "G": ".### #... #.## #..# .###",
    "H": "#..# #..# #### #..# #..#",
    "I": "### .#. .#. .#. ###",
    "J": "..# ..# ..# #.# .#.",
    "K": "#..# #.#. ##.. #.#. #..#",
    "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": ".##. #..# #..# #..# .##.",
    "P": "##. #.# ##. #.. #..",
    "Q": ".##. #..# #..# #.#. .#.#",
    "R": "###. #..# ###. #.#. #..#",
    "S": ".### #... .##. ...# ###.",
    "T": "### .#. .#. .#. .#.",
    "U": "#..# #..# #..# #..# .##.",
    "V": "#.# #.# #.# #.# .#.",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#",
    "Y": "#.# #.# .#. .#. .#.",
    "Z": "#### ...# .##. #... ####",
    "0": ".#. #.# #.# #.# .#.",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": ".## #.. ### #.# ###",
    "7": "### ..# ..# .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ##.",
    " ": ".. .. .. .. ..",
    ".": ". . . . #",
    ",": ".. .. .. .# #.",
    ":": ". # . # .",
    ";": ".. .# .. .# #.",
    "-": "... ... ### ... ...",
    "–": "... ... ### ... ...",
    "+": "... .#. ### .#. ...",
    "/": "..# ..# .#. #.. #..",
    "(": ".# #. #. #. .#",
    ")": "#. .# .# .# #.",
    "!": "# # # . #",
    "?": "##. ..# .#. ... .#.",
    "'": "# # . . .",
    '"': "#.# #.# ... ... ...",
    "%": "#..# ...# .##. #... #..#",
    "*": "... #.# .#. #.# ...",
    "=": "... ### ... ### ...",
    "<": "..# .#. #.. .#. ..#",
    ">": "#.. .#. ..# .#. #..",
    "·": ". . # . .",
    "°": "### #.# ### ... ...",
    "×": "... #.# .#. #.# ...",
    "…": "..... ..... ..... ..... #.#.#",
    "#": ".#.#. ##### .#.#. ##### .#.#.",
    "&": ".#.. #.#. .#.. #.#. .#.#",
    "_": "... ... ... ... ###",
}
GLYPHS: dict[str, tuple[str, ...]] = {letter: tuple(rows.split()) for letter, rows in _FONT.items()}
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def draw_block_letters(text: str) -> str:
    """The text in capitals without accents; what the font does not have becomes a question mark."""
    letters = unicodedata.normalize("NFKD", text.upper())
    kept = (letter for letter in letters if not unicodedata.combining(letter))
    return "".join(letter if letter in GLYPHS else "?" for letter in kept)


def is_drawable(text: str) -> bool:
    """Whether the font has every letter of it."""
    return draw_block_letters(text).count("?") == text.count("?")


def count_squares(text: str) -> int:
    """How wide a plain text is, in squares: its letters with one square between them."""
    return sum(len(GLYPHS[letter][0]) + 1 for letter in text) - 1 if text else 0


def count_terminal_rows(size: int) -> int:
    """Rows of the terminal that a line of this size takes."""
    return (HEIGHT * size + 1) // 2


def draw_blocks(text: str, size: int = 1) -> list[str]:
    """A plain text in rows of half blocks; a square is ``size`` columns wide and ``size`` half rows high."""
    bits = ["0".join(GLYPHS[letter][y] for letter in text) for y in range(HEIGHT)]
    half_rows = [[bit == "#" for bit in row for _ in range(size)] for row in bits for _ in range(size)]
    if len(half_rows) % 2:
        half_rows.append([False] * len(half_rows[0]))
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(*pair, strict=True))
        for pair in zip(half_rows[::2], half_rows[1::2], strict=True)
    ]


def wrap_squares(text: str, width: int, most: int) -> list[str]:
    """A plain text in lines of at most ``width`` squares; what does not go into ``most`` lines ends in an ellipsis."""
    lines: list[str] = []
    for word in text.split():
        if lines and count_squares(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    cut = len(lines) > most
    lines = lines[:most]
    return [_cut(line, width, cut and n == len(lines) - 1) for n, line in enumerate(lines)]


def _cut(line: str, width: int, more: bool) -> str:
    if count_squares(line) <= width and not more:
        return line
    while line and count_squares(f"{line}…") > width:
        line = line[:-1]
    return f"{line.rstrip()}…"
