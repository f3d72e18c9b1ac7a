"""Tags on the command line: which, in which form, and where to."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from floor.batch.lifecycle.commands import FormLoad, OpenBatch
from floor.cli.main import Exit, main
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, part

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with a lead, a gauge and a batch with one load."""
    folder = tmp_path / "shop"
    opened = Shop(folder, ManualClock(MORNING))
    opened.add_person("LL", "Lena Lindqvist", True, by="-")
    opened.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    opened.open_batch(OpenBatch("B0001", part(), "digest", "part.toml", 8, 10), by="LL")
    opened.do("B0001", FormLoad(10), "LL")
    opened.close()
    monkeypatch.setenv("FLOOR_SHOP", str(folder))
    return folder


def name_printer(shop: Path, to: Path) -> None:
    program = to.with_suffix(".py")
    program.write_text(
        f"import sys, pathlib\nto = pathlib.Path({str(to)!r})\nto.mkdir(exist_ok=True)\n"
        "(to / str(len(list(to.iterdir())))).write_bytes(sys.stdin.buffer.read())\n"
    )
    (shop / "shop.toml").write_text(f'print = "false"\nprint_tags = "{sys.executable} {program}"\n')


def read(png: bytes) -> list[str]:
    picture = Image.open(io.BytesIO(png)).convert("L")
    return [one.text for one in zxingcpp.read_barcodes(np.array(picture))]


@pytest.mark.parametrize(
    ("given", "heads"),
    [
        (["carrier", "Pallet 2"], ["Pallet 2"]),
        (["carrier", "pallet", "2"], ["Pallet 2"]),
        (["load", "B0001", "1"], ["B0001 load 1"]),
        (["load", "B0001"], ["B0001 load 1"]),
        (["box", "B0001"], ["KB-7 A"]),
        (["person", "ll"], ["LL"]),
        (["gauge"], ["DM-04"]),
    ],
)
def test_a_tag_is_printed_as_text(shop: Path, capsys: Capture, given: list[str], heads: list[str]) -> None:
    assert main(["tag", *given]) == Exit.FINE
    pages = capsys.readouterr().out.split("\f")
    assert [page.splitlines()[1] for page in pages] == heads
    assert all("█" in page and "%" in page for page in pages)


def test_all_of_a_kind_are_pages(shop: Path, capsys: Capture) -> None:
    assert main(["tag", "tool"]) == Exit.FINE
    assert len(capsys.readouterr().out.split("\f")) == len(part().tools)


@pytest.mark.parametrize(
    ("given", "status", "said"),
    [
        (["gauge", "ZZ"], Exit.WRONG, "there is no gauge ZZ"),
        (["load"], Exit.WRONG, "name the batch of the load, as floor tag load B0007"),
        (["load", "B0099"], Exit.WRONG, "Open: B0001"),
        (["load", "B0001", "7"], Exit.WRONG, "there is no load B0001 7"),
        (["lot"], Exit.WRONG, "there is no lot yet: record one on a walk first"),
        (["tool", "1"], Exit.WRONG, "there is no tool 1; there are: mill 1, mill 2"),
        (["gauge", "--code", "128"], Exit.USAGE, "bars do not fit in text"),
        (["carrier", "--as", "svg"], Exit.WRONG, "are not one picture; name one, or add --keep"),
        (["gauge", "--print"], Exit.CANNOT, 'no printer is named; write print = "lp" in'),
    ],
)
def test_what_cannot_be_is_one_sentence(shop: Path, capsys: Capture, given: list[str], status: Exit, said: str) -> None:
    assert main(["tag", *given]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err


@pytest.mark.parametrize("code", ["qr", "128"])
def test_a_picture_goes_to_standard_output(shop: Path, capsysbinary: pytest.CaptureFixture[bytes], code: str) -> None:
    assert main(["tag", "gauge", "DM-04", "--as", "png", "--code", code]) == Exit.FINE
    [text] = read(capsysbinary.readouterr().out)
    assert text.startswith("%G%DM-04%")
    assert main(["tag", "gauge", "DM-04", "--as", "svg", "--code", code]) == Exit.FINE
    assert capsysbinary.readouterr().out.startswith(b"<svg ")


def test_pictures_are_kept(shop: Path, capsys: Capture) -> None:
    assert main(["tag", "person", "--keep"]) == Exit.FINE
    paths = [shop / "papers" / name for name in ("tag-person-ll.svg", "tag-person-ll.png")]
    assert capsys.readouterr().out.splitlines() == list(map(str, paths))
    assert read(paths[1].read_bytes())[0].startswith("%P%LL%")


def test_each_tag_is_a_job_of_the_label_printer(shop: Path, tmp_path: Path) -> None:
    name_printer(shop, tmp_path / "jobs")
    assert main(["tag", "carrier", "--print"]) == Exit.FINE
    jobs = sorted((tmp_path / "jobs").iterdir(), key=lambda one: int(one.name))
    assert len(jobs) == sum(kind.count for kind in part().carriers)
    assert read(jobs[0].read_bytes())[0].startswith("%C%")


def test_where_there_are_no_half_blocks_the_code_is_ascii(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii", errors="strict")
    monkeypatch.setattr(sys, "stdout", out)
    assert main(["tag", "person", "LL"]) == Exit.FINE
    out.flush()
    lines = out.buffer.getvalue().decode("ascii").splitlines()  # type: ignore[attr-defined]
    code = [[sign == "#" for sign in line.ljust(200)[::2]] for line in lines if set(line) <= {"#", " "}]
    picture = np.where(np.kron(np.array(code), np.ones((3, 3), dtype=bool)), 0, 255).astype(np.uint8)
    assert [one.text for one in zxingcpp.read_barcodes(picture)][0].startswith("%P%LL%")


def test_a_shop_without_people_has_no_tags(tmp_path: Path, capsys: Capture) -> None:
    Shop(tmp_path / "new").close()
    assert main(["tag", "person", "--shop", str(tmp_path / "new")]) == Exit.WRONG
    assert "there is no person" in capsys.readouterr().err


@pytest.mark.parametrize("pieces", ["20", "-3", "0"])
def test_a_box_holds_no_more_than_is_finished(shop: Path, capsys: Capture, pieces: str) -> None:
    assert main(["tag", "box", "B0001", f"--pieces={pieces}"]) != Exit.FINE
    assert f"holds no finished piece yet, not {pieces}" in " ".join(capsys.readouterr().err.split())
