"""How scripts and styles are handed out: under names that carry a digest of what is in them, so that none goes stale."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class ModuleStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # the library is untyped
    """What our own scripts import is named by its digest too; otherwise an old part could meet a new one."""

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (
            "studio/*.js",
            (
                (
                    r"""(?P<matched>import(?s:(?P<names>[\s\{].*?))\s*from\s*["'](?P<url>\./.*?)["'];)""",
                    'import%(names)s from "%(url)s";',
                ),
            ),
        ),
    )
