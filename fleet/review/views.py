"""The shore's screens: what needs me today, one submission to judge, and the decision."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.models import SHIP_ROLES, Membership, Role
from fleet.accounts.signed_in import signed_in_person
from fleet.certificates.models import Certificate
from fleet.certificates.paper import sheet_context
from fleet.certificates.snapshot import decision_content
from fleet.core.kept_forms import form_data, kept_post
from fleet.records.canonical import read_content
from fleet.records.models import DecisionKind, DrumTest, State, Submission
from fleet.review import services
from fleet.review.comparison import changed_rows, compare, previous_of, same_count, typed_rows, version_before
from fleet.review.due_ahead import due_items
from fleet.review.forms import ApproveForm, ReturnForm, TodayFilter, WithdrawForm, tell_form
from fleet.review.mark_line import mark_lines
from fleet.review.prediction import prediction_of
from fleet.review.queue import Item, queue_for
from fleet.review.reading_picture import reading_picture
from fleet.review.today import rows_of
from fleet.review.watching import watched_vessels
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import may, require

PAGE = 50
CONFLICT, FORBIDDEN = 409, 403


def home(request: HttpRequest) -> HttpResponse:
    """Send each person to the page their role begins with."""
    user = signed_in_person(request)
    roles = {Role(role) for role in Membership.objects.current(user).values_list("role", flat=True)}
    if roles & {Role.SUPERINTENDENT, Role.MANAGER}:
        return redirect("review:today")
    if roles & SHIP_ROLES:
        vessels = list(Vessel.objects.for_user(user).values_list("pk", flat=True)[:2])
        return redirect("records:deck", vessels[0]) if len(vessels) == 1 else redirect("vessels:vessel_list")
    if Role.AUDITOR in roles:
        return redirect("certificates:certificate_list")
    if Role.ADMINISTRATOR in roles:
        return redirect("vessels:people_list")
    return render(request, "review/no_role.html")


def today(request: HttpRequest) -> HttpResponse:
    vessels = watched_vessels(request)
    wanted = TodayFilter(request.GET, vessels=vessels)
    wanted.is_valid()
    on = timezone.localdate()
    queue = queue_for(vessels, on=on)
    window = int(wanted.cleaned_data.get("window") or 0)
    coming = list(due_items(queue.states, queue.fitted, on=on, days=window)) if window else []
    items = [
        item
        for item in [*queue.items, *coming]
        if wanted.cleaned_data.get("vessel") in {None, item.vessel}
        and wanted.cleaned_data.get("reason") in {None, "", item.reason}
    ]
    asked = request.GET.copy()
    asked.pop("page", None)
    # Asked for one vessel and one reason, every drum stands for itself.
    single = wanted.cleaned_data.get("vessel") and wanted.cleaned_data.get("reason")
    page = Paginator(items if single else rows_of(items), PAGE).get_page(request.GET.get("page"))
    things = len(rows_of(queue.items))
    context = {"queue": queue, "things": things, "page": page, "filter": wanted, "query": asked.urlencode()}
    context["lines"] = mark_lines([row.drum.pk for row in page if isinstance(row, Item)])
    return render(request, "review/today.html", context)


def review(request: HttpRequest, submission_id: uuid.UUID) -> HttpResponse:
    submission = _submission(request, submission_id)
    approve = kept_post(request, sent_to=reverse("review:approve", args=[submission.pk]))
    returned = kept_post(request, sent_to=reverse("review:return", args=[submission.pk]))
    return _review_page(
        request,
        submission,
        approve=ApproveForm(approve, findings=services.findings_to_answer(submission)) if approve else None,
        return_form=ReturnForm(returned) if returned else None,
    )


def approve(request: HttpRequest, submission_id: uuid.UUID) -> HttpResponse:
    submission = _submission(request, submission_id)
    user = signed_in_person(request)
    require(user, "review", submission.test.round.vessel)
    if request.method != "POST":
        return redirect("review:review", submission_id=submission.pk)
    form = ApproveForm(request.POST, findings=services.findings_to_answer(submission))
    if not form.is_valid():
        return _review_page(request, submission, approve=form)
    try:
        services.submission_approve(
            submission=submission,
            sentence=form.cleaned_data["sentence"],
            finding_answers=form.answers,
            actor=user,
        )
    except ValidationError as error:
        tell_form(form, error)
        return _review_page(request, submission, approve=form)
    except services.DecisionRefused as refusal:
        return _refused(request, submission, refusal)
    messages.success(request, _("Approved: {test}.").format(test=submission.test.drum))
    certificate = Certificate.objects.filter(submission=submission).only("pk").first()
    return redirect("certificates:certificate", certificate.pk) if certificate else redirect("review:today")


def return_to_ship(request: HttpRequest, submission_id: uuid.UUID) -> HttpResponse:
    submission = _submission(request, submission_id)
    user = signed_in_person(request)
    require(user, "review", submission.test.round.vessel)
    if request.method != "POST":
        return redirect("review:review", submission_id=submission.pk)
    form = ReturnForm(request.POST)
    if not form.is_valid():
        return _review_page(request, submission, return_form=form)
    try:
        services.submission_return(submission=submission, sentence=form.cleaned_data["sentence"], actor=user)
    except services.DecisionRefused as refusal:
        return _refused(request, submission, refusal)
    messages.success(request, _("Returned to the ship: {test}.").format(test=submission.test.drum))
    return redirect("review:today")


def withdraw(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    """Ask for the reason; only the sent form withdraws."""
    user = signed_in_person(request)
    tests = DrumTest.objects.for_user(user).select_related("drum__winch", "round__vessel")
    test = get_object_or_404(tests, pk=test_id)
    require(user, "withdraw", test.round.vessel)
    form = WithdrawForm(form_data(request))
    if form.is_valid():
        try:
            services.drum_test_withdraw(test=test, reason=form.cleaned_data["reason"], actor=user)
        except services.DecisionRefused as refusal:
            return _refused(request, test.submissions.order_by("-version").first(), refusal)
        messages.success(request, _("Withdrawn: {test}.").format(test=test.drum))
        return redirect("certificates:vessel_certificates", test.round.vessel_id)
    certificates = Certificate.objects.filter(submission__test=test).defer("snapshot")
    return render(request, "review/withdraw.html", {"test": test, "form": form, "certificates": certificates})


def _submission(request: HttpRequest, submission_id: uuid.UUID) -> Submission:
    """A submission this person may see; only shore roles judge or look on here."""
    user = signed_in_person(request)
    rows = Submission.objects.for_user(user).select_related("test__drum__winch", "test__round__vessel__company")
    submission = get_object_or_404(rows.prefetch_related("findings", "decisions"), pk=submission_id)
    watching = Membership.objects.current(user).filter(
        role__in=[Role.SUPERINTENDENT, Role.MANAGER], company=submission.test.round.vessel.company_id
    )
    if not watching.exists():
        raise PermissionDenied
    return submission


def _review_page(
    request: HttpRequest,
    submission: Submission,
    *,
    approve: ApproveForm | None = None,
    return_form: ReturnForm | None = None,
) -> HttpResponse:
    user = signed_in_person(request)
    record = read_content(submission)
    previous, amended = previous_of(submission), version_before(submission)
    groups = compare(record, read_content(previous) if previous else None)
    newest = submission.test.submissions.order_by("-version").values_list("pk", flat=True)[0]
    waits = submission.test.state == State.SUBMITTED and newest == submission.pk
    own_work = services.took_part(submission, user)
    decided = next((row for row in submission.decisions.all() if row.kind == DecisionKind.APPROVED), None)
    context: dict[str, Any] = {
        **sheet_context(record, decision_content(decided) if decided else None),
        "submission": submission,
        "test": submission.test,
        "previous": previous,
        "groups": groups,
        "changed": changed_rows(groups),
        "same_count": same_count(groups),
        "amended": changed_rows(compare(record, read_content(amended))) if amended else [],
        "amended_version": amended.version if amended else None,
        "picture": reading_picture(record),
        "held": prediction_of(submission, on=timezone.localdate()),
        "typed": typed_rows(record),
        "newest": newest,
        "waits": waits,
        "own_work": own_work,
        "may_decide": waits and not own_work and may(user, "review", submission.test.round.vessel),
        "may_withdraw": submission.test.state in {State.APPROVED, State.SUPERSEDED}
        and may(user, "withdraw", submission.test.round.vessel),
        "to_answer": services.findings_to_answer(submission),
        "approve": approve or ApproveForm(findings=services.findings_to_answer(submission)),
        "return_form": return_form or ReturnForm(),
    }
    return render(request, "review/review.html", context)


def _refused(request: HttpRequest, submission: Submission | None, refusal: services.DecisionRefused) -> HttpResponse:
    status = FORBIDDEN if isinstance(refusal, services.OwnWork) else CONFLICT
    return render(request, "review/refused.html", {"why": str(refusal), "submission": submission}, status=status)
