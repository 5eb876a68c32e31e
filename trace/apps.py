"""Names the app whose records are what happened in the plant."""

from typing import ClassVar

from django.apps import AppConfig

from trace.migrations._door import GUARDS, WRITTEN_GUARDS


class TraceConfig(AppConfig):
    name = "trace"
    default_auto_field = "django.db.models.BigAutoField"
    # Table -> its triggers: plant/checks.py, which knows nothing of records, looks for them at the start.
    guarded: ClassVar[dict[str, tuple[str, ...]]] = {t: tuple(g[0] for g in gs) for t, gs in GUARDS.items()}
    # Guards of tables that the app's login writes itself.
    watched: ClassVar[dict[str, tuple[str, ...]]] = {t: tuple(g[0] for g in gs) for t, gs in WRITTEN_GUARDS.items()}
