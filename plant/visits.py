"""Counts the visits of one address in the running minute, in one small file that all workers share.

The file has a fixed size, holds no address (only a slot chosen by a keyed hash) and needs no database, so
that counting strangers can never fill a disk or write a record.
"""

import fcntl
import hashlib
import os
import struct
import threading
from pathlib import Path

from django.conf import settings
from django.utils import timezone

SLOTS = 65_536
SLOT = struct.Struct("<II")  # the minute, and the visits in it

_one_thread = threading.Lock()


def visit(address: str) -> int:
    """Count one more visit from this address and return how many there were in this minute.

    Two addresses share a slot once in 65,536, and then each other's count.
    """
    minute = int(timezone.now().timestamp()) // 60
    digest = hashlib.blake2b(address.encode(), key=settings.SECRET_KEY.encode()[:64], digest_size=8).digest()
    offset = int.from_bytes(digest, "big") % SLOTS * SLOT.size
    # A file lock holds between processes only, and closing the file gives it up: hence the second lock.
    with _one_thread:
        file = os.open(_path(), os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.lockf(file, fcntl.LOCK_EX, SLOT.size, offset)
            then, count = SLOT.unpack(os.pread(file, SLOT.size, offset).ljust(SLOT.size, b"\0"))
            count = count + 1 if then == minute else 1
            os.pwrite(file, SLOT.pack(minute, min(count, 2**32 - 1)), offset)
        finally:
            os.close(file)
    return count


def _path() -> Path:
    folder = Path(settings.DATA_FOLDER)
    folder.mkdir(parents=True, exist_ok=True)
    return folder / "visits"
