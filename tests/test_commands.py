"""The command line as a shell meets it."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def command(*words, **more):
    environment = {**os.environ, "SECRET_KEY": "of this test only", "DATABASE_URL": "sqlite://:memory:"}
    return subprocess.Popen(
        [sys.executable, "manage.py", *words], cwd=ROOT, env=environment, stderr=subprocess.PIPE, text=True, **more
    )


def test_help_begins_with_what_this_project_does():
    with command("help", stdout=subprocess.PIPE) as process:
        told, wrong = process.communicate()

    names = [line.split()[0] for line in told.splitlines() if line.startswith("  ")]
    assert names == ["audit", "demo", "empty_sheets", "invite", "load", "plan_cuts", "reconcile"]
    assert "Hold a site's books against its needs" in told
    assert told.index("reconcile") < told.index("migrate")
    assert wrong == ""


def test_a_command_whose_reader_has_seen_enough_ends_without_a_word():
    reads, writes = os.pipe()
    os.close(reads)
    with command("empty_sheets", "--describe", stdout=writes) as process:
        os.close(writes)
        assert process.stderr.read() == ""
    assert process.returncode == 141, "as after SIGPIPE"


def test_a_reader_that_stops_after_a_line_gets_that_line():
    with command("empty_sheets", "--describe", stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == "### site\n"
        process.stdout.close()
        assert process.stderr.read() == ""


LOADED = """
import sys
import django
django.setup()
from django.test import Client
import config.urls
assert Client(HTTP_HOST="localhost").get("/~/sign-in/").status_code == 200
print(sorted({"scipy", "highspy"} & set(sys.modules)))
"""


def test_a_plain_page_and_a_command_load_no_solver_and_no_statistics():
    environment = {**os.environ, "SECRET_KEY": "of this test only", "DJANGO_SETTINGS_MODULE": "tests.settings"}
    told = subprocess.run([sys.executable, "-c", LOADED], cwd=ROOT, env=environment, capture_output=True, text=True)
    assert told.stdout == "[]\n", told.stderr


def test_tests_do_not_depend_on_debug_in_the_environment():
    environment = {**os.environ, "DEBUG": "0", "DJANGO_SETTINGS_MODULE": "tests.settings"}
    code = "from django.conf import settings; print(settings.SECURE_SSL_REDIRECT)"
    told = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True)
    assert told.stdout == "False\n", told.stderr
