"""Labels on paper, as the browser prints them: of their true size, each on its place, their codes readable."""

import subprocess
from pathlib import Path

import cv2
import pytest
from django.urls import reverse
from playwright.sync_api import Page

from takeoff.models import Item
from tests.kits.labels.drawn import codes_in

DOTS = 200  # an inch
MM = DOTS / 25.4


def on_paper(page: Page, folder: Path) -> list:
    """Print a page, and return a picture of each sheet."""
    page.pdf(path=folder / "labels.pdf", prefer_css_page_size=True, print_background=True)
    subprocess.run(["pdftoppm", "-r", str(DOTS), "-png", folder / "labels.pdf", folder / "sheet"], check=True)
    return [cv2.imread(str(path)) for path in sorted(folder.glob("sheet*.png"))]


@pytest.mark.parametrize(
    ("paper", "width", "height", "sheets"),
    [("letter", 215.9, 279.4, 2), ("a4", 210, 297, 2), ("lying", 100, 50, 11), ("standing", 101.6, 152.4, 11)],
)
def test_labels_come_out_on_their_paper(site, doors, tmp_path, paper, width, height, sheets):
    items = list(Item.objects.of(site).order_by("code")[:11])
    asked = "&".join(f"thing={item.pk}" for item in items)
    page = doors.open("storekeeper")
    page.goto(reverse("labels_printed", args=[site.slug]) + f"?kind=i&paper={paper}&first=3&{asked}")
    pictures = on_paper(page, tmp_path)
    assert len(pictures) == sheets
    for picture in pictures:
        assert picture.shape[1] / MM == pytest.approx(width, abs=0.5)
        assert picture.shape[0] / MM == pytest.approx(height, abs=0.5)
    assert codes_in(*pictures, enough=11) == {page.url.split("/labels/")[0] + f"/t/i{item.pk}/" for item in items}


def test_a_scanner_types_and_enter_leads_there(site, doors):
    page = doors.open("foreman")
    page.goto(reverse("find_label", args=[site.slug]))
    item = Item.objects.of(site).order_by("code").first()
    page.keyboard.type(page.url.replace("/labels/find/", f"/t/i{item.pk}/"))
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{reverse('stock_item', args=[site.slug, item.pk])}")
