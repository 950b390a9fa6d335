"""Places by name: one bin, however its name is written, on every database."""

import pytest
from django.db import IntegrityError

from kits.models import Kit
from kits.stock.places import Places
from takeoff.database.folding import folded
from takeoff.models import Place
from takeoff.sites.services import make_bins
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import lying, report, stocked

pytestmark = pytest.mark.django_db

# The last is written with the accent as a sign of its own (Unicode's NFD).
SPELLINGS = ["Étagère", "ÉTAGÈRE", "étagère", "  étagère ", "E\u0301tage\u0300re"]


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_a_bin_is_one_in_every_spelling(spelling):
    item = ItemFactory(code="LUG")
    stocked(item, 2, place=SPELLINGS[0])
    stocked(item, 5, place=spelling, number=2)
    report(item.site, "scraps", item=item, quantity="1", bin=spelling, reason="bent", number=3)
    assert lying(item) == {"bin Étagère": 4, "lost_found Lost and found": -5, "scrap Scrap": 1}


def test_one_batch_makes_a_bin_of_two_spellings_once():
    site = SiteFactory()
    assert {place.name for place in make_bins(site=site, names=SPELLINGS).values()} == {"Étagère"}
    assert make_bins(site=site, names=["ÉTAGÈRE"])[folded("étagère")] == Places(site).bin("Étagère")


def test_the_database_takes_one_bin_of_a_name():
    site = SiteFactory()
    Place.objects.create(site=site, kind="bin", name="Étagère")
    with pytest.raises(IntegrityError):
        Place.objects.create(site=site, kind="bin", name="ÉTAGÈRE")


def test_kits_whose_names_differ_by_case_have_a_box_each():
    run = RunFactory()
    kits = [Kit.objects.create(site=run.site, name=name, run=run) for name in ("Kit-é", "KIT-É")]
    boxes = [Places(run.site).box_of(kit) for kit in kits]
    assert [box.name for box in boxes] == ["Kit-é", "KIT-É"]
    assert set(Places(run.site).boxes_of(run)) == {box.pk for box in boxes}
    assert Places(run.site).bin("kit-é") == boxes[0]
