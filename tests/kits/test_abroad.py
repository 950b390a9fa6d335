"""A site in metres, somewhere else, loaded whole: nothing that a person reads there is in feet, dollars or NFPA 70."""

import html
import io
import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from kits.demo import services as demo
from takeoff.models import Cable, Item, Place, Run, Site, Supplier, TakeoffLine, User
from takeoff.sheets.files.sources import read_path
from takeoff.sheets.services import load_sheets
from tests.kits.abroad import write_abroad

pytestmark = pytest.mark.django_db

# Feet, inches, pounds, fluid ounces and gauges, as words or as signs behind a figure; dollars, another code.
FOREIGN = re.compile(
    r"\b(?:ft|feet|foot|inch(?:es)?|lbs?|fl oz|AWG|kcmil|USD|NFPA)\b"
    r"|\bin[²³^]|\d ?in\b(?! (?:packs|reserve|tier|\d+ days)\b)|\d[\"″′']|\$"
)
# What another code than the site's own says is a note, and names that code.
NOTE = re.compile(r"Note: [^()]*\(NFPA 70[^()]*\)")


def foreign(text: str) -> set[str]:
    """Each foreign word, with what stands round it."""
    text = NOTE.sub("", " ".join(html.unescape(text).split()))
    return {text[max(0, found.start() - 60) : found.end() + 30] for found in FOREIGN.finditer(text)}


def read_out(page: str) -> str:
    """What a person reads of a page: its text, and what its pictures and inputs say."""
    page = re.sub(r"(?s)<(script|style)\b.*?</\1>", " ", page)
    said = re.findall(r'\b(?:title|aria-label|alt|placeholder|value)="([^"]*)"', page)
    return " ".join([re.sub(r"<[^>]+>", " ", page), *said])


def written(workbook: bytes) -> str:
    """All text, formats and comments of a workbook."""
    cells = (cell for sheet in load_workbook(io.BytesIO(workbook)) for row in sheet.iter_rows() for cell in row)
    told = []
    for cell in cells:
        told += [
            cell.value if isinstance(cell.value, str) and not cell.value.startswith("=") else "",
            cell.number_format,
        ]
        told += [cell.comment.text] if cell.comment else []
    return "  ".join(told)


@pytest.fixture
def abroad(tmp_path, monkeypatch) -> Site:
    """The demo's site told over for Norway, with its people and cut plans."""
    write_abroad(tmp_path, timezone.now().date() - timedelta(days=1))
    result = load_sheets(sheets=read_path(tmp_path), slug="nord", confirmed=True)
    assert [str(problem) for problem in result.problems] == []
    site = Site.objects.get()
    demo.make_people(site=site)
    monkeypatch.setattr(demo, "SECONDS_PER_CABLE", 0.5)
    demo.plan_cables(site=site)
    return site


def addresses(site: Site):
    """Every page of the site, each with each of what it can be about."""
    lines = TakeoffLine.objects.of(site).select_related("takeoff").order_by("pk")
    kinds = {
        "run": [(run.pk,) for run in Run.objects.of(site)],
        "cable": [(cable.pk,) for cable in Cable.objects.of(site)],
        "item": [(item.pk,) for item in Item.objects.of(site)],
        "place": [(place.pk,) for place in Place.objects.of(site).filter(kind__in=["bin", "quarantine", "scrap"])],
        "line": [(line.takeoff.run_id, line.pk) for line in lines[::9]],
        "site": [()],
    }
    pages = {
        "site": ["today", "runs", "stock", "stock_places", "cut_plan", "shortages", "load_sheets", "rules", "members"],
        "run": ["run"],
        "cable": ["cut_plan_cable", "cut_list", "headroom"],
        "item": ["shortage", "stock_item"],
        "place": ["stock_place"],
        "line": ["takeoff_line"],
    }
    for kind, names in pages.items():
        for name in names:
            for about in kinds[kind]:
                yield reverse(name, args=[site.slug, *about])
                if name == "cut_list":
                    yield reverse(name, args=[site.slug, *about]) + "?by=run"


def test_no_page_speaks_of_feet_dollars_or_another_code(abroad, client):
    found = {}
    client.force_login(User.objects.get(username="planner"))
    for address in addresses(abroad):
        answer = client.get(address)
        if answer.status_code != 404:  # a cable without a plan has no list
            assert answer.status_code == 200, address
            page = answer.content.decode()
            found |= dict.fromkeys(foreign(read_out(page)), address)
            # All marks of a scale are in one unit, so that none is in millimetres where others are in metres.
            found |= dict.fromkeys(re.findall(r'<text class="faint[^>]*>([\d\s.]+ mm)<', page), address)
    assert found == {}


def test_every_number_on_pages_is_written_as_in_norway(abroad, client):
    """With a comma before decimals and a space between thousands; what other texts quote stays as they print it."""
    found = {}
    client.force_login(User.objects.get(username="planner"))
    for address in addresses(abroad):
        page = NOTE.sub("", " ".join(html.unescape(read_out(client.get(address).content.decode())).split()))
        for other in re.finditer(r"\d[.\u202f]\d", page):
            found.setdefault(page[max(0, other.start() - 30) : other.end() + 20], address)
    assert found == {}


def test_no_command_and_no_workbook_speaks_of_them(abroad, client, tmp_path):
    found = {}
    for command, options in (
        ("reconcile", {"out": tmp_path / "out"}), ("plan_cuts", {"seconds": 0.5}), ("audit", {}),
    ):  # fmt: skip
        out = io.StringIO()
        call_command(command, site=abroad.slug, stdout=out, **options)
        found |= dict.fromkeys(foreign(out.getvalue()), command)
    client.force_login(User.objects.get(username="planner"))
    workbooks = {path.name: path.read_bytes() for path in (tmp_path / "out").glob("*.xlsx")}
    assert workbooks
    for name, about in (
        *((("reorder_workbook", [supplier.pk])) for supplier in Supplier.objects.of(abroad)),
        ("rule_book_sheet", [1]),
    ):
        answer = client.get(reverse(name, args=[abroad.slug, *about]))
        if answer.status_code == 200:
            workbooks[f"{name} {about}"] = answer.getvalue()
    for name, content in workbooks.items():
        found |= dict.fromkeys(foreign(written(content)), name)
        assert not re.search(r"\d\u00a0\d", written(content)), "what leaves the site has no groups of its country"
    assert found == {}


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("at most 12 ft apart", True), ("7.88 in off", True), ("100' 4\"", True), ("11.40 USD", True), ("$#,##0", True),
        ("(NFPA 70 310.10)", True), ("Note: tighter than 12 × d. Others decide. (NFPA 70 300.34)", False),
        ("4 Dec 2026 in 6 days", False), ("3.6 m", False), ("240 mm² in tier 1", False),
    ],
)  # fmt: skip
def test_a_foreign_word_is_seen(text, seen):
    assert bool(foreign(text)) == seen
