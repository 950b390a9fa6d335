"""Settings for tests where nothing is configured: a secret not worth keeping, plain http, quick hashes."""

import os

# pytest reads the settings before any conftest, so they are made here.
os.environ.setdefault("SECRET_KEY", "tests-only")
# Pages are asked over plain http, whatever the shell has set for a server of its own.
os.environ["DEBUG"] = "True"

from config.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
