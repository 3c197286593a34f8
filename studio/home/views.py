"""The first visit, signing in, the studio's settings and its people."""

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings as configuration
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView
from django.db import IntegrityError, transaction
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.module_loading import import_string

from inventory.models import DocumentContent
from studio import confirmed_warnings
from studio.core.label_warnings import paraphrase_of, usual_of
from studio.home import data_export
from studio.models import LabelWarning, Role, Studio, User
from studio.people.access import EVERYONE, OWNER, allow, public
from studio.web.forms import LabelWarningForm, PersonForm, SignInForm, StudioForm, WelcomeForm
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import accepted, once

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


@public("GET", "HEAD", "POST")
def welcome(request: StudioRequest) -> HttpResponse:
    """The first visit: name the studio and become its owner. Gone once there is a studio."""
    if Studio.objects.exists():
        return redirect("today")
    form = WelcomeForm(request.POST or None, setup_code=configuration.SETUP_CODE)
    if request.method == "POST" and form.is_valid():
        form.instance.pk = 1
        try:
            with transaction.atomic():
                # The row of the studio is the lock: of two first visitors one finds it taken.
                form.instance.save(force_insert=True)
                owner = form.owner()
                owner.save(force_insert=True)
        except IntegrityError:
            return redirect("today")
        login(request, owner, backend=MODEL_BACKEND)
        return redirect("today")
    return answer(request, "studio/welcome.html", {"form": form}, refused=form.is_bound)


class SignIn(LoginView):
    """Signing in; on the demonstration studio with its people at hand."""

    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form and, on the demonstration, its people."""
        named = configuration.DEMO_PEOPLE
        return super().get_context_data(demo_people=import_string(named) if named else (), **kwargs)

    def get_redirect_url(self) -> str:  # type: ignore[override]
        """Where to go afterwards; never to this page again, which would send the person round in circles."""
        url: str = super().get_redirect_url()
        return "" if urlsplit(url).path == reverse("sign-in") else url


sign_in = public("GET", "HEAD", "POST")(SignIn.as_view())
sign_out = public("POST")(LogoutView.as_view())


@allow(see=EVERYONE, do=EVERYONE)
def account(request: StudioRequest) -> HttpResponse:
    """One's own password. Other devices are signed out by the change; this one stays."""
    form = PasswordChangeForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        person = form.save(commit=False)
        # The password alone: what the owner changed meanwhile (a role, the right to sign in) stays changed.
        person.save(update_fields=["password"])
        update_session_auth_hash(request, person)
        messages.success(request, "Your password is changed. Other devices are signed out.")
        return redirect("account")
    return answer(request, "studio/account.html", {"form": form}, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def settings(request: StudioRequest) -> HttpResponse:
    """How the studio likes figures shown."""
    form = StudioForm(request.POST or None, instance=request.studio)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The settings are saved.")
        return redirect("settings")
    return answer(request, "studio/settings.html", {"form": form}, refused=form.is_bound)


@allow(see=EVERYONE, do=OWNER)
def label_warning(request: StudioRequest) -> HttpResponse:
    """The warning on the label in the studio's market: read, changed and confirmed by the owner, once or again."""
    studio = request.studio
    if request.method == "POST" and (url := accepted(request)):
        return redirect(url)
    newest = confirmed_warnings.confirmed_warning(studio.market)
    shown = confirmed_warnings.words_to_read(studio, newest)
    form = LabelWarningForm(request.POST or None, studio=studio, shown=shown)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            confirmed_warnings.confirm(studio.market, form.cleaned_data["words"], signature=sign(request))
            return reverse("label-warning")

        url = once(request, act)
        messages.success(request, "The warning is confirmed. Labels carry it from now on.")
        return redirect(url)
    context = {
        "form": form,
        "newest": newest,
        "usual": usual_of(studio.market),
        "paraphrase": paraphrase_of(studio.market),
        "earlier": LabelWarning.objects.select_related("confirmed_by")[:50],
    }
    return answer(request, "studio/label_warning.html", context, refused=form.is_bound)


@allow(see=OWNER)
def people(request: StudioRequest) -> HttpResponse:
    """Who works here and what they may do."""
    return answer(request, "studio/people.html", {"people": User.objects.all()})


@allow(see=OWNER, do=OWNER)
def person_add(request: StudioRequest) -> HttpResponse:
    """A new person."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        once(request, lambda: form.save().get_absolute_url())
        messages.success(request, f"{form.instance} can sign in now.")
        return redirect("people")
    context = {"form": form, "heading": "Add a person", "button": "Add"}
    return answer(request, "studio/person_form.html", context, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def person_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a person's name, role or password, or take away the right to sign in."""
    person = get_object_or_404(User, pk=pk)
    form = PersonForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        try:
            _save_person(form)
        except NoOwnerLeft:
            form.add_error("role", "Somebody must stay the owner. Make another person the owner first.")
        else:
            if person == request.user:
                update_session_auth_hash(request, person)
            messages.success(request, f"{person} is saved.")
            return redirect("people")
    context = {"form": form, "heading": str(User.objects.get(pk=pk)), "button": "Save"}
    return answer(request, "studio/person_form.html", context, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def export_all(request: StudioRequest) -> HttpResponse | FileResponse:
    """Everything the studio keeps, as one ZIP in open formats."""
    if request.method == "POST":
        now = timezone.now()
        name = f"everything-{timezone.localtime(now):%Y-%m-%d}.zip"
        return FileResponse(data_export.write_everything(now), as_attachment=True, filename=name)
    papers = DocumentContent.objects.count()
    return answer(
        request, "studio/data_export.html", {"tables": len(data_export.kept_models()), "papers": papers}
    )


class NoOwnerLeft(Exception):
    """The change would leave the studio without anybody who may do everything."""


@transaction.atomic
def _save_person(form: PersonForm) -> None:
    """Save a person, unless nobody would stay the owner: then NoOwnerLeft, and nothing is saved.

    The owners are locked first, so that two of them cannot take the role from each other at once.
    """
    owners = User.objects.filter(role=Role.OWNER, is_active=True).order_by("pk")
    list(owners.select_for_update())
    form.save()
    if not owners.exists():
        raise NoOwnerLeft
