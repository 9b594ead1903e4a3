"""A builder's Markdown is shown, and can do no harm."""

import pytest

from buildsheets.sheet.marked import marked


def test_emphasis_lists_and_links_stay():
    html = marked("Shim *gently*, **never** by force:\n\n- `0.25 mm` card\n- see [the page](https://club.example/x)")
    assert "<em>gently</em>" in html
    assert "<strong>never</strong>" in html
    assert "<li><code>0.25 mm</code> card</li>" in html
    assert 'href="https://club.example/x"' in html


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "[x](javascript:alert(1))",
        "[x](JaVa&#115;cript:alert(1))",
        "![x](https://other.example/x.png)",
        "<img src=x onerror=alert(1)>",
        '<a href="https://a.example" onclick="alert(1)">x</a>',
        '<p style="position:fixed">x</p>',
        "<svg><script>alert(1)</script></svg>",
        "[x](data:text/html;base64,PHNjcmlwdD4=)",
        "<iframe src=https://other.example></iframe>",
    ],
)
def test_nothing_but_reading(text):
    html = marked(text).lower()
    for word in ("<script", "javascript:", "<img", "onerror", "onclick", "style=", "<svg", "data:", "<iframe", "src="):
        assert word not in html


def test_headings_lose_their_rank_and_keep_their_words():
    assert "<h1" not in marked("# Loud")
    assert "Loud" in marked("# Loud")
