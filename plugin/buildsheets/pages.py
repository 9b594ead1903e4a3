"""The pages of a library, put together without any site generator: both entry points publish these."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.assets import CHOSEN_SCRIPTS, LIBRARY_STYLE, STYLE, THEME
from buildsheets.cache import Cache, key_of, packed, program_print
from buildsheets.edition import BODY, BODY_MARKER, EXTRAS, ClubPage, Edition, Layout, SheetPage, forwarding_page
from buildsheets.languages import _, noted
from buildsheets.library.feed import Place, atom_feed, json_feed
from buildsheets.library.index import render_index
from buildsheets.library.keeping import Passages
from buildsheets.library.pairs import pairs
from buildsheets.library.preview import library_preview, library_preview_words, library_words
from buildsheets.library.render import render_compare, render_pairs, render_part, render_parts, render_shopping
from buildsheets.library.rows import library_csv, library_json, library_row
from buildsheets.library.shopping import shopping_csv, shopping_list
from buildsheets.library.used import StockPage, stock_pages
from buildsheets.records.files import prints_of
from buildsheets.records.library import BrokenBuild, LibraryRecords, load_library
from buildsheets.records.reference import field_reference
from buildsheets.records.schema import record_schema, stock_schema
from buildsheets.settings import Settings
from buildsheets.sheet import preview as previews
from buildsheets.sheet import render_broken
from buildsheets.sheet.prose import plain
from buildsheets.workbook import Failed, Sheet, Workbook

if TYPE_CHECKING:
    from buildsheets.figures.format import Figures

FIELD_REFERENCE = "field-reference.md"
STILL_TO_BUY = ("planned", "on the bench")
"""Status of builds whose parts the club's shopping list sums up."""
CONTENTS = noted("{sheets}: speed, first step, heat, cost and outcome of each.")
PARTS = noted("The parts of the club’s stock and the builds that use them.")
PART = noted("{part}: its data, and the builds that use it.")
TOGETHER = noted("Which locomotives of the library run alike and can share a train, and with which decoder settings.")
COMPARE = noted("Two to four builds of the library side by side: figures and speed curves.")
SHOPPING = noted("The parts that planned and started builds need, or those of any builds, summed up.")
BROKEN = noted("This record has a problem.")
"""Descriptions of pages, as searching machines print them below a title."""


def make_edition(
    folder: Path, prints: Mapping[str, str | None], settings: Settings, workbook: Workbook, layout: Layout
) -> Edition:
    """Return all that a library publishes; only what has changed is read and made.

    Parameters
    ----------
    folder : Path
        Folder of the records.
    prints : mapping of str to str or None
        What its files held, from `prints_of`, before any was read.
    settings : Settings
        The club's choices.
    workbook : Workbook
        Keeps what was finished before.
    layout : Layout
        Addresses as seen from the list.
    """
    known = workbook.known(folder, prints, settings)
    library = load_library(folder, {name: sheet.card.formerly for name, sheet in known.items()})
    settled = prints_of(folder) == prints  # a file that was changed while it was read is not what its hash says
    read = {build.path.name for build in library.builds} | {build.path.name for build in library.broken.values()}
    pages = sheet_pages(library, settings, workbook, [sheet for name, sheet in known.items() if name not in read])
    if settled:
        workbook.remember([page.sheet for page in pages if page.sheet and page.sheet.path.name in read], prints, settings)
    passages = Passages(workbook.cache, settings)
    club = club_pages(library, pages, settings, layout, passages)
    passages.keep()
    del passages  # megabytes, in a large library
    with settings.sheet.language.spoken():
        preview = library_preview_words(_figures(pages), _title(settings)) if settings.sheet.address else ""
    return Edition(pages, club, library_files(pages, settings), _extras(workbook.cache), library.problems, preview)


def _extras(cache: Cache) -> Mapping[str, bytes]:
    """Return what is told of the format of records; it changes with the program only."""
    key = key_of(program_print())
    entry = cache.read(EXTRAS, key)
    if entry is not None:
        return entry.pieces
    extras = {
        FIELD_REFERENCE: field_reference().encode("utf-8"),
        "schema/record.json": _json(record_schema()),
        "schema/stock.json": _json(stock_schema()),
    }
    cache.write(EXTRAS, key, packed({}, extras))
    return extras


def sheet_pages(
    library: LibraryRecords, settings: Settings, workbook: Workbook, known: Iterable[Sheet] = ()
) -> list[SheetPage]:
    """Return a page for every record, broken ones too, in the order of their slugs.

    Parameters
    ----------
    library : LibraryRecords
        All records of the folder that were read; its builds are taken out.
    settings : Settings
        The club's choices.
    workbook : Workbook
        Keeps what has been worked out before.
    known : iterable of Sheet
        Sheets of records that were not read again.
    """
    pages = [_broken(build, settings) for build in library.broken.values()]
    for done in (*known, *workbook.finish(library.builds, settings)):
        if isinstance(done, Failed):
            build = done.build
            page = _broken(BrokenBuild(build.slug, build.path, build.record.title, [done.problem]), settings)
            pages.append(replace(page, faults=[done.problem], formerly=build.record.formerly))
        else:
            pages.append(_page(done, settings, workbook))
    with settings.sheet.language.spoken():
        return sorted(map(_forwarded, pages), key=lambda page: page.slug)


def _forwarded(page: SheetPage) -> SheetPage:
    """Return a page with what stands at its old addresses, all of them beside its own."""
    return replace(page, moved=forwarding_page(page.title, f"../{page.slug}/index.html")) if page.formerly else page


def _page(sheet: Sheet, settings: Settings, workbook: Workbook) -> SheetPage:
    card = sheet.card
    return SheetPage(
        sheet.slug,
        card.title,
        card.description,
        sheet.path.name,
        card.markdown,
        partial(workbook.pieces, sheet.path, sheet.key, settings),
        formerly=card.formerly,
        changed=card.changed,
        preview=card.preview,
        key=sheet.key,
        pictures=card.pictures,
        sheet=sheet,
        faults=list(sheet.unshown),
    )


def _broken(build: BrokenBuild, settings: Settings) -> SheetPage:
    title = build.title or build.slug
    body = render_broken(build.slug, title, build.problems, settings.sheet.language).encode("utf-8")
    with settings.sheet.language.spoken():
        description = _(BROKEN)
    return SheetPage(
        slug=build.slug,
        title=title,
        description=description,
        source=build.path.name,
        markdown=f"# {plain(title)}\n\n{BODY_MARKER}\n",
        fetch=lambda *wanted: {BODY: body},
        problems=build.problems,
    )


def write_pages(library: LibraryRecords, settings: Settings, folder: Path, workbook: Workbook | None = None) -> list[Path]:
    """Write every page as plain Markdown with its drawings and data beside it; return the paths written.

    Parameters
    ----------
    library : LibraryRecords
        All records; a sheet that could not be worked out is added to its problems.
    settings : Settings
        The club's choices.
    folder : Path
        Where to; made if absent. Files of the same name are replaced.
    workbook : Workbook, optional
        Keeps what has been worked out before.
    """
    pages = sheet_pages(library, settings, workbook or Workbook())
    library.problems += [fault for page in pages for fault in page.faults]
    written = []
    for page in pages:
        home = folder / page.slug
        pieces = page.fetch()
        written.append(_write(home / "index.md", _plain(page.markdown, page.body(pieces), "../")))
        written += [_write(home / name, data) for name, data in page.files(pieces).items()]
        written += [_write(folder / old / "index.html", page.moved) for old in page.formerly]
    for club_page in club_pages(library, pages, settings, Layout("{slug}/")):
        up = "../" * (club_page.folder.count("/") + 1 if club_page.folder else 0)
        written.append(_write(folder / club_page.folder / "index.md", _plain(club_page.markdown, club_page.body, up)))
    written += [_write(folder / name, data) for name, data in library_files(pages, settings).items()]
    return [*written, *(_write(folder / style, (THEME / style).read_bytes()) for style in (STYLE, LIBRARY_STYLE, *CHOSEN_SCRIPTS))]


def club_pages(
    library: LibraryRecords, pages: Sequence[SheetPage], settings: Settings, layout: Layout, passages: Passages | None = None
) -> list[ClubPage]:
    """Return the pages that span builds: the list, all stock parts, each of them, and which locomotives run together.

    Parameters
    ----------
    library : LibraryRecords
        All records and the stock.
    pages : sequence of SheetPage
        The sheets; of those whose record cannot be read only the list tells.
    settings : Settings
        The club's choices.
    layout : Layout
        Addresses as seen from the list.
    passages : Passages, optional
        What stood on these pages the last time.
    """
    good = [page.sheet for page in pages if page.sheet is not None]
    figures = {sheet.slug: sheet.figures for sheet in good}
    stock = stock_pages(library.shelf, {sheet.slug: sheet.card.uses for sheet in good}, figures)
    with settings.sheet.language.spoken():
        return _club_pages(pages, settings, layout, stock, figures, passages or Passages())


def _club_pages(
    pages: Sequence[SheetPage],
    settings: Settings,
    layout: Layout,
    stock: Sequence[StockPage],
    figures: Mapping[str, Figures],
    passages: Passages,
) -> list[ClubPage]:
    ending = "index.html" if layout.sheet.endswith(".html") else ""
    unit, href, deeper, every = settings.sheet.speed_unit, "../{slug}/" + ending, "../../{slug}/" + ending, list(figures.values())
    scripts = settings.style.removesuffix(Path(STYLE).name)  # these pages lie as deep as a sheet
    made_of = {page.slug: page.key for page in pages}
    together = render_pairs(pairs(every), figures, href, unit, made_of, passages)
    of_parts = [(part, render_part(part, deeper, unit, passages)) for part in stock]
    return [
        _club_page("", _("The library"), index_body(pages, settings, layout, passages), _(CONTENTS, sheets=library_words(every))),
        _club_page("parts", _("The parts"), render_parts(stock, ending), _(PARTS)),
        *(_club_page(f"parts/{part.name}", part.title, body, _(PART, part=part.title)) for part, body in of_parts),
        _club_page("together", _("Running together"), together, _(TOGETHER)),
        _club_page("compare", _("Compare builds"), render_compare(every, href, scripts, unit), _(COMPARE)),
        _club_page("shopping", _("Shopping list"), render_shopping(every, STILL_TO_BUY, href, scripts), _(SHOPPING)),
    ]


def _club_page(folder: str, title: str, body: str, description: str) -> ClubPage:
    return ClubPage(folder, title, f"# {plain(title)}\n\n{BODY_MARKER}\n", body.encode("utf-8"), description)


def library_files(pages: Iterable[SheetPage], settings: Settings) -> dict[str, bytes]:
    """Return the data of the whole library, to be published beside its list; a feed where the site has an address.

    Parameters
    ----------
    pages : iterable of SheetPage
        All of them; those whose record cannot be read are left out.
    settings : Settings
        The club's choices.
    """
    every = _figures(pages)
    rows = [library_row(figures) for figures in every]
    wanted = shopping_list([figures for figures in every if figures["head"]["status"] in STILL_TO_BUY])
    files = {
        "library.json": library_json(rows),
        "library.csv": library_csv(rows),
        "shopping.csv": shopping_csv(wanted),
    }
    home, name, rest = settings.sheet.address.partition("{slug}")
    if name:
        with settings.sheet.language.spoken():
            place = Place(home, name + rest, _title(settings))
            files[place.feed] = atom_feed(every, place)
            files[place.json_feed] = json_feed(every, place)
            files[previews.FILE] = library_preview(every, settings.sheet.speed_unit, place.title)
    return files


def _figures(pages: Iterable[SheetPage]) -> list[Figures]:
    return [page.sheet.figures for page in pages if page.sheet is not None]


def _title(settings: Settings) -> str:
    return settings.sheet.club or _("The library")


def index_body(pages: Iterable[SheetPage], settings: Settings, layout: Layout, passages: Passages | None = None) -> str:
    """Return the HTML list of all sheets.

    Parameters
    ----------
    pages : iterable of SheetPage
        All of them.
    settings : Settings
        The club's choices.
    layout : Layout
        Addresses as seen from the list.
    passages : Passages, optional
        Its lines of the last time.
    """
    every = list(pages)
    good = [page.sheet.figures for page in every if page.sheet is not None]
    broken = [(page.slug, page.title, page.problems) for page in every if page.sheet is None]
    made_of = {page.slug: page.key for page in every}
    feed = bool(settings.sheet.address)
    return render_index(
        good, broken, settings.sheet.speed_unit, layout.sheet, layout.data, feed=feed, made_of=made_of, passages=passages
    )


def _plain(markdown: str, body: str, up: str) -> str:
    """Markdown with the body in place, without empty lines: CommonMark ends a block of HTML at the first."""
    dense = "\n".join(line for line in body.splitlines() if line.strip())
    styles = "\n".join(f'<link rel="stylesheet" href="{up}{style}">' for style in (STYLE, LIBRARY_STYLE))
    return markdown.replace(BODY_MARKER, f"<div>\n{styles}\n{dense}\n</div>")


def _write(path: Path, content: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def _json(value: object) -> bytes:
    # bytes, because text would get the machine's own line ends
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8")
