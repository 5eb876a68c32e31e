"""The one settings file: every environment variable is read here and listed in README.md."""

from pathlib import Path

from plant.env import (
    OWNER,
    database_settings,
    database_url,
    env_bool,
    env_int,
    env_label_host,
    env_list,
    env_networks,
    env_secret,
    env_text,
    secret_key,
)

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_FOLDER = Path(env_text("DATA_FOLDER") or BASE_DIR / "var").resolve()

DEBUG = env_bool("DEBUG", False)
SECRET_KEY = secret_key(DATA_FOLDER)
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", ["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env_list("TRUSTED_ORIGINS")
HTTPS = env_bool("HTTPS", False)
# The proxy whose word about an address counts (plant/address.py).
TRUSTED_PROXY = env_networks("TRUSTED_PROXY")

# The role a process works as: app for everything that runs, migrator only for `manage.py migrate`.
ROLE = env_text("LOTWRIGHT_ROLE", "app", choices=("app", "migrator", "sealer", "auditor"))
DATABASES = {
    "default": database_settings(database_url(DATA_FOLDER, ROLE), owner=OWNER if ROLE == "migrator" else None)
}

# From the third run on the server keeps the plan of a scan's large statements (trace/genealogy/prepared.py): for as
# long as the session lasts, so a session outlives its request.
DATABASES["default"] |= {"CONN_MAX_AGE": 600, "CONN_HEALTH_CHECKS": True}
_options = DATABASES["default"].setdefault("OPTIONS", {})
_options["prepare_threshold"] = 2
# One page is read as fast as the next (solid disks, and what is asked for is in memory). With the server's own 4.0 a
# young plant's few withdrawals were read through for every edge of a walk in place of being looked up.
ONE_LOOKUP = "-c random_page_cost=1.1"
# A server that is out of reach must not keep a thread: libpq would wait for minutes (PostgreSQL manual, 32.1.2).
_options.setdefault("connect_timeout", "5")
_options.setdefault("tcp_user_timeout", "15000")
_options["options"] = " ".join(
    [_options.get("options", ""), f"-c plan_cache_mode=force_generic_plan -c lock_timeout=8s -c jit=off {ONE_LOOKUP}"]
).strip()

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "plant.apps.PlantConfig",
    "trace.apps.TraceConfig",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "plant.middleware.policy_headers",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "plant.middleware.OneSentenceErrors",
    "plant.middleware.once_guarded",
    "plant.middleware.readable",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "plant.middleware.rights",
]
ROOT_URLCONF = "plant.urls"
WSGI_APPLICATION = "plant.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": ["django.template.context_processors.request", "plant.head.who"],
            "libraries": {"once": "plant.once", "asks": "trace.pages.asks"},
        },
    }
]

AUTH_USER_MODEL = "plant.Account"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
# How long a screen may stand unused before everybody is signed out, and how long a sign-in lasts at most.
FLOOR_IDLE_MINUTES = env_int("FLOOR_IDLE_MINUTES", 10, least=1, most=600)
DESK_IDLE_MINUTES = env_int("DESK_IDLE_MINUTES", 30, least=1, most=600)
SIGNED_ON_HOURS = env_int("SIGNED_ON_HOURS", 10, least=1, most=24)
SESSION_ENGINE = "plant.sessions"
SESSION_COOKIE_AGE = SIGNED_ON_HOURS * 3600
# The prefix makes browsers refuse these cookies from another host or without TLS (RFC 6265bis draft, 4.1.3).
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME, DEVICE_COOKIE_NAME = (
    ("__Host-" if HTTPS else "") + name for name in ("session", "form", "device")
)
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
# Two years, what lists of browsers ask for; how long a browser then opens this host over TLS only (RFC 6797).
HSTS_DAYS = env_int("HSTS_DAYS", 730, least=0, most=730)
SECURE_HSTS_SECONDS = HSTS_DAYS * 86_400 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
# Not no-referrer: with that, browsers send "Origin: null" with every form (Fetch standard, 3.2), which the
# check against forged forms refuses. The pages for strangers say no-referrer themselves.
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "trace.pages.errors.stale_form"

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English")]
LOCALE_PATHS = [BASE_DIR / "templates" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = env_text("PLANT_TIME_ZONE", "Europe/London")

STATIC_URL = "/static/"
STATIC_ROOT = DATA_FOLDER / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"},
}
PHOTO_FOLDER = DATA_FOLDER / "photos"
PAPER_FOLDER = DATA_FOLDER / "papers"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440
FILE_UPLOAD_MAX_MEMORY_SIZE = 2_621_440

# A short upper-case host (at most 10 characters) printed into labels as HTTPS://HOST/S/CODE; empty: bare code.
LABEL_HOST = env_label_host("LABEL_HOST")

REST_FRAMEWORK = {
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Lotwright",
    "VERSION": "0.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    # Two fields are called kind: of a unit, and of a paper.
    "ENUM_NAME_OVERRIDES": {
        "KindEnum": "trace.api.shapes.KINDS",
        "PaperKindEnum": "trace.api.shapes.PAPER_KINDS",
        "ScopeVerdictEnum": "trace.api.shapes.VERDICTS",
    },
}

# What a scan changes about holds it writes itself up to this many units; a wider reach is written by a job, as other
# scans wait meanwhile.
HOLD_REACH_AT_ONCE = 1_000

# Empty: the worker does the jobs itself, as it finds them (plant/celery.py). The queue keeps two plants on one broker
# apart.
CELERY_BROKER_URL = env_secret("CELERY_BROKER_URL")
CELERY_QUEUE = env_text("CELERY_QUEUE", "lotwright")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # Who signed in and who read what, one line each; see plant/middleware.py.
    "loggers": {"plant.sign_in": {"level": "INFO"}, "plant.reads": {"level": "INFO"}},
}
