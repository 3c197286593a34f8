"""How long something took, in words."""

from datetime import timedelta


def duration_text(took: timedelta) -> str:
    """Two units at most: "12 min", "3 h 05 min", "2 days 4 h". Below a minute "under a minute"."""
    minutes = int(took.total_seconds()) // 60
    days, rest = divmod(minutes, 24 * 60)
    hours, minutes = divmod(rest, 60)
    if days:
        return f"{days} day{'' if days == 1 else 's'}{f' {hours} h' if hours and days < 10 else ''}"
    if hours:
        return f"{hours} h {minutes:02d} min"
    return f"{minutes} min" if minutes else "under a minute"


def lasted(seconds: int | None) -> str:
    """How long something took, to the second: "2 min 5 s", "24 h"; "" when nobody said."""
    if seconds is None:
        return ""
    hours, rest = divmod(seconds, 3_600)
    minutes, left = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (left, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count) or "0 s"


def days_words(days: float) -> str:
    """So many days: "1 day", "9 days", "9.4 days"."""
    shown = f"{days:.1f}".removesuffix(".0")
    return f"{shown} day{'' if shown == '1' else 's'}"


def clock(seconds: int) -> str:
    """A time as a clock shows it: "2:05 min", "4:00:10 h"."""
    hours, rest = divmod(seconds, 3600)
    minutes, left = divmod(rest, 60)
    unit = "h" if hours else "min"
    shown = f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"
    return f"{shown}\N{NO-BREAK SPACE}{unit}"
