"""One sheet from its record to all that is published of it. Many can be made side by side, each in any process."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from buildsheets.cache import packed
from buildsheets.cards import Card, picture_stamps
from buildsheets.edition import BODY, CARD
from buildsheets.figures import to_json, work_out
from buildsheets.figures.thin import thin
from buildsheets.library.beside import FILE as BESIDE
from buildsheets.library.beside import beside
from buildsheets.library.feed import changed_on
from buildsheets.library.shopping import shopping_csv, shopping_list
from buildsheets.library.used import uses_of
from buildsheets.pictures import PictureError, published_picture
from buildsheets.sheet import ShownPicture, data_files, draw, render_prose, render_sheet, render_short
from buildsheets.sheet import preview as previews

if TYPE_CHECKING:
    from buildsheets.records.library import Build
    from buildsheets.settings import Settings

SHORT = "short.html"


def finished(build: Build, settings: Settings) -> bytes:
    """Work out a build, draw and render it, and return all of it as one packed entry of the cache.

    Its data is a `Card`. Its pieces are the body of the page, the figures that other pages want, and every file that is
    published beside the page.

    Parameters
    ----------
    build : Build
        A valid record.
    settings : Settings
        The club's choices.
    """
    stamps = picture_stamps(build)  # before they are read: one that is replaced meanwhile is another next time
    figures = work_out(build, settings.for_figures())
    shown, pictures = _pictures(build)
    with settings.sheet.language.spoken():
        gallery = draw(figures, settings.sheet.speed_unit)
        told_beside = beside(figures, settings.sheet.speed_unit)
    text = to_json(figures)
    pieces = {
        CARD: json.dumps(thin(json.loads(text)), ensure_ascii=False, separators=(",", ":")).encode("utf-8"),
        BODY: render_sheet(figures, settings.sheet, shown, gallery).encode("utf-8"),
        SHORT: render_short(figures, settings.sheet, settings.style).encode("utf-8"),
        "figures.json": text.encode("utf-8"),
        BESIDE: told_beside,
        **data_files(figures, gallery),
        **pictures,
    }
    if figures["parts"]:
        pieces["shopping.csv"] = shopping_csv(shopping_list([figures]))
    preview = ""
    if settings.sheet.address:  # without one nobody can pass it on
        with settings.sheet.language.spoken():
            preview = previews.preview_words(figures, settings.sheet.speed_unit)
            pieces[previews.FILE] = previews.preview(figures, settings.sheet.speed_unit, settings.sheet.club)
    card = Card(
        title=figures["title"],
        description=figures["head"]["summary"] or figures["title"],
        markdown=render_prose(figures, settings.sheet.language),
        formerly=figures["head"]["formerly"],
        unshown={file: picture.problem for file, picture in shown.items() if picture.problem},
        pictures=stamps,
        uses=uses_of(build),
        changed=changed_on(figures),
        preview=preview,
    )
    return packed(card.as_data(), pieces)


def _pictures(build: Build) -> tuple[dict[str, ShownPicture], dict[str, bytes]]:
    """Make a record's pictures fit to publish: how each is shown, and the files."""
    shown, files = {}, {}
    for file in dict.fromkeys(picture.file for picture in build.record.pictures):
        try:
            picture = published_picture(build.path.parent, file)
        except PictureError as problem:
            shown[file] = ShownPicture(problem=str(problem))
        else:
            shown[file], files[file] = ShownPicture(picture.width, picture.height), picture.data
    return shown, files
