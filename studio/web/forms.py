"""Form fields that turn what people type into exact figures, each refusal a sentence beside the field."""

import hashlib
import json
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.forms.renderers import TemplatesSetting
from django.http import QueryDict
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from studio.core.money import CURRENCIES, Price, parse_money, parse_price
from studio.core.percent import WHOLE, entry_percent, parse_percent
from studio.core.quantities import Dimension, parse_quantity
from studio.core.temperatures import parse_temperature
from studio.models import Role, Studio, User
from studio.web import uploads

# Django's own, which takes a type argument only while types are checked.
if TYPE_CHECKING:
    ModelForm = forms.ModelForm[Any]
else:
    ModelForm = forms.ModelForm

# What to do, rather than what is wrong, wherever a field was left empty.
forms.Field.default_error_messages["required"] = "Fill this in."
forms.ChoiceField.default_error_messages["required"] = "Choose one."
forms.ModelChoiceField.default_error_messages["required"] = "Choose one."
forms.ChoiceField.default_error_messages["invalid_choice"] = "Choose one from the list."
forms.ModelChoiceField.default_error_messages["invalid_choice"] = "Choose one from the list."


class Renderer(TemplatesSetting):
    """Draws forms and fields with the studio's own templates."""

    form_template_name = "studio/forms/form.html"
    field_template_name = "studio/forms/field.html"


class ParsedField(forms.CharField):
    """A text field whose text is read by one of our parsers; keeps the text as typed when it is refused."""

    unit_label = ""

    def __init__(self, parse: Callable[[str], Any], *, unit_label: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 60)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"}))
        super().__init__(**kwargs)
        self.parse = parse
        self.unit_label = unit_label

    def clean(self, value: Any) -> Any:
        """The figure; None when the field is empty and may be."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.parse(text)
        except ValueError as error:
            raise ValidationError(str(error)) from error


def quantity_field(
    dimension: Dimension, *, unit: str | None = None, allow_zero: bool = False, **kwargs: Any
) -> ParsedField:
    """A quantity in base units. With `unit`, a bare number is in it and it is shown beside the field."""
    if unit:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
    label = "" if dimension is Dimension.COUNT else unit or ""
    return ParsedField(
        lambda text: parse_quantity(text, dimension, unit=unit, allow_zero=allow_zero),
        unit_label=label,
        **kwargs,
    )


def money_field(currency: str, **kwargs: Any) -> ParsedField:
    """An amount of money in millionths."""
    kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
    return ParsedField(lambda text: parse_money(text, currency=currency), unit_label=currency, **kwargs)


def percent_field(**kwargs: Any) -> ParsedField:
    """A percentage in parts per million."""
    kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
    return ParsedField(parse_percent, unit_label="%", **kwargs)


def temperature_field(unit: str, **kwargs: Any) -> ParsedField:
    """A temperature in thousandths of a degree Celsius."""
    kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
    return ParsedField(
        lambda text: parse_temperature(text, "F" if unit == "F" else "C"), unit_label=f"°{unit}", **kwargs
    )


def read_price(text: str, dimension: Dimension, currency: str) -> Price:
    """A price as typed on an invoice line; a ValidationError where it cannot be read."""
    try:
        return parse_price(text, dimension, currency=currency)
    except ValueError as error:
        raise ValidationError(str(error)) from error


class WhenField(forms.DateTimeField):
    """When it happened, on the studio's clock; empty means now. Nothing lies in the future."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("label", "When")
        kwargs.setdefault("help_text", "Empty means now.")
        kwargs.setdefault(
            "widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        )
        super().__init__(input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"], **kwargs)
        self.error_messages["invalid"] = "Write a date and a time, for example 2026-03-21 14:30."

    def clean(self, value: Any) -> datetime | None:
        """An aware instant or None."""
        moment: datetime | None = super().clean(value)
        if moment and not 2000 <= moment.year <= 2200:
            raise ValidationError("Check the year.")
        if moment and moment > timezone.now():
            raise ValidationError(
                "This lies in the future. Give a time that has passed, or leave it empty for now."
            )
        return moment


class DayField(forms.DateField):
    """A day."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)
        self.error_messages["invalid"] = "Write a date, for example 2026-03-21."

    def clean(self, value: Any) -> Any:
        """A date between 2000 and 2200 or None."""
        day = super().clean(value)
        if day and not 2000 <= day.year <= 2200:
            raise ValidationError("Check the year.")
        return day


class ChangeForm(forms.BaseForm):
    """A form over something that exists: it changes what its person changed, and nothing else.

    The page carries what every field showed when it was opened. So `changed_data` is what this person changed; what
    a colleague wrote meanwhile in another field stays, and in the same field it is not overwritten unseen.
    """

    def carry_what_is_shown(self) -> None:
        """Have the page carry what it shows; called when all fields are in place."""
        for name, field in self.fields.items():
            if not isinstance(field.widget, forms.PasswordInput):
                field.show_hidden_initial = not self.is_bound or self.add_initial_prefix(name) in self.data

    def clean(self) -> dict[str, Any]:
        """Ask before somebody else's change is overwritten; a second press, knowing of it, is taken."""
        data = super().clean() or self.cleaned_data
        for name in self.changed_data:
            field, carried = self.fields[name], self.add_initial_prefix(name)
            now = self.get_initial_for_field(field, name)
            if field.show_hidden_initial and field.has_changed(now, self.data[carried]):
                shown: QueryDict = self.data.copy()  # type: ignore[attr-defined]
                shown[carried] = "" if now is None else str(now)
                self.data = shown
                self.add_error(
                    name,
                    "Somebody changed this meanwhile. Open the page anew to see how, or press again to put "
                    "yours in its place.",
                )
        return data


class ChangeModelForm(ChangeForm, ModelForm):
    """A ChangeForm of one row, for adding it too."""

    def save(self, commit: bool = True) -> Any:
        """Write the columns this person changed; the whole row when it is new."""
        if self.instance._state.adding or not commit:
            return super().save(commit)
        self.instance.save(update_fields=self.changed_columns())
        return self.instance

    def changed_columns(self) -> list[str]:
        """The columns to be written."""
        return [name for name in self.changed_data if name in (self._meta.fields or ())]


class ReasonForm(forms.Form):
    """Why: kept with the name and the time."""

    reason = forms.CharField(max_length=300, widget=forms.TextInput(), label="Why")


class SignInForm(AuthenticationForm):
    """Signing in. The same sentence for a wrong name and a wrong password."""

    error_messages = {
        "invalid_login": "Name and password do not fit together. Check both; capitals count in the password.",
        "inactive": "Name and password do not fit together. Check both; capitals count in the password.",
    }


class StudioForm(ChangeModelForm):
    """How the studio likes things shown."""

    currency = forms.ChoiceField(
        choices=[(code, f"{currency.name} ({code})") for code, currency in CURRENCIES.items()]
    )
    time_zone = forms.ChoiceField(choices=Studio.time_zones)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "address" in self.fields:
            self.fields["address"].help_text = "Printed after the studio's name, unless it begins with it."
        self.fields["unexplained_ppm"] = percent_field(
            required=False,
            label="May go unexplained",
            help_text="Of a lot or a batch in its mass balance, before somebody is asked to look. Empty: 2 %.",
        )
        if self.instance.unexplained_ppm is not None:
            self.initial["unexplained_ppm"] = entry_percent(self.instance.unexplained_ppm)
        if not self.instance._state.adding:
            self.carry_what_is_shown()

    class Meta:
        model = Studio
        fields = [
            "name",
            "currency",
            "mass_unit",
            "temperature_unit",
            "page_size",
            "time_zone",
            "market",
            "address",
            "telephone",
            "unexplained_ppm",
        ]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_unexplained_ppm(self) -> int | None:
        """A share of a whole; nothing where the usual is to hold."""
        ppm: int | None = self.cleaned_data["unexplained_ppm"]
        if ppm is not None and ppm > WHOLE:
            raise ValidationError("Not more than 100 %.")
        return ppm

    def clean_time_zone(self) -> str:
        """A zone this machine can tell the time in."""
        return ZoneInfo(self.cleaned_data["time_zone"]).key


def _password_field(label: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 10 characters; a short sentence is good.",
    )


class PersonForm(ChangeModelForm):
    """A person in the studio, added or changed by the owner."""

    first_name = forms.CharField(label="Name", max_length=80)
    password = _password_field("Password")

    class Meta:
        model = User
        fields = ["first_name", "username", "role", "costs_allowed", "is_active"]
        labels = {"username": "Signs in as", "is_active": "May sign in"}
        help_texts = {"username": "Letters, digits and @ . + - _ only.", "is_active": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["password"].required = False
            self.fields["password"].label = "New password"
            self.fields["password"].help_text = "Leave empty to keep the present one."
            self.carry_what_is_shown()
        else:
            del self.fields["is_active"]

    def clean_password(self) -> str:
        """A password that is long and not common; empty keeps the present one."""
        password: str = self.cleaned_data["password"]
        if password:
            password_validation.validate_password(password, self.instance)
        return password

    def save(self, commit: bool = True) -> User:
        """Save with the password, where one was given."""
        if self.cleaned_data["password"]:
            self.instance.set_password(self.cleaned_data["password"])
        person: User = super().save(commit)
        return person

    def changed_columns(self) -> list[str]:
        """With the password, where one was given."""
        return super().changed_columns() + (["password"] if self.cleaned_data["password"] else [])


class WelcomeForm(StudioForm):
    """The first visit: the studio and its owner."""

    owner_name = forms.CharField(label="Your name", max_length=80)
    username = User._meta.get_field("username").formfield(
        label="You sign in as", help_text="One word; letters, digits and @ . + - _ only."
    )
    password = _password_field("Password")
    setup_code = forms.CharField(
        label="Set-up code",
        max_length=200,
        help_text="The code that was given when the studio was installed.",
    )

    field_order = ["setup_code", "owner_name", "username", "password", "name"]

    def __init__(self, *args: Any, setup_code: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected_code = setup_code
        self.fields["name"].label = "The studio's name"
        self.fields["market"].required = False
        for name in ("address", "telephone", "unexplained_ppm"):
            del self.fields[name]
        if not setup_code:
            del self.fields["setup_code"]

    def clean_username(self) -> str:
        """A name to sign in with, held to the same rules as everybody's."""
        name: str = User.normalize_username(self.cleaned_data["username"])
        User.username_validator(name)
        return name

    def clean_setup_code(self) -> str:
        """The code the studio was installed with."""
        if not constant_time_compare(self.cleaned_data["setup_code"], self.expected_code):
            raise ValidationError("This is not the set-up code.")
        return ""

    def clean_password(self) -> str:
        """A password that is long and not common."""
        password: str = self.cleaned_data["password"]
        password_validation.validate_password(password, User(username=self.cleaned_data.get("username", "")))
        return password

    def owner(self) -> User:
        """The owner, not saved yet."""
        person = User(
            username=self.cleaned_data["username"],
            first_name=self.cleaned_data["owner_name"],
            role=Role.OWNER,
        )
        person.set_password(self.cleaned_data["password"])
        return person


class MeanwhileForm(forms.Form):
    """A form about something that a colleague may change meanwhile: it is asked once before theirs is overwritten.

    `seen` carries what stood there when the page was opened; `now` is what stands there when it is sent.
    """

    seen = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)
    named = "this"

    def now(self) -> str:
        """A fingerprint of what stands there; empty where there is nothing yet."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        """Ask before somebody else's change is overwritten; a second press, knowing of it, is taken."""
        data = super().clean() or self.cleaned_data
        if (now := self.now()) and data.get("seen") != now:
            self.ask_again(now)
        return data

    def ask_again(self, now: str) -> None:
        """Have the page carry what stands there now, and say so. Raises ValidationError."""
        shown = self.data.copy()  # type: ignore[attr-defined]
        shown[self.add_prefix("seen")] = now
        self.data = shown
        raise ValidationError(
            f"Somebody changed {self.named} meanwhile. Open the page anew to see how, or press again to put yours "
            "in its place."
        )


def _plain(text: str | None) -> str:
    """Words without the line ends that a browser writes its own way."""
    return " ".join((text or "").split())


class LabelWarningForm(MeanwhileForm):
    """The owner's warning on the label, read and vouched for.

    The page carries for which market it showed which words: where either is another now, the owner reads again.
    """

    words = forms.CharField(
        label="Warning on the label",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="Printed after the sign and the word WARNING.",
    )
    read_it = forms.BooleanField(
        label="I have read these words against the standard, or had them checked",
        help_text="Your name and today's date are kept with the words.",
        error_messages={
            "required": "Tick this once the words are checked. Labels are printed only after that."
        },
    )

    def __init__(self, *args: Any, studio: Studio, shown: str, **kwargs: Any) -> None:
        self.studio, self.shown = studio, shown
        super().__init__(*args, **kwargs)
        self.initial.update(seen=self.now(), words=shown)
        self.fields["words"].show_hidden_initial = True

    def now(self) -> str:
        """The market and the words that are shown for it."""
        return hashlib.sha256(json.dumps([self.studio.market, self.shown]).encode()).hexdigest()[:32]

    def ask_again(self, now: str) -> None:
        """Show what there is to be read now; the tick was for what the page showed before, and own words stay."""
        shown = self.data.copy()  # type: ignore[attr-defined]
        words, carried = self.add_prefix("words"), self.add_initial_prefix("words")
        is_own = _plain(shown.get(words)) != _plain(shown.get(carried, self.shown))
        if not is_own:
            shown[words] = self.shown
        shown[self.add_prefix("seen")], shown[carried] = now, self.shown
        shown.pop(self.add_prefix("read_it"), None)
        self.data = shown
        market = self.studio.get_market_display()
        told = f"Its words now are: {self.shown} Yours are kept below." if is_own else "Its words are below."
        raise ValidationError(
            {
                "words": f"The market or its words changed since this page was opened. Sold in: {market}. {told} "
                "Read them and confirm again."
            }
        )


class ReceivedField(forms.FileField):
    """A file as it may be kept, judged by what is in it (`studio.web.uploads`); with `picture`, nothing but a picture."""

    def __init__(self, *, picture: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("allow_empty_file", True)  # refused with a sentence of its own
        super().__init__(**kwargs)
        self.take = uploads.receive_picture if picture else uploads.receive

    def clean(self, data: Any, initial: Any = None) -> uploads.Received | None:
        """What may be kept; None where no file was sent."""
        file = super().clean(data, initial)
        if not file:
            return None
        if (size := file.size or 0) > settings.UPLOAD_LIMIT:
            raise ValidationError(uploads.too_large(size))
        try:
            return self.take(file.name or "", file.read())
        except uploads.NotTaken as error:
            raise ValidationError(str(error)) from error
