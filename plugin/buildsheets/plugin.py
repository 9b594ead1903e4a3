"""The site generator's events, and nothing else: what a page holds is decided in `pages`."""

from __future__ import annotations

import html
import os
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast
from urllib.parse import quote, urljoin

from jinja2 import Environment, Template
from mkdocs.config import config_options as c
from mkdocs.config.base import Config, ConfigErrors, ConfigWarnings, ValidationError
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, CombinedEvent, event_priority, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page
from mkdocs.utils import get_relative_url

from buildsheets import assets
from buildsheets.cache import Cache, key_of, program_print
from buildsheets.edition import (
    BODY,
    BODY_MARKER,
    ClubPage,
    Edition,
    Layout,
    SheetPage,
    VanishedError,
    keep,
    recalled,
)
from buildsheets.framing import Frames
from buildsheets.house_style import HouseStyle, HouseStyleError, house_style
from buildsheets.languages.catalogue import LanguageError, read_language
from buildsheets.library.head import feed_tags, graph_tags, with_tags
from buildsheets.option_places import option_mark
from buildsheets.policy import guarded, inline_scripts
from buildsheets.processes import processes_of
from buildsheets.progress import Progress
from buildsheets.records.files import prints_of
from buildsheets.records.problems import printable
from buildsheets.renderings import Renderings
from buildsheets.sheet import preview
from buildsheets.sheet.options import PAPERS, SPEED_UNITS, SheetOptions
from buildsheets.sheet.words import BOOST, within_reach
from buildsheets.standing import Standing
from buildsheets.templates import CompiledTemplates, compile_ahead
from buildsheets.writer import Writer

if TYPE_CHECKING:
    from buildsheets.settings import Settings
    from buildsheets.workbook import Sheet

log = get_plugin_logger(__name__)
OFFLINE = Path(assets.OFFLINE_SCRIPT).stem

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
    language = c.Optional(c.Type(str))
    logo = c.Optional(c.Type(str))
    cache = c.Type((str, bool), default=".cache/buildsheets")
    processes = c.Type(int, default=0)
    content_security_policy = c.Type(bool, default=False)

    def validate(self) -> tuple[ConfigErrors, ConfigWarnings]:
        """Say of each complaint where it belongs in the file."""
        failed, warned = super().validate()
        errors: ConfigErrors = [(str(key), ValidationError(f"{self.place(str(key))}: {printable(str(error))}")) for key, error in failed]
        return errors, [(str(key), f"{self.place(str(key))}: {printable(str(warning))}") for key, warning in warned]

    def place(self, *option: str) -> str:
        """Return where an option stands, as `file:line:column`."""
        return ":".join(map(str, option_mark(self.config_file_path, option)))

    def wrong(self, option: str, why: object) -> PluginError:
        """Return the complaint about an option."""
        return PluginError(f"{self.place(option)}: buildsheets: {option}: {printable(' '.join(str(why).split()))}")


class BuildsheetsPlugin(BasePlugin[Options]):  # type: ignore[no-untyped-call]
    """Publishes one sheet per record and the library's index."""

    def __init__(self) -> None:
        self.cache: Cache | None = None
        self.edition = Edition([], [], {}, {})
        self.sheets: dict[str, SheetPage] = {}  # by src_uri
        self.club: dict[str, ClubPage] = {}  # by src_uri
        self.serving = self.dirty = False
        self.tidies = self.tidied = False
        self.printing = False
        self.met: dict[str, Sheet] | None = None  # what earlier builds of a server knew
        self.writer = Writer()
        self.nav: Navigation | None = None
        self.stood: set[str] = set()  # by src_uri, pages that are written as they stood
        self.framed = 0  # scripts written out in the page at hand before its body was put in
        self.late = ""  # that body

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Note what runs; that this event exists makes the object outlive each rebuild of `serve`."""
        self.serving, self.dirty = command == "serve", dirty
        self.cache, self.tidied = None, False
        self.met = {} if self.serving else None

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Publish our style and watch the records."""
        # a site's own overrides stand first and still win
        config.theme.dirs.insert(1 if config.theme.custom_dir else 0, str(assets.THEME))
        config.extra_css[:0] = [assets.STYLE, assets.LIBRARY_STYLE]
        config.extra_javascript += [assets.SCRIPT, assets.LIBRARY_SCRIPT]
        config.watch.append(self.config.builds)
        if any(name.rpartition("/")[2] == "offline" for name in config.plugins):
            config.extra["polyfills"] = _from_here(config.extra.get("polyfills", []))
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Have every sheet finished before the old site is emptied; a problem is a warning, so `--strict` fails."""
        cache = self._opened_cache(config)
        folder = Path(self.config.builds)
        prints = prints_of(folder)
        address, printing, layout = self._address(config), self._prints(), self._layout(config)
        self.printing = printing
        # the options as written: what was accepted once need not be understood again
        house = self._house(config)
        options = sorted(self.config.items(), key=repr)  # one that is not ours may have any name
        key = key_of(program_print(), sorted(prints.items()), options, address, printing, layout, house.made_of)
        settings = partial(self._settings, config, address, printing, house)
        edition = None if None in prints.values() else recalled(cache, key, folder, partial(self._made_again, cache, settings))
        self.tidies = edition is None and not self.tidied
        if edition is None:
            edition = self._made(folder, prints, settings, layout, lambda: compile_ahead(config.theme.get_env(), cache))
            if prints_of(folder) == prints:  # what was changed meanwhile must not be kept under the hash of what it was
                keep(edition, cache, key)
        self.edition = edition
        self.renderings = Renderings(cache, config)
        self.standing = Standing(cache, Path(config.site_dir))
        self.stood.clear()
        self.writer.stop()
        processes = processes_of(self.config.processes)
        self.writer = Writer(processes if processes > 1 else 0)  # a club that wants one keeps the other cores for itself
        if not self.dirty:  # a build that writes only pages that changed empties no site
            folders = {self._beside_index(page.slug): self._made_of(page) for page in edition.sheets if page.key}
            pages = [*(self._club_uri(page.folder) for page in edition.club), *_pages_among(edition.extras)]
            self.standing.set_aside(folders, [File.generated(config, uri, content="").dest_uri for uri in pages])
        for problem in (*edition.problems, *(fault for page in edition.sheets for fault in page.faults)):
            log.warning(str(problem))

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add the sheets, the pages and data of the whole library, the schemas and the field reference."""
        self.sheets = {self._sheet_uri(page.slug): page for page in self.edition.sheets}
        self.club = {self._club_uri(page.folder): page for page in self.edition.club}
        for uri, club_page in self.club.items():
            added = self._add(files, config, uri, club_page.markdown)
            if club_page.folder:
                added.inclusion = InclusionLevel.NOT_IN_NAV
        for uri, page in self.sheets.items():
            self._add_sheet(files, config, uri, page)
        for name, data in self.edition.files.items():
            self._add(files, config, self._beside_index(name), data)
        for uri, data in self.edition.extras.items():
            self._add(files, config, uri, data)
        return files

    @event_priority(-100)
    def on_nav(self, nav: Navigation, /, *, config: MkDocsConfig, files: Files) -> Navigation:
        """Note what stands around every page."""
        self.nav = nav
        return nav

    @event_priority(-100)
    def on_env(self, env: Environment, /, *, config: MkDocsConfig, files: Files) -> Environment:
        """Have the theme's templates compiled once, and put around a page only where that would give another than stands there."""
        if env.bytecode_cache is None and self.cache is not None:
            env.bytecode_cache = CompiledTemplates(self.cache)
        if self.nav is not None and not self.dirty:
            self._let_stand(Frames(config, self.nav), env.from_string(""), config, files)
        return env

    def _let_stand(self, frames: Frames, nothing: Template, config: MkDocsConfig, files: Files) -> None:
        """Have nothing rendered around the pages of which the file that stood there is the same again; what is written is that."""
        made_of = {uri: page.key for uri, page in self.sheets.items() if page.key}
        made_of |= {uri: page.made_of for uri, page in self.club.items()} | dict.fromkeys(_pages_among(self.edition.extras), "words")
        for file in files.documentation_pages():
            page, uri = file.page, file.src_uri
            if page is None or uri not in made_of:
                continue
            key = frames.key(page, made_of[uri], self._tags(page, config), self._guards())
            self.standing.note_page(file.dest_uri, key)
            if key and self.standing.made_of(file.dest_uri) == key:
                self.stood.add(uri)
                page.meta["template"] = nothing

    def _described(self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Give a sheet its title and description; the theme's templates do not escape them."""
        sheet = self.sheets.get(page.file.src_uri)
        if sheet is not None:
            page.meta.update(title=html.escape(sheet.title), description=html.escape(sheet.description))
            page.meta["hide"] = ["toc"]  # a sheet has its own contents, and wants the width
            page.update_date = sheet.changed or page.update_date  # as the sitemap tells it
            page.meta["search"] = {"exclude": True} if sheet.problems or sheet.faults else {"boost": BOOST}
        elif page.file.src_uri == self.config.index:
            page.meta.setdefault("hide", ["toc", "navigation"])  # one table, which wants the width
            page.meta.setdefault("description", html.escape(self.club[page.file.src_uri].description))
        elif page.file.src_uri in self.club:
            told = self.club[page.file.src_uri]
            page.meta.update(title=html.escape(told.title), description=html.escape(told.description), hide=["toc"])
        return markdown

    @event_priority(-100)
    def _remembered(self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Convert the words of our own pages only when they have changed; every other plugin has seen them by now."""
        if page.file.src_uri in self.sheets or page.file.src_uri in self.club or page.file.src_uri in self.edition.extras:
            self.renderings.apply(page, markdown)
        return markdown

    on_page_markdown = CombinedEvent(_described, _remembered)

    def on_page_content(self, content: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Keep the search to the words of a sheet that have room, however long its notes."""
        return within_reach(content) if page.file.src_uri in self.sheets else content

    def _with_body(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:
        """Put the body in after Markdown and search have done their work, and the files beside it, one page at a time."""
        if page.file.src_uri in self.stood:
            return self._as_it_stood(page, config)
        body = self._body(page, config)
        output = with_tags(output, self._tags(page, config))
        if self._guards():
            self.framed, self.late = len(inline_scripts(output)), body
        return output.replace(BODY_MARKER, body, 1) if body else output

    @event_priority(-100)
    def _with_policy(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:
        """Give the page its policy after every other plugin has written into it; only what stands around its words may run."""
        if not self._guards() or page.file.src_uri in self.stood:
            return output
        found = inline_scripts(output)
        theirs = inline_scripts(page.content or "")
        if len(found) != self.framed:  # else there is none in the body, which is long to search
            theirs += inline_scripts(self.late)
        return self._guarded(output, page.file.dest_uri, (Counter(found) - Counter(theirs)).elements())

    on_post_page = CombinedEvent(_with_body, _with_policy)

    @event_priority(-100)
    def on_post_template(self, output_content: str, /, *, template_name: str, config: MkDocsConfig) -> str:
        """Give the theme's own pages, such as the one for an address that does not exist, their policy."""
        page = template_name.endswith(".html")
        return self._guarded(output_content, template_name, inline_scripts(output_content)) if page else output_content

    def _tags(self, page: Page, config: MkDocsConfig) -> list[str]:
        """Return what the head of a page says of the feeds and, if it is one of ours, of itself; nothing without an address."""
        if not self.edition.preview or not config.site_url or not page.canonical_url:
            return []
        site = self.config.club or config.site_name
        uri = page.file.src_uri
        tags = feed_tags(get_relative_url(self._beside_index(""), page.url).rstrip("/") + "/", site)
        picture = urljoin(config.site_url, self._beside_index(preview.FILE))
        if uri in self.sheets and self.sheets[uri].preview:
            sheet = self.sheets[uri]
            picture = urljoin(page.canonical_url, preview.FILE)
            return tags + graph_tags(sheet.title, sheet.description, page.canonical_url, picture, sheet.preview, site)
        if uri in self.club:
            club = self.club[uri]
            kind = "article" if club.folder else "website"
            return tags + graph_tags(club.title, club.description, page.canonical_url, picture, self.edition.preview, site, kind)
        return tags

    def _body(self, page: Page, config: MkDocsConfig) -> str:
        """Return what is put into a page late, none for one written by hand; the files beside a sheet are written."""
        club_page = self.club.get(page.file.src_uri)
        if club_page is not None:
            return club_page.body
        sheet = self.sheets.get(page.file.src_uri)
        if sheet is None:
            return ""
        return sheet.body(self._fetched(sheet, BODY) if self._put_back(sheet) else self._written(sheet, config))

    def _as_it_stood(self, page: Page, config: MkDocsConfig) -> str:
        """Return a whole page as the last build left it; the files beside a sheet are there or are written."""
        try:
            output = self.standing.page(page.file.dest_uri).decode("utf-8")
        except OSError:
            raise PluginError(f"buildsheets: {page.file.dest_uri} was thrown away while the site was being built; build it again") from None
        sheet = self.sheets.get(page.file.src_uri)
        if sheet is not None and not self._put_back(sheet):
            self._written(sheet, config)
        return output

    def _put_back(self, sheet: SheetPage) -> bool:
        return self.standing.put_back(self._beside_index(sheet.slug))

    def _written(self, sheet: SheetPage, config: MkDocsConfig) -> Mapping[str, bytes]:
        """Write the files beside a sheet, and return its pieces."""
        folder, pieces = self._beside_index(sheet.slug), self._fetched(sheet)
        # not by way of the generator's list of files, which would hold twenty more for every sheet
        files = {
            name: self._guarded(data.decode("utf-8"), name).encode("utf-8") if name.endswith(".html") else data
            for name, data in sheet.files(pieces).items()
        }
        standing, made_of = self.standing, self._made_of(sheet) if sheet.key else ""

        def write() -> None:
            for name, data in files.items():
                _write(Path(config.site_dir) / folder / name, data)
            if made_of:
                standing.note(folder, made_of)

        self.writer.do(write)
        return pieces

    @staticmethod
    def _fetched(sheet: SheetPage, *wanted: str) -> Mapping[str, bytes]:
        try:
            return sheet.fetch(*wanted)
        except VanishedError as problem:
            raise PluginError(f"buildsheets: {problem}") from None

    def _made_of(self, sheet: SheetPage) -> str:
        """Return what the files beside a sheet are made from."""
        return f"{sheet.key} {self._guards()}"

    def _guards(self) -> bool:
        """Whether pages get a policy; `serve` writes a script of its own into each, which none would let run."""
        return self.config.content_security_policy and not self.serving

    def _guarded(self, page: str, name: str, scripts: Iterable[str] = ()) -> str:
        if not self._guards():
            return page
        made = guarded(page, scripts)
        if made is None:
            log.warning(f"{name} gets no content security policy, for it has no head; use a theme whose pages have one")
            return page
        return made

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Print the finished sheets where the site asks for it; what every page has been fetched from is still wanted."""
        self.writer.finish()
        self.renderings.keep()
        self.standing.keep()
        if self.cache is not None and self.tidies:
            self.tidied = True  # a server need not look through all of it at each edit
            self.cache.tidy()
        if self.printing:
            from buildsheets import pdf

            for problem in pdf.print_jobs(pdf.jobs_of(Path(config.site_dir)), self.config.paper):
                log.warning(problem)

    def on_build_error(self, *, error: Exception) -> None:
        """Write nothing more of a build that was broken off."""
        self.writer.stop()

    def _prints(self) -> bool:
        """Whether PDFs will be made; if they were asked for and cannot be, say so once and go on without."""
        if not self.config.pdf or self.serving:
            return False
        from buildsheets import pdf

        lacks = pdf.what_lacks()
        if lacks is not None:
            log.info(f"the sheets are published without PDFs: {lacks}")
        return lacks is None

    def _opened_cache(self, config: MkDocsConfig) -> Cache:
        """Return the cache; opened once, so that one that goes with this object lasts as long as `serve`."""
        if self.cache is None:
            self.cache = Cache(self._cache_folder(config))
            if self.cache.fault is not None:
                log.info(f"finished sheets are not kept for the next build, the cache cannot be written: {self.cache.fault}")
        return self.cache

    def _cache_folder(self, config: MkDocsConfig) -> Path | None:
        if not self.config.cache:
            return None
        folder = Path(config.config_file_path).parent / str(self.config.cache if self.config.cache is not True else ".cache/buildsheets")
        watched = [Path(config.docs_dir).resolve(), Path(self.config.builds).resolve(), Path(config.site_dir).resolve()]
        try:
            inside = next((place for place in watched if folder.resolve().is_relative_to(place)), None)
        except (OSError, ValueError, RuntimeError):
            raise self.config.wrong("cache", "no folder can have this name; take one such as .cache/buildsheets") from None
        if inside is not None:
            raise self.config.wrong("cache", f"{folder} lies inside {inside}; give a folder outside, such as .cache/buildsheets")
        return folder

    def _made(
        self, folder: Path, prints: dict[str, str | None], settings: Callable[[], Settings], layout: Layout, meanwhile: Callable[[], None]
    ) -> Edition:
        from buildsheets.workbook import Workbook

        with Progress("sheets") as told:
            workbook = Workbook(self.cache, processes_of(self.config.processes), told, self.met, meanwhile)
            workbook.expect(sum("/" not in name for name in prints))
            try:  # what takes long to load comes after that
                from buildsheets.pages import make_edition

                return make_edition(folder, prints, settings(), workbook, layout).written()
            finally:
                workbook.close()

    @staticmethod
    def _made_again(cache: Cache, settings: Callable[[], Settings], path: Path, key: str) -> Mapping[str, bytes]:
        from buildsheets.workbook import Workbook

        return Workbook(cache).pieces(path, key, settings())

    def _house(self, config: MkDocsConfig) -> HouseStyle:
        """Find the language and the logo; what they are made of is watched."""
        home, docs = Path(config.config_file_path).parent, Path(config.docs_dir)
        speaks = str(config.theme.get("language") or "")
        try:
            house = house_style(self.config.language, speaks, self.config.logo, home, docs)
        except HouseStyleError as problem:
            option, _, why = str(problem).partition(": ")
            raise self.config.wrong(option, why) from None
        if house.language is not None and str(house.language) not in config.watch:
            config.watch.append(str(house.language))
        return house

    def _settings(self, config: MkDocsConfig, address: str, printing: bool, house: HouseStyle) -> Settings:
        """Read the options that need more than a type."""
        from buildsheets.figures.ways.options import WaysOptions
        from buildsheets.records.quantities import QuantityError
        from buildsheets.settings import Settings, run_length

        try:
            length = run_length(cast("str | float", self.config.run_length))
        except QuantityError as problem:
            raise self.config.wrong("run_length", problem) from None
        try:
            ways = WaysOptions.written(self.config.ways)
        except ValueError as problem:
            raise self.config.wrong("ways", problem) from None
        try:
            language = read_language(house.language)
        except LanguageError as problem:
            raise self.config.wrong("language", problem) from None
        sheet = SheetOptions(
            self.config.speed_unit,
            self.config.paper,
            self.config.club,
            address=address,
            pdf=printing,
            language=language,
            logo=get_relative_url(house.logo, self._beside_index("{slug}/")) if house.logo else "",
            logo_made_of=house.logo_made_of,
        )
        style = get_relative_url(assets.STYLE, self._beside_index("{slug}/"))
        return Settings(length, self.config.currency, sheet, ways, style)

    def _layout(self, config: MkDocsConfig) -> Layout:
        """Return the addresses as seen from the list, whose own place depends on the site's URL style."""
        url = File.generated(config, self.config.index, content="").url
        data = get_relative_url(self._beside_index(""), url).rstrip("/") + "/"
        return Layout(get_relative_url(self._sheet_uri("{slug}", "html"), url), data)

    def _add_sheet(self, files: Files, config: MkDocsConfig, uri: str, page: SheetPage) -> None:
        file = self._add(files, config, uri, page.markdown)
        file.inclusion = InclusionLevel.NOT_IN_NAV
        records = _way(Path(config.docs_dir), Path(self.config.builds))
        file.edit_uri = quote(os.fsencode(f"{records}/{page.source}")) if records else None
        for old in page.formerly:
            self._add(files, config, self._sheet_uri(old, "html"), self._guarded(page.moved, old).encode("utf-8"))

    def _address(self, config: MkDocsConfig) -> str:
        """Return where a sheet will be found, with its name left open; none while the site only runs on this machine."""
        if not config.site_url or self.serving:
            return ""
        place = self._sheet_uri("{slug}", "html")
        return config.site_url.rstrip("/") + "/" + (place.removesuffix("index.html") if config.use_directory_urls else place)

    def _sheet_uri(self, slug: str, ending: str = "md") -> str:
        """Return the place of a sheet, beside the index; it is the same whatever the site's URL style."""
        return self._beside_index(f"{slug}/index.{ending}")

    def _club_uri(self, folder: str) -> str:
        """Return the place of a page that spans builds."""
        return self._beside_index(f"{folder}/index.md") if folder else self.config.index

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


def _way(start: Path, end: Path) -> str | None:
    """Return the way from one folder to another as an address; None from one drive to another."""
    for up, above in enumerate((start, *start.parents)):
        if end.is_relative_to(above):
            return "/".join([*[".."] * up, *end.relative_to(above).parts])
    return None


def _pages_among(files: Iterable[str]) -> list[str]:
    return [uri for uri in files if uri.endswith(".md")]


def _from_here(polyfills: Sequence[str]) -> list[str]:
    """Return scripts for older ways of browsing with our own for search; the offline plugin's lies on another server."""
    kept = [script for script in polyfills if not (OFFLINE in str(script) and "//" in str(script))]
    return kept if any(OFFLINE in str(script) for script in kept) else [*kept, assets.OFFLINE_SCRIPT]


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except FileNotFoundError:  # the first file of its folder
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
