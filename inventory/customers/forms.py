"""What people type about customers, and about how long they are kept."""

from typing import Any

from django import forms

from inventory.customers.customers import Contact
from inventory.models import Customer
from studio.web.forms import ChangeForm


class CustomerForm(ChangeForm, forms.Form):
    """What is on record of a customer."""

    name = forms.CharField(max_length=120)
    contact = forms.CharField(label="Whom to ask for", max_length=120, required=False)
    reach = forms.CharField(
        label="How to reach them",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="E-mail, telephone, address.",
    )
    is_person = forms.BooleanField(
        label="A private person",
        required=False,
        help_text="The name of a shop, a market or a venue is shown to everybody and stays when its time is over.",
    )

    def __init__(self, *args: Any, customer: Customer, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(customer, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
        self.carry_what_is_shown()

    def who(self) -> Contact:
        """The customer, understood. Only after the form is valid."""
        data = self.cleaned_data
        return Contact(data["name"], data["contact"], data["reach"])


class RetentionForm(forms.Form):
    """For how many months customers are kept."""

    months = forms.IntegerField(
        min_value=1,
        max_value=240,
        required=False,
        label="Months after their last business",
        help_text="Empty: until they are erased by hand. Ask whoever advises you how long orders must be kept where "
        "you are, and how long a complaint may come.",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
