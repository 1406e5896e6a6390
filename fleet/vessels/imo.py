"""The check digit of a ship's IMO number (IMO resolution A.1117(30))."""

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _


def check_digit(first_six: str) -> int:
    """Sum of the digits times 7, 6, 5, 4, 3, 2, last digit of that sum."""
    return sum(int(digit) * weight for digit, weight in zip(first_six, range(7, 1, -1), strict=True)) % 10


def validate_imo_number(value: str) -> None:
    if len(value) != 7 or not (value.isascii() and value.isdigit()):
        raise ValidationError(_("An IMO number has seven digits. Leave out the letters IMO."), code="imo_shape")
    if check_digit(value[:6]) != int(value[6]):
        raise ValidationError(
            _("The last digit does not fit the other six: one digit is mistyped. Copy it from the ship's papers."),
            code="imo_check_digit",
        )
