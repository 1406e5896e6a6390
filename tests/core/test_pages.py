"""The frame of every page, the pages for errors, and signing in."""

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, RequestContext, Template
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from fleet.accounts.models import User

STATIC = Path(settings.BASE_DIR) / "fleet" / "static" / "fleet"
HOSTILE = "<script>alert(1)</script>"


def page(**context: object) -> str:
    request = RequestFactory().get("/")
    child = Template(
        '{% extends "base.html" %}{% block title %}T{% endblock %}{% block heading %}{{ name }}{% endblock %}'
        "{% block content %}CONTENT{% endblock %}"
    )
    return child.render(RequestContext(request, {"name": "H", **context}))


def test_the_frame_has_a_skip_link_one_heading_and_the_standing_caution() -> None:
    html = page()
    assert html.index('href="#main"') < html.index("<header")
    assert 'id="main"' in html
    assert html.count("<h1>") == 1
    assert "No result here is permission to moor." in html
    assert '<html lang="en">' in html


def test_the_token_goes_out_once_for_all_fragments() -> None:
    html = page()
    assert re.search(r"<body hx-headers='\{\"X-CSRFToken\": \"\w{64}\"\}'>", html)
    assert '"allowEval":false' in html


def test_messages_are_a_status_line_and_escaped() -> None:
    html = render_to_string("core/_messages.html", {"messages": [HOSTILE]})
    assert 'role="status"' in html
    assert HOSTILE not in html


def test_names_links_and_crumbs_are_escaped() -> None:
    html = page(name=HOSTILE, role_line=HOSTILE)
    html += render_to_string("core/_breadcrumb.html", {"crumbs": [{"label": HOSTILE, "url": '"' + HOSTILE}]})
    html += render_to_string("core/_empty.html", {"text": HOSTILE, "url": "/", "label": HOSTILE})
    html += render_to_string("core/_steps.html", {"steps": [{"label": HOSTILE, "url": "/", "done": True}]})
    assert HOSTILE not in html


def test_the_steps_say_which_is_now_and_which_are_done() -> None:
    steps = [{"label": "Checks", "done": True, "url": "/c"}, {"label": "Adjust", "now": True}, {"label": "Verify"}]
    html = render_to_string("core/_steps.html", {"steps": steps})
    assert html.count('aria-current="step"') == 1
    assert html.count("(done)") == 1
    assert 'href="/c"' in html


def test_figures_in_templates_come_from_the_one_rounding() -> None:
    text = "{{ p|quantity:'bar' }}|{{ p|digits:'bar' }}|{{ none|quantity:'bar' }}|{{ 'cm2'|unit_label }}"
    shown = Template("{% load parts %}" + text).render(Context({"p": 17_324_000.0, "none": None}))
    assert shown == "173.2 bar|173.2||cm²"


def test_the_style_sheet_stays_under_twelve_kilobytes_and_fetches_nothing() -> None:
    for name in ("main.css", "print.css"):
        text = (STATIC / name).read_text(encoding="utf-8")
        assert len(gzip.compress(text.encode())) < 12_000
        assert "url(" not in text
        assert "@import" not in text
        assert "@font-face" not in text
        assert "shadow" not in text
        assert "gradient" not in text


@pytest.mark.django_db
def test_an_unknown_address_answers_in_the_products_words(client: Client) -> None:
    response = client.get("/no-such-page/")
    assert response.status_code == 404
    assert "Nothing at this address" in response.content.decode()


@pytest.mark.parametrize(
    ("template", "words"),
    [
        ("403.html", "belongs to another role"),
        ("403_csrf.html", "Nothing was sent"),
        ("404.html", "Nothing at this address"),
        ("400.html", "could not be read"),
        ("500.html", "went wrong on our side"),
    ],
)
def test_each_error_page_renders_without_a_request_and_says_what_to_do(template: str, words: str) -> None:
    html = render_to_string(template)
    assert words in html
    assert "permission to moor" in html


@pytest.mark.django_db
def test_the_sign_in_page_says_what_this_is_and_shuts_sign_up(client: Client) -> None:
    html = client.get("/accounts/login/").content.decode()
    assert "brake tests" in html
    assert "nobody can sign up here" in html
    assert "nothing you typed is lost" not in html
    assert 'type="password"' in html
    assert "permission to moor" in html
    closed = client.get("/accounts/signup/").content.decode()
    assert "Nobody can sign up here" in closed
    assert "<form" not in closed


@pytest.mark.django_db
def test_after_an_expired_session_the_page_says_nothing_is_lost_and_keeps_the_way_back(client: Client) -> None:
    html = client.get("/accounts/login/", {"next": "/rounds/7/"}).content.decode()
    assert "Sign in to go on: nothing you typed is lost." in html
    assert 'name="next" value="/rounds/7/"' in html
    again = client.post("/accounts/login/", {"login": "", "password": "", "next": "/rounds/7/"}).content.decode()
    assert "nothing you typed is lost" in again
    assert "things to put right" in again
    assert 'name="next" value="/rounds/7/"' in again


@pytest.mark.django_db
def test_a_first_visit_is_not_told_that_something_could_be_lost(client: Client) -> None:
    assert "nothing you typed is lost" not in client.get("/accounts/login/", {"next": "/"}).content.decode()


@pytest.mark.django_db
def test_the_password_pages_are_in_the_products_words(client: Client) -> None:
    assert "A new password" in client.get("/accounts/password/reset/").content.decode()
    assert "Look into your mail" in client.get("/accounts/password/reset/done/").content.decode()
    assert "no longer works" in client.get("/accounts/password/reset/key/1-bad/").content.decode()
    assert "The new password is saved" in client.get("/accounts/password/reset/key/done/").content.decode()
    assert "This account is closed" in client.get("/accounts/inactive/").content.decode()


@pytest.mark.django_db
def test_signing_out_and_changing_the_password_are_forms_that_post(client: Client) -> None:
    person = User.objects.create_user(email="mate@example.com", name="Invented Mate", password="a-long-enough-word")
    client.force_login(person)
    html = client.get("/accounts/password/change/").content.decode()
    assert "Change the password" in html
    assert re.search(r'<form class="sign-out" method="post" action="/accounts/logout/">', html)
    assert "Sign out" in client.get("/accounts/logout/").content.decode()
