"""Check and release: the record looked at as a whole, stood for by name, and sent."""

import uuid
from collections.abc import Callable, Mapping

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from fleet.accounts.models import User
from fleet.accounts.signed_in import signed_in_person
from fleet.core.kept_forms import kept_post
from fleet.records import submissions
from fleet.records.access import drum_test_for
from fleet.records.check_page import check_context, ready_and_not
from fleet.records.drafts import NotInHand
from fleet.records.entry_forms import ActForm
from fleet.records.merging import Clashing, SentDraft, draft_merge
from fleet.records.models import DrumTest, Round
from fleet.records.submissions import NotPossible, NotReady
from fleet.vessels.permissions import may, require

Declared = Mapping[str, str]


@require_safe
def check(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, "see_deck")
    return render(request, "records/check.html", check_context(row, user, posted=kept_post(request)))


def confirm_instruments(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    def act(test: DrumTest, user: User, declared: Declared, seen: str) -> None:
        name, rank = declared["name"], declared["rank"]
        submissions.instruments_confirm(test=test, actor=user, seen=seen, name=name, rank=rank)

    return _act(request, test_id, "confirm_instruments", act, _("Gauge and jack are confirmed for these figures."))


def release(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    def act(test: DrumTest, user: User, declared: Declared, seen: str) -> None:
        name, rank = declared["name"], declared["rank"]
        submissions.master_release(test=test, actor=user, seen=seen, name=name, rank=rank)

    return _act(request, test_id, "release", act, _("These figures are released."))


def submit(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    def act(test: DrumTest, user: User, declared: Declared, seen: str) -> None:
        submissions.drum_test_submit(
            test=test, actor=user, seen=seen, declared_name=declared["name"], declared_rank=declared["rank"]
        )

    return _act(request, test_id, "submit", act, _("The test has arrived ashore."))


def _act(request: HttpRequest, test_id: uuid.UUID, right: str, act: Callable[..., None], done: str) -> HttpResponse:
    """Save the replies that came along, then let the person stand for what the page showed."""
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, right)
    if request.method != "POST":
        return redirect("records:check", test_id=row.pk)
    told: list[str] = []
    form = ActForm(request.POST)
    try:
        if row.is_in_hand and may(user, "test", row.round.vessel):
            row = draft_merge(test=row, sent=SentDraft.read(request.POST), actor=user)
        if form.is_valid():
            act(row, user, form.cleaned_data, request.POST.get("seen", ""))
            messages.success(request, done)
            return redirect("records:check", test_id=row.pk)
    except NotReady as error:
        told = [item.sentence for item in error.missing]
    except (NotPossible, NotInHand) as error:
        told = [_(str(error))]
    except Clashing as error:
        told = [
            _(
                "{label}: somebody wrote “{theirs}” meanwhile, you wrote “{mine}”. Look at both, then save yours."
            ).format(label=clash.label, theirs=clash.theirs_shown, mine=clash.mine_shown)
            for clash in error.clashes
        ]
    row = drum_test_for(user, test_id, "view")
    context = check_context(row, user, posted=request.POST, told=told)
    return render(request, "records/check.html", context, status=409 if told else 200)


def round_submit(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = get_object_or_404(Round.objects.for_user(user).select_related("vessel__company"), pk=round_id)
    require(user, "submit", row.vessel)
    ready, waiting = ready_and_not(list(DrumTest.objects.in_hand().whole().filter(round=row)))
    typed = request.POST if request.method == "POST" else kept_post(request)
    form = ActForm(typed, initial={"name": user.name, "rank": user.rank})
    told: list[str] = []
    if form.is_valid():
        named = set(request.POST.getlist("test"))
        # All that were named, ready or not: one that is not any more keeps the others back too.
        chosen = [test for test in DrumTest.objects.whole().filter(round=row) if str(test.pk) in named]
        try:
            if not chosen:
                raise NotPossible(_("No test was chosen."))
            sent = submissions.round_submit(
                round=row,
                tests=chosen,
                declared_name=form.cleaned_data["name"],
                declared_rank=form.cleaned_data["rank"],
                actor=user,
                seen={test.pk: request.POST.get(f"seen_{test.pk}", "") for test in chosen},
            )
        except (NotReady, NotPossible) as error:
            told = [str(error)]
        else:
            messages.success(request, _("{number} tests have arrived ashore.").format(number=len(sent)))
            return redirect("records:round", round_id=row.pk)
    context = {"round": row, "vessel": row.vessel, "ready": ready, "waiting": waiting, "form": form, "told": told}
    return render(request, "records/round_submit.html", context)
