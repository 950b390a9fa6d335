"""Refusals say what is at fault, and which of them no history could make right."""

from takeoff.records.terms.errors import AskFirstError, MalformedError, OtherContentError, RecordError


def test_a_refusal_expects_what_it_says_where_it_says_nothing_else():
    error = RecordError("Nothing lies there.")
    assert (str(error), error.expected) == ("Nothing lies there.", "Nothing lies there.")
    assert (error.column, error.found, error.lacks) == ("", "", "")
    told = RecordError("Too many.", column="quantity", found="9", expected="at most 4", lacks="stock")
    assert (told.column, told.found, told.expected, told.lacks) == ("quantity", "9", "at most 4", "stock")


def test_what_no_history_makes_right_is_told_apart():
    kinds = {kind.code: kind.malformed for kind in (RecordError, MalformedError, OtherContentError, AskFirstError)}
    assert kinds == {"refused": False, "malformed": True, "content_differs": True, "ask": False}


def test_what_is_asked_first_says_every_sentence():
    error = AskFirstError(("One.", "Two."), "f00d")
    assert (str(error), error.said, error.question) == ("One. Two.", ("One.", "Two."), "f00d")
