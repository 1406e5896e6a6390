from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "fleet.records"
    label = "records"

    def ready(self) -> None:
        from fleet.drums.proofs import read_proofs_with
        from fleet.records.proofs import proof_of

        read_proofs_with(proof_of)
