from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "fleet.accounts"
    label = "accounts"
