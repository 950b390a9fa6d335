"""Three phones that send one history in any order leave the books that one load of it leaves."""

import pytest
from django.db import connection

from kits.audit.proofs import prove_site
from kits.models import Balance
from takeoff.models import Member, SetAside, Site, User
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from tests.kits.histories import as_sheets, batches, history, store
from tests.races.together import at_once
from tests.takeoff.sheets.books import load, told

pytestmark = pytest.mark.django_db(transaction=True)


def books(site: Site) -> dict:
    rows = Balance.objects.of(site).exclude(quantity=0)
    return {tuple(row[:-1]): row[-1] for row in rows.values_list(
        "place__kind", "place__name", "item__code", "lot", "quantity")}  # fmt: skip


def send_all(site: Site, parts: list, sender: User) -> list:
    return [
        answer.answer
        for batch in parts
        for answer in take(site=site, sender=sender, roles=frozenset(Member.Role.values),
                           sent=[Sent(kind, row) for kind, row in batch], device=sender.username)
    ]  # fmt: skip


@pytest.mark.parametrize("seed", [1, 2])
def test_three_phones_in_any_order_leave_the_books_of_one_load(seed):
    records = history(240, seed)
    one, other = store("sheets"), store("phones")
    assert told(load(as_sheets(records), slug="sheets")) == []
    parts = batches(records, seed, most=40)
    senders = [User.objects.create_user(f"phone-{number}") for number in range(3)]
    shares = [parts[number::3] for number in range(3)]
    if connection.vendor == "sqlite":  # where each waits for the other whole: by turns
        answers = [send_all(other, share, sender) for share, sender in zip(shares, senders, strict=True)]
    else:
        answers = at_once(
            *[lambda share=share, sender=sender: send_all(other, share, sender)
              for share, sender in zip(shares, senders, strict=True)]
        )  # fmt: skip
    assert [str(found) for found in answers if isinstance(found, Exception)] == []
    assert {answer for found in answers for answer in found} <= {"kept", "look", "known", "aside"}
    assert not SetAside.objects.of(other).filter(end=None).exists()
    assert books(other) == books(one)
    assert all(proof.holds for site in (one, other) for proof in prove_site(site))
