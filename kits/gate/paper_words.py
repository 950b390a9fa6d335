"""
What to write on the driver's paper before it is signed. Pure: no Django.

What can be seen outside belongs on the delivery receipt: a clean one says that all came whole, and *subject to
inspection* is no exception (carrier and distributor notices).
"""

from __future__ import annotations

from collections.abc import Sequence

# The page fills them in while things are ticked, too: what stands in braces is put in.
SENTENCES = {
    "count": "Count, and tick what is missing or damaged.",
    "received-of": "Received {here} of {listed} packages.",
    "received": "Received {here} packages.",
    "missing": "Missing: {names}.",
    "damaged": "Damaged outside: {names}, contents not checked.",
    "seal": "Seal broken on arrival.",
    "clean": "Nothing is missing or damaged outside: nothing to write.",
}
CLEAN = SENTENCES["clean"]


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
        said.append(SENTENCES["received-of" if listed else "received"].format(here=here, listed=listed))
    if missing:
        said.append(SENTENCES["missing"].format(names=", ".join(missing)))
    if damaged:
        said.append(SENTENCES["damaged"].format(names=", ".join(damaged)))
    if seal_broken:
        said.append(SENTENCES["seal"])
    return " ".join(said) or CLEAN
