"""One sentence, with the remedy, for each thing outside the program that keeps it from going on."""

from __future__ import annotations

import errno
from pathlib import Path

FULL = "No space left on device"


class StopError(Exception):
    """Ends a set-up: its text is the one sentence a person reads, without traceback; the exit code is 1."""


def disk_full(place: Path | str) -> StopError:
    """The disk that holds place is full."""
    return StopError(f"The disk that holds {place} is full: free some space and run the same command again.")


def from_os_error(error: OSError, place: Path | str) -> StopError:
    """The sentence for an error that the system gave while place was written, read or started."""
    where = error.filename if isinstance(error.filename, str) else place
    if error.errno in {errno.ENOSPC, errno.EDQUOT}:
        return disk_full(where)
    if error.errno in {errno.EACCES, errno.EPERM}:
        return StopError(
            f"This user may not write {where}: run as its owner, or give the folder to this user with chown, "
            "and run the same command again."
        )
    if error.errno == errno.EROFS:
        return StopError(
            f"{where} lies on a disk that may only be read: copy the project to a disk that may be written "
            "and run it there."
        )
    return StopError(f"{where}: {error.strerror or error}; put this right and run the same command again.")
