from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "fleet.records"
    label = "records"
