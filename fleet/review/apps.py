from django.apps import AppConfig


class ReviewConfig(AppConfig):
    name = "fleet.review"
    label = "review"
