"""The site generator's events, and nothing else: what a page holds is decided in `pages`."""

from __future__ import annotations

import html
import json
from pathlib import Path
from typing import Literal, cast

from mkdocs.config import config_options as c
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page
from mkdocs.utils import get_relative_url

from buildsheets import pages
from buildsheets.figures.ways.options import WaysOptions
from buildsheets.records.library import LibraryRecords, load_library
from buildsheets.records.quantities import QuantityError
from buildsheets.records.reference import field_reference
from buildsheets.records.schema import record_schema, stock_schema
from buildsheets.sheet import BODY_MARKER, SheetOptions
from buildsheets.sheet.options import PAPERS, SPEED_UNITS

log = get_plugin_logger(__name__)

FIELD_REFERENCE = "field-reference.md"


class Options(Config):  # type: ignore[no-untyped-call]
    """What a club may write under `buildsheets` in mkdocs.yml."""

    builds = c.Dir(exists=True, default="builds")
    index = c.Type(str, default="builds/index.md")
    run_length = c.Type((str, int, float), default="1 m")
    currency = c.Optional(c.Type(str))
    club = c.Type(str, default="")
    speed_unit = c.Choice(SPEED_UNITS, default="mph")
    paper = c.Choice(PAPERS, default="A4")
    pdf = c.Type(bool, default=False)
    ways = c.Type(dict, default={})


class BuildsheetsPlugin(BasePlugin[Options]):  # type: ignore[no-untyped-call]
    """Publishes one sheet per record and the library's index."""

    def __init__(self) -> None:
        self.workbook = pages.Workbook()
        self.settings = pages.Settings()
        self.library: LibraryRecords | None = None
        self.sheets: dict[str, pages.SheetPage] = {}  # by src_uri
        self.club: dict[str, pages.ClubPage] = {}  # by src_uri
        self.serving = False

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Start the workbook; that this event exists makes the object outlive each rebuild of `serve`."""
        self.serving = command == "serve"
        self.workbook = pages.Workbook()

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Publish our style, watch the records, and read the options that need more than a type."""
        try:
            length = pages.run_length(cast("str | float", self.config.run_length))
        except QuantityError as problem:
            raise PluginError(f"buildsheets: run_length: {problem}") from None
        options = SheetOptions(
            self.config.speed_unit, self.config.paper, self.config.club, address=self._address(config), pdf=self._prints()
        )
        try:
            ways = WaysOptions.written(self.config.ways)
        except ValueError as problem:
            raise PluginError(f"buildsheets: ways: {problem}") from None
        self.settings = pages.Settings(length, self.config.currency, options, ways)
        # a site's own overrides stand first and still win
        config.theme.dirs.insert(1 if config.theme.custom_dir else 0, str(pages.THEME))
        config.extra_css[:0] = [pages.STYLE, pages.LIBRARY_STYLE]
        config.extra_javascript += [pages.SCRIPT, pages.LIBRARY_SCRIPT]
        config.watch.append(self.config.builds)
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Read every record before the old site is emptied; a problem is a warning, so `--strict` fails."""
        self.library = load_library(Path(self.config.builds))
        for problem in self.library.problems:
            log.warning(str(problem))

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add the sheets, their data, the index, the schemas and the field reference."""
        assert self.library is not None
        made = pages.sheet_pages(self.library, self.settings, self.workbook)
        for page in made:
            for fault in page.faults:
                log.warning(str(fault))
        self.sheets = {self._sheet_uri(page.slug): page for page in made}
        self._add(files, config, self.config.index, pages.index_markdown())
        for name, data in pages.library_files(made, self.settings).items():
            self._add(files, config, self._beside_index(name), data)
        club = pages.club_pages(self.library, made, self.settings)
        self.club = {self._beside_index(f"{page.folder}/index.md"): page for page in club}
        for uri, club_page in self.club.items():
            self._add(files, config, uri, club_page.markdown).inclusion = InclusionLevel.NOT_IN_NAV
        for uri, page in self.sheets.items():
            self._add_sheet(files, config, uri, page)
        self._add(files, config, FIELD_REFERENCE, field_reference())
        self._add(files, config, "schema/record.json", _json(record_schema()))
        self._add(files, config, "schema/stock.json", _json(stock_schema()))
        return files

    def on_page_markdown(self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Give a sheet its title and description; the theme's templates do not escape them."""
        sheet = self.sheets.get(page.file.src_uri)
        if sheet is not None:
            page.meta.update(title=html.escape(sheet.title), description=html.escape(sheet.description))
            page.meta["hide"] = ["toc"]  # a sheet has its own contents, and wants the width
            if sheet.figures is None:
                page.meta["search"] = {"exclude": True}
        elif page.file.src_uri in self.club:
            page.meta.update(title=html.escape(self.club[page.file.src_uri].title), hide=["toc"])
        elif page.file.src_uri == self.config.index:
            page.meta.setdefault("hide", ["toc", "navigation"])  # one table, which wants the width
        return markdown

    def on_post_page(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:
        """Put the body in after Markdown and search have done their work, one page at a time."""
        if page.file.src_uri == self.config.index:
            data = get_relative_url(self._beside_index(""), page.url).rstrip("/") + "/"
            return output.replace(BODY_MARKER, pages.index_body(self.sheets.values(), self.settings, self._href(page), data), 1)
        club_page = self.club.get(page.file.src_uri)
        if club_page is not None:
            return output.replace(BODY_MARKER, club_page.make_body(self._href(page)), 1)
        sheet = self.sheets.get(page.file.src_uri)
        return output if sheet is None else output.replace(BODY_MARKER, sheet.make_body(), 1)

    def _href(self, page: Page) -> str:
        """Return the address of a sheet as seen from a page, with its name left open."""
        return get_relative_url(self._sheet_uri("{slug}", "html"), page.url)

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Print the finished sheets where the site asks for it."""
        if self.settings.sheet.pdf:
            from buildsheets import pdf

            for problem in pdf.print_jobs(pdf.jobs_of(Path(config.site_dir)), self.config.paper):
                log.warning(problem)

    def _prints(self) -> bool:
        """Whether PDFs will be made; if they were asked for and cannot be, say so once and go on without."""
        if not self.config.pdf or self.serving:
            return False
        from buildsheets import pdf

        lacks = pdf.what_lacks()
        if lacks is not None:
            log.info(f"the sheets are published without PDFs: {lacks}")
        return lacks is None

    def _add_sheet(self, files: Files, config: MkDocsConfig, uri: str, page: pages.SheetPage) -> None:
        file = self._add(files, config, uri, page.markdown)
        file.inclusion = InclusionLevel.NOT_IN_NAV
        file.edit_uri = f"../{Path(self.config.builds).name}/{page.source.name}"
        home = uri.removesuffix("index.md")
        for name, data in page.files.items():
            self._add(files, config, home + name, data)
        if page.make_short is not None:
            short = page.make_short(get_relative_url(pages.STYLE, home + pages.SHORT))
            self._add(files, config, home + pages.SHORT, short.encode("utf-8"))
        moved = pages.forwarding_page(page.title, f"../{page.slug}/index.html").encode("utf-8")
        for old in page.formerly:
            self._add(files, config, self._sheet_uri(old, "html"), moved)

    def _address(self, config: MkDocsConfig) -> str:
        """Return where a sheet will be found, with its name left open; none while the site only runs on this machine."""
        if not config.site_url or self.serving:
            return ""
        place = self._sheet_uri("{slug}", "html")
        return config.site_url.rstrip("/") + "/" + (place.removesuffix("index.html") if config.use_directory_urls else place)

    def _sheet_uri(self, slug: str, ending: str = "md") -> str:
        """Return the place of a sheet, beside the index; it is the same whatever the site's URL style."""
        return self._beside_index(f"{slug}/index.{ending}")

    def _beside_index(self, name: str) -> str:
        """Return the place of a file in the folder of the index."""
        return f"{self.config.index.rpartition('/')[0]}/{name}".lstrip("/")

    @staticmethod
    def _add(files: Files, config: MkDocsConfig, uri: str, content: str | bytes) -> File:
        """Add a generated file; what the club wrote by hand under the same name gives way."""
        present = files.get_file_from_path(uri)
        if present is not None:
            files.remove(present)
        file = File.generated(config, uri, content=content)
        files.append(file)
        return file


def _json(value: object) -> bytes:
    # bytes, because text would get the machine's own line ends
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8")
