from django.apps import AppConfig


class GaugesConfig(AppConfig):
    name = "fleet.gauges"
    label = "gauges"
