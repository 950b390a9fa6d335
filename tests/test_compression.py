"""Pages travel compressed, and what a form keeps secret does not show in their lengths."""

import gzip
import re

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db


def test_a_page_is_compressed_for_who_takes_it_so(client):
    plain = client.get(reverse("sign_in"))
    packed = client.get(reverse("sign_in"), headers={"accept-encoding": "gzip"})

    assert "Content-Encoding" not in plain
    assert packed["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed["Vary"]
    assert len(packed.content) < len(plain.content) / 2
    assert "<h1" in gzip.decompress(packed.content).decode()


def test_neither_the_token_nor_the_length_is_the_same_twice(client):
    answers = [client.get(reverse("sign_in"), headers={"accept-encoding": "gzip"}) for _ in range(12)]
    pages = [gzip.decompress(answer.content).decode() for answer in answers]

    assert len({re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)[1] for page in pages}) == 12
    assert len({len(answer.content) for answer in answers}) > 3, "each has a file name of a random length"
