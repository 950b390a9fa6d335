"""Model fields that keep exact numbers."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.expressions import Combinable, register_combinable_fields

from takeoff.units.exact import PLACES, NotExactError, from_ticks, to_ticks


class ExactField(models.Field):
    """
    A number with at most four decimal places, kept as whole ten-thousandths in a BIGINT and seen as Decimal.

    Inside the database an expression works on ten-thousandths: add and subtract other exact numbers (wrap a constant
    in `exact_value`), multiply by whole numbers. Any other mixture is refused by Django with FieldError, since its
    result would be off by the scale: that is why this is no kind of integer field to Django. Raises ValidationError
    for a fifth decimal place.
    """

    description = "Exact number with four decimal places"
    # For the type checker: what may be assigned, and what is read.
    _pyi_private_set_type: Decimal | int | str  # never a float
    _pyi_private_get_type: Decimal

    def get_internal_type(self) -> str:
        """Return the name of the column's type."""
        return "BigIntegerField"

    def from_db_value(self, value: Any, _expression: Any, _connection: Any) -> Decimal | None:
        """Return what the column or a sum over it holds as a Decimal."""
        return None if value is None else from_ticks(int(value))

    def to_python(self, value: Any) -> Decimal | None:
        """Return what code or a form gave as a Decimal."""
        if value is None or value == "":
            return None
        try:
            return from_ticks(to_ticks(value))
        except NotExactError as error:
            raise ValidationError(str(error), code="not_exact") from error

    def get_prep_value(self, value: Any) -> Any:
        """Return ten-thousandths for the column."""
        if value is None or hasattr(value, "resolve_expression"):
            return value
        try:
            return to_ticks(value)
        except NotExactError as error:
            raise ValidationError(str(error), code="not_exact") from error

    def value_to_string(self, obj: models.Model) -> str:
        """Return the number as text, for fixtures."""
        value = self.value_from_object(obj)
        return "" if value is None else str(value)

    def formfield(self, *_args: Any, **kwargs: Any) -> forms.Field:
        """Return a form field for a decimal number."""
        defaults: dict[str, Any] = {
            "required": not self.blank,
            "label": self.verbose_name,
            "help_text": self.help_text,
            "decimal_places": PLACES,
        }
        return forms.DecimalField(**{**defaults, **{k: v for k, v in kwargs.items() if k in {"widget", "initial"}}})


class LengthField(ExactField):
    """A length in millimetres, exact to 1/10 000 mm."""

    description = "Exact length in millimetres"


for _connector in (Combinable.ADD, Combinable.SUB):
    register_combinable_fields(ExactField, _connector, ExactField, ExactField)
register_combinable_fields(ExactField, Combinable.MUL, models.IntegerField, ExactField)
register_combinable_fields(models.IntegerField, Combinable.MUL, ExactField, ExactField)


def exact_value(value: Decimal | int | str) -> models.Value:
    """Return a constant for an expression over exact fields, to be added to or compared with one."""
    return models.Value(value, output_field=ExactField())


class FractionField(models.CharField):
    """An exact fraction, kept as the text `numerator/denominator`: no column of numbers is wide enough for all."""

    description = "Exact fraction"
    # For the type checker: what may be assigned, and what is read.
    _pyi_private_set_type: Fraction | int  # type: ignore[assignment]  # text in the column only
    _pyi_private_get_type: Fraction  # type: ignore[assignment]  # as above

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 200)
        super().__init__(*args, **kwargs)

    def from_db_value(self, value: Any, _expression: Any, _connection: Any) -> Fraction | None:
        """Return the text as a fraction."""
        return None if value is None else Fraction(value)

    def to_python(self, value: Any) -> Any:
        """Return what code gave as a fraction."""
        return None if value in (None, "") else Fraction(value)

    def get_prep_value(self, value: Any) -> Any:
        """Return the text for the column."""
        if value is None or hasattr(value, "resolve_expression"):
            return value
        fraction = Fraction(value)
        return f"{fraction.numerator}/{fraction.denominator}"
