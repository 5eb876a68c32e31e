"""Names the app that holds what exists before a scan, and registers its start-up checks."""

from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Django wants checks to be registered once the apps are loaded.
        from plant import checks  # noqa: F401
