from typing import Any

from django.db import models

from fleet.core.typed import Typed


class TypedField(models.JSONField):
    """A figure as a person typed it, with its unit, beside its SI value."""

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Typed | None:
        read = super().from_db_value(value, expression, connection)
        return Typed.from_dict(read) if isinstance(read, dict) else read

    def to_python(self, value: Any) -> Any:
        return Typed.from_dict(value) if isinstance(value, dict) else value

    def get_prep_value(self, value: Any) -> Any:
        return super().get_prep_value(value.to_dict() if isinstance(value, Typed) else value)

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        plain = value.to_dict() if isinstance(value, Typed) else value
        return super().get_db_prep_value(plain, connection, prepared)

    def validate(self, value: Any, model_instance: models.Model | None) -> None:
        plain = value.to_dict() if isinstance(value, Typed) else value
        super().validate(plain, model_instance)

    def value_to_string(self, obj: models.Model) -> Any:
        value = self.value_from_object(obj)
        return value.to_dict() if isinstance(value, Typed) else value

    def formfield(self, **kwargs: Any) -> Any:
        """None on purpose: a form names its own QuantityField, with the units it offers."""
        return None
