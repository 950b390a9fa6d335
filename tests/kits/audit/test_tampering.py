"""Whoever changes what was kept, the guards taken down and put back, is found by the audit."""

from io import StringIO
from pathlib import Path
from random import Random

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from kits.audit.as_kept import prove_as_kept
from kits.models import Lot, Move, Posting
from reels.models import Cut
from takeoff.chain.linked_rows import linked_models
from takeoff.chain.queries import broken_links, head_of
from takeoff.chain.services import link_rows
from takeoff.database.append_only import lift_guards
from takeoff.models import Link, Site
from tests.kits.audit.tampering import faults, kept_models, tamper, whole_books
from tests.lock_order import undone

pytestmark = pytest.mark.django_db
HOW_MANY = 25  # tests/benchmarks/tampering.py does more of them


@pytest.fixture(scope="module")
def _tampered(django_db_setup, django_db_blocker, tmp_path_factory):
    """One set of books for all these tests, each of which takes back what it does."""
    with django_db_blocker.unblock(), undone(), pytest.MonkeyPatch.context() as patch:
        from django.conf import settings

        folder: Path = tmp_path_factory.mktemp("books")
        patch.setattr(settings, "PHOTOS_DIR", folder / "photos")
        site = whole_books(folder / "sheets")
        lift_guards(connection)
        yield site


@pytest.fixture
def site(_tampered, db):
    with undone():
        yield _tampered


def execute(sql: str, *values) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        assert cursor.rowcount


def test_the_books_are_whole_and_hold_something_of_everything(site):
    assert faults(site) == []
    assert {model.__name__ for model in kept_models() if not model.objects.exists()} == set()


def test_a_cut_made_longer_breaks_its_link(site):
    cut = Cut.objects.of(site).last()
    execute("UPDATE reels_cut SET length = length + 304800000 WHERE id = %s", cut.pk)
    (fault,) = faults(site)
    assert "reels_cut" in fault
    assert fault.endswith("or what was written with it, is not as it was linked")


def test_a_cut_that_is_deleted_breaks_its_link(site):
    cut = Cut.objects.of(site).filter(decisions=None).last()
    execute("DELETE FROM reels_cut WHERE id = %s", cut.pk)
    (fault,) = faults(site)
    assert "1 of reels_cut" in fault


@pytest.mark.parametrize("change", ["by = 'somebody'", "at = recorded_at", "reason = 'none'", "content_hash = 'other'"])
def test_who_when_why_and_hash_of_a_posting_cannot_be_rewritten(site, change):
    posting = Posting.objects.of(site).filter(kind=Posting.Kind.ISSUE).first()
    execute(f"UPDATE kits_posting SET {change} WHERE id = %s", posting.pk)
    assert any("kits_posting" in fault for fault in faults(site))


def test_a_move_changed_with_both_its_balances_breaks_its_link(site):
    move = Move.objects.of(site).filter(posting__kind=Posting.Kind.RECEIPT).last()
    execute("UPDATE kits_move SET quantity = quantity + 10000 WHERE id = %s", move.pk)
    for place, ticks in ((move.source_id, -10_000), (move.target_id, 10_000)):
        execute(
            "UPDATE kits_balance SET quantity = quantity + %s WHERE place_id = %s AND item_id = %s AND lot = %s",
            ticks, place, move.item_id, move.lot,
        )  # fmt: skip
    assert any("kits_posting" in fault for fault in faults(site))


def test_another_last_day_of_every_lot_is_seen(site):
    Lot.objects.of(site).update(expires="2031-01-01")
    assert len(faults(site)) == Lot.objects.of(site).count() > 1


def test_a_lot_that_is_gone_is_seen_and_a_day_that_nobody_said(site):
    lot = Lot.objects.of(site).exclude(expires=None).first()
    item, code, day = lot.item, lot.code, lot.expires
    execute("DELETE FROM kits_lot WHERE id = %s", lot.pk)
    assert faults(site) == [f"{item} lot {code}: not kept, said {day}"]
    Lot.objects.create(item=item, code=code, expires=day)
    Lot.objects.create(item=item, code="Z", expires=day)
    assert faults(site) == [f"{item} lot Z: kept {day}, said None"]


def test_a_posting_without_moves_is_seen(site):
    posting = Posting.objects.of(site).filter(kind=Posting.Kind.ISSUE).first()
    posting.pk, posting.event_id = None, "H-9999"
    posting.save(force_insert=True)
    assert faults(site) == ["Posting H-9999", "Posting H-9999 did nothing"]


def test_a_move_put_in_under_an_earlier_posting_breaks_its_link(site):
    move = Move.objects.of(site).first()
    move.pk = None
    move.save(force_insert=True)
    assert any("kits_posting" in fault for fault in faults(site))


@pytest.mark.parametrize("seed", range(HOW_MANY))
def test_whatever_is_done_to_one_row_is_seen(site, seed):
    done = tamper(Random(seed))
    assert faults(site), done


def test_a_link_that_is_gone_is_named(site):
    execute("DELETE FROM takeoff_link WHERE number = 2")
    assert next(broken_links(site)) == "Link 2 is gone"


def test_a_link_of_no_table_is_named(site):
    execute("UPDATE takeoff_link SET \"table\" = 'nothing' WHERE number = 1")
    assert "of nothing 1" in next(broken_links(site))


def test_the_first_link_that_breaks_is_named_first(site):
    first = Link.objects.of(site).get(number=1)
    execute("UPDATE takeoff_link SET hash = 'other' WHERE number > 2")
    execute(f'DELETE FROM "{first.table}" WHERE id = %s', first.first)
    assert next(broken_links(site)).startswith("Link 1 (")


def test_a_rewrite_of_the_whole_chain_shows_against_a_head_that_was_written_down(site, tmp_path):
    heads = StringIO()
    call_command("audit", head="", stdout=heads)
    head = head_of(site)
    assert heads.getvalue() == f"{site.slug} {head.number} {head.hash}\n"
    (tmp_path / "heads").write_text(heads.getvalue() * 2)

    execute("UPDATE reels_cut SET length = length + 1")
    execute("DELETE FROM takeoff_link")
    link_rows(site, all_keys=True)

    assert faults(site) == []  # the chain alone cannot tell
    (chain, *_) = prove_as_kept(site, heads=[(head.number, head.hash)])
    assert chain.faults[0].endswith("is another than the one that was written down")
    out = StringIO()
    with pytest.raises(CommandError, match="2 of "):  # the guards are down, too
        call_command("audit", head=str(tmp_path / "heads"), stdout=out)
    execute("DELETE FROM takeoff_link WHERE number = %s", head.number)
    (chain, *_) = prove_as_kept(site, heads=[(head.number + 1000, head.hash)])
    assert chain.faults[0] == f"Link {head.number + 1000} was the last and is gone"


@pytest.mark.parametrize("content", ["north\n", "north x y\n", "north 12\n", b"\xff"])
def test_a_file_that_holds_no_heads_is_refused(site, tmp_path, content):
    path = tmp_path / "heads"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(CommandError, match="heads"):
        call_command("audit", head=str(path), stdout=StringIO())


@pytest.mark.parametrize("table", ["kits_move", "kits_balance", "takeoff_link", "takeoff_record", "kits_claim"])
def test_a_dropped_table_is_a_fault_in_words(site, table):
    connection.check_constraints()
    if connection.vendor == "postgresql":
        execute_quietly("SET CONSTRAINTS ALL IMMEDIATE")
    cascade = " CASCADE" if connection.vendor == "postgresql" else ""
    execute_quietly(f"DROP TABLE {table}{cascade}")
    out = StringIO()
    with pytest.raises(CommandError, match=r"\d+ of \d+ proofs failed"):
        call_command("audit", stdout=out)
    assert f"{table} is gone" in out.getvalue()
    assert "It cannot be looked at" in out.getvalue()


def execute_quietly(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def test_every_table_is_linked_by_itself_or_with_a_row_that_is():
    kept = set(kept_models()[:-1]) - {Link}
    linked = set(linked_models())
    for model in kept - linked:
        field = model._meta.get_field(model.made_with)
        assert not field.null
        assert field.related_model in kept


def test_sites_have_chains_of_their_own(site):
    assert Site.objects.count() == 1
    assert Link.objects.of(site).count() == Link.objects.of(site).last().number
