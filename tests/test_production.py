"""The settings of a server: what a page answers with DEBUG off, as a proxy and a browser see it."""

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ASK = """
import json, sys
import django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
call_command("collectstatic", verbosity=0, interactive=False)
from django.test import Client
from django.urls import path
from config import urls
from takeoff.people.permissions import public
def fails(request): raise RuntimeError("a fault of ours")
urls.urlpatterns.insert(0, path("fails/", public(fails)))
client = Client(HTTP_HOST="reelkeep.example", raise_request_exception=False)
told = {}
for name, address, headers in json.loads(sys.argv[1]):
    answer = client.get(address, headers=headers, secure=headers.pop("secure", False))
    told[name] = [answer.status_code, dict(answer.headers), {k: bool(v["secure"]) for k, v in answer.cookies.items()}]
print(json.dumps(told))
"""


def ask(tmp_path, pages, **environment):
    """Answers of a server in a process of its own: status, headers, cookies; and what it logged."""
    environment = {
        "PATH": os.environ["PATH"],
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'books.sqlite3'}",
        "SECRET_KEY": "of this test only, long enough for the checks of a server",
        "ALLOWED_HOSTS": "reelkeep.example",
        "STATIC_ROOT": str(tmp_path / "static"),
        "MEDIA_ROOT": str(tmp_path / "media"),
        **environment,
    }
    done = subprocess.run(
        [sys.executable, "-c", ASK, json.dumps(pages)],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1]), done.stderr


def test_a_server_answers_over_tls_with_what_keeps_it_safe(tmp_path):
    pages = [
        ("plain", "/~/sign-in/", {}),
        ("safe", "/~/sign-in/", {"secure": True}),
        ("claimed", "/~/sign-in/", {"X-Forwarded-Proto": "https"}),
        ("fault", "/fails/", {"secure": True}),
        ("too much", "/~/sign-in/", {"secure": True, "Content-Length": str(41 * 1024 * 1024)}),
    ]
    told, logged = ask(tmp_path, pages)

    assert (told["plain"][0], told["plain"][1]["Location"]) == (301, "https://reelkeep.example/~/sign-in/")
    assert told["claimed"][0] == 301, "without a proxy nobody may say that it was safe"
    status, headers, cookies = told["safe"]
    assert status == 200
    assert "max-age=31536000" in headers["Strict-Transport-Security"]
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert "data:" not in policy
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert cookies == {"csrftoken": True}
    assert told["fault"][0] == 500
    assert "RuntimeError: a fault of ours" in logged, "whoever runs the server sees what went wrong"
    assert told["too much"][0] == 413


def test_behind_a_proxy_its_word_counts(tmp_path):
    told, _ = ask(tmp_path, [("claimed", "/~/sign-in/", {"X-Forwarded-Proto": "https"})], BEHIND_PROXY="True")
    assert told["claimed"][0] == 200
