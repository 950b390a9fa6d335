"""A truck is taken in and counted in a real browser, with and without signal."""

import contextlib
import io
import os
import re
import signal
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image
from playwright.sync_api import Page, expect

from kits.audit.proofs import prove_site
from kits.models import Arrival, Package, Posting, Receipt, Shipment
from kits.receiving.queries import delivery_report
from reels.models import Reel
from takeoff.models import Cable, Item, Photo, Record, SetAside, Site, Stage, User
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.reels import ReelFactory

PHONE = {"width": 390, "height": 844, "has_touch": True, "service_workers": "allow"}


@pytest.fixture
def crate(site) -> Package:
    """A crate of which every line is told by the list, whatever it is worth."""
    Site.objects.filter(pk=site.pk).update(count_blind_above=10_000)
    return Package.objects.of(site).get(name="Crate CB-06")


def of(site: Site, crate: Package) -> str:
    return reverse("receiving_package", args=[site.slug, crate.shipment_id, crate.pk])


def works_offline(page: Page) -> None:
    """Wait until the phone says that it keeps the pages."""
    expect(page.locator("#works")).to_contain_text("Works without signal: yes", timeout=60_000)


WAITING = """() => new Promise((resolve) => {
  indexedDB.open("reelkeep", 1).onsuccess = (event) => {
    const asked = event.target.result.transaction("records").objectStore("records").count();
    asked.onsuccess = () => resolve(asked.result);
  };
})"""


def picture(width: int, height: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (width, height), (120, 90, 60)).save(file, "JPEG")
    return file.getvalue()


def killed(said: str) -> int:
    """Kill the processes whose command says so, without a word to them; return how many there were."""
    found = 0
    for command in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if said.encode() in command.read_bytes():
                os.kill(int(command.parent.name), signal.SIGKILL)
                found += 1
    return found


def session_of(name: str) -> str:
    client = Client()
    client.force_login(User.objects.get(username=name), backend="django.contrib.auth.backends.ModelBackend")
    return client.cookies["sessionid"].value


def line(page: Page, code: str):
    return page.locator(f'[data-key="{code}"]')


def test_a_line_is_one_touch_kept_first_then_in_the_books(site, doors, crate):
    page = doors.open("storekeeper", **PHONE)
    page.goto(of(site, crate))
    line(page, "support-bracket").get_by_role("button", name="10 counted").click()
    expect(line(page, "support-bracket")).to_contain_text("10 of 10", timeout=15_000)
    expect(page.get_by_role("heading", level=1)).to_have_text("Crate CB-06: 8 of 9 to count")
    record = Record.objects.of(site).get(kind="receipts", row__item="support-bracket", row__package="Crate CB-06")
    assert (record.row["by"], record.number, bool(record.device)) == ("storekeeper", 1, True)
    page.get_by_role("button", name="Undo").click()
    expect(line(page, "support-bracket").get_by_role("button", name="10 counted")).to_be_visible(timeout=15_000)
    assert Posting.objects.of(site).get(reverses__event_id=record.event_id).reason == "wrong tap"


def test_without_signal_all_is_kept_and_then_sent_once(site, doors, crate):
    page = doors.open("storekeeper", **PHONE)
    page.goto(reverse("receiving", args=[site.slug]))
    works_offline(page)
    before = Record.objects.of(site).count()
    page.context.set_offline(True)
    page.goto(reverse("gate", args=[site.slug, crate.shipment_id]))
    page.get_by_label("Packages here").fill("8")
    page.get_by_label("damaged Crate CB-06").check()
    expect(page.locator("#words")).to_have_text("Damaged outside: Crate CB-06, contents not checked.")
    page.get_by_label("As proposed here").check()
    page.get_by_role("button", name="Take the truck in").press("Enter")
    page.wait_for_url("**" + reverse("receiving_shipment", args=[site.slug, crate.shipment_id]))
    page.goto(of(site, crate))
    line(page, "support-bracket").get_by_role("button", name="10 counted").click()
    expect(line(page, "support-bracket")).to_contain_text("10: on this phone")
    splice = line(page, "splice-plate")
    splice.get_by_text("Not as listed").click()
    splice.get_by_label("Good").fill("19")
    splice.get_by_label("Damaged").fill("3")
    splice.get_by_role("button", name="Keep").first.click()
    expect(splice).to_contain_text("19 + 3: on this phone")
    expect(page.locator("#device")).to_contain_text("4 records on this phone, not sent")
    assert Record.objects.of(site).count() == before

    # The page opened anew shows the same, from the phone alone.
    page.goto(of(site, crate))
    expect(line(page, "support-bracket")).to_contain_text("10: on this phone")
    page.context.set_offline(False)
    expect(line(page, "support-bracket")).to_contain_text("10 of 10", timeout=45_000)
    expect(splice).to_contain_text("3 damaged")
    page.reload()
    assert Record.objects.of(site).count() == before + 4
    assert Arrival.objects.of(site).get().written == "Damaged outside: Crate CB-06, contents not checked."
    assert not SetAside.objects.of(site).filter(end=None).exists()
    assert all(proof.holds for proof in prove_site(site))


def test_two_phones_at_one_crate_and_the_second_count_waits(site, doors, crate):
    first, second = (doors.open("storekeeper", **PHONE) for _ in range(2))
    for page in (first, second):
        page.goto(of(site, crate))
        works_offline(page)
        page.context.set_offline(True)
        page.goto(of(site, crate))
        line(page, "support-bracket").get_by_role("button", name="10 counted").click()
        expect(line(page, "support-bracket")).to_contain_text("on this phone")
    first.context.set_offline(False)
    expect(line(first, "support-bracket")).to_contain_text("10 of 10", timeout=45_000)
    second.context.set_offline(False)
    expect(line(second, "support-bracket")).to_contain_text("office to place", timeout=45_000)
    assert SetAside.objects.of(site).filter(end=None).count() == 1
    assert Receipt.objects.of(site).filter(package=crate).count() == 1


def test_signed_out_meanwhile_nothing_is_lost(site, doors, crate):
    page = doors.open("storekeeper", **PHONE)
    page.goto(of(site, crate))
    works_offline(page)
    page.context.clear_cookies()
    line(page, "support-bracket").get_by_role("button", name="10 counted").click()
    expect(page.locator("#device")).to_contain_text("sign in to send them", timeout=15_000)
    page.goto("/~/waiting/")
    expect(page.get_by_role("heading", level=1)).to_have_text("1 on this phone, not sent")
    page.get_by_role("button", name="Send now").click()
    page.context.close()
    assert {text for text in doors.wrong if "401" not in text} == set(), "the console tells of the 401, as it must"
    doors.wrong.clear()
    assert not Receipt.objects.of(site).filter(package=crate).exists()


def test_an_answer_that_is_lost_makes_nothing_twice(site, doors, crate):
    page = doors.open("storekeeper", **PHONE)
    page.goto(of(site, crate))

    def lose(route):
        route.fetch()  # the server has it, the phone never hears
        route.abort()

    page.route(re.compile(r"/records/$"), lose, times=1)
    with page.expect_event("requestfailed", lambda request: request.url.endswith("/records/")):
        line(page, "support-bracket").get_by_role("button", name="10 counted").click()
    expect(page.locator("#device")).to_contain_text("1 record on this phone, not sent")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(line(page, "support-bracket")).to_contain_text("10 of 10", timeout=15_000)
    assert Receipt.objects.of(site).filter(package=crate).count() == 1
    doors.wrong.clear()


def test_without_any_script_a_truck_is_taken_in_and_counted(site, doors, crate):
    page = doors.open("storekeeper", java_script_enabled=False, **PHONE)
    page.goto(reverse("new_truck", args=[site.slug]))
    page.get_by_label("What it is called").fill("Evening truck")
    page.get_by_role("button", name="It is here").click()
    assert Shipment.objects.of(site).get(name="Evening truck").supplier is None
    page.goto(of(site, crate))
    line(page, "support-bracket").get_by_role("button", name="10 counted").click()
    expect(page.get_by_text("Counted: 10 support-bracket")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(line(page, "support-bracket").get_by_role("button", name="10 counted")).to_be_visible()


def test_a_photo_goes_apart_and_its_record_never_waits_for_it(site, doors, crate, settings, tmp_path):
    settings.PHOTOS_DIR = tmp_path / "photos"
    page = doors.open("foreman", **PHONE)
    page.goto(reverse("gate", args=[site.slug, crate.shipment_id]))
    works_offline(page)
    page.context.set_offline(True)
    page.get_by_label("Packages here").fill("8")
    page.get_by_label("Photo: the truck").set_input_files(
        {"name": "truck.jpg", "mimeType": "image/jpeg", "buffer": picture(2400, 1200)}
    )
    page.get_by_role("button", name="Take the truck in").press("Enter")
    expect(page.locator("#device")).to_contain_text("1 record and 1 photo on this phone")
    page.context.set_offline(False)
    expect(page.locator("#device")).not_to_contain_text("not sent", timeout=45_000)
    photo = Photo.objects.of(site).get()
    assert (photo.kind, photo.record) == ("arrivals", Arrival.objects.of(site).get().event_id)
    assert (photo.width, photo.height) == (1600, 800)
    page.reload()
    expect(page.get_by_role("img", name="Photo of the truck")).to_be_visible()


def test_five_hundred_records_and_sixty_photos_survive_a_browser_that_is_killed(
    site, live_server, crate, browser_type, settings, tmp_path
):
    """A profile on the disk, the browser gone without a word, opened again with signal: all there once, in order."""
    settings.PHOTOS_DIR = tmp_path / "photos"
    session = session_of("storekeeper")

    def opened():
        return browser_type.launch_persistent_context(
            str(tmp_path / "profile"),
            executable_path="/usr/bin/chromium",
            args=["--no-sandbox", "--disable-gpu"],
            base_url=live_server.url,
        )

    signed_in = [{"name": "sessionid", "value": session, "url": live_server.url}]
    context = opened()
    context.add_cookies(signed_in)
    page = context.new_page()
    page.goto(of(site, crate))
    works_offline(page)
    context.set_offline(True)
    page.evaluate(
        """async () => {
          const more = document.createElement("form");
          more.dataset.record = "counts";
          const cells = ['name="bin" value="Shelf 9"', 'name="item" value="splice-plate"', 'name="counted"'];
          more.innerHTML = `${cells.map((cell) => `<input ${cell}>`).join("")}<input type="file" name="photo">`;
          const drawn = Object.assign(document.createElement("canvas"), { width: 320, height: 240 });
          const blob = await new Promise((made) => drawn.toBlob(made, "image/jpeg"));
          document.body.append(more);
          for (let n = 0; n < 500; n += 1) {
            more.elements.counted.value = String(n);
            const chosen = new DataTransfer();
            if (n % 8 === 0 && n < 480) chosen.items.add(new File([blob], `${n}.jpg`, { type: "image/jpeg" }));
            more.elements.photo.files = chosen.files;
            more.dispatchEvent(new SubmitEvent("submit", { bubbles: true, cancelable: true }));
            while (more.dataset.busy) await new Promise((go) => setTimeout(go, 1));
            more.elements.bin.value = "Shelf 9";
          }
        }"""
    )
    assert page.evaluate(WAITING) == 500
    assert killed(str(tmp_path / "profile")) > 0
    with contextlib.suppress(Exception):
        context.close()
    context = opened()
    context.add_cookies(signed_in)  # a browser writes its cookies when it likes
    page = context.pages[0] if context.pages else context.new_page()
    page.goto("/~/waiting/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Everything is sent", timeout=120_000)
    kept = Record.objects.of(site).filter(kind="counts", row__bin="Shelf 9").order_by("number")
    assert [int(record.row["counted"]) for record in kept] == list(range(500))
    photos = dict(Photo.objects.of(site).values_list("record", "kind"))
    assert photos == {record.event_id: "counts" for record in kept[:480:8]}
    context.close()


def test_a_grid_is_filled_by_the_keyboard_alone(site, doors, crate):
    page = doors.open("storekeeper", width=1440)
    page.goto(reverse("receiving_grid", args=[site.slug, crate.shipment_id]))
    page.get_by_label("Good of support-bracket, Crate CB-06").focus()
    page.keyboard.type("10")
    page.keyboard.press("Enter")
    row = page.get_by_role("row").filter(has=page.get_by_label("Good of support-bracket, Crate CB-06"))
    expect(row.locator("td").nth(1)).to_have_text("10", timeout=15_000)
    page.keyboard.type("20")
    page.keyboard.press("Tab")
    page.keyboard.type("2")
    page.keyboard.press("Enter")
    row = page.get_by_role("row").filter(has=page.get_by_label("Good of splice-plate, Crate CB-06"))
    expect(row.locator("td").nth(1)).to_have_text("22", timeout=15_000)
    report = {
        row.line.item.code: row.report for row in delivery_report(crate.shipment).lines if row.line.package == crate
    }
    assert report["support-bracket"].good == 100_000
    (second,) = [row for code, row in report.items() if row.damaged]
    assert (second.good, second.damaged) == (200_000, 20_000)


def test_the_hand_out_window_without_signal(site, doors):
    stage = Stage.objects.of(site).get(run__name="CB-02", stage="enclosure")
    page = doors.open("storekeeper", **PHONE)
    page.goto(reverse("pick_list", args=[site.slug, stage.run_id, stage.stage]))
    works_offline(page)
    page.context.set_offline(True)
    page.goto(reverse("pick_list", args=[site.slug, stage.run_id, stage.stage]))
    page.get_by_label("Taken by").fill("Crew at the window")
    page.get_by_role("button", name="Hand out what is ticked").press("Enter")
    expect(page.locator("#device")).to_contain_text("11 records on this phone, not sent")
    page.context.set_offline(False)
    expect(page.locator("#device")).not_to_contain_text("not sent", timeout=45_000)
    kept = Posting.objects.of(site).filter(kind="issue", by="Crew at the window")
    assert kept.count() == 11
    assert all(proof.holds for proof in prove_site(site))


class Touches:
    """Counts what a thumb does; keys of a number pad and letters are not counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.count = 0

    def tap(self, where) -> None:
        self.count += 1
        where.click()

    def write(self, where, text: str) -> None:
        self.count += 1
        where.fill(text)

    def hold(self, where) -> None:
        self.count += 1
        where.scroll_into_view_if_needed()
        box = where.bounding_box()
        self.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        self.page.mouse.down()
        self.page.wait_for_timeout(700)
        self.page.mouse.up()


def test_a_truck_of_three_crates_sixty_lines_and_two_reels_takes_few_touches(site, doors):
    """One person alone: at most 130 touches, 10 at the gate, 1 for a line as listed, 4 for short, 7 for the others."""
    shipment = ShipmentFactory(site=site, name="SH-9000", expected=site.today())
    items = list(Item.objects.of(site).filter(shelf_life_days=None, for_run=False).order_by("code")[:20])
    crates = [PackageFactory(shipment=shipment, name=f"Crate {letter}") for letter in "ABC"]
    for package in crates:
        for item in items:
            PackingLineFactory(shipment=shipment, package=package, item=item, quantity=40)
    cable = Cable.objects.of(site).get(code="LV-350")
    for tag in ("R-901", "R-902"):
        ReelFactory(site=site, tag=tag, cable=cable, state="on the way", delivery="SH-9000", feet=1000)
    page = doors.open("storekeeper", **PHONE)
    page.goto(reverse("receiving", args=[site.slug]))
    touches = Touches(page)

    # At the gate: one crate damaged outside, the words written.
    touches.tap(page.get_by_role("link", name=re.compile("It is here.*SH-9000")))
    touches.write(page.get_by_label("Packages here"), "3")
    touches.tap(page.get_by_label("damaged Crate B"))
    touches.tap(page.get_by_label("As proposed here"))
    touches.hold(page.get_by_role("button", name="Take the truck in"))
    page.wait_for_url("**" + reverse("receiving_shipment", args=[site.slug, shipment.pk]))
    assert touches.count <= 10

    # Crate by crate: 56 lines as listed, one short by 2, one with 3 damaged, one where something else came.
    off = {(1, items[3].code): "short", (1, items[4].code): "damaged", (2, items[5].code): "wrong"}
    for number, package in enumerate(crates):
        touches.tap(page.get_by_role("link", name=package.name))
        for item in items:
            row, before = line(page, item.code), touches.count
            what = off.get((number, item.code))
            if what is None:
                dear = row.get_by_label("You count")
                if dear.count():  # its figure shows only after one's own
                    touches.write(dear, "40")
                    touches.tap(row.locator("form.one-touch button[type=submit]"))
                    assert touches.count - before == 2
                    continue
                touches.tap(row.get_by_role("button", name="40 counted"))
                assert touches.count - before == 1
                continue
            touches.tap(row.get_by_text("Not as listed"))
            if what == "wrong":
                touches.write(row.get_by_label("How many"), "40")
                touches.write(row.get_by_label("or what it is, in words"), "blue rubber feet")
                touches.tap(row.get_by_role("button", name="Keep").last)
            else:
                touches.write(row.get_by_label("Good"), "38" if what == "short" else "37")
                if what == "damaged":
                    touches.write(row.get_by_label("Damaged"), "3")
                touches.tap(row.get_by_role("button", name="Keep").first)
            assert touches.count - before <= (4 if what == "short" else 7)
        touches.tap(page.get_by_role("link", name="SH-9000"))

    touches.tap(page.get_by_role("link", name="Marks, points and where they stand"))
    for tag, seal in (("R-901", True), ("R-902", False)):
        row, before = line(page, tag), touches.count
        touches.write(row.get_by_label("Outer mark"), "3000")
        touches.write(row.get_by_label("Inner mark"), "2000")
        touches.write(row.get_by_label("Where it stands"), "Yard row 3")
        if not seal:
            touches.tap(row.get_by_label("end seal missing"))
        touches.tap(row.get_by_role("button", name="It is here"))
        assert touches.count - before <= 7
    expect(page.locator("#device")).not_to_contain_text("not sent", timeout=60_000)
    assert touches.count <= 130

    report = {row.line.package.name + row.line.item.code: row.report for row in delivery_report(shipment).lines}
    assert len(report) == 60
    assert all(row.closed for row in report.values())
    assert report["Crate B" + items[3].code].short == 2 * 10_000
    assert report["Crate B" + items[4].code].damaged == 3 * 10_000
    assert report["Crate C" + items[5].code].wrong == (("blue rubber feet", 400_000),)
    assert sum(row.has_exception for row in report.values()) == 3
    assert {reel.tag: reel.state for reel in Reel.objects.of(site).filter(delivery="SH-9000")} == {
        "R-901": "on site",
        "R-902": "held",
    }
    assert not SetAside.objects.of(site).filter(end=None).exists()
    assert all(proof.holds for proof in prove_site(site))
    print(f"{touches.count} touches")
