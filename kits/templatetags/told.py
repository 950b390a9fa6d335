"""What comes too late, in the words that text and workbooks use."""

from __future__ import annotations

from django.template import Library

from kits.shortages.told import words

register = Library()
register.filter("late_in_words", words.late_in_words)
register.filter("no_answer_in_words", words.no_answer_in_words)
