"""A small library of invented locomotives, built with the real theme."""

from __future__ import annotations

import functools
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

TANK = """\
format: 1
title: Harbour branch <0-6-2> tank & "tender"
number: SLR-901
status: running
route: [motor swap, dropper]
formerly: [old-tank]
summary: Open-frame motor out, 12 V can in.
prototype: {type: steam, driving_wheel: 5 ft 2 in, top_speed: 55 mph, cylinders: 2}
model: {scale: OO, driving_wheel: 20.3 mm, mass: 285 g, driven_mass: 240 g, shell_material: polystyrene}
gear_train:
  stages:
    - {driver: 11, driven: 38, module: 0.4 mm}
    - {worm: 1, driven: 24}
motor: {stock: can-1220-12v}
supply: {track: 14.5 V ± 3 %}
dropper: {resistor: {resistance: 47 ohm, rating: 0.5 W}}
notes: |
  The bufferstop word **quillwort** is for the search test.
"""

SPARSE = """\
format: 1
title: Quarry shunter
status: planned
"""

BROKEN = """\
format: 1
title: Coal tank
status: runing
"""

STOCK = """\
format: 1
motors:
  can-1220-12v:
    name: 12 x 20 mm five-pole can, 12 V
    kind: iron core
    nominal_voltage: 12 V
    no_load_speed: 9500 rpm
    no_load_current: 55 mA
    stall_current: 0.9 A
    unit_price: 14.50
"""

CONFIG = """\
site_name: Test line
theme: {{name: material, font: false}}
use_directory_urls: {directory_urls}
plugins: [search, buildsheets]
markdown_extensions: [attr_list, md_in_html, tables, admonition]
validation: {{anchors: warn, absolute_links: warn, unrecognized_links: warn}}
nav: [index.md, builds/index.md, field-reference.md]
"""


class Project:
    """A club's folder, and the ways to change and build it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.builds = folder / "builds"
        self.site = folder / "site"
        self.write("docs/index.md", "# Home\n\n[Library](builds/index.md), [a sheet](builds/harbour-tank/index.md)\n")
        self.write("builds/harbour-tank.yml", TANK)
        self.write("builds/quarry-shunter.yml", SPARSE)
        self.write("builds/stock/motors.yml", STOCK)
        self.configure(directory_urls=True)

    def write(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        return path

    def configure(self, directory_urls: bool) -> None:
        self.write("mkdocs.yml", CONFIG.format(directory_urls=str(directory_urls).lower()))

    def build(self, strict: bool = False) -> list[str]:
        """Build as the command line does and return the warnings."""
        from mkdocs.commands.build import build
        from mkdocs.config import load_config

        heard = _Heard()
        logging.getLogger("mkdocs").addHandler(heard)
        config = load_config(str(self.folder / "mkdocs.yml"), site_dir=str(self.site), strict=strict)
        config.plugins.on_startup(command="build", dirty=False)
        try:
            build(config)
        finally:
            config.plugins.on_shutdown()
            logging.getLogger("mkdocs").removeHandler(heard)
        return heard.lines


class _Heard(logging.Handler):
    """What strict mode would count."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(record.getMessage())


@contextmanager
def serve(folder: Path) -> Iterator[str]:
    """Serve a folder on this machine and yield its address."""

    class Silent(SimpleHTTPRequestHandler):
        def log_message(self, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Silent, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()
