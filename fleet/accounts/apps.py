from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "fleet.accounts"
    label = "accounts"

    def ready(self) -> None:
        from fleet.accounts.factor_audit import listen

        listen()
