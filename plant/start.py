"""The start of the web and of the worker: refused on a database that is badly guarded, put off while none answers."""

from __future__ import annotations

import sys
import threading
import time

from django.core.checks import CheckMessage

from plant.checks import NO_ANSWER, start_faults

# gunicorn ends with its workers on this status alone; on any other it would start them again for ever.
REFUSED = 3
ASK_AGAIN_SECONDS = 0.5


class Start:
    """Whether this process may work on its database. `waits`: it has not answered yet, nobody may be served."""

    def __init__(self) -> None:
        self.waits = False
        self._said = ""
        self._next = 0.0
        self._one = threading.Lock()

    def begin(self) -> None:
        """End the process when the database is badly guarded; leave it waiting when it does not answer."""
        faults = self._ask()
        if any(fault.is_serious() and fault.id != NO_ANSWER for fault in faults):
            sys.exit(REFUSED)

    def may_serve(self) -> bool:
        """True once the database was found to guard its records. Asked at most every ASK_AGAIN_SECONDS, by one
        thread at a time; what is found then is said in the log once.
        """
        if not self.waits:
            return True
        if time.monotonic() < self._next or not self._one.acquire(blocking=False):
            return False
        try:
            self._ask()
            self._next = time.monotonic() + ASK_AGAIN_SECONDS
        finally:
            self._one.release()
        return not self.waits

    def wait(self) -> None:
        """Return once the database was found to guard its records; end the process when it is badly guarded."""
        self.begin()
        while self.waits:
            time.sleep(ASK_AGAIN_SECONDS)
            self.begin()

    def _ask(self) -> list[CheckMessage]:
        faults = start_faults()
        self.waits = any(fault.is_serious() for fault in faults)
        said = "\n".join(f"{fault.msg} {fault.hint}" for fault in faults)
        if said and said != self._said:
            print(said, file=sys.stderr, flush=True)
        self._said = said
        return faults


START = Start()
