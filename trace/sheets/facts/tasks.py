"""Which training each kind of event asks for: read off the commands themselves."""

from trace.recording.acts import commands_by_kind

TASK_OF_KIND: dict[str, str] = {kind: c.TASK for kind, c in commands_by_kind().items() if c.TASK}
