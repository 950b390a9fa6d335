import io
import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from openpyxl import load_workbook

from kits.demo.dating import dated, offset_of, write_dated_sheets
from kits.demo.services import SHEETS, SLUG
from kits.issuing.queries import debts
from kits.management.commands import demo
from kits.shortages.queries import reconcile
from kits.stock.models import Move, Posting
from reels.models import CutPlan
from reels.plans.pages.crew import crew_page
from takeoff.people.models import Member, User
from takeoff.runs.models import Stage
from takeoff.sites.models import Site
from tests.factories.takeoff import SiteFactory

TABLES = [
    "site", "suppliers", "items", "cables", "offers", "rules", "runs", "ends", "sections", "crossings", "conductors",
    "stages", "kits", "orders", "shipments", "receipts", "reels", "cuts", "issues", "returns", "counts",
]  # fmt: skip
DAY = date(2026, 3, 13)


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    monkeypatch.setattr(demo, "FOLDER", tmp_path)
    return tmp_path


def run_demo(**options) -> str:
    out = io.StringIO()
    call_command("demo", no_serve=True, stdout=out, **options)
    return out.getvalue()


def main_causes(reconciliation) -> dict[str, str]:
    return {line.item.code: line.main_cause for line in reconciliation.short_lines}


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("day -12", "2026-03-01"),
        ("day +30", "2026-04-12"),
        ("day +0", "2026-03-13"),
        ("day -12 09:30", "2026-03-01 09:30"),
        ("day 12", "day 12"),
        ("every day +1", "every day +1"),
        ("", ""),
    ],
)
def test_a_cell_tells_its_day_from_the_first(cell, day):
    assert dated(cell, DAY) == day


def test_a_cell_knows_how_far_it_is_from_the_first_day():
    assert [offset_of(cell) for cell in ("day -12 09:30", "day +3", "12 ft")] == [-12, 3, None]


def test_dated_sheets_tell_no_day_and_old_ones_go(tmp_path):
    (tmp_path / "removed.csv").write_text("a\n1\n")
    written = write_dated_sheets(SHEETS, tmp_path, DAY)
    assert sorted(path.stem for path in written) == sorted(TABLES)
    assert sorted(path.stem for path in tmp_path.glob("*.csv")) == sorted(TABLES)
    assert not [path for path in written if re.search(r"\bday [+-]", path.read_text())]


@pytest.mark.django_db
def test_the_demo_ends_with_shortages_of_many_causes_and_workbooks_that_open(folder):
    told = run_demo()

    site = Site.objects.get(slug=SLUG)
    reconciliation = reconcile(site)
    causes = main_causes(reconciliation)
    assert {
        "kit-cold-shrink": "timing",
        "sealant-butyl": "use",
        "expansion-plate": "not_shipped",
        "seal-plate": "rejected",
        "block-top": "rejected",
        "bolt-splice-3/8x1": "short_at_count",
        "lug-2-hole": "kit_list",
        "firestop-pillow": "kit_list",
        "lug-4-hole": "lost",
        "tape-phase": "reserve",
    }.items() <= causes.items()
    lines = {line.item.code: line for line in reconciliation.lines}
    assert lines["support-bracket"].causes["length_changed"] == 10_000
    assert lines["sealant-butyl"].causes["expired"] == 60_000
    assert lines["sealant-butyl"].causes["used_beyond_plan"] > 0
    assert lines["firestop-pillow"].causes["ordered_since"] < 0
    screws = lines["screw-cover"]
    assert (screws.order, screws.expedite) == (0, 0)
    assert screws.need_expected < screws.need_covered < screws.need * 109 // 100  # crews use them nearly as drawn
    due = [line for line in reconciliation.short_lines if line.order_by and line.order_by <= site.today()]
    assert [line.item.code for line in due] == ["seal-plate", "sealant-butyl"]
    plates = lines["seal-plate"]  # cut and drilled for a run: those here and coming for other runs are no use to CB-02
    planned = Stage.objects.get(run__site=site, run__name="CB-02", stage="enclosure").planned
    (lacking,) = [walk for walk in plates.walks if walk.order]
    assert (lacking.runs, lacking.order, lacking.short_on) == (("CB-02",), 10_000, planned)
    assert plates.order_by < site.today()
    on_the_way = lines["kit-cold-shrink"]
    assert (on_the_way.order, on_the_way.expedite) == (0, 90_000)  # nothing that is on its way is ordered again
    assert 15 <= len(causes) < len(lines) - 15  # much is short, more is not

    assert {(owed.item.code, owed.borrower.name, owed.lender.name, owed.quantity) for owed in debts(site)} == {
        ("bolt-splice-3/8x1", "CB-01", "CB-02", 40),
        ("support-bracket", "CB-12", "CB-02", 1),
    }

    books = sorted((folder / "reorders").glob("*.xlsx"))
    assert len(books) == 6
    for path in books:
        assert str(path) in told
        sheets = {sheet.title: sheet for sheet in load_workbook(path).worksheets}
        assert sheets.keys() <= {"Order", "Expedite", "Why"}
        assert min(sheet.max_row for sheet in sheets.values()) > 6
    for code in causes:
        assert code in told


@pytest.mark.django_db
def test_the_demo_accepts_cut_plans_that_cut_everything_and_leaves_the_others_to_be_decided(folder):
    told = run_demo()
    site = Site.objects.get(slug=SLUG)
    plans = {plan.cable.code: plan for plan in CutPlan.objects.of(site).select_related("cable")}
    assert {code: plan.state for code, plan in plans.items() if plan.unmet} == {
        "LV-500": "proposed",
        "MV-350": "proposed",
    }
    assert {plan.state for plan in plans.values() if not plan.unmet} == {"accepted"}
    assert f"Planned the cuts of {len(plans)} cables; there is enough here of {len(plans) - 2}." in told
    methods = {cable.cable: cable.method for cable in reconcile(site).cables}
    assert methods == {code: f"{plan.state} cut plan" for code, plan in plans.items()}


@pytest.mark.django_db
def test_the_demo_ends_with_what_matters(folder, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")  # a narrower terminal gets a line for each item instead of the table
    lines = run_demo().splitlines()

    def at(start):
        return next(number for number, line in enumerate(lines) if line.startswith(start))

    runs = [line for line in lines if re.match(r"CB-\d+: ", line)]
    assert len(runs) == len({line.partition(":")[0] for line in runs}) > 10
    assert lines.index(runs[-1]) < at("order by ") < at("Reorder workbooks:") < at("Sign in as") < len(lines) - 1
    assert lines[-1].startswith("First page: http://")


@pytest.mark.django_db
def test_the_demo_makes_somebody_for_every_role_who_can_sign_in(folder, client):
    told = run_demo()
    passwords = dict(re.findall(r"^  (\w+) +(\S{16})$", told, re.MULTILINE))
    assert set(passwords) == set(Member.Role.values)
    for role, password in passwords.items():
        user = User.objects.get(username=role)
        assert user.check_password(password)
        assert [member.role for member in Member.objects.of(Site.objects.get()).filter(user=user)] == [role]
    assert len(set(passwords.values())) == len(passwords)


@pytest.mark.django_db
def test_the_demo_run_again_changes_nothing_but_passwords(folder):
    first = run_demo()
    site = Site.objects.get()
    before = (Posting.objects.of(site).count(), Move.objects.of(site).count(), main_causes(reconcile(site)))
    sheets = {path.name: path.read_text() for path in (folder / "sheets").iterdir()}

    again = run_demo()

    assert (Posting.objects.of(site).count(), Move.objects.of(site).count(), main_causes(reconcile(site))) == before
    assert {path.name: path.read_text() for path in (folder / "sheets").iterdir()} == sheets
    assert "is in the database already: nothing was loaded again" in again
    assert "passwords just made" in first
    assert "passwords renewed" in again


@pytest.mark.django_db
def test_the_demo_of_another_day_keeps_the_days_of_the_first(folder, monkeypatch):
    run_demo()
    issues = (folder / "sheets" / "issues.csv").read_text()
    later = Site.objects.get().today() + timedelta(days=9)
    monkeypatch.setattr("kits.demo.services.today_there", lambda: later)
    run_demo()
    assert (folder / "sheets" / "issues.csv").read_text() == issues


@pytest.mark.django_db
def test_the_sheets_that_the_demo_leaves_load_again_and_change_nothing(folder):
    run_demo()
    out = io.StringIO()
    call_command("load", folder / "sheets", site=SLUG, stdout=out)
    counted = [line for line in out.getvalue().splitlines() if ": " in line]
    assert len(counted) == len(TABLES)
    assert all(re.fullmatch(r"\w+: \d+ unchanged", line) for line in counted), counted


@pytest.mark.django_db
def test_the_demo_refuses_a_database_with_another_site(folder):
    SiteFactory(slug="north", name="North yard")
    with pytest.raises(CommandError, match=r"This database holds another site \(north\)"):
        run_demo()
    assert not Site.objects.filter(slug=SLUG).exists()
    assert not list(folder.iterdir())


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["8000", "localhost", "localhost:99999", "a b:80", "http://x:80"])
def test_the_demo_refuses_an_address_that_is_none(folder, address):
    with pytest.raises(CommandError, match="expected HOST:PORT"):
        run_demo(address=address)
    assert not Site.objects.exists()


@pytest.mark.django_db
def test_the_demo_serves_with_debug_only(folder, settings):
    settings.DEBUG = False
    with pytest.raises(CommandError, match="serves with DEBUG on only"):
        call_command("demo")
    assert not Site.objects.exists()


@pytest.mark.django_db
def test_the_demo_serves_where_it_is_told_and_does_background_work_beside(folder, settings, monkeypatch):
    settings.DEBUG = True
    served, worked = [], []
    monkeypatch.setattr(demo, "call_command", lambda name, *args, **kwargs: served.append((name, args, kwargs)))
    monkeypatch.setattr(demo.Worker, "run", lambda self: worked.append(self.backend_name))
    out = io.StringIO()
    call_command("demo", address="127.0.0.1:8123", stdout=out)
    assert served[-1] == ("runserver", ("127.0.0.1:8123",), {"use_reloader": False})
    assert worked == ["default"]
    assert "First page: http://127.0.0.1:8123/" in out.getvalue()


@pytest.mark.django_db
def test_the_crews_lists_of_the_demo_hold_what_is_measured_or_cut_to_the_drawing(folder):
    run_demo()
    site = Site.objects.get(slug=SLUG)
    may, waits = set(), set()
    for plan in CutPlan.objects.of(site).filter(state="accepted").select_related("site", "cable"):
        page = crew_page(site, plan.cable, plan=plan, by_run=True, page="all")
        for row in (row for sheet in page.sheets for row in sheet.lines):
            told = (plan.cable.code, row.line.planned.conductor.run.name)
            if row.line.made is None:
                (waits if row.line.waits else may).add(told)
    # CB-01 and CB-12 are measured, CB-06 is cut to the drawing.
    assert may == {("GR-500", "CB-01"), ("GR-40", "CB-12"), ("LV-350", "CB-06"), ("GR-40", "CB-06")}
    assert {run for _, run in waits} == {f"CB-{n:02}" for n in (2, 5, 8, 9, 10, 13, 14, 15, 16)}
