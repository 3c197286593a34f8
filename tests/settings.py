"""Settings for tests: a data folder of their own, cheap passwords, and the database of DATABASE_URL."""

import os
import tempfile

# Kept as long as the process lives, and cleared away after it.
_FOLDER = tempfile.TemporaryDirectory(prefix="studio-tests-", ignore_cleanup_errors=True)
os.environ["STUDIO_DATA"] = _FOLDER.name
os.environ.setdefault("SECRET_KEY", "only-for-tests-" + "0" * 40)

from studio.settings import *  # noqa: E402, F403
from studio.settings import DATABASES, STORAGES  # noqa: E402

TIME_ZONE = "UTC"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
# A test of the lockout switches it on.
AXES_ENABLED = False

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, because the threads of one process do not queue for a database in memory as they do for a file.
    DATABASES["default"]["TEST"] = {"NAME": os.path.join(_FOLDER.name, "test.sqlite3")}
    # Nothing here outlives a power cut.
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA synchronous=OFF; PRAGMA foreign_keys=ON;"
else:
    # Connections of threads that ended would keep the test database from being taken away.
    DATABASES["default"]["CONN_MAX_AGE"] = 0

STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405
