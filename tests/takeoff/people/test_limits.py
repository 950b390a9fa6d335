"""Whose address a request comes from, and how much it may send."""

import pytest
from django.test import RequestFactory

from takeoff.people.limits import asking_address

HEADERS = {"REMOTE_ADDR": "10.0.0.9", "HTTP_X_FORWARDED_FOR": "6.6.6.6, 192.0.2.7"}


@pytest.mark.parametrize(("behind", "address"), [(False, "10.0.0.9"), (True, "192.0.2.7")])
def test_only_a_proxy_may_say_for_whom_it_asks(settings, behind, address):
    settings.BEHIND_PROXY = behind
    assert asking_address(RequestFactory().get("/", **HEADERS)) == address


def test_a_proxy_that_says_nothing_is_the_one_that_asks(settings):
    settings.BEHIND_PROXY = True
    assert asking_address(RequestFactory().get("/", REMOTE_ADDR="10.0.0.9")) == "10.0.0.9"


def test_a_request_that_is_too_long_is_not_read(client, settings):
    settings.MOST_BYTES_OF_A_REQUEST = 1024 * 1024
    answer = client.post("/~/sign-in/", {"username": "x" * 1024 * 1024})
    assert answer.status_code == 413
    assert "At most 1 MB" in answer.content.decode()
