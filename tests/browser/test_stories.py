"""Days of the four people at the demo site, in a real browser."""

import io
import re

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from playwright.sync_api import Page, expect

from kits.shortages.queries import reconcile
from takeoff.models import Item, Run, Site, User
from tests.browser.pages import BAD_STAGES, GOOD_STAGES, stages_workbook

PASSWORD = "copper and ink 7"


def workbook(path, rows) -> str:
    path.write_bytes(stages_workbook(rows))
    return str(path)


def short_of(site: Site, code: str) -> int:
    return next(line.short for line in reconcile(site).lines if line.item.code == code)


def sign_in(page: Page, name: str) -> None:
    user = User.objects.get(username=name)
    user.set_password(PASSWORD)
    user.save()
    page.goto("/")
    page.get_by_label("Name or e-mail").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_a_planner_mends_a_sheet_sets_a_quantity_and_takes_the_workbook(site, doors, tmp_path):
    page = doors.open()
    sign_in(page, "planner")
    expect(page.get_by_role("heading", name="Work to start")).to_be_visible()

    # A workbook with three mistakes: no such run, no such stage, no date.
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("link", name="Load sheets").click()
    page.get_by_label("Workbook or CSVs").set_input_files(workbook(tmp_path / "bad.xlsx", BAD_STAGES))
    page.get_by_role("button", name="Check").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("3 problems, nothing loaded")
    problems = page.get_by_role("group", name="Problems")
    for found in ("CB-99", "painting", "soon"):
        expect(problems.get_by_text(found, exact=True)).to_be_visible()
    problems.get_by_role("link", name="stages, row 3").click()
    row = page.get_by_role("group", name="stages, row 3")
    expect(row).to_be_in_viewport()
    expect(row.locator(".bad-cell")).to_contain_text("painting")

    # Mended, looked at, loaded.
    page.get_by_role("link", name="Load sheets").click()
    page.get_by_label("Workbook or CSVs").set_input_files(workbook(tmp_path / "good.xlsx", GOOD_STAGES))
    page.get_by_role("button", name="Check").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Checked, not loaded yet")
    expect(page.get_by_text(re.compile("CB-05.*covers"))).to_be_visible()
    assert Run.objects.of(site).get(name="CB-05").stages.get(stage="covers").planned.isoformat() != "2027-03-01"
    page.get_by_role("button", name="Load it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Loaded")
    assert Run.objects.of(site).get(name="CB-05").stages.get(stage="covers").planned.isoformat() == "2027-03-01"

    # A quantity of a run, opened in place, then set by the drawing package.
    before = short_of(site, "seal-plate")
    page.get_by_role("link", name="Runs").click()
    page.get_by_role("link", name="CB-10").click()
    page.wait_for_load_state()  # until then what opens leads to a page of its own
    cell = page.get_by_role("row").filter(has_text="seal-plate").get_by_role("group")
    cell.locator("summary").click()
    expect(cell.locator(".working")).to_contain_text("drawing package; one a seal")
    cell.get_by_role("link", name="Set by the drawing package").click()
    page.get_by_label("Quantity by the drawing package").fill("7")
    page.get_by_label("Reason").fill("Drawing E-210, note 4: spare plates")
    page.get_by_role("button", name="Use the drawing's quantity").click()
    expect(page.get_by_text("is set by the drawing package")).to_be_visible()
    expect(page.get_by_text("Drawing E-210, note 4")).to_be_visible()

    # The shortage moves.
    after = short_of(site, "seal-plate")
    assert after > before
    page.get_by_role("link", name="Shortages").click()
    page.get_by_role("link", name="Seal plate, cut and drilled for the run").click()
    expect(page.locator(".lead")).to_contain_text(f"Short {after // 10_000} from")

    # The workbook to order from, opened.
    page.get_by_role("link", name="Shortages").first.click()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Varnhollow Busworks: workbook").click()
    book = load_workbook(io.BytesIO(waiting.value.path().read_bytes()))
    text = {str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None}
    assert any("seal-plate" in one or "Seal plate" in one for one in text)


def test_a_purchaser_sorts_and_filters_shortages(site, doors):
    page = doors.open("purchaser")
    page.goto(reverse("shortages", args=[site.slug]))
    rows = page.locator("table.list tbody tr")
    every = rows.count()
    assert every == len(reconcile(site).short_lines)
    assert page.locator(".figures a").first.inner_text().endswith("order now"), "what is to be done first"
    later = page.get_by_role("group", name="Shortages: later")
    later.get_by_role("link", name="Short", exact=True).click()
    shorts = [float(re.match(r"[\d.]+", text)[0]) for text in later.locator("td[data-label=Short]").all_inner_texts()]
    assert shorts == sorted(shorts)
    assert len(set(shorts)) > 1
    page.get_by_label("Supplier", exact=True).select_option("Ostrel Sealing")
    page.get_by_role("button", name="Show").click()
    items = page.locator("td[data-label=Item]").all_inner_texts()
    assert items
    assert all("Ostrel Sealing" in item for item in items)
    assert "later-sort=short" in page.url, "a filter keeps the sorting"
    page.get_by_role("link", name="Show all").click()
    assert rows.count() == every


def test_a_viewer_sees_shortages_without_prices_or_workbooks(site, doors):
    page = doors.open("viewer")
    page.goto(reverse("shortages", args=[site.slug]))
    expect(page.get_by_role("heading", name="Shortages")).to_be_visible()
    assert "USD" not in page.locator("main").inner_text()
    assert page.get_by_role("link", name=re.compile("workbook")).count() == 0


@pytest.mark.parametrize(
    ("role", "first"),
    [("storekeeper", "Deliveries to come"), ("foreman", re.compile("Everything here to pull"))],
    ids=["store", "reel"],
)
def test_on_a_phone_the_roles_own_work_comes_first(site, doors, role, first):
    page = doors.open(role, width=390, height=844, has_touch=True)
    page.goto("/")
    heading = page.locator("h2").first
    expect(heading).to_have_text(first)
    expect(page.locator("main .tag").first).to_be_in_viewport()
    own = page.get_by_role("navigation", name="Your work").get_by_role("link").all_inner_texts()
    assert own[0] == "Today"
    assert page.get_by_role("navigation", name="Work", exact=True).count() == 0
    menu, stock = page.get_by_role("button", name="Menu"), page.get_by_role("navigation", name="All pages")
    for close in (lambda: page.keyboard.press("Escape"), lambda: page.touchscreen.tap(20, 800)):
        menu.tap()
        expect(stock.get_by_role("link", name="Stock")).to_be_visible()
        close()
        expect(stock).to_be_hidden()


def test_a_foreman_reports_a_length_and_the_cut_lengths_follow(site, doors):
    run = Run.objects.of(site).get(name="CB-13")
    before = run.conductors.get(name="A1").length
    page = doors.open("foreman", width=390)
    page.goto(reverse("run", args=[site.slug, run.pk]))
    page.get_by_text("Report the length as built").click()
    page.get_by_label("Centre line as built").fill("about 180")
    page.get_by_role("button", name="Keep this length").click()
    expect(page.get_by_text("This is no length: about 180")).to_be_visible()
    page.get_by_label("Centre line as built").fill("184' 6\"")
    page.get_by_role("button", name="Keep this length").click()
    expect(page.get_by_text("The length as built is kept")).to_be_visible()
    expect(page.locator("dl.facts")).to_contain_text("184' 6\", as built")
    assert run.conductors.get(name="A1").length > before


def test_everything_is_reached_by_keyboard_and_the_focus_shows(site, doors):
    page = doors.open("planner")
    page.goto(reverse("runs", args=[site.slug]))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    seen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.textContent.trim()"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", seen[-1]
        if seen[-1] == "CB-01":
            break
    assert seen[-1] == "CB-01", seen
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-01")


def test_without_scripts_everything_still_works(site, doors, tmp_path):
    page = doors.open("planner", java_script_enabled=False)
    run = Run.objects.of(site).get(name="CB-10")
    page.goto(reverse("run", args=[site.slug, run.pk]))
    cell = page.get_by_role("row").filter(has_text="seal-plate").get_by_role("group")
    cell.locator("summary").click()
    cell.get_by_role("link", name="How this comes about").click()
    expect(page.get_by_text("drawing package; one a seal").first).to_be_visible()
    page.goto(reverse("load_sheets", args=[site.slug]))
    good = workbook(tmp_path / "good.xlsx", [["CB-05", "covers", "2027-03-01"]])
    page.get_by_label("Workbook or CSVs").set_input_files(good)
    page.get_by_role("button", name="Check").click()
    page.get_by_role("button", name="Load it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Loaded")


def test_a_long_load_shows_how_far_it_is_and_then_the_preview(site, doors, tmp_path, monkeypatch):
    from takeoff.uploads import services as uploads

    asked = []
    monkeypatch.setattr(uploads, "AT_ONCE", 0)
    monkeypatch.setattr(type(uploads.work_in_background), "enqueue", lambda self, token: asked.append(token))
    page = doors.open("planner")
    page.goto(reverse("load_sheets", args=[site.slug]))
    good = workbook(tmp_path / "good.xlsx", [["CB-05", "covers", "2027-03-01"]])
    page.get_by_label("Workbook or CSVs").set_input_files(good)
    page.get_by_role("button", name="Check").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    # The worker takes its turn; the open page notices by itself.
    (token,) = asked
    uploads.work_in_background.func(token)
    expect(page.get_by_role("heading", level=1)).to_have_text("Checked, not loaded yet")


def test_a_changed_rule_book_shows_what_it_moves_before_it_is_published(site, doors, tmp_path):
    page = doors.open("planner")
    page.goto(reverse("rules", args=[site.slug]))
    with page.expect_download() as waiting:
        page.get_by_role("link", name="This book as a workbook").click()
    book = load_workbook(io.BytesIO(waiting.value.path().read_bytes()))
    rows = list(book["rules"].iter_rows(min_row=2))
    caps = next(row for row in rows if row[0].value == "end caps")
    caps[5].value = 2
    book.save(tmp_path / "draft.xlsx")
    page.get_by_role("link", name=re.compile("Load a changed book")).click()
    page.get_by_label("Workbook or CSVs").set_input_files(tmp_path / "draft.xlsx")
    page.get_by_role("button", name="Check").click()
    expect(page.get_by_role("heading", name="What it would change on runs")).to_be_visible()
    expect(page.get_by_text(re.compile(r"0 new, 1 changed, 0 removed, 83 unchanged"))).to_be_visible()
    page.locator("summary", has_text="CB-01").click()
    expect(page.get_by_text("cap-cable-end, cables").first).to_be_visible()
    assert site.rule_books.count() == 1
    page.get_by_role("button", name="Load it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Loaded")
    assert site.rule_books.count() == 2
    assert Item.objects.of(site).filter(code="cap-cable-end").exists()
