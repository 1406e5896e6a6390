from django.apps import AppConfig


class CertificatesConfig(AppConfig):
    name = "fleet.certificates"
    label = "certificates"
