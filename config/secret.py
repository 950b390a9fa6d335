"""The secret of a copy that nobody has configured: made once by `demo`, kept beside its database."""

import os
import secrets
from pathlib import Path

VAR = Path(__file__).resolve().parent.parent / "var"
SECRET_FILE = VAR / "secret_key"


def kept_secret() -> str | None:
    """Return the secret that an earlier `demo` made, if there is one."""
    return SECRET_FILE.read_text().strip() if SECRET_FILE.exists() else None


def prepare_demo() -> None:
    """Let `demo` start on a machine where nothing is configured: a secret of its own, and debug pages."""
    os.environ.setdefault("DEBUG", "True")
    if "SECRET_KEY" in os.environ or kept_secret():
        return
    VAR.mkdir(exist_ok=True)
    descriptor = os.open(SECRET_FILE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(64))
