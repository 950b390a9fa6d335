"""
What to write on the driver's paper before it is signed. Pure: no Django.

What can be seen outside belongs on the delivery receipt: a clean one says that all came whole, and *subject to
inspection* is no exception (carrier and distributor notices).
"""

from __future__ import annotations

from collections.abc import Sequence

CLEAN = "Nothing is missing or damaged outside: nothing to write."


def words_for_paper(
    *, listed: int, here: int, missing: Sequence[str] = (), damaged: Sequence[str] = (), seal_broken: bool = False
) -> str:
    """
    Return the sentences to write, or that there is nothing to write.

    listed : how many packages the list names, 0 without a list. missing, damaged : packages by name.

    >>> words_for_paper(listed=3, here=2, missing=["Crate 3"], damaged=["Crate 1"])
    'Received 2 of 3 packages. Missing: Crate 3. Damaged outside: Crate 1, contents not checked.'
    """
    said = []
    if missing or (listed and here != listed):
        said.append(f"Received {here} of {listed} packages." if listed else f"Received {here} packages.")
    if missing:
        said.append(f"Missing: {', '.join(missing)}.")
    if damaged:
        said.append(f"Damaged outside: {', '.join(damaged)}, contents not checked.")
    if seal_broken:
        said.append("Seal broken on arrival.")
    return " ".join(said) or CLEAN
