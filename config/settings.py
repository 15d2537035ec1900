"""Settings from the environment; every default is the safe one."""

from pathlib import Path

import environ
from csp.constants import NONE, SELF

from config import services

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = BASE_DIR / "var"
env = environ.Env()

# No default: what serves or signs needs a key of its own; pure commands run without.
SECRET_KEY = env("SECRET_KEY", default="")
DEBUG = False
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
# The address that links in e-mails and on labels begin with.
PUBLIC_URL = env("PUBLIC_URL", default="https://localhost")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.postgres",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_linear_migrations",
    "axes",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "config.apps.ConfigConfig",
    "jobs",
    "readings",
    "scheduling",
]
MIDDLEWARE = [
    "config.health.HealthMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

DATABASES = {
    "default": {
        **services.database_settings(BASE_DIR),
        "CONN_MAX_AGE": 600,
        "CONN_HEALTH_CHECKS": True,
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "jobs.Member"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "config.authentication.MemberBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "login"
# Five wrong passwords for one name from one address, then a quarter of an hour of silence.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "config.problems.locked_out"
AXES_VERBOSE = False
# The name under which our log-ins pass the e-mail to `authenticate`.
AXES_USERNAME_FORM_FIELD = "username"

# TLS=off is for the demo and for tests on loopback only.
TLS = env.bool("TLS", default=True)
SECURE_SSL_REDIRECT = TLS
SESSION_COOKIE_SECURE = TLS
CSRF_COOKIE_SECURE = TLS
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
SECURE_HSTS_PRELOAD = TLS
if env.bool("BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    AXES_IPWARE_PROXY_COUNT = 1
SESSION_COOKIE_HTTPONLY = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 5_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5_000

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "config" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "config" / "static"]
# Certificates and photos: private, outside of what the web server serves.
MEDIA_ROOT = Path(env("FILES_DIR", default=str(VAR_DIR / "files")))
# What papers are signed with: see config/signing.py.
SIGNING_DIR = Path(env("SIGNING_DIR", default=str(VAR_DIR / "signing")))
SIGNING_KEYS = {name: key for name, key in env.ENVIRON.items() if name.startswith("SIGNING_KEY")}
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": MEDIA_ROOT},
    },
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if TLS
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
# On loopback files are served from where they lie: collecting and compressing takes 20 s.
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = not TLS
WHITENOISE_SKIP_COMPRESS_EXTENSIONS = ["map", "png", "svgz", "woff", "woff2", "gz", "br"]

EMAIL_CONFIG = env.email_url("EMAIL_URL", default="consolemail://")
vars().update(EMAIL_CONFIG)
# A server that takes the connection and says nothing holds a worker no longer than this.
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env("DEFAULT_FROM_EMAIL", default="firstwarm@localhost")
# Webhooks go to the public internet by HTTPS; this allows the own network too, and plain HTTP.
WEBHOOKS_TO_PRIVATE = env.bool("WEBHOOKS_TO_PRIVATE", default=False)

CELERY_BROKER_URL = services.broker_url(BASE_DIR)
# A broker that is down costs a request nothing; rows are the truth and beat resends.
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "max_retries": 0,
    "interval_start": 0,
    # One that hangs costs it little.
    "socket_connect_timeout": 2,
    "socket_timeout": 5,
    # A task of a killed worker comes back after this many seconds.
    "visibility_timeout": env.int("TASK_VISIBILITY_SECONDS", default=60),
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_DEFAULT_QUEUE = "celery"
# Planning holds a worker for as long as it was asked to: no warning waits behind it.
CELERY_TASK_ROUTES = {"scheduling.tasks.solve_plan": {"queue": "plans"}}
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TASK_TIME_LIMIT = 900
CELERY_BEAT_SCHEDULE = {
    "forget-old-answers": {"task": "config.tasks.forget_old_answers", "schedule": 3600.0},
    "forget-old-deliveries": {"task": "jobs.tasks.forget_old_deliveries", "schedule": 3600.0},
    "resend-due-deliveries": {"task": "jobs.tasks.resend_due_deliveries", "schedule": 10.0},
    "tend-exports": {"task": "jobs.tasks.tend_exports", "schedule": 30.0},
    "take-in-waiting-lists": {"task": "jobs.tasks.take_in_waiting_lists", "schedule": 20.0},
    "lay-waiting-rooms": {"task": "jobs.tasks.lay_waiting_rooms", "schedule": 20.0},
    "refresh-waiting-jobs": {
        "task": "scheduling.tasks.refresh_waiting_jobs",
        "schedule": 600.0,
    },
    "bring-lists-up-to-date": {
        "task": "scheduling.tasks.bring_lists_up_to_date",
        "schedule": 30.0,
    },
    "follow-calendars": {"task": "scheduling.tasks.follow_calendars", "schedule": 10.0},
    "resend-waiting-plans": {
        "task": "scheduling.tasks.resend_waiting_plans",
        "schedule": 10.0,
    },
    "send-due-moves": {"task": "scheduling.tasks.send_due_moves", "schedule": 20.0},
    "resend-due-notices": {"task": "scheduling.tasks.resend_due_notices", "schedule": 20.0},
    "resend-due-certificates": {
        "task": "scheduling.tasks.resend_due_certificates",
        "schedule": 10.0,
    },
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "config.authentication.DeviceTokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["config.parsers.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "config.problems.answer",
    "DEFAULT_VERSIONING_CLASS": None,
    "UNICODE_JSON": True,
    "STRICT_JSON": True,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Firstwarm",
    "DESCRIPTION": (
        "Job tracking and scheduling for electric floor warming. Firstwarm advises: local code, "
        "the makers' instructions and a licensed electrician rule over it."
    ),
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
    "COMPONENT_SPLIT_REQUEST": True,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    # Choices stay where they are used: names shared by enums would collide.
    "POSTPROCESSING_HOOKS": [
        "config.problems.document_problems",
    ],
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env("LOG_LEVEL", default="INFO")},
    # They tell every step of every paper and drawing.
    "loggers": {name: {"level": "WARNING"} for name in ("weasyprint", "fontTools", "ezdxf")},
}
