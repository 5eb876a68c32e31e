"""The processor time that a measurement costs the database server."""

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
