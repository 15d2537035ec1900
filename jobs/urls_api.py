"""API addresses of jobs."""

from django.urls import path

from jobs.api import customers, installed, jobs, links, materials, members, rooms, tokens

urlpatterns = [
    path("me/", members.Me.as_view(), name="api-me"),
    path("members/", members.MemberList.as_view(), name="api-members"),
    path("tokens/", tokens.TokenList.as_view(), name="api-tokens"),
    path("tokens/issue/", tokens.TokenIssue.as_view(), name="api-token-issue"),
    path("tokens/<uuid:token_id>/", tokens.TokenDetail.as_view(), name="api-token"),
    path("customers/", customers.CustomerList.as_view(), name="api-customers"),
    path("customers/<uuid:customer_id>/", customers.CustomerDetail.as_view(), name="api-customer"),
    path("jobs/", jobs.JobList.as_view(), name="api-jobs"),
    path("jobs/<uuid:job_id>/", jobs.JobDetail.as_view(), name="api-job"),
    path("rooms/", rooms.RoomList.as_view(), name="api-rooms"),
    path("rooms/<uuid:room_id>/", rooms.RoomDetail.as_view(), name="api-room"),
    path("materials/", materials.MaterialList.as_view(), name="api-materials"),
    path("materials/<uuid:material_id>/", materials.MaterialDetail.as_view(), name="api-material"),
    path("elements/", installed.ElementList.as_view(), name="api-elements"),
    path("elements/<uuid:row_id>/", installed.ElementDetail.as_view(), name="api-element"),
    path("floor-sensors/", installed.FloorSensorList.as_view(), name="api-floor-sensors"),
    path(
        "floor-sensors/<uuid:row_id>/",
        installed.FloorSensorDetail.as_view(),
        name="api-floor-sensor",
    ),
    path("controls/", installed.ControlList.as_view(), name="api-controls"),
    path("controls/<uuid:row_id>/", installed.ControlDetail.as_view(), name="api-control"),
    path("links/", links.LinkList.as_view(), name="api-links"),
    path("links/<uuid:link_id>/", links.LinkDetail.as_view(), name="api-link"),
]
