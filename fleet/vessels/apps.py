from django.apps import AppConfig


class VesselsConfig(AppConfig):
    name = "fleet.vessels"
    label = "vessels"
