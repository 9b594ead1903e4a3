"""Pictures are published small, upright and without the camera's notes."""

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from buildsheets.pages import sheet_pages
from buildsheets.pictures import LONGEST_SIDE, PictureError, published_picture
from buildsheets.records.library import load_library
from buildsheets.settings import Settings
from buildsheets.workbook import Workbook

MAKE, ORIENTATION, PLACE = 0x010F, 0x0112, 0x8825  # tags of the Exif standard (CIPA DC-008), from memory


def photograph(path: Path, size: tuple[int, int] = (300, 200), kind: str = "JPEG") -> Path:
    notes = Image.Exif()
    notes[MAKE] = "a camera"
    notes[ORIENTATION] = 6  # turn a quarter clockwise to see it upright
    notes.get_ifd(PLACE)[1] = "N"
    Image.new("RGB", size, "grey").save(path, kind, exif=notes)
    assert b"a camera" in path.read_bytes()
    return path


@pytest.mark.parametrize(("name", "kind"), [("a.jpg", "JPEG"), ("a.png", "PNG"), ("a.webp", "WEBP")])
def test_notes_are_gone_and_the_picture_is_upright(tmp_path, name, kind):
    photograph(tmp_path / name, kind=kind)
    made = published_picture(tmp_path, name)
    assert (made.width, made.height) == (200, 300)
    shown = Image.open(BytesIO(made.data))
    assert (shown.size, shown.format) == ((200, 300), kind)
    assert not dict(shown.getexif())
    assert b"a camera" not in made.data


def test_size_is_capped_and_shape_kept(tmp_path):
    photograph(tmp_path / "a.jpg", (4000, 1000))
    made = published_picture(tmp_path, "a.jpg")
    assert (made.width, made.height) == (LONGEST_SIDE // 4, LONGEST_SIDE)


def test_same_picture_gives_the_same_bytes(tmp_path):
    photograph(tmp_path / "a.jpg")
    assert published_picture(tmp_path, "a.jpg") == published_picture(tmp_path, "a.jpg")


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
def test_every_colour_mode_can_be_published(tmp_path, mode):
    name = "a.jpg" if mode == "CMYK" else "a.png"
    Image.new(mode, (20, 10)).save(tmp_path / name)
    assert published_picture(tmp_path, name).width == 20


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "cannot be read"),
        ("a.png", b"\x89PNG\r\n\x1a\n broken", "cannot be read"),
        ("a.jpg", b"", "cannot be read"),
    ],
)
def test_what_is_no_picture_is_refused(tmp_path, name, content, words):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(PictureError, match=words):
        published_picture(tmp_path, name)


def test_other_formats_are_refused_with_advice(tmp_path):
    Image.new("RGB", (4, 4)).save(tmp_path / "a.gif")
    with pytest.raises(PictureError, match=r"a\.gif is GIF; save it as JPEG or PNG"):
        published_picture(tmp_path, "a.gif")


def test_what_lies_outside_the_library_is_refused(tmp_path):
    inside = tmp_path / "builds"
    inside.mkdir()
    photograph(tmp_path / "secret.jpg")
    (inside / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    for name in ("link.jpg", "../secret.jpg", "missing.jpg", "."):
        with pytest.raises(PictureError, match="not in the library"):
            published_picture(inside, name)


@pytest.mark.parametrize("limit", ["buildsheets.pictures.MOST_PIXELS", "PIL.Image.MAX_IMAGE_PIXELS"])
@pytest.mark.parametrize("pixels", [100, 40_000])
def test_giant_pictures_are_refused_before_they_are_unpacked(tmp_path, monkeypatch, limit, pixels):
    photograph(tmp_path / "a.jpg")
    monkeypatch.setattr(limit, pixels)
    with pytest.raises(PictureError, match="make it smaller"):
        published_picture(tmp_path, "a.jpg")


RECORD = """\
format: 1
title: Tank
status: planned
pictures: [{file: pictures/cradle.jpg, shows: "The <new> cradle", step: motor}]
steps: [{at: motor, do: "Shim it *gently*. <script>alert(1)</script>"}]
"""


def sheet(library: Path):
    found = load_library(library)
    assert found.problems == []
    book = Workbook()
    return book, found, sheet_pages(found, Settings(), book)[0]


def club(folder: Path) -> Path:
    (folder / "pictures").mkdir()
    photograph(folder / "pictures" / "cradle.jpg")
    (folder / "tank.yml").write_text(RECORD, encoding="utf-8")
    return folder


def test_picture_stands_beside_its_step_and_its_file_beside_the_page(tmp_path):
    page = sheet(club(tmp_path))[2]
    assert page.faults == []
    assert Image.open(BytesIO(page.fetch()["pictures/cradle.jpg"])).size == (200, 300)
    body = page.body(page.fetch())
    assert 'src="pictures/cradle.jpg" alt="The &lt;new&gt; cradle" width="200" height="300"' in body
    assert "Shim it <em>gently</em>." in body
    assert "<script>" not in body


def test_picture_that_cannot_be_read_is_told_with_its_place(tmp_path):
    (club(tmp_path) / "pictures" / "cradle.jpg").write_bytes(b"no picture")
    page = sheet(tmp_path)[2]
    assert [(fault.line, "cannot be read" in fault.message) for fault in page.faults] == [(4, True)]
    assert "cannot be read as a picture" in page.body(page.fetch())
    assert "pictures/cradle.jpg" not in page.fetch()


def test_another_picture_of_the_same_name_is_taken_up(tmp_path):
    book, _found, page = sheet(club(tmp_path))
    before = page.fetch()
    photograph(tmp_path / "pictures" / "cradle.jpg", (400, 100))
    again = sheet_pages(load_library(tmp_path), Settings(), book)[0]
    assert again.fetch()["pictures/cradle.jpg"] != before["pictures/cradle.jpg"]
    assert 'width="100" height="400"' in again.body(again.fetch())
