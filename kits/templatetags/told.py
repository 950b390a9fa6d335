"""What comes too late, and how far stages are, in the words that text and workbooks use."""

from __future__ import annotations

from django.template import Library

from kits.shortages.told import of_stage, words

register = Library()
register.filter("late_in_words", words.late_in_words)
register.filter("no_answer_in_words", words.no_answer_in_words)
register.filter("enough_in_words", words.enough_in_words)
register.filter("state_in_words", of_stage.state_in_words)
register.filter("short_in_words", of_stage.short_in_words)
register.filter("one_in_words", of_stage.one_in_words)
register.filter("comes_in_words", of_stage.comes_in_words)


@register.simple_tag
def material_only() -> str:
    """Return what "all here" does not say."""
    return of_stage.MATERIAL_ONLY
