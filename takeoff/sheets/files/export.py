"""Writing tables that a spreadsheet opens: the one place where text is kept from becoming a formula."""

from __future__ import annotations

import re

LONGEST_TEXT = 32_767  # characters in a cell, the limit of the .xlsx format

# What a spreadsheet may read as the start of a formula or command, in ASCII and in full width, and the white space
# that some readers drop before they look: OWASP, "CSV Injection".
_STARTS_FORMULA = re.compile(r"[\t\r\n]|\s*[=+\-@＝＋－＠]")
_NOT_ALLOWED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")  # no character of XML 1.0


def text_cell(value: object) -> str:
    """
    Return `value` as text that no spreadsheet takes for a formula, for a cell of .xlsx or CSV.

    Text that would start one gets an apostrophe before it; characters that a workbook cannot hold are left out, and
    what is longer than a cell is cut off. Numbers and dates are not text: write them as numbers and dates.

    >>> text_cell("=1+1"), text_cell("12 ft × 3"), text_cell(None)
    ("'=1+1", '12 ft × 3', '')
    """
    text = "" if value is None else _NOT_ALLOWED.sub("", str(value))
    if _STARTS_FORMULA.match(text):
        text = f"'{text}"
    return text[:LONGEST_TEXT]
