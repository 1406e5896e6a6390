from django.apps import AppConfig


class CoreConfig(AppConfig):
    name = "fleet.core"
    label = "core"
