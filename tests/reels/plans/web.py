"""Asking for pages of cut plans and reading them."""

import re
from html import unescape
from itertools import count

from django.test import Client
from django.urls import reverse

from reels.models import CutPlan
from reels.planner.options import Options
from reels.plans.services import ask_for_plan, run_plan
from tests.factories.takeoff import member

QUICK = Options(seconds=1.0)
_numbers = count(1)


def person(site, *roles) -> Client:
    user = member(site, *roles, username=f"person-{next(_numbers)}")
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def url(name, site, *parts):
    return reverse(name, args=[site.slug, *parts])


def planned(site, cable, options=QUICK, **fields) -> CutPlan:
    return run_plan(plan=ask_for_plan(site=site, cable=cable, options=options), **fields)


def text_of(answer) -> str:
    """What a reader sees, without tags and doubled spaces."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))
