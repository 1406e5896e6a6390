from django.apps import AppConfig


class DriftConfig(AppConfig):
    name = "fleet.drift"
    label = "drift"
