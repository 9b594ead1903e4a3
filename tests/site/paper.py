"""Printing a page in a real browser and measuring what came out, from the PDF's own words and from its picture."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from html import unescape
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser
from pypdf import PdfReader

POINTS_PER_MM = 72 / 25.4
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1

WORD = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>')

MARK = """
([whole, heads]) => {
  const mark = (text, where) => {
    const span = document.createElement("span");
    span.textContent = text;
    span.style.cssText = "position:absolute;font-size:1px;line-height:1px;white-space:nowrap;" + where;
    return span;
  };
  const shown = element => element.getClientRects().length > 0;
  let count = 0;
  for (const element of [...document.querySelectorAll(whole)].filter(shown)) {
    const row = element.tagName === "TR";
    const first = row ? element.firstElementChild : element, last = row ? element.lastElementChild : element;
    for (const cell of [first, last]) { if (getComputedStyle(cell).position === "static") cell.style.position = "relative"; }
    const name = count++;
    element.dataset.mark = name;
    first.prepend(mark(`qa${name}q`, "top:0;left:0;"));
    last.append(mark(`qz${name}q`, "bottom:2px;left:0;")); // on the very edge of a page it would be lost
  }
  const named = {};
  for (const e of document.querySelectorAll("[data-mark]")) named[e.dataset.mark] = `${e.tagName}.${e.className} ${e.textContent.slice(0, 60)}`;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const texts = [];
  while (walk.nextNode()) { if (walk.currentNode.textContent.trim() && shown(walk.currentNode.parentElement)) texts.push(walk.currentNode); }
  let pairs = 0;
  for (const head of [...document.querySelectorAll(heads)].filter(shown)) {
    const own = texts.find(text => head.contains(text) && !text.textContent.startsWith("q"));
    const next = texts.find(text => head.compareDocumentPosition(text) === Node.DOCUMENT_POSITION_FOLLOWING
                                     && !text.parentElement.closest(".bs-hidden, style, script, title, desc"));
    if (!own || !next) continue;
    own.before(mark(`qh${pairs}q`, ""));
    (next.parentElement.closest("svg") || next).before(mark(`qn${pairs}q`, ""));
    pairs++;
  }
  return named;
}
"""


@dataclass(frozen=True)
class Word:
    """One word and its box, in millimetres from the upper left corner of the paper."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def print_page(browser: Browser, page_file: Path, paper: str, out: Path, marks: tuple[str, str] | None = None) -> dict[str, str]:
    """Print a page; with marks, put names around what must stay whole and around headings, and return what they name."""
    page = browser.new_page()
    page.goto(page_file.as_uri())
    page.emulate_media(media="print")
    named = page.evaluate(MARK, list(marks)) if marks else {}
    page.pdf(path=out, format=paper, prefer_css_page_size=False)
    page.close()
    return named


def words(pdf: Path) -> list[list[Word]]:
    """Return the words of each page."""
    text = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, encoding="utf-8").stdout
    pages = text.split("<page ")[1:]
    return [
        [Word(unescape(w[4]), *(float(v) / POINTS_PER_MM for v in w[:4])) for w in WORD.findall(page)] for page in pages
    ]


def texts(pdf: Path) -> list[str]:
    """Return the text of each page on one line."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(pdf).pages]


def picture(pdf: Path, page: int, dots_per_inch: int) -> np.ndarray:
    """Return a page as grey values, 0 black to 255 white."""
    command = ["pdftoppm", "-gray", "-r", str(dots_per_inch), "-f", str(page), "-l", str(page), "-singlefile", str(pdf)]
    data = subprocess.run(command, check=True, capture_output=True).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data)
    assert head is not None
    return np.frombuffer(data[head.end() :], dtype=np.uint8).reshape(int(head[2]), int(head[1]))


def dark_runs(row: np.ndarray) -> list[tuple[int, int]]:
    """Return where dark stretches of a line of dots begin and end."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (row < 100).astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
