#!/usr/bin/env python3
"""Run a command of the project: `manage.py help` lists them."""

import os
import sys
from pathlib import Path


def main() -> None:
    """Put the project's folder first on the path (`trace` is also a standard-library module), then run
    Django.
    """
    root = str(Path(__file__).resolve().parent)
    sys.path[:] = [root, *(folder for folder in sys.path if folder not in {"", root})]
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
    try:
        from django.core.management import execute_from_command_line  # the message below needs it here
    except ImportError:
        sys.exit(
            "This Python has no Django: run .venv/bin/python manage.py (deploy/demo makes .venv)."
        )
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
