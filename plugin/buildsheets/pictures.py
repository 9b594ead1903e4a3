"""Pictures of a record, made fit to publish: capped in size, turned upright, without the camera's notes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL.Image import Image

LONGEST_SIDE = 1400
"""Pixels; a picture 160 mm wide on paper then has some 220 to the inch."""
MOST_PIXELS = 60_000_000
"""More is no photograph of a workbench but a trap for the reader's memory."""
MOST_BYTES = 40_000_000
SAVED: dict[str, dict[str, Any]] = {"JPEG": {"quality": 82, "optimize": True}, "PNG": {"optimize": True}, "WEBP": {"quality": 82}}
"""What browsers show and what holds no script, with how it is saved."""


ENDINGS = {"JPEG": (".jpg", ".jpeg"), "PNG": (".png",), "WEBP": (".webp",)}
"""How a file of each kind may be named. By any other name a server might hand it out as a page, pixels and all."""
OF_A_SHEET = (".csv", ".html", ".json", ".pdf", ".svg")
"""Endings of the files beside a sheet, whose names no folder of pictures may take."""


class PictureError(ValueError):
    """What is wrong with a picture, in a sentence that can stand on a sheet."""


@dataclass(frozen=True)
class Picture:
    """A picture ready to publish."""

    data: bytes
    width: int
    height: int


def published_picture(library: Path, file: str) -> Picture:
    """Return a picture of the library, upright, at most `LONGEST_SIDE` pixels long, without embedded notes.

    Parameters
    ----------
    library : Path
        Folder of the records.
    file : str
        Path inside it.

    Raises
    ------
    PictureError
        If there is no such file inside the library, or it is no picture that a browser shows.
    """
    import PIL.ImageOps

    with _opened(library, file) as opened:
        kind = opened.format or ""
        upright = PIL.ImageOps.exif_transpose(opened)
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        plain = _colours(upright, kind)
    out = BytesIO()
    plain.save(out, kind, **SAVED[kind])
    return Picture(out.getvalue(), *plain.size)


def picture_fault(library: Path, file: str) -> str | None:
    """Return what keeps a picture from being published, or None; quicker than making it fit to publish.

    Parameters
    ----------
    library : Path
        Folder of the records.
    file : str
        Path inside it.
    """
    try:
        with _opened(library, file) as opened:
            opened.draft(None, (1, 1))  # a photograph is unpacked at an eighth of its size
            opened.load()
    except PictureError as problem:
        return str(problem)
    return None


@contextmanager
def _opened(library: Path, file: str) -> Iterator[Image]:
    """Open a picture of a kind that browsers show; whatever is wrong with it is a `PictureError`."""
    path = _inside(library, file)
    # the drawing library brings this one along; start-up of the other commands does without it
    import PIL.Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", PIL.Image.DecompressionBombWarning)
            opened = PIL.Image.open(BytesIO(path.read_bytes()))
        with opened:
            kind, (width, height) = opened.format or "", opened.size
            if kind not in SAVED:
                raise PictureError(f"{file} is {kind or 'no picture'}; save it as JPEG or PNG")
            if not file.lower().endswith(ENDINGS[kind]):
                raise PictureError(f"{file} holds a picture of the kind {kind}; let its name end in {ENDINGS[kind][0]}")
            if width * height > MOST_PIXELS:
                raise PictureError(f"{file} has {width} × {height} pixels; make it smaller")
            yield opened
    except (PIL.Image.DecompressionBombError, PIL.Image.DecompressionBombWarning):
        raise PictureError(f"{file} has too many pixels; make it smaller") from None
    except (OSError, SyntaxError, ValueError) as problem:
        if isinstance(problem, PictureError):
            raise
        raise PictureError(f"{file} cannot be read as a picture; save it again as JPEG or PNG") from None


def _inside(library: Path, file: str) -> Path:
    """Return the file; a link that leads out of the library would publish what the club never meant to."""
    if any(folder.lower().endswith(OF_A_SHEET) for folder in file.split("/")[:-1]):
        raise PictureError(f"{file} lies in a folder that is named like a file of the sheet; rename the folder")
    root = library.resolve()
    try:
        path = (root / file).resolve(strict=True)
    except (OSError, RuntimeError):
        raise PictureError(f"{file} is not in the library") from None
    if not path.is_relative_to(root) or not path.is_file():
        raise PictureError(f"{file} is not in the library")
    if path.stat().st_size > MOST_BYTES:
        raise PictureError(f"{file} has more than {MOST_BYTES // 1_000_000} MB; make it smaller")
    return path


def _colours(image: Image, kind: str) -> Image:
    """Return a copy that carries pixels and nothing else: no place, no time, no name of a camera."""
    wanted = "RGB" if kind == "JPEG" or image.mode not in ("1", "L", "LA", "P", "RGB", "RGBA") else image.mode
    converted = image.convert("RGBA" if wanted in ("P", "LA") else wanted)
    bare = converted.copy()
    bare.info = {}
    return bare
