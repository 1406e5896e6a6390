from django.urls import path

from fleet.practice import views

app_name = "practice"

urlpatterns = [
    path("practice/", views.start, name="start"),
    path("practice/run/", views.run, name="run"),
    path("practice/move/", views.move, name="move"),
]
