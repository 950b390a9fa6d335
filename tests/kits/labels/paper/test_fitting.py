"""Letters as large as they fit, and never out of their box."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.labels.paper.fitting import CAPITAL, HEIGHTS, PITCH, fitted, small, width_of

BOX = {"x": 36, "y": 1, "width": 62.5, "height": 38}


def capital(text: str) -> float:
    return fitted(text, **BOX)[0].size * CAPITAL


@pytest.mark.parametrize(
    ("tag", "lines"),
    [
        ("R-571", ["R-571"]),
        ("B-12", ["B-12"]),
        ("SH-1041 Crate CB-03", ["SH-1041", "Crate CB-03"]),
        ("Quarantine, wrong item", ["Quarantine,", "wrong item"]),
        ("clamp-ground-over-500", ["clamp-ground-", "over-500"]),
    ],
)
def test_a_tag_is_broken_at_its_gaps_and_read_at_two_metres(tag, lines):
    assert [line.text for line in fitted(tag, **BOX)] == lines
    assert capital(tag) >= 12


def test_a_short_tag_is_larger():
    assert capital("A1") > capital("B-12") > capital("SH-1041 Crate CB-03")


def test_a_word_without_a_gap_is_broken_anywhere():
    assert [line.text for line in fitted("COMPOUNDLUGS", **BOX)] == ["COMPOU", "NDLUGS"]


def test_one_that_is_too_long_has_smaller_letters():
    assert 3 <= capital("x" * 100) < 12


@given(st.text(max_size=130))
def test_every_text_stays_in_its_box(text):
    lines = fitted(text, **BOX)
    assert "".join("".join(line.text for line in lines).split()) == "".join(text.split())
    for line in lines:
        assert line.length <= BOX["width"] + 0.01
        assert line.y - 0.8 * line.size >= BOX["y"] - 0.01
    assert len({line.size for line in lines}) == 1
    assert len(lines) * lines[0].size * PITCH <= BOX["height"] + 0.01


def test_heights_fall():
    heights = [height for height, _ in HEIGHTS]
    assert heights == sorted(heights, reverse=True)


@given(st.text(max_size=300), st.floats(5, 90))
def test_a_small_line_is_cut_short_where_it_is_too_long(text, width):
    line = small(text, x=0, y=0, width=width, size=3.4)
    assert line.text == text or line.text.endswith("…")
    assert width_of(line.text) * 3.4 <= width or line.text == "…"
