"""Forms for signing in, joining a site and looking after its members."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError

from takeoff.people.models import Member, User

ROLE_HELP = {
    Member.Role.STOREKEEPER: "receives, puts away, hands out, counts",
    Member.Role.FOREMAN: "cuts cable, reports progress and lengths as built",
    Member.Role.PURCHASER: "orders, sees prices",
    Member.Role.PLANNER: "loads runs and rules, plans, invites; all of the above",
    Member.Role.VIEWER: "reads",
}


LONGEST_NAME: int = User._meta.get_field("username").max_length or 0


class SignInForm(AuthenticationForm):
    """Sign in by name and password; the one answer to a wrong pair says nothing about who exists."""

    error_messages = {
        "invalid_login": "This name and password do not belong together. Check both; a password tells a from A.",
        "inactive": "This name and password do not belong together. Check both; a password tells a from A.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name or e-mail"

    def clean_username(self) -> str:
        """Refuse a name longer than any can be, as any other that is wrong: where tries are kept it finds no room."""
        name: str = self.cleaned_data["username"]
        if len(name) > LONGEST_NAME:
            raise self.get_invalid_login_error()
        return name


STRONG_ENOUGH = "At least 10 characters, not only digits, not a common one."


class PasswordForm(PasswordChangeForm):
    """A new password for one's own account."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["new_password1"].help_text = STRONG_ENOUGH
        self.fields["new_password2"].label, self.fields["new_password2"].help_text = "The same again", ""


class RoleField(forms.MultipleChoiceField):
    """One or more roles, each with what it does."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **kwargs: Any) -> None:
        choices = [(role.value, f"{role.label}: {ROLE_HELP[role]}") for role in Member.Role]
        super().__init__(choices=choices, **kwargs)


class InviteForm(forms.Form):
    """Whom to invite, and as what."""

    email = forms.EmailField(label="E-mail", help_text="The person's name for signing in.")
    roles = RoleField(label="Roles", error_messages={"required": "Choose at least one role."})


class RolesForm(forms.Form):
    """The roles of a member; none takes the person off the site."""

    roles = RoleField(label="Roles", required=False, help_text="No role at all takes the person off this site.")


class JoinForm(forms.Form):
    """What a new person says when joining: a name to show, and a password twice."""

    name = forms.CharField(label="Your name", max_length=150, help_text="As others on the site know you.")
    password = forms.CharField(
        label="New password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=STRONG_ENOUGH,
    )
    again = forms.CharField(
        label="The same again", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "new-password"})
    )

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email

    def clean(self) -> dict[str, Any]:
        """Hold the two passwords against each other, and the password against the site's rules."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        password, again = values.get("password"), values.get("again")
        if password and again and password != again:
            self.add_error("again", "The two passwords differ.")
        if password:
            try:
                password_validation.validate_password(password, User(username=self.email, email=self.email))
            except ValidationError as error:
                self.add_error("password", error)
        return values
