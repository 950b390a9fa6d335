"""The stylesheet: dark is the same dark, chosen or as the device says; no token is used that is not named."""

import re

from tests.source import ROOT

SHEET = (ROOT / "templates" / "static" / "reelkeep.css").read_text()


def tokens(selector: str) -> dict[str, str]:
    """Tokens that the first rule of a selector sets."""
    body = re.search(re.escape(selector) + r" \{(.*?)\}", SHEET, re.DOTALL)
    assert body
    return dict(re.findall(r"(--[\w-]+): ([^;]+);", body[1]))


def test_dark_is_the_same_chosen_or_as_the_device_says():
    assert tokens(':root[data-theme="dark"]') == tokens(':root:not([data-theme="light"])') != {}


def test_dark_names_no_token_that_light_has_not():
    assert tokens(':root[data-theme="dark"]').keys() <= tokens(":root").keys()


def test_every_token_that_is_used_is_named():
    assert set(re.findall(r"var\((--[\w-]+)", SHEET)) <= tokens(":root").keys()


def test_every_class_of_a_template_that_draws_is_styled():
    drawn = set()
    for path in (ROOT / "templates").rglob("*.html"):
        drawn |= set(re.findall(r'class="[^"]*?\b([fsw]-[a-z0-9]+)\b', path.read_text()))
    assert drawn <= set(re.findall(r"\.([fsw]-[a-z0-9]+)", SHEET))
