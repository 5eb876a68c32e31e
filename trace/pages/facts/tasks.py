"""Which training each kind of event asks for: read off the commands themselves."""

from trace.recording.acts import (
    corrections,
    demould,
    finishing,
    goods_in,
    holds,
    loading,
    opening,
    oven,
    packing,
    plates,
    setup,
    vessels,
    weighing,
)
from trace.recording.commands import HANDLERS

# Named so that they are loaded: a module's commands are known once it was read.
COMMANDS = (
    corrections, demould, finishing, goods_in, holds, loading, opening, oven, packing, plates, setup, vessels,
    weighing,
)  # fmt: skip
TASK_OF_KIND: dict[str, str] = {c.KIND: c.TASK for c in HANDLERS if c.TASK}
