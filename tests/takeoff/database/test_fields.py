"""Exact numbers stay exact in the database, on every engine that the tests run on."""

from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import FieldError, ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F, Max, Sum
from hypothesis import given
from hypothesis import strategies as st

from takeoff.database.fields import ExactField, FractionField, exact_value
from takeoff.models import Item, Run, Section, TakeoffLine
from takeoff.units.exact import LARGEST, SCALE, NotExactError, from_ticks, to_ticks
from tests.factories.takeoff import (
    ItemFactory,
    RunFactory,
    SectionFactory,
    SiteFactory,
    TakeoffLineFactory,
)

TENTH = Decimal("0.1")


@pytest.fixture
def site(db):
    return SiteFactory(slug="here", name="Here")


@pytest.fixture
def run(site):
    return RunFactory(site=site, name="R", cables_per_phase=1)


@given(st.integers(-LARGEST, LARGEST))
def test_ticks_and_decimals_are_one_to_one(ticks):
    assert to_ticks(from_ticks(ticks)) == ticks
    assert from_ticks(ticks) * SCALE == ticks


@pytest.mark.parametrize(
    "value", [0.1, True, "x", "", "1e400", "nan", "inf", Decimal("nan"), Decimal("0.00001"), 10**15]
)
def test_what_is_not_exact_is_refused(value):
    with pytest.raises(NotExactError):
        to_ticks(value)


def test_a_number_that_was_given_before_is_refused_again_when_it_is_no_number():
    assert to_ticks(Decimal(1)) == to_ticks(1) == SCALE
    with pytest.raises(NotExactError):
        to_ticks(True)
    with pytest.raises(NotExactError):
        to_ticks(1.0)


def test_a_length_comes_back_as_it_went_in_and_is_found_by_equality(run):
    for seq, text in enumerate(["1.5875", "3.048", "0.0001", "900000000000000"], start=1):
        SectionFactory(run=run, seq=seq, length=Decimal(text))
        found = Section.objects.of(run.site).get(length=Decimal(text))
        assert (found.seq, found.length) == (seq, Decimal(text))


def test_sums_do_not_drift(run):
    Section.objects.bulk_create(Section(run=run, seq=seq, kind="straight", length=TENTH) for seq in range(1000))

    assert run.sections.aggregate(total=Sum("length"))["total"] == 100
    assert run.sections.aggregate(longest=Max("length"))["longest"] == TENTH
    assert run.sections.filter(seq__lt=0).aggregate(total=Sum("length"))["total"] is None
    totals = Run.objects.of(run.site).annotate(total=Sum("sections__length")).get()
    assert totals.total == 100
    assert Run.objects.of(run.site).annotate(total=Sum("sections__length")).filter(total=Decimal(100)).exists()


def test_expressions_in_the_database_are_exact(run):
    section = SectionFactory(run=run, length=TENTH)
    sections = Section.objects.of(run.site)

    sections.update(length=F("length") + exact_value("0.2"))
    section.refresh_from_db()
    assert section.length == Decimal("0.3")
    assert sections.filter(length=Decimal("0.1") + Decimal("0.2")).exists()

    sections.update(length=F("length") + F("length"))
    assert sections.get().length == Decimal("0.6")
    assert sections.annotate(left=F("length") - exact_value("0.0001")).get().left == Decimal("0.5999")
    assert sections.filter(length__gt=exact_value("0.5999"), length__lt=Decimal("0.6001")).exists()
    assert sections.order_by("-length").values_list("length", flat=True)[0] == Decimal("0.6")
    assert sections.filter(length__in=[Decimal("0.6"), Decimal(7)]).exists()
    assert sections.filter(length__range=(Decimal("0.5"), Decimal("0.7"))).exists()


def test_what_would_be_off_by_the_scale_is_refused_by_the_database_layer(run):
    SectionFactory(run=run, length=Decimal("2.5"))
    sections = Section.objects.of(run.site)

    for mixture in (F("length") * F("length"), F("length") + F("seq"), F("length") + 1, F("length") / F("length")):
        with pytest.raises(FieldError):
            sections.annotate(result=mixture).get()
    assert sections.annotate(result=F("length") * 2).get().result == 5
    assert sections.annotate(result=3 * F("length")).get().result == Decimal("7.5")


def test_an_annotated_expression_can_be_written_back(run):
    SectionFactory(run=run, length=Decimal("12.5"))
    run.sections.update(length=F("length") - exact_value("12.4999"))
    assert run.sections.get().length == Decimal("0.0001")


@pytest.mark.parametrize("pack", ["0", "-0.0001"])
def test_a_check_holds_at_the_fourth_decimal_place(site, pack):
    with pytest.raises(IntegrityError), transaction.atomic():
        ItemFactory(site=site, code="I", pack=Decimal(pack))
    item = ItemFactory(site=site, code="I", pack=Decimal("0.0001"))
    with pytest.raises(IntegrityError), transaction.atomic():
        Item.objects.of(site).update(pack=F("pack") - exact_value("0.0001"))
    item.refresh_from_db()
    assert item.pack == Decimal("0.0001")


@pytest.mark.parametrize(("level", "kept"), [("0.5", True), ("0.4999", False), ("0.999", True), ("0.9991", False)])
def test_a_check_between_two_constants_is_exact(site, level, kept):
    site.service_level = Decimal(level)
    if kept:
        site.full_clean()
        site.save()
        return
    with pytest.raises(ValidationError):
        site.full_clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        site.save()


def test_a_fifth_decimal_place_is_refused_with_the_reason(site):
    with pytest.raises(ValidationError, match=r"1\.00001 has more than 4 decimal places; at most 4 are kept"):
        Item(site=site, code="I", description="x", pack=Decimal("1.00001")).full_clean()
    with pytest.raises(ValidationError, match="at most 4 are kept"):
        ItemFactory(site=site, code="I", pack=Decimal("1.00001"))
    with pytest.raises(ValidationError, match="at most 4 are kept"):
        Item.objects.of(site).filter(pack=Decimal("0.00001")).exists()


def test_the_validators_of_a_field_see_the_number_not_its_ticks(site):
    Item(site=site, code="I", description="x", pack=Decimal("0.5")).full_clean()
    with pytest.raises(ValidationError, match="greater than or equal to 0"):
        Item(site=site, code="I", description="x", pack=Decimal(-1)).full_clean()


def test_a_form_field_takes_four_decimal_places():
    field = ExactField(default=0).formfield()
    assert field.clean("1.2345") == Decimal("1.2345")
    with pytest.raises(ValidationError):
        field.clean("1.23456")


def test_a_fraction_comes_back_whole(run):
    exact = Fraction(10**40 + 1, 3 * 10**39)
    line = TakeoffLineFactory(takeoff__run=run, exact=exact, exact_drawn=Fraction(5))

    line.refresh_from_db()
    assert (line.exact, line.exact_drawn) == (exact, Fraction(5))
    assert TakeoffLine.objects.of(run.site).filter(exact=exact).exists()
    assert FractionField().to_python("7/2") == Fraction(7, 2)
