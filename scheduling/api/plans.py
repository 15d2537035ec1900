"""Plans of the crews: asked for, watched, accepted whole or not at all."""

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Whole
from config.idempotency import idempotent
from config.paging import ListView
from config.tenancy import editable, may_write, visible
from jobs.requests import MemberRequest
from scheduling.actions import plans
from scheduling.models import Plan
from scheduling.planner.format import plan_from, problem_from
from scheduling.planner.picture import picture

MOST_SECONDS = 120


class PlanInput(Input):
    seconds = Number(min_value=1, max_value=MOST_SECONDS, help_text="How long to look for it.")
    seed = Whole(min_value=0, max_value=2_000_000_000, default=1)
    frozen_days = Whole(
        min_value=0, max_value=60, default=0, help_text="Bookings in the first days stay."
    )
    lateness_first = serializers.BooleanField(
        default=False, help_text="Spend no lateness on moving fewer bookings."
    )


class PlanOutput(Output):
    id = serializers.UUIDField()
    state = serializers.ChoiceField(choices=Plan.STATES)
    progress = serializers.DictField(help_text="The best plan so far while it is worked out.")
    objective = serializers.DictField(
        allow_null=True,
        help_text="unplanned, late (weighted half-days), moved, ends; late_bound; optimal.",
    )
    asked_at = Instant()
    solved_at = Instant(allow_null=True)
    settled_at = Instant(allow_null=True)


class MoveOutput(Output):
    job = serializers.UUIDField(source="job_id")
    task = serializers.CharField()
    from_crew = serializers.CharField(allow_null=True)
    from_day = serializers.DateField(allow_null=True)
    from_half = serializers.CharField(allow_null=True)
    to_crew = serializers.CharField(allow_null=True)
    to_day = serializers.DateField(allow_null=True)
    to_half = serializers.CharField(allow_null=True)
    because = serializers.ListField(
        child=serializers.CharField(), help_text="What stands against its old place."
    )


class LateJobOutput(Output):
    job = serializers.UUIDField(source="job_id")
    street = serializers.CharField()
    rooms = serializers.ListField(child=serializers.CharField())
    late_half_days = serializers.IntegerField(
        help_text="With a task that has no place, a job ends with the plan."
    )
    because = serializers.ListField(child=serializers.CharField())


class NoPlaceOutput(Output):
    job = serializers.UUIDField(source="job_id")
    street = serializers.CharField()
    rooms = serializers.ListField(child=serializers.CharField())
    task = serializers.CharField()
    because = serializers.ListField(child=serializers.CharField())


class PlanWithMoves(PlanOutput):
    moves = serializers.SerializerMethodField(help_text="What it changes of today's bookings.")
    because = serializers.SerializerMethodField(
        help_text="Why the latest jobs are late, or not all of them has a place."
    )
    unplanned = serializers.SerializerMethodField(help_text="What it has no place for.")

    @extend_schema_field(MoveOutput(many=True))
    def get_moves(self, plan: Plan) -> list[dict[str, Any]]:
        return list(MoveOutput(plans.differences(plan), many=True).data)

    @extend_schema_field(LateJobOutput(many=True))
    def get_because(self, plan: Plan) -> list[dict[str, Any]]:
        return list(LateJobOutput(plans.late_jobs(plan), many=True).data)

    @extend_schema_field(NoPlaceOutput(many=True))
    def get_unplanned(self, plan: Plan) -> list[dict[str, Any]]:
        return list(NoPlaceOutput(plans.without_place(plan), many=True).data)


class PlanList(ListView):
    @extend_schema(responses=PlanOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Plan.objects.visible_to(request.user).defer("problem", "plan")
        return self.listing(request, rows, PlanOutput)

    @extend_schema(request=PlanInput, responses={202: PlanOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Ask for a plan of all open jobs from tomorrow on; look at its `state` meanwhile."""
        may_write(Plan, request.user)
        sent = PlanInput(data=request.data)
        sent.is_valid(raise_exception=True)
        row = plans.ask_for_plan(by=request.user, at=timezone.now(), **sent.validated_data)
        return Response(PlanOutput(row).data, status=202)


class PlanDetail(APIView):
    @extend_schema(responses=PlanWithMoves)
    def get(self, request: MemberRequest, plan_id: str) -> Response:
        return Response(PlanWithMoves(visible(Plan.objects.all(), request.user, pk=plan_id)).data)


class PlanPicture(APIView):
    @extend_schema(responses={(200, "image/svg+xml"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, plan_id: str) -> HttpResponse:
        """Crews × half-days, cure waits and late jobs; of the bookings it began with until then."""
        row = visible(Plan.objects.all(), request.user, pk=plan_id)
        problem = problem_from(row.problem)
        schedule = plan_from(row.plan, start=problem.start) if row.plan else problem.previous
        return HttpResponse(picture(problem, schedule), content_type="image/svg+xml")


class PlanAccept(APIView):
    @extend_schema(request=None, responses=PlanOutput)
    @idempotent
    def post(self, request: MemberRequest, plan_id: str) -> Response:
        """Book all of it or nothing; refused if facts have changed since it was asked for."""
        row = editable(Plan.objects.all(), request.user, pk=plan_id)
        accepted = plans.accept_plan(by=request.user, plan=row, at=timezone.now())
        return Response(PlanOutput(accepted).data)


class PlanCancel(APIView):
    @extend_schema(request=None, responses=PlanOutput)
    @idempotent
    def post(self, request: MemberRequest, plan_id: str) -> Response:
        """Stop it while it is worked out, or decline the proposal."""
        row = editable(Plan.objects.all(), request.user, pk=plan_id)
        cancelled = plans.cancel_plan(by=request.user, plan=row, at=timezone.now())
        return Response(PlanOutput(cancelled).data)
