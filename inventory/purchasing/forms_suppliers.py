"""What people type about a supplier."""

from typing import Any

from django import forms

from inventory.models import Supplier
from studio.web.forms import (
    ChangeModelForm,
)


class SupplierForm(ChangeModelForm):
    """A supplier."""

    class Meta:
        model = Supplier
        fields = ["name", "contact", "email", "phone", "lead_days", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.carry_what_is_shown()
