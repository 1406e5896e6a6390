from django.apps import AppConfig


class DrumsConfig(AppConfig):
    name = "fleet.drums"
    label = "drums"
