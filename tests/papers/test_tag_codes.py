"""What is drawn is read by a decoder of others (zxing-cpp), from characters, PNG and SVG alike."""

from __future__ import annotations

import io
import re
import string
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from floor.batch.tag import LONGEST_NAME, NAMES, format_tag, make_tag, spell_plain
from floor.papers.tag_codes import LONGEST_BARS, CodeKind, draw_ascii, draw_half_blocks, make_bars, make_code, make_qr
from floor.papers.tag_pictures import DOTS, draw_tag, encode_png, encode_svg

HASH = "1f3a9" + "0" * 59
SHORTEST = len("%P%AB%000000")
"""Decoders doubt bars of a few signs, which could be anything; no tag is shorter than a badge."""
SIGNS = string.ascii_uppercase + string.digits + " -./%*+:$"
TEXTS = st.text(SIGNS, min_size=SHORTEST, max_size=LONGEST_BARS).filter(lambda text: text.strip() == text)
BARCODES = {"qr": zxingcpp.BarcodeFormat.QRCode, "128": zxingcpp.BarcodeFormat.Code128}
Picture = NDArray[np.uint8]


def read(picture: Picture, kind: CodeKind) -> list[str]:
    return [one.text for one in zxingcpp.read_barcodes(picture, formats=BARCODES[kind])]


def paint(rows: list[list[bool]], scale: int = 3) -> Picture:
    """Ink as black."""
    ink = np.array(rows, dtype=bool)
    return np.where(np.kron(ink, np.ones((scale, scale), dtype=bool)), 0, 255).astype(np.uint8)


def from_half_blocks(lines: list[str]) -> list[list[bool]]:
    halves = {" ": (False, False), "▀": (True, False), "▄": (False, True), "█": (True, True)}
    return [[halves[sign][half] for sign in line] for line in lines for half in (0, 1)]


def from_svg(text: str) -> Picture:
    """The boxes of the path painted; a box is all that the path has."""
    root = ET.fromstring(text)
    _, _, width, height = map(int, root.attrib["viewBox"].split())
    picture = np.full((height, width), 255, dtype=np.uint8)
    path = root.findall("{http://www.w3.org/2000/svg}path")[1].attrib["d"]
    boxes = re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)h-\3z", path)
    assert "".join("M{} {}h{}v{}h-{}z".format(*box, box[2]) for box in boxes) == path
    for x, y, w, h in (map(int, box) for box in boxes):
        picture[y : y + h, x : x + w] = 0
    return picture


@given(TEXTS)
@settings(max_examples=60)
def test_characters_are_read_back(text: str) -> None:
    code = make_qr(text)
    assert read(paint(from_half_blocks(draw_half_blocks(code))), "qr") == [text]
    assert read(paint([[sign == "#" for sign in line[::2]] for line in draw_ascii(code)]), "qr") == [text]


@pytest.mark.parametrize("kind", ["qr", "128"])
def test_pictures_are_read_back(kind: CodeKind) -> None:
    @given(TEXTS, st.lists(st.text(min_size=1, max_size=60), min_size=1, max_size=4))
    @settings(max_examples=25)
    def each(text: str, words: list[str]) -> None:
        dots = draw_tag(text, words, kind)
        png = Image.open(io.BytesIO(encode_png(dots)))
        png.load()
        assert read(np.array(png.convert("L")), kind) == [text]
        assert read(from_svg(encode_svg(dots, words[0])), kind) == [text]

    each()


@given(st.sampled_from(sorted(NAMES)), st.data())
@settings(max_examples=60)
def test_every_tag_is_read_from_its_code(kind: str, data: st.DataObject) -> None:
    name = st.text(min_size=1, max_size=20).filter(spell_plain)
    names = data.draw(st.tuples(*[name] * NAMES[kind]))  # type: ignore[index]
    text = format_tag(make_tag(kind, names, HASH))  # type: ignore[arg-type]
    assert read(paint(from_half_blocks(draw_half_blocks(make_qr(text)))), "qr") == [text]
    if len(text) <= LONGEST_BARS:
        bars = make_bars(text)
        beside = [False] * bars.quiet
        assert read(paint([[*beside, *bars.rows[0], *beside]] * 40, 2), "128") == [text]


def test_the_longest_tag_is_no_wider_than_a_page() -> None:
    """As a page of 80 columns holds it, in characters and in ASCII."""
    usual = make_qr(format_tag(make_tag("lot", ("EPOXY PASTE", "L-2231/B"), HASH)))
    assert len(draw_ascii(usual)[0]) <= 80
    longest = make_qr(format_tag(make_tag("lot", ("a" * LONGEST_NAME, "#" * LONGEST_NAME), HASH)))
    assert len(draw_half_blocks(longest)[0]) <= 80


def test_a_quarter_of_a_code_may_be_spoiled() -> None:
    """ISO/IEC 18004, level Q: about 25 % of the codewords; here a corner of a seventh of the area, without a finder."""
    text = format_tag(make_tag("carrier", ("pallet", 12), HASH))
    code = make_qr(text)
    side = len(code.rows)
    rows = from_half_blocks(draw_half_blocks(code))
    edge = code.quiet + side - side * 3 // 8
    for y in range(edge, code.quiet + side):
        for x in range(edge, code.quiet + side):
            rows[y][x] = True
    assert read(paint(rows), "qr") == [text]


@pytest.mark.parametrize("kind", ["qr", "128"])
def test_a_picture_is_of_its_size(kind: CodeKind) -> None:
    """PNG: ISO/IEC 15948, pHYs in dots a meter; 203 dpi."""
    dots = draw_tag("%C%PALLET%1%3WX9Y3", ["Pallet 1", "pallet"], kind)
    png = Image.open(io.BytesIO(encode_png(dots)))
    assert png.size == (len(dots[0]), len(dots))
    assert png.mode == "1"
    assert [round(one) for one in png.info["dpi"]] == [203, 203]
    svg = ET.fromstring(encode_svg(dots, "a < b & c"))
    assert svg.attrib["width"] == f"{len(dots[0]) / DOTS:g}mm"
    assert svg[0].text == "a < b & c"
    assert np.array_equal(np.array(png.convert("L")), from_svg(encode_svg(dots, "")))


@pytest.mark.parametrize(
    "text",
    [
        *(f"AB{chr(32 + n)}{chr(32 + n)}CD" for n in range(1, 95)),
        *(f"{n:02}{(n + 37) % 100:02}{n:02}" for n in range(100)),
        *("%123%1234%12345%123456%", "12345", "A1234", "A12345", "1234A", "12345A", "990000000000", "%99%990"),
    ],
)
def test_every_sign_of_bars_is_decoded(text: str) -> None:
    """A library drew texts that begin with 99 without it; nobody but a decoder of others noticed."""
    bars = make_bars(text)
    beside = [False] * bars.quiet
    assert read(paint([[*beside, *bars.rows[0], *beside]] * 40, 2), "128") == [text]


def test_digits_go_in_pairs_where_that_is_shorter() -> None:
    """ISO/IEC 15417, annex E (from memory): from four at the ends, from six within. A sign has 11 modules, the stop
    13."""
    signs = {"12345678": 4, "AB1234": 5, "1234AB": 5, "AB1234CD": 8, "AB123456CD": 9, "A123": 4}
    for text, many in signs.items():
        assert len(make_bars(text).rows[0]) == 11 * (1 + many + 1) + 13, text


def test_the_check_sign_of_bars_is_that_of_the_published_example() -> None:
    """PJJ123C in set A has the check value 54 (worked example of public articles, from memory); set B starts one
    higher, so 55, whose widths are 311321."""
    bars = "".join("1" if dark else "0" for dark in make_bars("PJJ123C").rows[0])
    assert bars[-24:-13] == "11101000110"


def test_what_bars_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="too long for bars; choose a QR code"):
        make_code("A" * (LONGEST_BARS + 1), "128")
