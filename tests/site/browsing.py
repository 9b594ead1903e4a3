"""What the tests that look at the site in a real browser share."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
RUN = {"runOnly": {"type": "tag", "values": LEVELS}, "resultTypes": ["violations"]}


class Watched:
    """A page with everything that it asked for, and what its scripts complained of."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.asked: list[str] = []
        self.faults: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda message: self.faults.append(f"{message.text} {message.location}") if message.type == "error" else None)
        page.on("response", lambda answer: self.faults.append(f"{answer.status}: {answer.url}") if answer.status >= 400 else None)
        page.on("requestfailed", lambda request: self.faults.append(f"failed: {request.url}"))


def search(page: Page, words: str) -> list[str]:
    """Type words into the search and return the addresses of what is found."""
    page.click("[data-md-component=search-query]")
    page.keyboard.type(words)
    page.wait_for_selector(".md-search-result__link")
    return page.eval_on_selector_all(".md-search-result__link", "links => links.map(link => link.href)")


def violations(page: Page) -> list[str]:
    """Return what axe-core finds wrong at levels A and AA, a line each."""
    return [
        f"{fault['id']} ({fault['impact']}): {fault['help']}: " + "; ".join(str(node["html"])[:160] for node in fault["nodes"][:4])
        for fault in Axe().run(page, options=RUN).response["violations"]
    ]
