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


@pytest.mark.parametrize(
    ("told", "address"),
    [
        ("192.0.2.7:51234", "192.0.2.7"),
        ("2001:db8::7", "2001:db8::7"),
        ("[2001:db8::7]", "2001:db8::7"),
        ('"[2001:db8::7]:51234"', "2001:db8::7"),
        ("unknown", "10.0.0.9"),
        ("_hidden:80", "10.0.0.9"),
        ("6.6.6.6, unknown", "10.0.0.9"),
    ],
)
def test_a_proxy_may_add_a_port_or_say_a_word(settings, told, address):
    settings.BEHIND_PROXY = True
    asked = RequestFactory().get("/", REMOTE_ADDR="10.0.0.9", HTTP_X_FORWARDED_FOR=told)
    assert asking_address(asked) == address


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["a" * 256, "a" * 5000, "a\x00b"])
def test_a_name_that_nobody_can_have_is_refused_like_any_other(client, name):
    answer = client.post("/~/sign-in/", {"username": name, "password": "wrong"})
    assert answer.status_code == 422


@pytest.mark.django_db
def test_a_wrong_password_behind_a_proxy_that_adds_a_port_is_refused_like_any_other(client, settings):
    settings.BEHIND_PROXY = True
    answer = client.post("/~/sign-in/", {"username": "a", "password": "wrong"}, HTTP_X_FORWARDED_FOR="192.0.2.7:5")
    assert answer.status_code == 422


def test_a_request_that_is_too_long_is_not_read(client, settings):
    settings.MOST_BYTES_OF_A_REQUEST = 1024 * 1024
    answer = client.post("/~/sign-in/", {"username": "x" * 1024 * 1024})
    assert answer.status_code == 413
    assert "At most 1 MB" in answer.content.decode()
