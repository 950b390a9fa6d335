"""What stands where."""

import pytest

from kits.labels.paper.papers import LYING, PAPERS, STANDING, drawn, on_pages


@pytest.mark.parametrize("form", [LYING, STANDING])
def test_nothing_on_a_label_lies_over_another_thing(form):
    label = drawn(form, address="https://reelkeep.example/here/t/p1/", tag="SH-1041 Crate CB-03", words=("one", "two"))
    left, top, side = form.code
    assert left + side <= form.width
    assert top + side <= form.height
    assert label.module * label.code.side == pytest.approx(side, abs=0.01)
    x, y, width, height = form.tag
    assert x >= left + side or y >= top + side
    assert x + width <= form.width
    assert label.words[0].y - label.words[0].size >= y + height - 1
    assert label.words[-1].y < form.height


def test_a_module_is_wide_enough_for_a_camera():
    for paper in PAPERS.values():
        assert drawn(paper.form, address="https://reelkeep.example/" + "x" * 50, tag="A", words=()).module > 0.6  # mm


def test_labels_begin_at_the_first_free_place():
    assert on_pages(list("abc"), 2, 1) == [["a", "b"], ["c"]]
    assert on_pages(list("abc"), 2, 2) == [[None, "a"], ["b", "c"]]
    assert on_pages(list("ab"), 1, 1) == [["a"], ["b"]]
