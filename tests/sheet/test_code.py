"""The square code, read back by a library that others use for telephones (zxing-cpp, opened)."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp
from sample import sample_figures

from buildsheets.sheet import SheetOptions, render_sheet, render_short
from buildsheets.sheet.code import QUIET, square_code

ADDRESS = "https://saltmarsh.example/builds/{slug}/"


def pixels(svg: str, scale: int = 6) -> np.ndarray:
    """Draw the code's bars, which are whole modules, into a picture."""
    root = ElementTree.fromstring(svg)
    side = int(root.attrib["viewBox"].split()[2])
    picture = np.full((side, side), 255, dtype=np.uint8)
    path = root[1].attrib["d"]
    for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        picture[int(y), int(x) : int(x) + int(length)] = 0
    return np.kron(picture, np.ones((scale, scale), dtype=np.uint8))


@pytest.mark.parametrize("address", ["https://a.example/", "https://saltmarsh-light-railway.example/builds/harbour-tank/index.html?x=1&y=2"])
def test_a_reader_reads_the_address(address: str) -> None:
    [found] = zxingcpp.read_barcodes(pixels(square_code(address)))
    assert found.text == address
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_quiet_zone_is_white() -> None:
    picture = pixels(square_code("https://a.example/"), scale=1)
    assert picture[:QUIET].min() == picture[:, :QUIET].min() == picture[-QUIET:].min() == picture[:, -QUIET:].min() == 255
    assert picture[QUIET, QUIET] == 0  # the finder's corner


def test_same_bytes_and_hostile_address_stays_text() -> None:
    assert square_code("https://a.example/") == square_code("https://a.example/")
    assert ElementTree.fromstring(square_code('https://a.example/"><script>')) is not None


@pytest.mark.parametrize("render", [render_sheet, render_short])
def test_address_stands_beside_it_in_words(render) -> None:
    html = render(sample_figures(), SheetOptions(address=ADDRESS))
    address = "https://saltmarsh.example/builds/0-6-2t-tidewell/"
    assert f'aria-label="Square code that leads to {address}"' in html
    assert f'<span class="bs-address">{address}</span>' in html


def test_without_an_address_there_is_none_and_the_sheet_says_why() -> None:
    html = render_sheet(sample_figures())
    assert "bs-code" not in html
    assert "the site’s settings name none" in html
    assert "bs-code" not in render_short(sample_figures())
