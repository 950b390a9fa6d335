"""Every query starts from a site, or from a row that was reached through one."""

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from takeoff.models import Run, Site, Supplier, User
from takeoff.sites.scope import SiteManager, site_path
from tests.factories.takeoff import SiteFactory, SupplierFactory
from tests.source import FLOORS, modules

WITHOUT_SITE = {Site, User}
STARTS = {"of", "create", "bulk_create"}  # a query of one site; new rows, whose parents say the site
OWN = [model for model in apps.get_models() if model._meta.app_label in FLOORS]


def unscoped_starts(source: str) -> list[str]:
    """What stands behind `.objects` in `source` and is no way to start from a site."""
    exempt = {model.__name__ for model in WITHOUT_SITE}
    bad = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Attribute):
            continue
        if node.attr in {"_default_manager", "_base_manager"}:
            bad.append(f"line {node.lineno}: {ast.unparse(node)}")
        before = node.value
        if isinstance(before, ast.Attribute) and before.attr == "objects" and node.attr not in STARTS:
            owner = ast.unparse(before.value).split(".")[-1]
            if owner not in exempt:
                bad.append(f"line {node.lineno}: {ast.unparse(node)}")
    return bad


# The one place that scopes, and the proofs that must look across sites.
ACROSS = {"takeoff.sites.scope", "takeoff.database.append_only", "kits.audit.proofs"}


@pytest.mark.parametrize(
    ("name", "path"), [pair for pair in modules() if pair[0] not in ACROSS], ids=lambda value: str(value)
)
def test_no_code_starts_a_query_without_its_site(name: str, path: Path):
    assert not unscoped_starts(path.read_text())


def test_the_test_sees_a_query_that_forgot_its_site():
    assert unscoped_starts("Run.objects.filter(name='x')") == ["line 1: Run.objects.filter"]
    assert unscoped_starts("run.places.all(); Run.objects.of(site).filter(name='x')") == []


@pytest.mark.parametrize("model", sorted(set(OWN) - WITHOUT_SITE, key=str), ids=lambda model: model.__name__)
def test_every_model_knows_its_way_to_its_site(model: type[models.Model]):
    assert isinstance(model.objects, SiteManager)
    field: models.Field = model._meta.get_field(site_path(model).split("__")[0])
    for step in site_path(model).split("__")[1:]:
        assert not field.null, f"{model.__name__} can lose its site at {field.name}"
        field = field.related_model._meta.get_field(step)
    assert field.related_model is Site
    assert not field.null


@pytest.mark.django_db
def test_of_gives_the_rows_of_one_site_and_no_others(django_assert_num_queries):
    here, there = (SiteFactory(slug=slug) for slug in ("here", "there"))
    with django_assert_num_queries(1):
        assert list(Run.objects.of(here)) == []
    SupplierFactory(site=here, name="A")
    SupplierFactory(site=there, name="B")
    assert [supplier.name for supplier in Supplier.objects.of(here)] == ["A"]
