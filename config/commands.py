"""The command line: our own commands first, and a quiet end where nobody reads on."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from django.core.management import ManagementUtility, get_commands, load_command_class

OURS = ("kits", "reels", "takeoff")
CLOSED_PIPE = 128 + 13  # what a shell reports of a program that SIGPIPE ended


class Commands(ManagementUtility):
    """Django's command line, whose help begins with what this project does."""

    def main_help_text(self, commands_only: bool = False) -> str:
        """Return our commands with what each does, then the names of Django's own; names alone for a completion."""
        if commands_only:
            return super().main_help_text(commands_only=True)
        found = get_commands()
        ours = sorted(name for name, app in found.items() if app in OURS)
        width = max(map(len, ours))
        told = [f"  {name:{width}}  {load_command_class(found[name], name).help}" for name in ours]
        others = ", ".join(sorted(found.keys() - set(ours)))
        return "\n".join(
            [
                f"{self.prog_name} COMMAND, and {self.prog_name} help COMMAND for how it is called:",
                "",
                *told,
                "",
                f"Of Django and the libraries: {others}",
            ]
        )


def run(argv: Sequence[str]) -> None:
    """Run a command; where whoever reads its output has stopped, end without a word."""
    try:
        Commands(list(argv)).execute()
        sys.stdout.flush()
    except BrokenPipeError:
        # What is left in the buffer goes nowhere, or Python complains at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(CLOSED_PIPE)
