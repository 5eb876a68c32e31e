"""The web application as gunicorn starts it: `gunicorn plant.wsgi`, from the project's folder."""

import gc
import os
import sys
from pathlib import Path

# `trace` is also a standard-library module: the project's folder comes first, whoever starts this and from
# where.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

from plant.character_set import only_utf8
from plant.start import START

application = only_utf8(get_wsgi_application())
# All pages are loaded now, not by the first who asks: gunicorn --preload does it once for all workers, and one that
# takes the place of a killed worker answers at once.
_ = get_resolver().url_patterns
# Once the apps are loaded: no request is answered from a database that does not guard its records. One that does not
# answer is waited for (plant.middleware.once_guarded).
START.begin()
# What stands now stays as long as the process: the collector need not look at it again and again.
gc.freeze()
