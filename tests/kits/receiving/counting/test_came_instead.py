"""What came instead of what was listed."""

from fractions import Fraction

import pytest

from kits.receiving.counting.came_instead import Goods, Verdict, judge

SEALANT = Goods(
    "SEALANT-10",
    grade="butyl rubber",
    accept="butyl rubber, gutter and flashing grade, BR-28",
    refuse="latex, acrylic, silicone",
    contents=Fraction("10.1"),
)


@pytest.mark.parametrize(
    ("came", "grade", "verdict"),
    [
        pytest.param(None, "", Verdict.AS_LISTED, id="the listed item, nothing printed"),
        pytest.param(None, "Butyl Rubber", Verdict.AS_LISTED, id="the listed item of its grade"),
        pytest.param(None, "Silicone", Verdict.REFUSED, id="the listed item of a refused grade"),
        pytest.param(None, "acrylic latex caulk", Verdict.REFUSED, id="refused words among others"),
        pytest.param(Goods("X", grade="butyl rubber", contents=Fraction(28)), "", Verdict.SUBSTITUTE, id="by grade"),
        pytest.param(
            Goods("X", contents=Fraction(28)), "gutter and flashing grade", Verdict.SUBSTITUTE, id="as printed"
        ),
        pytest.param(Goods("br-28", contents=Fraction(28)), "", Verdict.SUBSTITUTE, id="by code"),
        pytest.param(Goods("BR-28-W", contents=Fraction(28)), "", Verdict.WRONG, id="a longer code is another item"),
        pytest.param(Goods("X", grade="polyurethane"), "", Verdict.WRONG, id="not on the list"),
        pytest.param(Goods("BR-28", grade="silicone"), "", Verdict.REFUSED, id="refused outweighs accepted"),
        pytest.param(Goods("BR-28"), "", Verdict.WRONG, id="contents not known"),
    ],
)
def test_what_came_is_judged(came, grade, verdict):
    assert judge(SEALANT, came, grade).verdict is verdict


def test_a_refusal_names_what_is_refused():
    judgement = judge(SEALANT, None, "silicone sealant")
    assert judgement.reason == "silicone sealant came, and silicone is refused for SEALANT-10"


def test_a_substitute_covers_by_contents():
    """28 fl oz stand for 28/10.1 = 2.772277... cartridges of 10.1 fl oz, never one for one."""
    judgement = judge(SEALANT, Goods("BR-28", contents=Fraction(28)))
    assert judgement.each == Fraction(280, 101)


def test_without_contents_a_piece_stands_for_a_piece():
    judgement = judge(Goods("LUG-A", accept="LUG-B"), Goods("LUG-B"))
    assert (judgement.verdict, judgement.each) == (Verdict.SUBSTITUTE, 1)


def test_half_a_word_does_not_refuse():
    assert judge(SEALANT, None, "latexite").verdict is Verdict.AS_LISTED
