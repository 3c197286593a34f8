"""Model fields for quantities and values: whole numbers, and nothing that merely looks like one."""

from typing import TYPE_CHECKING, Any, TypeVar

from django.db import models

# What may be assigned to the field and what comes back, as the stubs of Django name them.
_ST = TypeVar("_ST", contravariant=True)
_GT = TypeVar("_GT", covariant=True)

if TYPE_CHECKING:

    class _BigIntegerField(models.BigIntegerField[_ST, _GT]):
        pass
else:

    class _BigIntegerField(models.BigIntegerField):
        """Django's field, which takes no type arguments while the program runs."""

        def __class_getitem__(cls, types):
            return cls


class ExactIntegerField(_BigIntegerField[_ST, _GT]):
    """A 64-bit whole number that refuses floats, decimals, booleans and text.

    Django's own field stores `Decimal("1.9")` as 1 without a word, and SQLite lets any column hold text; a
    quantity or a value may do neither.
    """

    def get_prep_value(self, value: Any) -> int | None:
        """Give the database the number, or raise TypeError for anything that is not a whole number."""
        if value is None or hasattr(value, "resolve_expression"):
            return value  # type: ignore[no-any-return]  # an expression is the database's to judge
        if type(value) is not int:
            raise TypeError(f"{self.name} takes whole numbers, not {value!r}")
        return value

    def db_check(self, connection: Any) -> str | None:
        """On SQLite, where a column takes any type, the table itself insists on integers."""
        if connection.vendor != "sqlite":
            return super().db_check(connection)
        return f"typeof(\"{self.column}\") IN ('integer', 'null')"
