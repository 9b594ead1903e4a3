"""Pictures are published small, upright and without the camera's notes."""

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from buildsheets.pictures import LONGEST_SIDE, PictureError, published_picture

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
