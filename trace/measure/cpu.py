"""The processor time that a measurement costs the database server, and how long was waited for a processor."""

import os
from pathlib import Path

from django.db import connection


def server_cpu() -> float:
    """Seconds of CPU that the server's process of this session has used; 0 where the system does not tell."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        (pid,) = cursor.fetchone()
    try:
        words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def queued() -> float:
    """Seconds that this process and the server's of its session were ready and had no processor; 0 where the system
    does not tell. Together: while one of them works, the other waits for it."""
    pids = [os.getpid()]
    if connection.connection is not None:
        pids.append(connection.connection.info.backend_pid)
    try:
        return sum(int(Path(f"/proc/{pid}/schedstat").read_text().split()[1]) for pid in pids) / 1e9
    except OSError:
        return 0.0
