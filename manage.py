#!/usr/bin/env python
"""Run Reelkeep's commands."""

import os
import sys

from config.secret import prepare_demo


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    if sys.argv[1:2] == ["demo"]:
        prepare_demo()
    from config.commands import run

    run(sys.argv)


if __name__ == "__main__":
    main()
